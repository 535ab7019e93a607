"""What a day needs, read from its published rotations and from the shelf."""

from datetime import date, datetime, timedelta

import pytest

from server.charges.actions import count_plate_through, empty_charge, pour_charge
from server.chemistry.actions import discard_batch
from server.chemistry.queries import get_usual_quantities
from server.containers.actions import add_usual_streams, set_out_container
from server.containers.models import Source, WasteContainer
from server.containers.queries import list_streams
from server.core.measuring import Method
from server.data.session import LabSession
from server.plates.actions import draw_plates
from server.plates.models import PlateEntryKind
from server.pours.actions import pour, reverse_entry
from server.prep.queries import DayNeeds, find_day_needs, list_coming_days
from server.rotations.models import NamedVisit, RotationState
from server.rotations.queries import get_plan, list_rotation_days, list_rotations_of_day
from server.stations.models import Bath
from server.stations.queries import list_trays
from tests.casts import MORNING, Cast
from tests.chemistry import mixing
from tests.prep.days import furnish, publish_capacity_day, publish_rounds, stock

TUESDAY = date(2027, 2, 16)
ZONE = "Europe/Berlin"


def _needs(session: LabSession) -> DayNeeds:
    needs = find_day_needs(session, TUESDAY, zone=ZONE, today=TUESDAY)
    assert needs is not None
    return needs


def _rinse_carboy(session: LabSession, *, held_ul: int) -> WasteContainer:
    add_usual_streams(session)
    rinse = next(stream for stream in list_streams(session) if stream.takes == Source.RINSE)
    carboy = set_out_container(
        session, stream_id=rinse.id, name="R1", size_ul=20_000_000, by="Tomas", now=MORNING
    )
    carboy.held_ul = held_ul
    return carboy


def test_a_day_without_a_published_rotation_needs_nothing(session: LabSession, cast: Cast) -> None:
    publish_rounds(session, cast.section_id, name="draft", starts_at=MORNING, state=RotationState.PLANNED)

    assert find_day_needs(session, TUESDAY, zone=ZONE, today=TUESDAY) is None
    assert list_coming_days(session, MORNING, ZONE) == []


def test_the_capacity_day_needs_39_plates_and_two_mixes(session: LabSession, cast: Cast) -> None:
    """House example, computed by hand: 36 plates and 3 tests; 600 mL at 08:40 and 200 mL at 13:40."""
    furnish(session)
    stock(session)
    publish_capacity_day(session, cast.section_id)

    needs = _needs(session)

    assert (needs.plates, needs.test_plates, needs.bleach_charges) == (39, 3, 4)
    assert [mix.volume_ul for mix in needs.mixes.mixes] == [600_000, 200_000]
    assert [mix.mixed_at for mix in needs.mixes.mixes] == [
        MORNING + timedelta(minutes=40),
        MORNING + timedelta(hours=5, minutes=40),
    ]
    assert needs.rinse_ul == 6_500_000
    assert [
        (one.name, int(one.needed), int(one.short)) for one in (*needs.developer_from, *needs.bleach_from)
    ] == [
        ("stock A", 400_000, 0),
        ("stock B", 400_000, 0),
        ("bleach", 800_000, 0),
    ]


def test_the_third_classs_rinse_is_over_the_fill_line(session: LabSession, cast: Cast) -> None:
    """House example, computed by hand: 13.2 L held, line at 18.0 L; tests and two classes bring 4.5 L, the third 2 L."""
    furnish(session)
    stock(session)
    publish_capacity_day(session, cast.section_id)
    _rinse_carboy(session, held_ul=13_200_000)

    rinse = next(need for need in _needs(session).streams if need.source is Source.RINSE)

    assert rinse.fill is not None
    assert rinse.fill.first_over is not None
    assert rinse.fill.first_over.addition is not None
    assert rinse.fill.first_over.addition.name == "Tuesday, third"


def test_the_rinse_to_have_ready_is_the_rinse_that_comes_into_the_waste(
    session: LabSession, cast: Cast
) -> None:
    """By hand: 3 tests and 12 plates at 111.4 mL are 334.2 and 1336.8 mL, to the nearest mL 334 and 1337."""
    furnish(session)
    stock(session)
    publish_rounds(session, cast.section_id, name="first", starts_at=MORNING)
    usual = get_usual_quantities(session)
    usual.rinse_ul_per_plate = 111_400
    session.add(usual)
    session.flush()

    needs = _needs(session)

    assert needs.rinse_ul == 334_000 + 1_337_000
    assert needs.rinse_ul == next(one.needed_ul for one in needs.streams if one.source is Source.RINSE)


