"""The fill forecast against two worked examples of a teaching lab (hand-checked; common practice), and what must always hold."""

from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.core.waste_forecast import (
    Addition,
    PlatesAhead,
    Vessel,
    charge_additions,
    charges_for,
    fill,
    plates_that_fit,
    rinse_additions,
    rinse_ul,
    with_tests,
)

LITRE = 1_000_000
TUESDAY = date(2027, 2, 16)
SEVEN = datetime(2027, 2, 16, 7, 0, tzinfo=UTC)
RINSE = 166_667


def _section(hour: int, plates: int = 12, *, day: date = TUESDAY, name: str = "") -> PlatesAhead:
    starts = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
    return PlatesAhead(
        name or f"section at {hour}", day, starts, starts + timedelta(minutes=50), plates, stations=3
    )


THREE_SECTIONS = [_section(8), _section(10), _section(13)]


def test_three_sections_and_their_tests_make_six_and_a_half_litres_of_rinse() -> None:
    """39 plates at one litre for six."""
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)
    additions = rinse_additions(ahead, rinse_ul_per_plate=RINSE, now=SEVEN)

    assert [addition.plates for addition in additions] == [3, 12, 12, 12]
    assert [addition.volume_ul for addition in additions] == [500_000, 2 * LITRE, 2 * LITRE, 2 * LITRE]
    assert rinse_ul(plates=39, rinse_ul_per_plate=RINSE) == 6_500_000


def test_a_carboy_at_13_2_litres_takes_two_sections_and_not_the_third() -> None:
    """13.2 + 6.5 = 19.7 L over an 18.0 L line; 13.2 + 4.5 = 17.7 L still fits; the room of 4.8 L is 28 plates."""
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)
    outcome = fill(
        [Vessel(13_200_000, 18 * LITRE)], rinse_additions(ahead, rinse_ul_per_plate=RINSE, now=SEVEN)
    )

    assert [moment.levels_ul[0] + moment.over_ul for moment in outcome.moments] == [
        13_700_000,
        15_700_000,
        17_700_000,
        19_700_000,
    ]
    assert outcome.first_over is not None
    assert outcome.first_over.name == "section at 13"
    assert outcome.over_ul == 1_700_000
    assert plates_that_fit(room_ul=outcome.vessels[0].room_ul, rinse_ul_per_plate=RINSE) == 28


def test_a_second_carboy_takes_what_the_first_cannot() -> None:
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)
    outcome = fill(
        [Vessel(13_200_000, 18 * LITRE), Vessel(0, 9 * LITRE)],
        rinse_additions(ahead, rinse_ul_per_plate=RINSE, now=SEVEN),
    )

    assert outcome.first_over is None
    assert outcome.levels_ul == (18 * LITRE, 1_700_000)
    full = outcome.full_during(0)
    assert full is not None
    assert full.name == "section at 13"
    assert outcome.full_during(1) is None


def test_the_day_of_three_sections_empties_four_charges() -> None:
    """39 plates at 12 a charge: 4 charges of 200 mL; the first two sections with their tests use 3 of them."""
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)
    additions = charge_additions(ahead, charge_ul=200_000, plates_per_charge=12, now=SEVEN)

    assert sum(addition.charges for addition in additions) == 4
    assert sum(addition.charges for addition in additions[:3]) == 3
    assert sum(addition.volume_ul for addition in additions) == 800_000


def test_five_weeks_fit_and_the_sixth_does_not() -> None:
    """6.4 L and 2.3 L a section: 8.7, 11.0, 13.3, 15.6, 17.9 after five; the sixth makes 20.2 over 18.0."""
    weekly = [Addition(f"week {week + 1}", SEVEN + timedelta(weeks=week), 2_300_000) for week in range(6)]
    outcome = fill([Vessel(6_400_000, 18 * LITRE)], weekly)

    reached = [moment.levels_ul[0] + moment.over_ul for moment in outcome.moments]
    assert reached == [8_700_000, 11_000_000, 13_300_000, 15_600_000, 17_900_000, 20_200_000]
    assert outcome.first_over is weekly[5]


def test_what_has_ended_adds_nothing_more_and_the_days_tests_are_not_counted_again() -> None:
    noon = datetime(2027, 2, 16, 12, 0, tzinfo=UTC)
    ahead = with_tests(THREE_SECTIONS, test_plates_per_station=1)

    assert [addition.name for addition in rinse_additions(ahead, rinse_ul_per_plate=RINSE, now=noon)] == [
        "section at 13"
    ]
    assert [one.name for one in charge_additions(ahead, charge_ul=1, plates_per_charge=12, now=noon)] == [
        "section at 13"
    ]


