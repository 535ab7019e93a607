"""What comes into containers, from classes, trays and batches, and which pickups stand against it."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

import pytest

from server.charges.actions import count_plate_through
from server.charges.queries import get_charge, get_tray_charge
from server.chemistry.actions import correct_batch, set_usual_quantities
from server.containers.actions import change_state, set_out_container
from server.containers.models import OtherWaste, Source, WasteEntry
from server.core.container_life import ContainerState
from server.core.fill_options import BookEarlier, RequestPickup, SetOut, StillBaths
from server.data.session import LabSession
from server.forecasts.queries import (
    LabForecast,
    StreamForecast,
    get_forecast,
    get_rinse_per_plate,
    list_past_classes,
)
from server.pickups.actions import book_pickup
from server.pickups.models import Pickup
from server.pours.actions import reverse_entry
from server.recipes.models import Solution
from server.stations.models import Bath
from tests.casts import MORNING
from tests.chemistry import mixing
from tests.containers.bench import LITRE, Bench
from tests.pickups.booked import asked

BERLIN = "Europe/Berlin"
TODAY = date(2027, 2, 16)
FRIDAY = date(2027, 2, 19)
DAY = timedelta(days=1)


def _forecast(session: LabSession, now: datetime = MORNING) -> LabForecast:
    return get_forecast(session, now=now, zone=BERLIN)


def _of(session: LabSession, source: Source, now: datetime = MORNING) -> StreamForecast:
    return next(one for one in _forecast(session, now).streams if one.source is source)


def _coming(session: LabSession, source: Source, now: datetime = MORNING) -> Sequence[tuple[str, int]]:
    additions = (step.addition for step in _of(session, source, now).fill.steps)
    return [(one.name, one.volume_ul) for one in additions if one is not None]


def _volume(session: LabSession, source: Source, now: datetime = MORNING) -> int:
    return sum(volume for _name, volume in _coming(session, source, now))


def _three_sections(session: LabSession, bench: Bench) -> None:
    for name, hours in (("morning", 1), ("noon", 3), ("afternoon", 6)):
        bench.publish(session, name, MORNING + timedelta(hours=hours), plates=12)


def _book(session: LabSession, on_day: date = FRIDAY, *, now: datetime = MORNING) -> Pickup:
    return book_pickup(
        session,
        on_day=on_day,
        request_day=on_day - timedelta(days=2),
        request_clock=time(12),
        zone=BERLIN,
        by="Tomas",
        now=now,
    )


def test_the_third_section_finds_no_room_for_its_rinse(session: LabSession, bench: Bench) -> None:
    """Hand-checked example (common practice): 13.2 + 6.5 = 19.7 L over an 18.0 L line; sections 1 and 2 fit, 3 does not."""
    bench.rinse_carboy(session, held_ul=13_200_000)
    _three_sections(session, bench)
    fill = _of(session, Source.RINSE).fill

    assert [step.total_ul.likely for step in fill.steps] == [13_700_000, 15_700_000, 17_700_000, 19_700_000]
    assert fill.first_over is not None
    assert fill.first_over.addition is not None
    assert fill.first_over.addition.name == "Tuesday, afternoon"
    assert fill.first_over.likely.over_ul == 1_700_000


def test_what_to_do_about_the_third_section_is_computed(session: LabSession, bench: Bench) -> None:
    """By hand: 1.7 L in another container by 14:00, or a pickup before, or still baths of a litre for ten plates: 39 ÷ 10 = 3.9 L in 4.8 L."""
    bench.rinse_carboy(session, held_ul=13_200_000)
    _three_sections(session, bench)
    found = _forecast(session)
    rinse = next(number for number, one in enumerate(found.streams) if one.source is Source.RINSE)
    ways = {type(way): way for way in found.ways_out(rinse)}

    container, earlier, baths = ways[SetOut], ways[BookEarlier], ways[StillBaths]
    assert isinstance(container, SetOut)
    assert (container.room_ul, container.before) == (1_700_000, MORNING + timedelta(hours=6))
    assert isinstance(earlier, BookEarlier)
    assert (earlier.before, earlier.on_day) == (MORNING + timedelta(hours=6), None)
    assert isinstance(baths, StillBaths)
    assert (baths.plates, baths.saves_ul) == (10, 2_600_000)


def test_the_request_of_alternate_fridays_is_due_by_wednesday_noon(session: LabSession, bench: Bench) -> None:
    """Hand-checked example (common practice): 6.4 L and 2.3 L a section, here 12 plates at 191.7 mL, are 17.9 L after five; the sixth would
    make 20.2 L over 18.0.
    """
    bench.rinse_carboy(session, held_ul=6_400_000)
    for week in range(6):
        starts_at = MORNING + timedelta(hours=1, weeks=week)
        bench.publish(session, f"week {week + 1}", starts_at, plates=12)
    set_usual_quantities(
        session, developer_life_s=21_600, bleach_life_s=7_776_000, stock_life_s=86_400, other_life_s=86_400,
        developer_charge_ul=200_000, bleach_charge_ul=200_000, plates_per_charge=12, plate_width_um=63_500,
        plate_height_um=63_500, rinse_ul_per_plate=191_667, test_plates_per_station=0,
    )  # fmt: skip
    friday = _book(session, date(2027, 3, 19))
    found = _forecast(session)
    rinse = next(number for number, one in enumerate(found.streams) if one.source is Source.RINSE)
    levels = [day.before_ul.likely for day in found.days(rinse) if day.additions]

    assert levels == [8_700_000, 11_000_000, 13_300_000, 15_600_000, 17_900_000, 2_300_000]
    assert found.streams[rinse].fill.first_over is None
    [request] = [way for way in found.ways_out(rinse) if isinstance(way, RequestPickup)]
    assert found.pickups[request.pickup.key] == friday
    assert request.pickup.request_by == datetime(2027, 3, 17, 11, tzinfo=MORNING.tzinfo)
    assert request.without.first_over is not None
    assert request.without.first_over.total_ul.likely == 20_200_000


def test_the_same_day_empties_four_charges_of_each_bath(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    _three_sections(session, bench)

    for source in (Source.DEVELOPER, Source.BLEACH):
        assert _volume(session, source) == 800_000


def test_the_labs_own_quantities_are_used_once_it_has_set_them(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12)
    set_usual_quantities(
        session, developer_life_s=21_600, bleach_life_s=7_776_000, stock_life_s=86_400, other_life_s=86_400,
        developer_charge_ul=300_000,
        bleach_charge_ul=100_000, plates_per_charge=6, plate_width_um=63_500, plate_height_um=63_500, rinse_ul_per_plate=100_000, test_plates_per_station=0,
    )  # fmt: skip
    session.flush()

    assert _volume(session, Source.RINSE) == 1_200_000
    assert _volume(session, Source.DEVELOPER) == 600_000
    assert _volume(session, Source.BLEACH) == 200_000


def test_rounds_kept_for_repeats_count_as_on_the_prep_sheet(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0, repeats=3)
    [step] = _of(session, Source.RINSE).fill.steps

    assert step.addition is not None
    assert (step.addition.volume_ul, step.addition.maybe_ul) == (2 * LITRE, 500_000)


def test_what_stands_in_a_tray_now_is_still_to_come(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    bench.charge(session, Bath.DEVELOPER)

    assert _volume(session, Source.DEVELOPER) == 200_000
    assert _volume(session, Source.BLEACH) == 0


def test_the_rest_of_a_batch_is_to_come_when_its_life_ends(session: LabSession, bench: Bench) -> None:
    """By hand: of 200 mL mixed and poured at 08:00 with 50 mL more in the bottle, six hours later all 250 mL are waste."""
    bench.streams(session)
    batch = get_tray_charge(session, bench.charge(session, Bath.DEVELOPER).id).first_ending.batch
    correct_batch(session, batch.id, measured_ul=50_000, reason="measured", by="Tomas", now=MORNING)
    steps = _of(session, Source.DEVELOPER).fill.steps

    assert [(step.at, step.moved.likely) for step in steps] == [(MORNING, 200_000), (batch.ends_at, 50_000)]
    assert _coming(session, Source.DEVELOPER, batch.ends_at)[1:] == [
        ("rest of batch 1, past its life", 50_000)
    ]


def test_what_a_class_takes_of_a_batch_is_not_counted_twice(session: LabSession, bench: Bench) -> None:
    """By hand: a batch of 600 mL, a class that takes a charge of 200 mL of it: 600 mL in all."""
    bench.streams(session)
    bench.charge(session, Bath.DEVELOPER)
    mixing.developer(session, 600_000)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)

    assert _coming(session, Source.DEVELOPER) == [
        ("charge now in developer, line of developer", 200_000),
        ("Tuesday, morning", 200_000),
        ("rest of batch 2", 400_000),
    ]


def test_a_stock_solution_past_its_life_has_no_stream_here(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    batch = get_tray_charge(session, bench.charge(session, Bath.DEVELOPER).id).first_ending.batch
    correct_batch(session, batch.id, measured_ul=50_000, reason="measured", by="Tomas", now=MORNING)
    batch.solution = Solution.STOCK
    session.add(batch)
    session.flush()

    assert _coming(session, Source.DEVELOPER, batch.ends_at)[1:] == []


def test_a_pickup_comes_at_the_end_of_its_day(session: LabSession, bench: Bench) -> None:
    """By hand: 1 L goes on Friday night, after 1 L that came on the day into the second carboy; 10 L follow."""
    first = bench.rinse_carboy(session, held_ul=LITRE)
    bench.rinse_carboy(session, name="Rinse 2")
    at = datetime.combine(FRIDAY, time(15), MORNING.tzinfo)
    bench.publish(session, "on the day", at, plates=6, stations=0)
    bench.publish(session, "after it", at + timedelta(hours=8, minutes=30), plates=60, stations=0)
    pickup = asked(session, _book(session), first.id)
    found = _forecast(session)
    fill = next(one for one in found.streams if one.source is Source.RINSE).fill

    assert [step.total_ul.likely for step in fill.steps] == [2 * LITRE, LITRE, 11 * LITRE]
    assert found.next_pickup == pickup


def test_what_is_on_a_request_takes_no_more_until_it_is_collected(session: LabSession, bench: Bench) -> None:
    only = bench.rinse_carboy(session, held_ul=LITRE)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)
    asked(session, _book(session), only.id)
    fill = _of(session, Source.RINSE).fill

    assert fill.first_over is not None
    assert fill.first_over.likely.over_ul == 2 * LITRE


def test_a_pickup_whose_cut_off_passed_unrequested_takes_nothing(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = _book(session)

    assert _forecast(session).next_pickup == pickup
    assert _forecast(session, MORNING + 2 * DAY).next_pickup is None
    asked(session, pickup, carboy.id)
    assert _forecast(session, MORNING + 2 * DAY).next_pickup == pickup


@pytest.mark.parametrize("ended", ["done_at", "missed_at", "called_off_at"])
def test_a_pickup_that_is_over_is_not_counted(session: LabSession, bench: Bench, ended: str) -> None:
    bench.rinse_carboy(session, held_ul=LITRE)
    pickup = _book(session)
    setattr(pickup, ended, MORNING)
    session.add(pickup)
    session.flush()

    assert _forecast(session).shelf.pickups == ()


def test_a_requested_pickup_takes_what_is_on_its_request(session: LabSession, bench: Bench) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    bench.rinse_carboy(session, held_ul=2 * LITRE, name="Rinse 2")
    pickup = _book(session)
    asked(session, pickup, first.id)

    assert _of(session, Source.RINSE).fill.steps[-1].likely.levels_ul == (0, 2 * LITRE)


def test_other_courses_waste_takes_its_part_of_a_pickup(session: LabSession, bench: Bench) -> None:
    """By hand: the collector takes 20 L and another course's 9 L are there: 11 L are left, and the carboy of 12 L stays."""
    bench.rinse_carboy(session, held_ul=12 * LITRE)
    pickup = _book(session)
    pickup.most_ul, pickup.most_containers = 20 * LITRE, 3
    session.add(pickup)
    session.flush()
    assert _of(session, Source.RINSE).fill.steps[-1].likely.levels_ul == (0,)

    session.add(
        OtherWaste(
            course="Etching", contents="spent etch", volume_ul=9 * LITRE, mass_mg=9_000_000, since=TODAY, entered_at=MORNING,
            entered_by="Tomas",
        )
    )  # fmt: skip
    session.flush()
    [seen] = _forecast(session).shelf.pickups
    assert (seen.most_ul, seen.others_ul) == (20 * LITRE, 9 * LITRE)
    assert _of(session, Source.RINSE).fill.steps[-1].likely.levels_ul == (12 * LITRE,)