def test_a_stream_that_is_missing_is_told(session: LabSession, cast: Cast) -> None:
    furnish(session)
    publish_rounds(session, cast.section_id, name="first", starts_at=MORNING)

    assert [need.fill for need in _needs(session).streams] == [None, None, None]


def test_plates_that_the_days_runs_used_do_not_look_missing(session: LabSession, cast: Cast) -> None:
    furnish(session)
    box = stock(session, plates=39)
    publish_capacity_day(session, cast.section_id)
    draw_plates(session, box, plates=12, kind=PlateEntryKind.RUN, by="G1", now=MORNING)

    assert _needs(session).picks.short == 0


def test_a_plate_lost_is_missing(session: LabSession, cast: Cast) -> None:
    furnish(session)
    box = stock(session, plates=39)
    publish_capacity_day(session, cast.section_id)
    draw_plates(session, box, plates=1, kind=PlateEntryKind.LOST, by="Tomas", now=MORNING)

    assert _needs(session).picks.short == 1


def test_developer_that_the_day_has_mixed_is_not_mixed_again(session: LabSession, cast: Cast) -> None:
    """By hand: 800 mL of 08:00 live to 14:00 and serve the tests and the first two classes; the third still needs 100 + 100 mL."""
    furnish(session)
    stock(session, stock_a_ul=400_000)
    publish_capacity_day(session, cast.section_id)
    mixing.developer(session, 800_000)

    needs = _needs(session)

    assert [use.plates for use in needs.mixes.standing] == [27]
    assert [mix.volume_ul for mix in needs.mixes.mixes] == [200_000]
    assert [(int(one.needed), int(one.short)) for one in needs.developer_from] == [
        (100_000, 100_000),
        (100_000, 0),
    ]


def test_a_class_that_made_fewer_plates_is_not_mixed_for_again(session: LabSession, cast: Cast) -> None:
    """By hand: of 27 plates of the morning 15 are made and two charges emptied, the third is discarded; the third class still needs its 200 mL."""
    furnish(session)
    stock(session)
    publish_capacity_day(session, cast.section_id)
    mixed_at = MORNING + timedelta(minutes=40)
    batch = mixing.developer(session, 600_000, mixed_at=mixed_at, now=mixed_at)
    tray = list_trays(session, Bath.DEVELOPER)[0]
    for minutes, plates in ((70, 9), (200, 6)):
        poured_at = MORNING + timedelta(minutes=minutes)
        charge = pour_charge(
            session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=poured_at
        )
        for _plate in range(plates):
            count_plate_through(session, charge.id, through_at=poured_at, now=poured_at)
        empty_charge(session, charge.id, now=poured_at + timedelta(minutes=20))
    discard_batch(session, batch.id, by="Tomas", note="", now=MORNING + timedelta(hours=4))

    mixes = _needs(session).mixes

    assert [use.plates for use in mixes.standing] == [27]
    assert [(mix.volume_ul, mix.plates) for mix in mixes.mixes] == [(200_000, 12)]


@pytest.mark.parametrize(("yesterday", "mixes"), [(3, 0), (4, 1)])
def test_what_earlier_days_left_in_a_tray_serves_only_the_plates_that_are_left(
    session: LabSession, cast: Cast, yesterday: int, mixes: int
) -> None:
    """By hand: a charge of 12 that lives a day; 3 tests and 6 plates need 9, and what went through today is among them."""
    furnish(session)
    stock(session)
    publish_rounds(session, cast.section_id, name="first", starts_at=MORNING, rounds=2)
    evening = MORNING - timedelta(hours=12)
    batch = mixing.developer(session, 200_000, mixed_at=evening, now=evening)
    batch.ends_at = evening + timedelta(hours=24)
    tray = list_trays(session, Bath.DEVELOPER)[0]
    charge = pour_charge(
        session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=evening
    )
    for through_at in [evening] * yesterday + [MORNING]:
        count_plate_through(session, charge.id, through_at=through_at, now=through_at)

    assert len(_needs(session).mixes.mixes) == mixes


