"""Booking, repeating, choosing what goes, asking for it."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from sqlmodel import col, select

from server.containers.models import ContainerEvent, WasteContainer
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.pickups.actions import (
    book_pickup,
    call_off_pickup,
    change_pickup,
    choose_containers,
    end_schedule,
    repeat_pickups,
    request_pickup,
    withdraw_request,
)
from server.pickups.models import Pickup, PickupSchedule
from server.pickups.queries import (
    list_events,
    list_listed,
    list_lost_pickups,
    list_pickups,
    list_pickups_between,
)
from server.refusal import NotFound, Refusal
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench
from tests.pickups.booked import BERLIN, FRIDAY, NEXT_FRIDAY, WEDNESDAY, asked, booked

AFTER_THE_CUT_OFF = MORNING + timedelta(days=2)


def _states(session: LabSession, container: WasteContainer) -> list[str]:
    events = select(ContainerEvent.state).where(ContainerEvent.container_id == container.id)
    return list(session.exec(events.order_by(col(ContainerEvent.id))).all())


def _choose(session: LabSession, pickup: Pickup, *container_ids: int, now: datetime = MORNING) -> Pickup:
    return choose_containers(session, pickup.id, container_ids, zone=BERLIN, by="Tomas", now=now)


def _listed(session: LabSession, pickup: Pickup) -> list[str]:
    return [one.container.name for one in list_listed(session, [pickup.id])]


def test_the_cut_off_is_kept_on_the_labs_wall_clock(session: LabSession) -> None:
    """12:00 in Berlin in winter is 11:00 UTC."""
    assert booked(session).request_by.isoformat() == "2027-02-17T11:00:00+00:00"


@pytest.mark.parametrize(
    ("on_day", "request_day", "clock", "sentence"),
    [
        (date(2027, 2, 15), date(2027, 2, 15), time(12, 0), "has passed"),
        (FRIDAY, date(2027, 2, 20), time(12, 0), "cut-off is after the pickup"),
        (FRIDAY, date(2027, 2, 16), time(7, 59), "would not come"),
        (date(2027, 4, 2), date(2027, 3, 28), time(2, 30), "the clocks skip 02:30"),
    ],
)
def test_a_pickup_that_cannot_be_is_not_booked(
    session: LabSession, on_day: date, request_day: date, clock: time, sentence: str
) -> None:
    with pytest.raises(Refusal, match=sentence):
        book_pickup(
            session, on_day=on_day, request_day=request_day, request_clock=clock, zone=BERLIN, by="Tomas", now=MORNING
        )  # fmt: skip


def test_a_day_has_one_pickup(session: LabSession) -> None:
    booked(session)

    with pytest.raises(Refusal, match="is booked already"):
        booked(session)


def _repeat(
    session: LabSession,
    *,
    first: date = FRIDAY,
    until: date = date(2027, 4, 16),
    every_weeks: int = 2,
    now: datetime = MORNING,
) -> PickupSchedule:
    return repeat_pickups(
        session, first_day=first, every_weeks=every_weeks, until_day=until, cut_off_days_before=2, cut_off_clock=time(12),
        most_ul=60 * LITRE, zone=BERLIN, by="Tomas", now=now,
    )  # fmt: skip


def test_a_schedule_books_its_days_with_cut_offs_that_stay_at_noon(session: LabSession) -> None:
    """Berlin's clocks go forward on 28 March 2027; noon is then 10:00 UTC."""
    schedule = _repeat(session)
    made = list_pickups(session)

    assert [(one.on_day.day, one.request_by.hour, one.schedule_id, one.most_ul) for one in made] == [
        (19, 11, schedule.id, 60 * LITRE),
        (5, 11, schedule.id, 60 * LITRE),
        (19, 11, schedule.id, 60 * LITRE),
        (2, 10, schedule.id, 60 * LITRE),
        (16, 10, schedule.id, 60 * LITRE),
    ]


def test_a_schedule_leaves_out_days_that_are_booked_or_come_too_soon(session: LabSession) -> None:
    own = booked(session, NEXT_FRIDAY)
    schedule = _repeat(session, every_weeks=1, until=date(2027, 3, 5), now=AFTER_THE_CUT_OFF)

    assert [(one.on_day, one.schedule_id) for one in list_pickups(session)] == [
        (NEXT_FRIDAY, own.schedule_id),
        (date(2027, 3, 5), schedule.id),
    ]


@pytest.mark.parametrize(
    ("first", "until", "sentence"),
    [
        (date(2027, 2, 12), date(2027, 3, 5), "has passed"),
        (FRIDAY, date(2027, 2, 18), "on or after the first"),
        (FRIDAY, date(2029, 2, 20), "at most two years later"),
        (MORNING.date(), MORNING.date(), "Every day of this schedule"),
    ],
)
def test_a_schedule_that_books_nothing_is_refused(
    session: LabSession, first: date, until: date, sentence: str
) -> None:
    with pytest.raises(Refusal, match=sentence):
        _repeat(session, first=first, until=until)