def test_the_days_tests_are_over_once_its_first_section_began(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    _three_sections(session, bench)

    assert _volume(session, Source.RINSE, MORNING + timedelta(hours=5)) == 2 * LITRE


def test_what_was_poured_of_a_class_today_does_not_come_again(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    today = bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)
    _rinse_of(session, bench, carboy.id, today.id, 1_200_000, at=MORNING + timedelta(hours=1))

    assert _coming(session, Source.RINSE, MORNING + timedelta(hours=1, minutes=30)) == [
        ("Tuesday, morning", 800_000)
    ]


def test_full_containers_take_nothing_and_the_others_share_in_order(
    session: LabSession, bench: Bench
) -> None:
    full = bench.rinse_carboy(session, held_ul=LITRE)
    change_state(session, full, ContainerState.FULL, by="Tomas", now=MORNING)
    shut = bench.rinse_carboy(session, held_ul=17 * LITRE, name="Rinse 2")
    change_state(session, shut, ContainerState.CLOSED, by="Tomas", now=MORNING)
    set_out_container(
        session, stream_id=full.stream_id, name="Rinse 3", size_ul=10 * LITRE, by="Tomas", now=MORNING
    )
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)
    forecast = _of(session, Source.RINSE)

    assert [container.name for container in forecast.containers] == ["Rinse 1", "Rinse 2", "Rinse 3"]
    assert forecast.fill.steps[-1].likely.levels_ul == (LITRE, 18 * LITRE, LITRE)
    assert forecast.index_of(shut) == 1


