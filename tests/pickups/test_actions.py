"""Booking, requesting, handing over."""

from datetime import date, time, timedelta

import pytest

from server.containers.models import WasteEntryKind
from server.containers.queries import (
    list_containers,
    list_entries,
)
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.pickups.actions import book_pickup, call_off_pickup, hand_over, request_pickup
from server.pickups.models import Pickup
from server.pickups.queries import find_next_pickup, list_collections, list_pickups
from server.refusal import Refusal
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench

BERLIN = "Europe/Berlin"


FRIDAY = date(2027, 2, 19)


WEDNESDAY = date(2027, 2, 17)


def _booked(session: LabSession, day: date = FRIDAY) -> Pickup:
    return book_pickup(
        session, on_day=day, request_day=WEDNESDAY, request_clock=time(12, 0), zone=BERLIN, now=MORNING
    )


def test_a_pickup_takes_the_chosen_containers_and_leaves_the_others(
    session: LabSession, bench: Bench
) -> None:
    taken = bench.rinse_carboy(session, held_ul=13_200_000)
    left = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup = hand_over(
        session, _booked(session).id, [taken.id], collected_by="Waste office", by="Tomas", now=MORNING
    )

    assert (taken.state, taken.held_ul) == (ContainerState.COLLECTED, 0)
    assert (left.state, left.held_ul) == (ContainerState.OPEN, LITRE)
    last = list_entries(session, taken.id)[-1]
    assert (last.kind, last.change_ul) == (WasteEntryKind.COLLECTED, -13_200_000)
    assert [entry.id for entry, _container, _stream in list_collections(session, pickup.id)] == [last.id]
    assert pickup.done_at == MORNING
    assert list(list_containers(session)) == [left]


def test_handing_over_twice_is_refused(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = _booked(session)
    hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="was handed over already"):
        hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="“Rinse 1” was collected"):
        hand_over(session, _booked(session, date(2027, 2, 26)).id, [carboy.id], by="Tomas", now=MORNING)


def test_an_empty_or_unchosen_container_is_not_handed_over(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    pickup = _booked(session)

    with pytest.raises(Refusal, match="is empty"):
        hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="No container was chosen"):
        hand_over(session, pickup.id, [], by="Tomas", now=MORNING)
    assert pickup.done_at is None


def test_the_cut_off_is_kept_on_the_labs_wall_clock(session: LabSession) -> None:
    """12:00 in Berlin in winter is 11:00 UTC."""
    assert _booked(session).request_by.isoformat() == "2027-02-17T11:00:00+00:00"


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
            session, on_day=on_day, request_day=request_day, request_clock=clock, zone=BERLIN, now=MORNING
        )


def test_a_day_has_one_pickup(session: LabSession) -> None:
    _booked(session)

    with pytest.raises(Refusal, match="is booked already"):
        _booked(session)


def test_a_pickup_is_requested_before_its_cut_off_and_asking_twice_changes_nothing(
    session: LabSession,
) -> None:
    pickup = _booked(session)
    request_pickup(session, pickup.id, zone=BERLIN, now=MORNING)
    request_pickup(session, pickup.id, zone=BERLIN, now=MORNING + timedelta(days=2))

    assert pickup.requested_at == MORNING


def test_a_request_after_the_cut_off_is_refused(session: LabSession) -> None:
    pickup = _booked(session)

    with pytest.raises(Refusal, match="Wed 17 Feb 2027, 12:00"):
        request_pickup(session, pickup.id, zone=BERLIN, now=MORNING + timedelta(days=2))


def test_only_a_pickup_that_can_still_come_is_counted_on(session: LabSession) -> None:
    first, second = _booked(session), _booked(session, date(2027, 2, 26))
    second.requested_at = MORNING

    assert find_next_pickup(session, now=MORNING, zone=BERLIN) == first
    after_the_cut_off = MORNING + timedelta(days=2)
    assert find_next_pickup(session, now=after_the_cut_off, zone=BERLIN) == second
    assert find_next_pickup(session, now=MORNING + timedelta(days=20), zone=BERLIN) is None


def test_a_booking_can_be_called_off_until_something_was_handed_over(
    session: LabSession, bench: Bench
) -> None:
    call_off_pickup(session, _booked(session).id)
    session.flush()
    assert list_pickups(session) == []

    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    done = hand_over(session, _booked(session).id, [carboy.id], by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="was handed over already"):
        call_off_pickup(session, done.id)
    with pytest.raises(Refusal, match="was handed over already"):
        request_pickup(session, done.id, zone=BERLIN, now=MORNING)
