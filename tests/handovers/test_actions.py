"""Handing over, leaving behind, taking back, and nobody coming."""

from datetime import date, timedelta

import pytest

from server.containers.actions import note_state
from server.containers.models import WasteEntryKind
from server.containers.queries import list_containers, list_entries, list_unbalanced
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.handovers.actions import hand_over, mark_missed, take_back_hand_over
from server.pickups.actions import call_off_pickup, change_pickup, choose_containers, request_pickup
from server.pickups.models import Pickup
from server.pickups.pages import list_worries
from server.pickups.queries import Listed, list_events, list_listed
from server.refusal import NotFound, Refusal
from server.sheets.actions import tell_of_container
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench
from tests.pickups.booked import BERLIN, NEXT_FRIDAY, WEDNESDAY, asked, booked

ON_FRIDAY = MORNING + timedelta(days=3)
NEXT_WEDNESDAY = date(2027, 2, 24)


def _next(session: LabSession) -> Pickup:
    """The pickup a week later, to be requested by its own Wednesday."""
    return booked(session, NEXT_FRIDAY, NEXT_WEDNESDAY)


def _on(session: LabSession, pickup: Pickup) -> list[tuple[str, int | None]]:
    return [(one.container.name, one.line.entry_id) for one in list_listed(session, [pickup.id])]


def _line(session: LabSession, pickup: Pickup, name: str) -> Listed:
    return next(one for one in list_listed(session, [pickup.id]) if one.container.name == name)


def test_a_pickup_takes_the_chosen_containers_and_leaves_the_others(
    session: LabSession, bench: Bench
) -> None:
    taken = bench.rinse_carboy(session, held_ul=13_200_000)
    left = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup = asked(session, booked(session), taken.id)

    hand_over(
        session, pickup.id, [taken.id], receipts={taken.id: "R-7"}, collected_by="Waste office", receipt="M-12", by="Tomas", now=ON_FRIDAY
    )  # fmt: skip

    assert (taken.state, taken.held_ul) == (ContainerState.COLLECTED, 0)
    assert (left.state, left.held_ul) == (ContainerState.OPEN, LITRE)
    last = list_entries(session, taken.id)[-1]
    assert (last.kind, last.change_ul) == (WasteEntryKind.COLLECTED, -13_200_000)
    line = _line(session, pickup, "Rinse 1").line
    assert (line.entry_id, line.receipt, line.sheet_ul, line.sheet_mg) == (
        last.id,
        "R-7",
        13_200_000,
        13_200_000,
    )
    assert (pickup.done_at, pickup.collected_by, pickup.receipt) == (ON_FRIDAY, "Waste office", "M-12")
    assert list(list_containers(session)) == [left]
    assert [event.kind for event in list_events(session, pickup.id)] == [
        "booked",
        "sheet changed",
        "requested",
        "handed over",
    ]


def test_what_was_weighed_for_the_paper_is_kept_beside_the_ledger_s_sum(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=13_200_000)
    pickup = asked(session, booked(session), carboy.id)
    tell_of_container(
        session, pickup.id, carboy.id, vessel="", contents="rinse", composition="", physical_state="liquid", ph_hundredths=None,
        temperature_decicelsius=None, read_ul=None, gross_mg=14_500_000, tare_mg=1_200_000, handling="", by="Tomas", now=MORNING,
    )  # fmt: skip

    hand_over(session, pickup.id, [carboy.id], by="Tomas", now=ON_FRIDAY)

    listed = _line(session, pickup, "Rinse 1")
    assert (listed.line.sheet_ul, listed.line.sheet_mg) == (13_300_000, 13_300_000)
    assert (listed.quantity.volume_ul, listed.quantity.gross_mg) == (13_300_000, 14_500_000)
    assert list_entries(session, carboy.id)[-1].change_ul == -13_200_000