def test_it_looks_two_weeks_ahead_or_as_far_as_anything_is_planned(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    assert (_forecast(session).first, _forecast(session).last) == (TODAY, date(2027, 3, 1))

    _book(session, date(2027, 3, 5))
    assert _forecast(session).last == date(2027, 3, 5)
    bench.publish(session, "spring", MORNING + timedelta(weeks=4), plates=1)
    assert _forecast(session).last == date(2027, 3, 16)
    for day in (date(2027, 3, 19), date(2027, 4, 2)):
        _book(session, day)
    assert _forecast(session).last == date(2027, 3, 19)
    assert len(_forecast(session).shelf.pickups) == 2


def _rinse_of(
    session: LabSession, bench: Bench, container_id: int, rotation_id: int, volume_ul: int, *, at: datetime
) -> WasteEntry:
    """Rinse that was poured out for a class."""
    entry_id = bench.rinse(session, container_id, volume_ul, tablet_id=f"rinse-{rotation_id}-{at}")
    entry = session.get(WasteEntry, entry_id)
    assert entry is not None
    entry.rotation_id, entry.happened_at = rotation_id, at
    session.add(entry)
    session.flush()
    return entry


def past_classes(session: LabSession, bench: Bench, litres: Sequence[int], *, plates: int = 12) -> int:
    """Classes on the days before today with their rinse, whose plates were counted through developer; the container's id."""
    carboy = bench.rinse_carboy(session).id
    charge = bench.charge(session, Bath.DEVELOPER)
    charge.area_at_most_mm2 = 10**9
    for number, volume in enumerate(litres, 1):
        at = MORNING - number * DAY
        rotation = bench.publish(session, f"class {number}", at, plates=plates)
        for _plate in range(plates):
            count_plate_through(
                session, charge.id, plate_mm2=4032, through_at=at + timedelta(minutes=5), now=MORNING
            )
        _rinse_of(session, bench, carboy, rotation.id, volume * LITRE, at=at + timedelta(hours=1))
    return carboy


def test_the_labs_own_rinse_per_plate_counts_from_five_classes_on(session: LabSession, bench: Bench) -> None:
    """By hand: 2, 2, 2, 3 and 3 L for 12 plates each are 200 mL a plate, spread by 45.6 mL."""
    past_classes(session, bench, [2, 2, 2, 3])
    assert get_rinse_per_plate(session, today=TODAY, zone=BERLIN).is_assumed

    later = bench.publish(session, "class 5", MORNING - 5 * DAY, plates=12)
    charge = get_charge(session, 1)
    for _plate in range(12):
        count_plate_through(session, charge.id, plate_mm2=4032, through_at=MORNING - 5 * DAY, now=MORNING)
    _rinse_of(session, bench, 1, later.id, 3 * LITRE, at=MORNING - 5 * DAY)
    found = get_rinse_per_plate(session, today=TODAY, zone=BERLIN)

    assert (found.mean_ul, found.spread_ul, found.classes) == (200_000, 45_643, 5)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)
    assert _volume(session, Source.RINSE) == 2_400_000
    assert _of(session, Source.RINSE).fill.feed.behind == 5


