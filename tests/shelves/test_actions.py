"""What becomes of containers, where they stand, and what else stands there."""

from datetime import date, timedelta

import pytest

from server.containers.actions import fill_anew, note_state, set_out_container
from server.containers.models import Source, WasteContainer
from server.containers.queries import find_next_filling, get_container
from server.core.container_life import AreaKind, ContainerState
from server.data.session import LabSession
from server.pours.actions import collect_container
from server.refusal import NotFound, Refusal
from server.shelves.actions import (
    add_area,
    carry_container,
    change_container,
    log_other_waste,
    move_fill_line,
    note_other_waste_gone,
    write_down_tare,
)
from server.shelves.queries import (
    list_events,
    list_left_open,
    list_other_waste,
    list_other_waste_gone,
)
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench, keep_rules

TODAY = date(2027, 2, 16)


def _change(session: LabSession, container_id: int, to: str, note: str = "") -> None:
    change_container(session, container_id, to=ContainerState(to), note=note, by="Tomas", now=MORNING)


def _collected(session: LabSession, bench: Bench) -> WasteContainer:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    collect_container(session, carboy.id, tablet_id="pickup-1", happened_at=MORNING, by="Tomas", now=MORNING)
    return carboy


def test_every_change_is_an_event_with_who_and_when(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    change_container(session, carboy.id, to=ContainerState.OPEN, by="Tomas", now=MORNING)
    later = MORNING + timedelta(hours=1)
    change_container(session, carboy.id, to=ContainerState.CLOSED, note="end of class", by="Mira", now=later)

    assert [
        (event.state, event.note, event.happened_at, event.noted_by)
        for event in list_events(session, carboy.id)
    ] == [
        ("closed", "end of class", later, "Mira"),
        ("open", "", MORNING, "Tomas"),
        ("empty", "", MORNING, "Tomas"),
    ]


def test_a_move_that_is_not_in_its_life_is_refused_and_changes_nothing(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)

    with pytest.raises(Refusal, match=r"is empty\. Washed is what came back"):
        _change(session, carboy.id, "washed")
    assert carboy.state == "empty"
    assert len(list_events(session, carboy.id)) == 1


def test_a_full_container_keeps_since_when_and_a_reopened_one_is_full_no_more(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=18 * LITRE)
    _change(session, carboy.id, "full")
    assert carboy.full_at == MORNING

    with pytest.raises(Refusal, match="Please write why"):
        _change(session, carboy.id, "closed")
    _change(session, carboy.id, "closed", "the line was moved")
    assert carboy.full_at is None


def test_what_comes_off_a_request_by_hand_is_full_since_it_was_full(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.full_carboy(session, name="Rinse 1")
    note_state(session, carboy, ContainerState.REQUESTED, by="Tomas", now=MORNING + timedelta(days=1))
    change_container(
        session, carboy.id, to=ContainerState.FULL, note="they won't take it", by="Tomas", now=MORNING + timedelta(days=2)
    )  # fmt: skip

    assert carboy.full_at == MORNING


def test_what_was_ordered_begins_when_it_has_come(session: LabSession, bench: Bench) -> None:
    tomorrow = MORNING + timedelta(days=1)
    ordered = set_out_container(
        session, stream_id=bench.streams(session)[Source.RINSE], name="Rinse 9", size_ul=LITRE, is_ordered=True,
        by="Tomas", now=MORNING,
    )  # fmt: skip
    change_container(session, ordered.id, to=ContainerState.EMPTY, by="Tomas", now=tomorrow)

    assert ordered.opened_at == tomorrow


def test_a_vessel_that_was_washed_is_filled_anew_and_what_it_held_is_known(
    session: LabSession, bench: Bench
) -> None:
    old = _collected(session, bench)
    write_down_tare(session, old.id, tare_mg=1_200_000, by="Tomas", now=MORNING)
    for state in ("washed", "reusable"):
        _change(session, old.id, state)
    streams = bench.known_streams(session)
    new = fill_anew(
        session, old.id, name="Bleach 7", stream_id=streams[Source.BLEACH], by="Tomas", now=MORNING
    )

    assert (new.previous_contents, new.washed, new.state) == ("Rinse", True, "empty")
    assert (new.size_ul, new.fill_line_ul, new.tare_mg) == (20 * LITRE, 18 * LITRE, 1_200_000)
    assert find_next_filling(session, old.id) == new
    assert (old.state, list_events(session, old.id)[0].note) == ("retired", "filled anew as “Bleach 7”")
    with pytest.raises(Refusal, match="is retired"):
        fill_anew(session, old.id, name="Again", stream_id=old.stream_id, by="Tomas", now=MORNING)


def test_an_unwashed_vessel_is_filled_anew_with_its_own_stream_only(
    session: LabSession, bench: Bench
) -> None:
    """40 CFR 265.177(b): no waste into an unwashed container that held an incompatible one."""
    old = _collected(session, bench)
    streams = bench.known_streams(session)
    with pytest.raises(Refusal, match=r"was collected\. Filled anew is what came back"):
        fill_anew(session, old.id, name="Rinse 2", stream_id=old.stream_id, by="Tomas", now=MORNING)
    _change(session, old.id, "reusable")

    with pytest.raises(Refusal, match="held Rinse before"):
        fill_anew(session, old.id, name="Dev", stream_id=streams[Source.DEVELOPER], by="Tomas", now=MORNING)
    new = fill_anew(session, old.id, name="Rinse 2", stream_id=old.stream_id, by="Tomas", now=MORNING)
    assert (new.previous_contents, new.washed) == ("Rinse", False)


def test_the_next_filling_has_a_name_of_its_own(session: LabSession, bench: Bench) -> None:
    old = _collected(session, bench)
    _change(session, old.id, "washed")

    with pytest.raises(Refusal, match="There is or was a container"):
        fill_anew(session, old.id, name=old.name, stream_id=old.stream_id, by="Tomas", now=MORNING)


@pytest.mark.parametrize("line_ul", [0, 20 * LITRE + 1])
def test_a_fill_line_outside_the_container_is_refused(
    session: LabSession, bench: Bench, line_ul: int
) -> None:
    carboy = bench.rinse_carboy(session)

    with pytest.raises(Refusal, match="The fill line must be"):
        move_fill_line(session, carboy.id, fill_line_ul=line_ul, by="Tomas", now=MORNING)


def test_a_moved_line_and_a_tare_are_events_that_leave_the_state(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    move_fill_line(session, carboy.id, fill_line_ul=15 * LITRE, by="Tomas", now=MORNING)
    write_down_tare(session, carboy.id, tare_mg=1_200_000, by="Tomas", now=MORNING)

    assert (carboy.fill_line_ul, carboy.tare_mg) == (15 * LITRE, 1_200_000)
    assert [(event.state, event.note) for event in list_events(session, carboy.id)][:2] == [
        ("empty", "weighs 1.2 kg empty"),
        ("empty", "fill line moved from 18 L to 15 L"),
    ]
    with pytest.raises(Refusal, match="more than nothing"):
        write_down_tare(session, carboy.id, tare_mg=0, by="Tomas", now=MORNING)


def test_what_was_collected_keeps_its_line_and_its_place(session: LabSession, bench: Bench) -> None:
    carboy = _collected(session, bench)
    area = add_area(session, name="store", kind=AreaKind.CENTRAL)

    with pytest.raises(Refusal, match="was collected"):
        move_fill_line(session, carboy.id, fill_line_ul=LITRE, by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="was collected"):
        carry_container(session, carboy.id, area_id=area.id, by="Tomas", now=MORNING)


def test_waste_is_not_carried_from_one_satellite_area_to_another(session: LabSession, bench: Bench) -> None:
    """EPA, frequent questions on satellite accumulation: waste.zendesk.com/hc/en-us/articles/212355067."""
    keep_rules(session, "us-small")
    carboy = bench.rinse_carboy(session)
    bench_side, next_room, store = (
        add_area(session, name=name, kind=kind)
        for name, kind in (
            ("bench", AreaKind.SATELLITE), ("next room", AreaKind.SATELLITE), ("store", AreaKind.CENTRAL),
        )
    )  # fmt: skip

    def _carry(area_id: int, note: str = "") -> None:
        carry_container(session, carboy.id, area_id=area_id, note=note, by="Tomas", now=MORNING)

    _carry(next_room.id)
    _carry(bench_side.id)
    bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")
    with pytest.raises(Refusal, match=r"isn't carried from one satellite area to another \(EPA"):
        _carry(next_room.id)
    with pytest.raises(Refusal, match="stands in “bench” already"):
        _carry(bench_side.id)
    _carry(store.id, "by two people")

    assert (carboy.area_id, carboy.carried_at) == (store.id, MORNING)
    assert [event.note for event in list_events(session, carboy.id)] == [
        "carried from bench to store; by two people",
        "opened for a pour",
        "carried from next room to bench",
        "placed in next room",
        "",
    ]
    with pytest.raises(Refusal, match=r"in a central area, where its time runs: 180 days \(40 CFR 262\.16"):
        _carry(bench_side.id)
    with pytest.raises(NotFound, match="no such waste area"):
        _carry(store.id + 1)


def test_an_area_has_a_name_of_its_own(session: LabSession) -> None:
    add_area(session, name="bench", kind=AreaKind.SATELLITE)

    with pytest.raises(Refusal, match="already a waste area called “bench”"):
        add_area(session, name="bench", kind=AreaKind.CENTRAL)


def test_what_stands_open_is_told_with_the_longest_first(session: LabSession, bench: Bench) -> None:
    first = bench.rinse_carboy(session)
    second = bench.rinse_carboy(session, name="Rinse 2")
    third = bench.rinse_carboy(session, name="Rinse 3")
    later = MORNING + timedelta(hours=1)
    change_container(session, second.id, to=ContainerState.OPEN, by="Tomas", now=MORNING)
    change_container(session, first.id, to=ContainerState.OPEN, by="Tomas", now=later)
    for state in ("open", "closed"):
        _change(session, third.id, state)

    assert [(container.name, since) for container, since in list_left_open(session)] == [
        ("Rinse 2", MORNING),
        ("Rinse 1", later),
    ]


def test_other_courses_waste_stands_on_the_shelf_until_it_has_gone(session: LabSession) -> None:
    waste = log_other_waste(
        session, course="Etching", contents="spent ferric chloride", volume_ul=2 * LITRE, mass_mg=2_600_000,
        since=TODAY - timedelta(days=3), area_id=None, by="Tomas", now=MORNING,
    )  # fmt: skip
    assert list_other_waste(session) == [waste]

    with pytest.raises(Refusal, match="since Sat 13 Feb 2027"):
        note_other_waste_gone(session, waste.id, gone_on=TODAY - timedelta(days=4), now=MORNING)
    with pytest.raises(Refusal, match="still to come"):
        note_other_waste_gone(session, waste.id, gone_on=TODAY + timedelta(days=1), now=MORNING)
    note_other_waste_gone(session, waste.id, gone_on=TODAY, now=MORNING)
    assert list_other_waste(session) == []
    assert list_other_waste_gone(session) == [waste]
    with pytest.raises(Refusal, match="left on Tue 16 Feb 2027"):
        note_other_waste_gone(session, waste.id, gone_on=TODAY, now=MORNING)
    with pytest.raises(NotFound, match="on this lab's shelf"):
        note_other_waste_gone(session, waste.id + 1, gone_on=TODAY, now=MORNING)


def test_other_waste_that_nobody_weighed_is_taken_to_weigh_a_gram_a_millilitre(session: LabSession) -> None:
    """Assumed; the page says so."""
    waste = log_other_waste(
        session, course="Etching", contents="rinse", volume_ul=2 * LITRE, mass_mg=None, since=TODAY, area_id=None,
        by="Tomas", now=MORNING,
    )  # fmt: skip

    assert waste.mass_mg == 2_000_000
    for change, why in (
        ({"since": TODAY + timedelta(days=1)}, "still to come"),
        ({"volume_ul": 0}, "more than nothing"),
        ({"mass_mg": 0}, "more than nothing"),
    ):
        told = {
            "course": "Etching", "contents": "x", "volume_ul": 1, "mass_mg": 1, "since": TODAY, "area_id": None,
        }  # fmt: skip
        with pytest.raises(Refusal, match=why):
            log_other_waste(session, **{**told, **change}, by="Tomas", now=MORNING)  # type: ignore[arg-type]


def test_a_container_is_set_out_in_an_area_that_is_there(session: LabSession, bench: Bench) -> None:
    stream_id = bench.streams(session)[Source.RINSE]
    area = add_area(session, name="bench", kind=AreaKind.SATELLITE)
    container = set_out_container(
        session, stream_id=stream_id, name="Rinse 1", size_ul=LITRE, area_id=area.id, tare_mg=80_000, by="Tomas",
        now=MORNING,
    )  # fmt: skip

    assert (get_container(session, container.id).area_id, container.tare_mg) == (area.id, 80_000)
    with pytest.raises(NotFound, match="no such waste area"):
        set_out_container(
            session,
            stream_id=stream_id,
            name="Rinse 2",
            size_ul=LITRE,
            area_id=area.id + 1,
            by="Tomas",
            now=MORNING,
        )
