"""What comes into waste, against a worked example of a teaching lab (hand-checked; common practice)."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from server.core.rinse_history import assumed_rinse
from server.core.waste_forecast import (
    Addition,
    InBottle,
    InTray,
    PlatesAhead,
    charge_additions,
    charges_for,
    plates_that_fit,
    rest_additions,
    rinse_additions,
    rinse_ul,
    tray_additions,
    with_tests,
)

LITRE = 1_000_000
TUESDAY = date(2027, 2, 16)
SEVEN = datetime(2027, 2, 16, 7, 0, tzinfo=UTC)
RINSE = assumed_rinse(166_667)


def _section(hour: int, plates: int = 12, *, day: date = TUESDAY, name: str = "") -> PlatesAhead:
    starts = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
    return PlatesAhead(
        name or f"section at {hour}",
        day,
        starts,
        starts + timedelta(minutes=50),
        plates,
        stations=frozenset({"S1", "S2", "S3"}),
    )


THREE_SECTIONS = [_section(8), _section(10), _section(13)]


def test_three_sections_and_their_tests_make_six_and_a_half_litres_of_rinse() -> None:
    """39 plates at one litre for six."""
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)
    additions = rinse_additions(ahead, rinse=RINSE, now=SEVEN)

    assert [addition.plates for addition in additions] == [3, 12, 12, 12]
    assert [addition.volume_ul for addition in additions] == [500_000, 2 * LITRE, 2 * LITRE, 2 * LITRE]
    assert rinse_ul(plates=39, rinse_ul_per_plate=RINSE.mean_ul) == 6_500_000


def test_the_day_of_three_sections_empties_four_charges() -> None:
    """39 plates at 12 a charge: 4 charges of 200 mL; the first two sections with their tests use 3 of them."""
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)
    additions = charge_additions(ahead, charge_ul=200_000, plates_per_charge=12, now=SEVEN)

    assert sum(addition.charges for addition in additions) == 4
    assert sum(addition.charges for addition in additions[:3]) == 3
    assert sum(addition.volume_ul for addition in additions) == 800_000


def test_what_has_ended_adds_nothing_more_and_the_days_tests_are_not_counted_again() -> None:
    noon = datetime(2027, 2, 16, 12, 0, tzinfo=UTC)
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)

    assert [addition.name for addition in rinse_additions(ahead, rinse=RINSE, now=noon)] == ["section at 13"]
    assert [one.name for one in charge_additions(ahead, charge_ul=1, plates_per_charge=12, now=noon)] == [
        "section at 13"
    ]


def test_a_rotation_that_has_begun_still_counts_in_full() -> None:
    midway = datetime(2027, 2, 16, 13, 20, tzinfo=UTC)
    additions = rinse_additions(
        with_tests(THREE_SECTIONS, test_plates_per_station=1), rinse=RINSE, now=midway
    )

    assert [addition.plates for addition in additions] == [12]


def test_what_is_poured_of_a_class_already_does_not_come_again() -> None:
    half = replace(THREE_SECTIONS[0], poured_ul=1_200_000)
    all_of_it = replace(THREE_SECTIONS[1], poured_ul=2_100_000)
    additions = rinse_additions([half, all_of_it], rinse=RINSE, now=SEVEN)

    assert [addition.volume_ul for addition in additions] == [800_000, 0]


def test_rounds_kept_for_repeats_count_and_may_not_come() -> None:
    """By hand: 12 plates with 3 in a round for repeats: 2 L of rinse, half a litre of it perhaps; 13 plates with 3: a second charge perhaps."""
    [rinse] = rinse_additions([replace(_section(8), repeats=3)], rinse=RINSE, now=SEVEN)
    [charges] = charge_additions(
        [replace(_section(8, 13), repeats=3)], charge_ul=200_000, plates_per_charge=12, now=SEVEN
    )

    assert (rinse.volume_ul, rinse.maybe_ul) == (2_000_000, 500_000)
    assert (charges.volume_ul, charges.maybe_ul) == (400_000, 200_000)


def test_the_spread_of_a_class_is_that_of_all_its_plates_and_the_mean_is_surer() -> None:
    """By hand: a fifth of 166.7 mL on 12 plates is 400 mL; the mean of five classes is off by that over the root of five, 178.9 mL."""
    [rinse] = rinse_additions([_section(8)], rinse=RINSE, now=SEVEN)
    [charges] = charge_additions([_section(8)], charge_ul=200_000, plates_per_charge=12, now=SEVEN)

    assert (rinse.spread_ul, rinse.shared_ul) == (399_996, 178_883)
    assert (charges.spread_ul, charges.shared_ul) == (20_000, 0)


def test_a_tray_is_emptied_for_the_next_class_or_at_the_end_of_its_charge() -> None:
    nine, ten = SEVEN + timedelta(hours=2), SEVEN + timedelta(hours=3)
    trays = [InTray("long", 200_000, ten, 6), InTray("short", 100_000, SEVEN + timedelta(minutes=30), 6)]

    emptied = tray_additions(trays, [_section(9)], now=SEVEN)
    assert [one.starts_at for one in emptied] == [nine, SEVEN + timedelta(minutes=30)]
    assert [one.starts_at for one in tray_additions(trays, [], now=SEVEN)] == [SEVEN, SEVEN]
    assert [one.starts_at for one in tray_additions(trays, [_section(9)], now=ten)] == [ten, ten]


def test_what_classes_leave_of_a_batch_is_waste_when_it_ends() -> None:
    """By hand: 600 mL until 14:00 and 400 mL until 20:00; classes at 8 and 10 take 200 mL each of the first, one at 15 takes 200 mL of the
    second: 200 mL are left at 14:00 and 200 mL at 20:00. What has ended is waste now.
    """
    at = [SEVEN.replace(hour=hour) for hour in (8, 10, 15)]
    bottles = [
        InBottle("late", 400_000, SEVEN.replace(hour=20)),
        InBottle("early", 600_000, SEVEN.replace(hour=14)),
        InBottle("gone", 50_000, SEVEN),
    ]
    rests = rest_additions(bottles, [Addition("class", one, 200_000, charges=1) for one in at], now=SEVEN)

    assert [(one.name, one.volume_ul, one.starts_at.hour) for one in rests] == [
        ("gone", 50_000, 7),
        ("early", 200_000, 14),
        ("late", 200_000, 20),
    ]
    assert all(one.is_spare for one in rests)


def test_a_batch_that_the_classes_use_up_leaves_nothing() -> None:
    bottle = InBottle("early", 300_000, SEVEN.replace(hour=14))
    taken = [Addition("class", SEVEN.replace(hour=8), 400_000, charges=2)]

    assert rest_additions([bottle], taken, now=SEVEN) == ()


def test_every_day_has_its_own_tests() -> None:
    ahead = with_tests([_section(8), _section(8, day=TUESDAY + timedelta(days=1))], test_plates_per_station=2)

    assert [(one.name, one.plates) for one in ahead] == [
        ("test plates", 6),
        ("section at 8", 12),
        ("test plates", 6),
        ("section at 8", 12),
    ]


def test_each_station_of_a_day_is_tested_once_whichever_class_uses_it() -> None:
    first, second = _section(8), replace(_section(10), stations=frozenset({"S3", "S4"}))

    assert with_tests([first, second], test_plates_per_station=1)[0].plates == 4


def test_no_test_plates_are_invented_where_the_lab_makes_none() -> None:
    assert with_tests([_section(8)], test_plates_per_station=0) == (_section(8),)


def test_the_rinse_of_28_plates_fits_in_4_8_litres() -> None:
    assert plates_that_fit(room_ul=4_800_000, rinse_ul_per_plate=RINSE.mean_ul) == 28


def test_plates_that_fit_where_no_rinse_is_collected() -> None:
    assert plates_that_fit(room_ul=LITRE, rinse_ul_per_plate=0) == 0


def test_a_charge_is_needed_from_the_first_plate_and_another_from_the_thirteenth() -> None:
    assert [charges_for(plates=plates, plates_per_charge=12) for plates in (0, 1, 12, 13)] == [0, 1, 1, 2]