def test_one_day_of_a_schedule_is_changed_and_the_rest_called_off(session: LabSession, bench: Bench) -> None:
    schedule = _repeat(session, until=date(2027, 3, 19))
    first, second, third = list_pickups(session)
    asked(session, first, bench.rinse_carboy(session, held_ul=LITRE).id)
    _change(session, second, on_day=date(2027, 3, 4), request_day=date(2027, 3, 1))

    end_schedule(session, schedule.id, by="Tomas", now=MORNING)

    assert (first.called_off_at, second.on_day) == (None, date(2027, 3, 4))
    assert (second.called_off_at, third.called_off_at, schedule.ended_at) == (MORNING, MORNING, MORNING)
    with pytest.raises(NotFound, match="no such schedule"):
        end_schedule(session, schedule.id + 1, by="Tomas", now=MORNING)


def _change(
    session: LabSession,
    pickup: Pickup,
    *,
    on_day: date = FRIDAY,
    request_day: date = WEDNESDAY,
    clock: time = time(12),
    note: str = "",
    now: datetime = MORNING,
) -> Pickup:
    return change_pickup(
        session, pickup.id, on_day=on_day, request_day=request_day, request_clock=clock, most_ul=40 * LITRE, most_containers=4,
        note=note, zone=BERLIN, by="Tomas", now=now,
    )  # fmt: skip


def test_a_booking_is_changed_as_the_waste_office_says_and_keeps_what_changed(session: LabSession) -> None:
    pickup = booked(session)
    _change(session, pickup, on_day=date(2027, 2, 22), request_day=date(2027, 2, 19), note="ramp is closed")
    _change(session, pickup, on_day=date(2027, 2, 22), request_day=date(2027, 2, 19), note="ramp is closed")

    assert (pickup.on_day, pickup.request_by) == (date(2027, 2, 22), datetime(2027, 2, 19, 11, tzinfo=UTC))
    assert (pickup.most_ul, pickup.most_containers, pickup.note) == (40 * LITRE, 4, "ramp is closed")
    assert [event.note for event in list_events(session, pickup.id)] == [
        "",
        "from Fri 19 Feb 2027 to Mon 22 Feb 2027; cut-off Fri 19 Feb 2027, 12:00; what the collector takes at most; the note for the waste office",
    ]


@pytest.mark.parametrize(
    ("on_day", "request_day", "clock", "sentence"),
    [
        (date(2027, 2, 15), date(2027, 2, 15), time(12), "has passed"),
        (NEXT_FRIDAY, WEDNESDAY, time(12), "is booked already"),
        (date(2027, 2, 20), date(2027, 2, 21), time(12), "cut-off is after the pickup"),
        (FRIDAY, date(2027, 2, 20), time(12), "cut-off is after the pickup"),
        (FRIDAY, date(2027, 2, 16), time(7), "would not come"),
    ],
)
def test_a_change_that_cannot_be_is_refused(
    session: LabSession, on_day: date, request_day: date, clock: time, sentence: str
) -> None:
    booked(session, NEXT_FRIDAY)
    pickup = booked(session)

    with pytest.raises(Refusal, match=sentence):
        _change(session, pickup, on_day=on_day, request_day=request_day, clock=clock)


def test_a_later_cut_off_that_the_office_gives_lets_a_late_request_through(
    session: LabSession, bench: Bench
) -> None:
    pickup = booked(session)
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    with pytest.raises(Refusal, match="Wed 17 Feb 2027, 12:00"):
        _choose(session, pickup, carboy.id, now=AFTER_THE_CUT_OFF)

    _change(session, pickup, request_day=date(2027, 2, 18), clock=time(16), now=AFTER_THE_CUT_OFF)
    _choose(session, pickup, carboy.id, now=AFTER_THE_CUT_OFF)
    request_pickup(session, pickup.id, zone=BERLIN, by="Tomas", now=AFTER_THE_CUT_OFF)

    assert pickup.requested_at == AFTER_THE_CUT_OFF


def test_containers_are_chosen_then_requested_and_are_then_closed_to_more(
    session: LabSession, bench: Bench
) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup = _choose(session, booked(session), first.id)
    assert first.state == ContainerState.OPEN

    request_pickup(session, pickup.id, zone=BERLIN, by="Tomas", now=MORNING)
    request_pickup(session, pickup.id, zone=BERLIN, by="Mira", now=MORNING + timedelta(hours=1))

    assert (pickup.requested_at, pickup.requested_by) == (MORNING, "Tomas")
    assert _states(session, first)[-2:] == [ContainerState.CLOSED, ContainerState.REQUESTED]
    assert second.state == ContainerState.OPEN
    with pytest.raises(Refusal, match="Rinse 1"):
        bench.rinse(session, first.id, LITRE, tablet_id="poured-after-the-request")