def test_handing_over_twice_is_refused(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = booked(session)
    hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="was handed over already"):
        hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="“Rinse 1” is collected"):
        hand_over(session, _next(session).id, [carboy.id], by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="was handed over already"):
        call_off_pickup(session, pickup.id, by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="was handed over already"):
        request_pickup(session, pickup.id, zone=BERLIN, by="Tomas", now=MORNING)


def test_an_empty_or_unchosen_container_is_not_handed_over(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    pickup = booked(session)

    with pytest.raises(Refusal, match="is empty"):
        hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="No container was chosen"):
        hand_over(session, pickup.id, [], by="Tomas", now=MORNING)
    with pytest.raises(NotFound, match="no such waste container"):
        hand_over(session, pickup.id, [carboy.id + 1000], by="Tomas", now=MORNING)
    assert pickup.done_at is None


def test_of_each_container_on_the_sheet_one_thing_is_said(session: LabSession, bench: Bench) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    third = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 3")
    pickup = asked(session, booked(session), first.id, second.id)

    for left, sentence in (
        ({}, "Say of “Rinse 2”"),
        ({first.id: "dented", second.id: "no label"}, "Say of “Rinse 1”"),
        ({second.id: ""}, "Write why “Rinse 2” was left"),
        ({second.id: "no label", third.id: "no room"}, "“Rinse 3” isn't on the sheet"),
    ):
        with pytest.raises(Refusal, match=sentence):
            hand_over(session, pickup.id, [first.id], left=left, by="Tomas", now=ON_FRIDAY)


def test_what_was_left_is_full_and_goes_to_the_next_pickup_with_what_was_told_of_it(
    session: LabSession, bench: Bench
) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup, following = asked(session, booked(session), first.id, second.id), _next(session)
    tell_of_container(
        session, pickup.id, second.id, vessel="plastic bottle", contents="rinse", composition="water 100 %", physical_state="liquid",
        ph_hundredths=740, temperature_decicelsius=200, read_ul=None, gross_mg=None, tare_mg=None, handling="", by="Tomas", now=MORNING,
    )  # fmt: skip

    hand_over(session, pickup.id, [first.id], left={second.id: "no label"}, by="Tomas", now=ON_FRIDAY)

    assert (second.state, second.full_at) == (ContainerState.FULL, ON_FRIDAY)
    assert _line(session, pickup, "Rinse 2").line.left_reason == "no label"
    line = _line(session, following, "Rinse 2").line
    assert (line.vessel, line.composition, line.ph_hundredths, line.left_reason) == (
        "plastic bottle",
        "water 100 %",
        740,
        "",
    )
    assert list_events(session, following.id)[-1].note == "added “Rinse 2”, left on Fri 19 Feb 2027"
    [worry] = list_worries(session, now=ON_FRIDAY, zone=BERLIN)
    assert "still here: “Rinse 2”" in worry.words
    assert "Next cut-off: Wed 24 Feb 2027, 12:00" in worry.words


def test_what_was_left_joins_a_next_pickup_that_is_requested_already(
    session: LabSession, bench: Bench
) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    third = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 3")
    pickup = asked(session, booked(session), first.id, second.id)
    following = asked(session, _next(session), third.id)

    hand_over(session, pickup.id, [first.id], left={second.id: "no label"}, by="Tomas", now=ON_FRIDAY)

    assert second.state == ContainerState.REQUESTED
    assert [name for name, _entry in _on(session, following)] == ["Rinse 2", "Rinse 3"]
    assert list_worries(session, now=ON_FRIDAY, zone=BERLIN) == []