def _bleach(session: LabSession) -> tuple[int, int, int]:
    """What is mixed and there, what is still to be drawn from bottles, and what of that is missing."""
    needs = _needs(session)
    (one,) = needs.bleach_from
    return needs.bleach_there_ul, int(one.needed), int(one.short)


@pytest.mark.parametrize("mixed_at", [MORNING, MORNING - timedelta(hours=20)])
def test_bleach_is_counted_once_in_its_bottle_its_batch_and_its_tray(
    session: LabSession, cast: Cast, mixed_at: datetime
) -> None:
    """By hand: of 1 L 600 mL are mixed, of which 200 mL go into a tray and out of it; the day needs 800 mL."""
    furnish(session)
    stock(session)
    publish_capacity_day(session, cast.section_id)
    assert _bleach(session) == (0, 800_000, 0)
    batch = mixing.bleach(session, 600_000, mixed_at=mixed_at, now=mixed_at)
    assert _bleach(session) == (600_000, 200_000, 0)

    tray = list_trays(session, Bath.BLEACH)[0]
    charge = pour_charge(
        session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=MORNING
    )
    assert _bleach(session) == (600_000, 200_000, 0)

    empty_charge(session, charge.id, now=MORNING)
    assert _bleach(session) == (600_000, 200_000, 0)


def test_bleach_that_dies_before_the_days_last_class_ends_is_not_there(
    session: LabSession, cast: Cast
) -> None:
    furnish(session)
    stock(session)
    publish_capacity_day(session, cast.section_id)
    yesterday = MORNING - timedelta(hours=20)
    batch = mixing.bleach(session, 600_000, mixed_at=yesterday, now=yesterday)
    batch.ends_at = MORNING + timedelta(hours=2)

    assert _bleach(session) == (0, 800_000, 400_000)


def test_a_pour_that_was_reversed_makes_no_room(session: LabSession, cast: Cast) -> None:
    """By hand: 13.2 L of 18 L leave 4.8 L, whatever was logged and taken back."""
    furnish(session)
    stock(session)
    publish_capacity_day(session, cast.section_id)
    carboy = _rinse_carboy(session, held_ul=13_200_000)
    poured = pour(
        session,
        container_id=carboy.id,
        volume_ul=1_000_000,
        typed="1 L",
        method=Method.GRADUATE,
        source=Source.RINSE,
        tablet_id="pour-0001",
        by="Tomas",
        now=MORNING,
    )
    reverse_entry(session, carboy.id, poured.id, reason="typed twice", by="Tomas", now=MORNING)

    rinse = next(need for need in _needs(session).streams if need.source is Source.RINSE)

    assert rinse.fill is not None
    assert rinse.fill.start.room_ul == 4_800_000


@pytest.mark.parametrize(
    ("starts_at", "day"),
    [
        (MORNING + timedelta(hours=15, minutes=30), date(2027, 2, 16)),
        (MORNING + timedelta(hours=16, minutes=30), date(2027, 2, 17)),
    ],
)
def test_a_rotation_belongs_to_the_day_on_the_labs_clock(
    session: LabSession, cast: Cast, starts_at: datetime, day: date
) -> None:
    """22:30 UTC is 23:30 in Berlin, 23:30 UTC is half past midnight of the next day."""
    publish_rounds(session, cast.section_id, name="late", starts_at=starts_at, rounds=1)

    assert list_coming_days(session, MORNING, ZONE) == [day]
    assert [one.name for one in list_rotations_of_day(session, day, ZONE)] == ["Tuesday, late"]


def test_the_last_plate_leaves_the_developer_before_the_class_ends(session: LabSession, cast: Cast) -> None:
    """By hand: 8 min of talk, four rounds of 6 min, 2.5 min in the developer."""
    publish_rounds(session, cast.section_id, name="first", starts_at=MORNING)

    (rotation,) = list_rotations_of_day(session, TUESDAY, ZONE)

    assert rotation.last_out_at == MORNING + timedelta(minutes=34, seconds=30)
    assert rotation.ends_at == MORNING + timedelta(minutes=36)
    assert (rotation.plates, rotation.groups, rotation.stations) == (12, 3, ("S1", "S2", "S3"))