def test_the_classes_behind_the_figure_are_told_newest_first(session: LabSession, bench: Bench) -> None:
    past_classes(session, bench, [2, 3])

    assert [
        (one.rinse.name, one.on_day, one.rinse.plates, one.noted, one.through, one.rinse.rinse_ul)
        for one in list_past_classes(session, today=TODAY, zone=BERLIN)
    ] == [
        ("Tuesday, class 1", TODAY - DAY, 12, 0, 12, 2 * LITRE),
        ("Tuesday, class 2", TODAY - 2 * DAY, 12, 0, 12, 3 * LITRE),
    ]


def test_a_pour_that_was_reversed_is_no_rinse_of_a_class(session: LabSession, bench: Bench) -> None:
    carboy = past_classes(session, bench, [2])
    rotation = list_past_classes(session, today=TODAY, zone=BERLIN)[0].rinse.key
    entry = _rinse_of(session, bench, carboy, rotation, LITRE, at=MORNING - DAY)
    reverse_entry(session, carboy, entry.id, reason="typed twice", by="Tomas", now=MORNING)

    [found] = list_past_classes(session, today=TODAY, zone=BERLIN)
    assert found.rinse.rinse_ul == 2 * LITRE


def test_plates_of_classes_at_the_same_time_are_told_by_their_notes_alone(
    session: LabSession, bench: Bench
) -> None:
    carboy = past_classes(session, bench, [2])
    beside = bench.publish(session, "beside", MORNING - DAY, plates=12)
    _rinse_of(session, bench, carboy, beside.id, LITRE, at=MORNING - DAY)

    assert [one.rinse.plates for one in list_past_classes(session, today=TODAY, zone=BERLIN)] == [0, 0]


def test_todays_rinse_is_not_among_the_past_classes(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    today = bench.publish(session, "morning", MORNING - timedelta(hours=3), plates=12)
    _rinse_of(session, bench, carboy.id, today.id, LITRE, at=MORNING)

    assert list_past_classes(session, today=TODAY, zone=BERLIN) == []