def test_a_container_may_be_taken_that_was_not_on_the_request(session: LabSession, bench: Bench) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    extra = bench.rinse_carboy(session, held_ul=2 * LITRE, name="Rinse 2")
    elsewhere = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 3")
    pickup, following = asked(session, booked(session), first.id), _next(session)
    choose_containers(session, following.id, [elsewhere.id], zone=BERLIN, by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="stands on the sheet of the pickup of Fri 26 Feb 2027"):
        hand_over(session, pickup.id, [first.id, elsewhere.id], by="Tomas", now=ON_FRIDAY)
    hand_over(session, pickup.id, [first.id, extra.id], by="Tomas", now=ON_FRIDAY)

    assert extra.state == ContainerState.COLLECTED
    assert _line(session, pickup, "Rinse 2").line.listed_at is None


def test_a_hand_over_is_taken_back_with_reversing_entries_and_can_be_entered_anew(
    session: LabSession, bench: Bench
) -> None:
    first = bench.rinse_carboy(session, held_ul=13_200_000)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    extra = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 3")
    pickup, following = asked(session, booked(session), first.id, second.id), _next(session)
    hand_over(
        session, pickup.id, [first.id, extra.id], left={second.id: "no label"}, collected_by="Office", by="Tomas", now=ON_FRIDAY
    )  # fmt: skip

    take_back_hand_over(session, pickup.id, reason="wrong day", by="Mira", now=ON_FRIDAY)

    assert (first.state, first.held_ul, first.held_mg) == (ContainerState.REQUESTED, 13_200_000, 13_200_000)
    assert (second.state, extra.state) == (ContainerState.REQUESTED, ContainerState.OPEN)
    assert (pickup.done_at, pickup.collected_by) == (None, "")
    assert _on(session, pickup) == [("Rinse 1", None), ("Rinse 2", None)]
    assert _on(session, following) == []
    poured, collected, reversal = list_entries(session, first.id)
    assert (reversal.reverses_id, reversal.change_ul, reversal.note) == (
        collected.id,
        13_200_000,
        "wrong day",
    )
    assert poured.change_ul == 13_200_000

    hand_over(session, pickup.id, [first.id, second.id], by="Tomas", now=ON_FRIDAY)
    assert (first.state, first.held_ul) == (ContainerState.COLLECTED, 0)
    assert len(list_entries(session, first.id)) == 4
    assert list_unbalanced(session) == []
    kinds = [event.kind for event in list_events(session, pickup.id)]
    assert kinds[-3:] == ["handed over", "hand-over taken back", "handed over"]


def test_a_hand_over_that_is_taken_back_leaves_full_what_was_full_and_nothing_else(
    session: LabSession, bench: Bench
) -> None:
    """What was full is so since it was full, collected and left meanwhile or not."""
    full = bench.full_carboy(session, name="Rinse 1")
    left = bench.full_carboy(session, name="Rinse 2")
    closed = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 3")
    loose = bench.full_carboy(session, name="Rinse 4")
    pickup = asked(session, booked(session), full.id, left.id, closed.id)
    hand_over(
        session, pickup.id, [full.id, loose.id], left={left.id: "no label", closed.id: "no label"}, by="Tomas", now=ON_FRIDAY
    )  # fmt: skip
    assert closed.full_at == ON_FRIDAY

    take_back_hand_over(session, pickup.id, reason="wrong day", by="Mira", now=ON_FRIDAY)
    assert (loose.state, loose.full_at) == (ContainerState.FULL, MORNING)
    call_off_pickup(session, pickup.id, reason="the office is shut", by="Tomas", now=ON_FRIDAY)

    assert [(one.state, one.full_at) for one in (full, left, closed)] == [
        (ContainerState.FULL, MORNING),
        (ContainerState.FULL, MORNING),
        (ContainerState.CLOSED, None),
    ]


def test_a_hand_over_stays_once_something_else_happened_to_what_was_taken(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = booked(session)
    with pytest.raises(Refusal, match="nothing to take back"):
        take_back_hand_over(session, pickup.id, reason="wrong", by="Tomas", now=MORNING)
    hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)
    note_state(session, carboy, ContainerState.WASHED, by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="“Rinse 1” is washed now"):
        take_back_hand_over(session, pickup.id, reason="wrong", by="Tomas", now=MORNING)