def test_the_developer_is_to_live_for_a_repeat_too(session: LabSession, cast: Cast) -> None:
    """The last of the day's repeats leaves the developer an hour after everybody else's plate; no plate is counted for it."""
    furnish(session)
    publish_rounds(session, cast.section_id, name="one", starts_at=MORNING)
    (before,) = list_rotations_of_day(session, TUESDAY, ZONE)
    kept = get_plan(session, before.rotation_id)
    assert kept is not None
    ends_at = before.last_out_at + timedelta(hours=1)
    session.add(
        NamedVisit(
            plan_id=kept.id, group_name="Repeat 1", pass_no=1, step="develop", place="developer, line 1", light="dark", still="any",
            starts_at=ends_at - timedelta(seconds=150), ends_at=ends_at,
        )
    )  # fmt: skip
    session.flush()

    (after,) = list_rotations_of_day(session, TUESDAY, ZONE)

    assert after.last_out_at == ends_at
    assert after.plates == before.plates


def test_every_day_of_the_term_is_read_at_once(session: LabSession, cast: Cast) -> None:
    """Two days with 12 and 6 plates; a round kept for a repeat on the second is a plate that may be made besides."""
    furnish(session)
    publish_rounds(session, cast.section_id, name="one", starts_at=MORNING)
    later = MORNING + timedelta(days=7)
    rotation_id = publish_rounds(session, cast.section_id, name="two", starts_at=later, rounds=2)
    kept = get_plan(session, rotation_id)
    assert kept is not None
    session.add(
        NamedVisit(
            plan_id=kept.id, group_name="Repeat 1", pass_no=1, step="expose", place="S1", light="dark", still="still",
            starts_at=later + timedelta(minutes=30), ends_at=later + timedelta(minutes=31),
        )
    )  # fmt: skip
    session.flush()

    days = list_rotation_days(session, first=TUESDAY, last=None, zone=ZONE)
    only_the_first = list_rotation_days(session, first=TUESDAY, last=TUESDAY, zone=ZONE)
    only_the_second = list_rotation_days(session, first=date(2027, 2, 17), last=None, zone=ZONE)

    assert [(one.day, one.plates, one.repeats) for one in days] == [
        (TUESDAY, 12, 0),
        (date(2027, 2, 23), 6, 1),
    ]
    assert [one.rotation_id for one in days] == [
        *(one.rotation_id for one in only_the_first),
        *(one.rotation_id for one in only_the_second),
    ]


WEDNESDAY = date(2027, 2, 17)


def _two_days(session: LabSession, cast: Cast) -> None:
    """A class of 12 plates with 3 tests on Tuesday and on Wednesday; each takes 15 plates, 400 mL developer and 400 mL bleach."""
    furnish(session)
    for day in (0, 1):
        publish_rounds(
            session, cast.section_id, name=f"class {day}", starts_at=MORNING + timedelta(days=day, hours=1)
        )


def test_a_later_day_counts_only_what_earlier_days_leave(session: LabSession, cast: Cast) -> None:
    """By hand: of 20 plates, 300 mL of A and 500 mL of bleach Tuesday takes 15, 200 and 400; 10 plates, 100 mL and 300 mL are missing."""
    _two_days(session, cast)
    stock(session, plates=20, stock_a_ul=300_000, bleach_ul=500_000)

    needs = find_day_needs(session, WEDNESDAY, zone=ZONE, today=TUESDAY)

    assert needs is not None
    assert needs.days_before == [TUESDAY]
    assert needs.picks.short == 10
    assert [int(one.short) for one in needs.developer_from] == [100_000, 0]
    assert [int(one.short) for one in needs.bleach_from] == [300_000]
    assert _needs(session).picks.short == 0


def test_a_day_that_is_over_takes_nothing_from_the_next(session: LabSession, cast: Cast) -> None:
    _two_days(session, cast)
    stock(session, plates=20, stock_a_ul=300_000, bleach_ul=500_000)

    needs = find_day_needs(session, WEDNESDAY, zone=ZONE, today=WEDNESDAY)

    assert needs is not None
    assert (needs.days_before, needs.picks.short) == ([], 0)


def test_mixed_bleach_that_an_earlier_day_uses_up_is_not_there_for_the_next(
    session: LabSession, cast: Cast
) -> None:
    """By hand: of 500 mL mixed, Tuesday's two charges take 400; Wednesday finds 100 and mixes 300."""
    _two_days(session, cast)
    stock(session)
    mixing.bleach(session, 500_000)

    needs = find_day_needs(session, WEDNESDAY, zone=ZONE, today=TUESDAY)

    assert needs is not None
    assert (needs.bleach_there_ul, needs.bleach_to_mix_ul) == (100_000, 300_000)