def test_a_rotation_that_has_begun_still_counts_in_full() -> None:
    midway = datetime(2027, 2, 16, 13, 20, tzinfo=UTC)
    additions = rinse_additions(
        with_tests(THREE_SECTIONS, test_plates_per_station=1), rinse_ul_per_plate=RINSE, now=midway
    )

    assert [addition.plates for addition in additions] == [12]


def test_every_day_has_its_own_tests() -> None:
    ahead = with_tests([_section(8), _section(8, day=TUESDAY + timedelta(days=1))], test_plates_per_station=2)

    assert [(one.name, one.plates) for one in ahead] == [
        ("test plates", 6),
        ("section at 8", 12),
        ("test plates", 6),
        ("section at 8", 12),
    ]


def test_no_test_plates_are_invented_where_the_lab_makes_none() -> None:
    assert with_tests([_section(8)], test_plates_per_station=0) == (_section(8),)


def test_a_container_over_its_line_takes_nothing_more() -> None:
    outcome = fill([Vessel(19 * LITRE, 18 * LITRE)], [Addition("rinse", SEVEN, 100_000)])

    assert outcome.levels_ul == (19 * LITRE,)
    assert outcome.over_ul == 100_000
    assert outcome.vessels[0].room_ul == 0


def test_without_a_container_everything_is_over() -> None:
    outcome = fill([], [Addition("rinse", SEVEN, 100_000)])

    assert outcome.over_ul == outcome.added_ul == 100_000
    assert outcome.first_over is not None


def test_nothing_ahead_leaves_everything_as_it_is() -> None:
    outcome = fill([Vessel(5, 10)], [])

    assert outcome.levels_ul == (5,)
    assert outcome.over_ul == outcome.added_ul == 0
    assert outcome.first_over is None


def test_plates_that_fit_where_no_rinse_is_collected() -> None:
    assert plates_that_fit(room_ul=LITRE, rinse_ul_per_plate=0) == 0


def test_a_charge_is_needed_from_the_first_plate_and_another_from_the_thirteenth() -> None:
    assert [charges_for(plates=plates, plates_per_charge=12) for plates in (0, 1, 12, 13)] == [0, 1, 1, 2]


VESSELS = st.lists(
    st.tuples(st.integers(0, 10**8), st.integers(1, 10**8)).map(
        lambda pair: Vessel(held_ul=pair[0], line_ul=pair[1])
    ),
    max_size=5,
)
ADDITIONS = st.lists(
    st.tuples(st.integers(0, 10_000), st.integers(0, 10**8)).map(
        lambda pair: Addition("poured", SEVEN + timedelta(minutes=pair[0]), pair[1])
    ),
    max_size=12,
)


@given(VESSELS, ADDITIONS)
def test_what_is_poured_is_held_or_over_to_the_microlitre(
    vessels: list[Vessel], additions: list[Addition]
) -> None:
    outcome = fill(vessels, additions)

    held = sum(vessel.held_ul for vessel in vessels)
    assert sum(outcome.levels_ul) + outcome.over_ul == held + outcome.added_ul
    assert outcome.added_ul == sum(addition.volume_ul for addition in additions)
    for level, vessel in zip(outcome.levels_ul, vessels, strict=True):
        assert vessel.held_ul <= level <= max(vessel.held_ul, vessel.line_ul)


@given(VESSELS, ADDITIONS, ADDITIONS)
def test_more_rotations_never_lower_a_fill(
    vessels: list[Vessel], some: list[Addition], more: list[Addition]
) -> None:
    less_full, fuller = fill(vessels, some), fill(vessels, some + more)

    assert all(a <= b for a, b in zip(less_full.levels_ul, fuller.levels_ul, strict=True))
    assert less_full.over_ul <= fuller.over_ul


@given(VESSELS, ADDITIONS)
def test_a_container_takes_only_when_those_opened_before_it_are_at_their_line(
    vessels: list[Vessel], additions: list[Addition]
) -> None:
    outcome = fill(vessels, additions)

    for index, vessel in enumerate(vessels):
        if outcome.levels_ul[index] > vessel.held_ul:
            assert all(outcome.levels_ul[k] >= vessels[k].line_ul for k in range(index))