def test_a_hand_over_stays_while_what_it_left_is_on_another_request(
    session: LabSession, bench: Bench
) -> None:
    first = bench.rinse_carboy(session, held_ul=LITRE)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup, following = asked(session, booked(session), first.id, second.id), _next(session)
    hand_over(session, pickup.id, [first.id], left={second.id: "no label"}, by="Tomas", now=ON_FRIDAY)
    request_pickup(session, following.id, zone=BERLIN, by="Tomas", now=ON_FRIDAY)

    with pytest.raises(Refusal, match="on the request for Fri 26 Feb 2027 since"):
        take_back_hand_over(session, pickup.id, reason="wrong", by="Tomas", now=ON_FRIDAY)


def test_a_missed_pickup_leaves_its_containers_full_and_on_the_next_sheet(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup, following = asked(session, booked(session), carboy.id), _next(session)
    with pytest.raises(Refusal, match="is still to come"):
        mark_missed(session, pickup.id, said="nobody", by="Tomas", now=MORNING)

    [worry] = list_worries(session, now=MORNING + timedelta(days=4), zone=BERLIN)
    assert worry.state_words == "passed, nothing handed over"
    mark_missed(session, pickup.id, said="driver ill, they come next week", by="Tomas", now=ON_FRIDAY)

    assert (pickup.missed_at, pickup.said) == (ON_FRIDAY, "driver ill, they come next week")
    assert (carboy.state, carboy.full_at, carboy.held_ul) == (ContainerState.FULL, ON_FRIDAY, LITRE)
    assert _on(session, following) == [("Rinse 1", None)]
    [worry] = list_worries(session, now=ON_FRIDAY, zone=BERLIN)
    assert "was missed (driver ill, they come next week); still here: “Rinse 1”" in worry.words
    with pytest.raises(Refusal, match="was missed"):
        hand_over(session, pickup.id, [carboy.id], by="Tomas", now=ON_FRIDAY)
    request_pickup(session, following.id, zone=BERLIN, by="Tomas", now=ON_FRIDAY)
    assert list_worries(session, now=ON_FRIDAY, zone=BERLIN) == []


def test_without_a_next_pickup_what_was_left_waits(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = asked(session, booked(session), carboy.id)
    mark_missed(session, pickup.id, said="no truck", by="Tomas", now=ON_FRIDAY)

    assert carboy.state == ContainerState.FULL
    [worry] = list_worries(session, now=ON_FRIDAY, zone=BERLIN)
    assert "No other pickup is booked" in worry.words


def test_a_pickup_moved_to_another_day_is_handed_over_there(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = asked(session, booked(session), carboy.id)
    change_pickup(
        session, pickup.id, on_day=date(2027, 2, 22), request_day=WEDNESDAY, request_clock=pickup.request_by.time().replace(hour=12),
        most_ul=None, most_containers=None, note="", zone=BERLIN, by="Tomas", now=ON_FRIDAY,
    )  # fmt: skip

    hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING + timedelta(days=6))

    assert carboy.state == ContainerState.COLLECTED


def test_a_hand_over_is_entered_for_the_time_at_which_it_happened(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = asked(session, booked(session), carboy.id)
    with pytest.raises(Refusal, match="for a later time than that of the hand-over"):
        hand_over(
            session, pickup.id, [carboy.id], happened_at=MORNING - timedelta(minutes=1), by="Tomas", now=ON_FRIDAY
        )  # fmt: skip

    on_thursday = ON_FRIDAY - timedelta(days=1)
    hand_over(session, pickup.id, [carboy.id], happened_at=on_thursday, by="Tomas", now=ON_FRIDAY)

    last = list_entries(session, carboy.id)[-1]
    assert (last.happened_at, last.entered_at, pickup.done_at) == (on_thursday, ON_FRIDAY, on_thursday)