def test_a_request_is_changed_until_the_cut_off(session: LabSession, bench: Bench) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup = asked(session, booked(session), first.id)

    _choose(session, pickup, second.id)

    assert (first.state, second.state) == (ContainerState.CLOSED, ContainerState.REQUESTED)
    assert _listed(session, pickup) == ["Rinse 2"]
    assert list_events(session, pickup.id)[-1].note == "added “Rinse 2”; taken off “Rinse 1”"
    with pytest.raises(Refusal, match="withdraw the request"):
        _choose(session, pickup)
    with pytest.raises(Refusal, match="Wed 17 Feb 2027, 12:00"):
        _choose(session, pickup, first.id, now=AFTER_THE_CUT_OFF)


def test_a_withdrawn_request_leaves_containers_as_they_were(session: LabSession, bench: Bench) -> None:
    """An open one was closed for the request; a full one stays full since the day it was full."""
    opened = bench.rinse_carboy(session, held_ul=LITRE)
    full = bench.full_carboy(session, name="Rinse 2")
    pickup = asked(session, booked(session), opened.id, full.id)

    withdraw_request(session, pickup.id, zone=BERLIN, by="Tomas", now=MORNING + timedelta(hours=1))
    withdraw_request(session, pickup.id, zone=BERLIN, by="Tomas", now=MORNING + timedelta(hours=2))

    assert (pickup.requested_at, pickup.requested_by) == (None, "")
    assert (opened.state, full.state, full.full_at) == (ContainerState.CLOSED, ContainerState.FULL, MORNING)
    assert _listed(session, pickup) == ["Rinse 1", "Rinse 2"]


def test_after_the_cut_off_a_request_stands(session: LabSession, bench: Bench) -> None:
    pickup = asked(session, booked(session), bench.rinse_carboy(session, held_ul=LITRE).id)

    with pytest.raises(Refusal, match="Call your waste office"):
        withdraw_request(session, pickup.id, zone=BERLIN, by="Tomas", now=AFTER_THE_CUT_OFF)
    with pytest.raises(Refusal, match="write here why"):
        call_off_pickup(session, pickup.id, by="Tomas", now=AFTER_THE_CUT_OFF)


def test_a_request_names_containers_and_comes_before_the_cut_off(session: LabSession, bench: Bench) -> None:
    pickup = booked(session)
    with pytest.raises(Refusal, match="Nothing is on the sheet"):
        request_pickup(session, pickup.id, zone=BERLIN, by="Tomas", now=MORNING)

    _choose(session, pickup, bench.rinse_carboy(session, held_ul=LITRE).id)
    with pytest.raises(Refusal, match="Wed 17 Feb 2027, 12:00"):
        request_pickup(session, pickup.id, zone=BERLIN, by="Tomas", now=AFTER_THE_CUT_OFF)


def test_a_container_that_cannot_go_is_not_chosen(session: LabSession, bench: Bench) -> None:
    empty = bench.rinse_carboy(session)
    listed = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    first, second = booked(session), booked(session, NEXT_FRIDAY)
    _choose(session, first, listed.id)

    with pytest.raises(Refusal, match="“Rinse 1” is empty"):
        _choose(session, second, empty.id)
    with pytest.raises(Refusal, match="stands on the sheet of the pickup of Fri 19 Feb 2027"):
        _choose(session, second, listed.id)
    with pytest.raises(NotFound, match="no such waste container"):
        _choose(session, second, listed.id + 1000)


def test_a_pickup_called_off_stays_among_the_records_and_frees_its_day(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = asked(session, booked(session), carboy.id)
    call_off_pickup(session, pickup.id, reason="office closed", by="Tomas", now=MORNING)
    anew = booked(session)

    assert list(list_pickups(session)) == [anew]
    assert list(list_pickups_between(session, FRIDAY, FRIDAY)) == [pickup, anew]
    assert carboy.state == ContainerState.CLOSED
    assert _listed(session, _choose(session, anew, carboy.id)) == ["Rinse 1"]
    with pytest.raises(Refusal, match="was called off"):
        request_pickup(session, pickup.id, zone=BERLIN, by="Tomas", now=MORNING)


def test_a_pickup_is_lost_when_its_cut_off_or_its_day_went_by(session: LabSession, bench: Bench) -> None:
    """Where nothing was meant for it, a pickup that was not requested worries nobody after its day."""
    unasked, in_time, missed = (booked(session, FRIDAY + timedelta(weeks=week)) for week in range(3))
    in_time.requested_at = missed.requested_at = MORNING
    missed.missed_at = MORNING
    a_week_later = MORNING + timedelta(days=11)

    assert list(list_lost_pickups(session, now=MORNING, zone=BERLIN)) == []
    assert list(list_lost_pickups(session, now=AFTER_THE_CUT_OFF, zone=BERLIN)) == [unasked]
    assert list(list_lost_pickups(session, now=a_week_later, zone=BERLIN)) == [in_time]
    _choose(session, unasked, bench.rinse_carboy(session, held_ul=LITRE).id)
    assert list(list_lost_pickups(session, now=a_week_later, zone=BERLIN)) == [unasked, in_time]


def test_a_schedule_s_pickup_that_nobody_needed_worries_nobody(session: LabSession) -> None:
    _repeat(session)

    assert list(list_lost_pickups(session, now=AFTER_THE_CUT_OFF, zone=BERLIN)) == []
