"""Taking in plate boxes, drawing plates and counting them; boxes that are opened, sealed, lit and tested."""

from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.core.plate_box import Keeping
from server.data.session import Database, LabSession
from server.plates.actions import (
    Count,
    correct_plates,
    count_plate_boxes,
    draw_plates,
    log_light,
    open_plate_box,
    put_back_into_cold,
    record_fog_test,
    seal_plate_box,
    take_out_of_cold,
)
from server.plates.models import PlateBox, PlateEntryKind, PlateLoss, PlateTest
from server.plates.queries import (
    count_plates_left,
    doubts_about,
    get_plate_box,
    list_offered_boxes,
    list_plate_box_events,
    list_plate_entries,
    list_unbalanced,
)
from server.refusal import NotFound, Refusal
from server.stations.actions import add_light_zone
from tests.casts import MORNING, Cast
from tests.plates import shelf

NOON = MORNING + timedelta(hours=4)


def _draw(session: LabSession, box_id: int, plates: int, kind: PlateEntryKind = PlateEntryKind.TEST) -> None:
    draw_plates(session, box_id, plates=plates, kind=kind, by="Tomas", now=MORNING)


def test_plates_that_see_no_light_are_refused(session: LabSession) -> None:
    with pytest.raises(Refusal, match="at least one colour"):
        shelf.box(session, sees_red=False, sees_green=False, sees_blue=False)


def test_plates_go_out_of_a_box_to_the_last_and_no_further(session: LabSession) -> None:
    box = shelf.box(session, plates=3)
    _draw(session, box.id, 2)
    with pytest.raises(Refusal, match="holds 1 plate, not 2"):
        _draw(session, box.id, 2)
    _draw(session, box.id, 1)

    assert box.plates_left == 0
    with pytest.raises(Refusal, match="No plate would be taken"):
        _draw(session, box.id, 0)


def test_a_box_is_opened_once(session: LabSession) -> None:
    box = shelf.box(session)
    open_plate_box(session, box.id, by="Tomas", now=MORNING)

    assert box.opened_at == MORNING
    with pytest.raises(Refusal, match="open already"):
        open_plate_box(session, box.id, by="Tomas", now=MORNING)


def test_the_first_plate_taken_opens_a_sealed_box_and_a_dropped_box_stays_sealed(session: LabSession) -> None:
    dropped, used = shelf.box(session, "box 7"), shelf.box(session, "box 8")
    _draw(session, dropped.id, 2, PlateEntryKind.LOST)
    _draw(session, used.id, 1, PlateEntryKind.RUN)

    assert dropped.opened_at is None
    assert used.opened_at == MORNING


def test_a_count_becomes_an_entry_of_the_difference(session: LabSession) -> None:
    box = shelf.box(session)
    correct_plates(
        session, box.id, counted=28, reason="two missing at the end of term", by="Tomas", now=MORNING
    )

    assert [(entry.kind, entry.change) for entry in list_plate_entries(session, box.id)] == [
        ("arrived", 30),
        ("correction", -2),
    ]
    with pytest.raises(Refusal, match="already says 28 plates"):
        correct_plates(session, box.id, counted=28, reason="again", by="Tomas", now=MORNING)


def _later(**passed: int) -> datetime:
    return MORNING + timedelta(**passed)


def _open_and_seal(
    session: LabSession, name: str, opened: time, sealed: time | None = None, **where: Any
) -> PlateBox:
    """A box opened and sealed at times of the morning; the morning ends at noon."""
    box = shelf.box(session, name)
    open_plate_box(session, box.id, by="Tomas", now=NOON, clock=opened, **where)
    if sealed is not None:
        seal_plate_box(session, box.id, by="Tomas", now=NOON, clock=sealed)
    return box


def _log(session: LabSession, clock: time, light_zone_id: int | None = None) -> None:
    log_light(session, clock=clock, light_zone_id=light_zone_id, note="", by="Mira", now=NOON)


def _fog_test(
    session: LabSession, box: PlateBox, *, is_fogged: bool, note: str = "", now: datetime = NOON
) -> None:
    record_fog_test(session, box.id, plates=1, is_fogged=is_fogged, note=note, by="Tomas", now=now)


def test_light_flags_exactly_the_boxes_that_were_open_in_its_minute(session: LabSession) -> None:
    """Opened or sealed in the very minute counts as open: nobody knows which came first."""
    flagged = {
        "open all along": _open_and_seal(session, "open all along", time(10, 0)),
        "opened in it": _open_and_seal(session, "opened in it", time(10, 42)),
        "sealed in it": _open_and_seal(session, "sealed in it", time(10, 0), time(10, 42)),
    }
    spared = {
        "sealed before": _open_and_seal(session, "sealed before", time(10, 0), time(10, 41)),
        "opened after": _open_and_seal(session, "opened after", time(10, 43)),
        "never opened": shelf.box(session, "never opened"),
    }
    _log(session, time(10, 42))

    lit_at = _later(hours=2, minutes=42)
    assert {name: box.light_at for name, box in flagged.items()} == dict.fromkeys(flagged, lit_at)
    assert {name: box.is_flagged for name, box in spared.items()} == dict.fromkeys(spared, False)
    assert list_unbalanced(session) == []


def test_light_of_a_zone_flags_the_boxes_there_and_those_opened_nobody_says_where(
    session: LabSession,
) -> None:
    here, there = (add_light_zone(session, name=name) for name in ("dark room", "annex"))
    boxes = [
        _open_and_seal(session, "here", time(10, 0), light_zone_id=here.id),
        _open_and_seal(session, "there", time(10, 0), light_zone_id=there.id),
        _open_and_seal(session, "somewhere", time(10, 0)),
    ]
    _log(session, time(10, 42), here.id)

    assert [box.name for box in boxes if box.is_flagged] == ["here", "somewhere"]
    assert list_unbalanced(session) == []


def test_light_that_is_still_to_come_or_logged_already_is_refused(session: LabSession) -> None:
    _log(session, time(12, 0))

    with pytest.raises(Refusal, match="12:01 is still to come"):
        _log(session, time(12, 1))
    with pytest.raises(Refusal, match="logged already"):
        _log(session, time(12, 0))


def test_in_the_hour_that_comes_twice_the_later_of_those_past_is_meant(session: LabSession) -> None:
    """Berlin, 31 October 2027: 02:30 is 00:30 UTC, and once more 01:30 UTC."""
    box = shelf.box(session)
    again = datetime(2027, 10, 31, 1, 30, tzinfo=UTC)
    open_plate_box(session, box.id, by="Tomas", now=again)
    log_light(session, clock=time(2, 30), light_zone_id=None, note="", by="Mira", now=again)

    assert box.light_at == again


def test_a_time_that_the_clocks_skip_is_refused(session: LabSession) -> None:
    """Berlin, 28 March 2027: after 01:59 comes 03:00."""
    with pytest.raises(Refusal, match="the clocks skip 02:30"):
        log_light(
            session,
            clock=time(2, 30),
            light_zone_id=None,
            note="",
            by="Mira",
            now=datetime(2027, 3, 28, 9, 0, tzinfo=UTC),
        )


def test_a_note_that_arrives_after_the_light_was_logged_flags_its_box_too(session: LabSession) -> None:
    """The tablet had no network: its plate was exposed at 10:30, the light was at 10:42, the note arrived at noon."""
    box = shelf.box(session)
    _log(session, time(10, 42))
    draw_plates(
        session,
        box.id,
        plates=1,
        kind=PlateEntryKind.RUN,
        by="G1",
        now=NOON,
        out_at=_later(hours=2, minutes=30),
    )

    assert box.opened_at == _later(hours=2, minutes=30)
    assert box.light_at == _later(hours=2, minutes=42)
    assert list_unbalanced(session) == []


def test_a_late_note_about_a_box_that_was_open_then_does_not_open_it_again(session: LabSession) -> None:
    box = _open_and_seal(session, "box 7", time(10, 0), time(10, 50))
    draw_plates(
        session,
        box.id,
        plates=1,
        kind=PlateEntryKind.RUN,
        by="G1",
        now=NOON,
        out_at=_later(hours=2, minutes=30),
    )

    assert box.opened_at is None


def test_a_box_sealed_before_the_light_by_a_later_word_keeps_its_flag_until_a_fog_test(
    session: LabSession,
) -> None:
    box = _open_and_seal(session, "box 7", time(10, 0))
    _log(session, time(10, 42))

    with pytest.raises(Refusal, match="a fog test lifts the flag"):
        seal_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(10, 41))
    seal_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(10, 42))
    assert box.is_flagged


def test_a_clear_fog_test_lifts_the_flag_and_its_plates_are_in_the_ledger(session: LabSession) -> None:
    box = _open_and_seal(session, "box 7", time(10, 0))
    _log(session, time(10, 42))
    _fog_test(session, box, is_fogged=False)

    assert not box.is_flagged
    assert [(entry.kind, entry.test, entry.change) for entry in list_plate_entries(session, box.id)][-1] == (
        "test",
        "fog test",
        -1,
    )
    assert list_unbalanced(session) == []


def test_light_logged_after_a_clear_test_but_before_it_in_time_is_answered_by_it(session: LabSession) -> None:
    box = _open_and_seal(session, "box 7", time(10, 0))
    _fog_test(session, box, is_fogged=False)
    _log(session, time(10, 42))
    assert not box.is_flagged

    _log(session, time(12, 0))
    assert box.is_flagged


def test_a_fogged_box_is_not_offered_but_its_plates_stay_and_go_into_tests(session: LabSession) -> None:
    box, other = shelf.box(session, "box 7", expires_on=date(2027, 3, 1)), shelf.box(session, "box 8")
    _fog_test(session, box, is_fogged=True)

    assert (box.is_fogged, box.plates_left) == (True, 29)
    assert [offered.name for offered in list_offered_boxes(session, NOON.date())] == [other.name]
    _draw(session, box.id, 4)
    assert box.plates_left == 25


def test_a_fogged_box_is_offered_again_only_after_a_clear_test_with_a_word(session: LabSession) -> None:
    box = shelf.box(session)
    _fog_test(session, box, is_fogged=True)

    with pytest.raises(Refusal, match="Write which plates were tested now"):
        _fog_test(session, box, is_fogged=False)
    _fog_test(session, box, is_fogged=False, note="from the middle of the box")

    assert list_offered_boxes(session, NOON.date()) == [box]


def test_sound_boxes_are_offered_first_expiring_first_and_doubtful_ones_after_them(
    session: LabSession,
) -> None:
    shelf.box(session, "expired", expires_on=date(2027, 2, 15))
    flagged = _open_and_seal(session, "flagged", time(10, 0))
    _log(session, time(10, 42))
    shelf.box(session, "june")
    shelf.box(session, "march", expires_on=date(2027, 3, 1))

    offered = list_offered_boxes(session, NOON.date())

    assert [box.name for box in offered] == ["march", "june", "expired", flagged.name]
    assert [doubts_about(box, NOON, "Europe/Berlin") for box in offered] == [
        [], [], ["expired"], ["light incident at 10:42"],
    ]  # fmt: skip


def test_an_older_light_incident_is_told_with_its_day(session: LabSession) -> None:
    box = _open_and_seal(session, "box 7", time(10, 0))
    _log(session, time(10, 42))

    assert doubts_about(box, NOON + timedelta(days=1), "Europe/Berlin") == [
        "light incident on Tue 16 Feb 2027, 10:42"
    ]


def test_plates_in_doubt_are_not_counted_as_usable(session: LabSession) -> None:
    _open_and_seal(session, "flagged", time(10, 0))
    _log(session, time(10, 42))
    _fog_test(session, shelf.box(session, "fogged"), is_fogged=True)
    shelf.box(session, "sound", plates=9)

    assert count_plates_left(session) == 68
    assert count_plates_left(session, usable_on=NOON.date()) == 9


def test_a_box_put_back_into_the_cold_asks_for_warming_again_and_a_sealed_one_does_not(
    session: LabSession,
) -> None:
    box = _open_and_seal(session, "box 7", time(9, 0), time(10, 0))
    open_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(10, 5), is_said_warm=False)
    seal_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(10, 10))
    put_back_into_cold(session, box.id, by="Tomas", now=NOON, clock=time(10, 15))

    with pytest.raises(Refusal, match="Let it stand closed until it is warm"):
        open_plate_box(session, box.id, by="Tomas", now=NOON, is_said_warm=False)
    take_out_of_cold(session, box.id, by="Tomas", now=NOON, clock=time(11, 0))
    with pytest.raises(Refusal, match="is warm from 12:00 on"):
        open_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(11, 59), is_said_warm=False)
    open_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(12, 0), is_said_warm=False)


def test_a_box_kept_at_room_temperature_needs_no_warming_and_goes_nowhere(session: LabSession) -> None:
    box = shelf.box(session, kept=Keeping.ROOM, warm_up_s=0)

    with pytest.raises(Refusal, match="It needs no warming"):
        take_out_of_cold(session, box.id, by="Tomas", now=NOON)
    open_plate_box(session, box.id, by="Tomas", now=NOON, is_said_warm=False)
    assert box.opened_at == NOON


def test_a_dropped_plate_and_a_broken_one_are_two_and_a_second_press_is_one(session: LabSession) -> None:
    box = shelf.box(session, plates=30)

    def lose(loss: PlateLoss) -> None:
        draw_plates(session, box.id, plates=1, kind=PlateEntryKind.LOST, loss=loss, by="Tomas", now=MORNING)

    lose(PlateLoss.DROPPED)
    lose(PlateLoss.BROKEN)
    with pytest.raises(Refusal, match="entered a moment ago"):
        lose(PlateLoss.BROKEN)
    assert box.plates_left == 28


def test_what_is_so_already_is_not_recorded_again(session: LabSession) -> None:
    box = shelf.box(session)
    for action, sentence in (
        (seal_plate_box, "closed already"),
        (put_back_into_cold, "in the cold already"),
    ):
        with pytest.raises(Refusal, match=sentence):
            action(session, box.id, by="Tomas", now=NOON)
    take_out_of_cold(session, box.id, by="Tomas", now=NOON)
    with pytest.raises(Refusal, match="out of the cold already"):
        take_out_of_cold(session, box.id, by="Tomas", now=NOON)


def test_an_open_box_is_not_put_into_the_cold(session: LabSession) -> None:
    box = _open_and_seal(session, "box 7", time(10, 0))

    with pytest.raises(Refusal, match="Seal it first"):
        put_back_into_cold(session, box.id, by="Tomas", now=NOON)


def test_a_box_is_not_handled_before_it_was_handled_last(session: LabSession) -> None:
    box = _open_and_seal(session, "box 7", time(10, 0))

    with pytest.raises(Refusal, match="last handled on Tue 16 Feb 2027, 10:00"):
        seal_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(9, 59))
    with pytest.raises(Refusal, match="still to come"):
        seal_plate_box(session, box.id, by="Tomas", now=NOON, clock=time(12, 1))


def test_a_fog_test_is_never_drawn_without_its_result(session: LabSession) -> None:
    box = shelf.box(session)

    with pytest.raises(Refusal, match="recorded with its result"):
        draw_plates(
            session, box.id, plates=1, kind=PlateEntryKind.TEST, test=PlateTest.FOG, by="Tomas", now=NOON
        )


def test_counts_that_agree_are_kept_and_differences_are_corrected_with_their_reasons(
    session: LabSession,
) -> None:
    agrees, differs = shelf.box(session, "box 7"), shelf.box(session, "box 8")
    with pytest.raises(Refusal, match="“box 8”: The ledger says 30, you counted 28: 2 missing"):
        count_plate_boxes(session, [Count(differs.id, 28)], by="Tomas", now=NOON)
    count_plate_boxes(
        session, [Count(agrees.id, 30), Count(differs.id, 28, "nobody knows")], by="Tomas", now=NOON
    )

    assert [event.plates for event in list_plate_box_events(session, agrees.id)] == [30]
    assert [event.plates for event in list_plate_box_events(session, differs.id)] == [28]
    assert len(list_plate_entries(session, agrees.id)) == 1
    assert list_plate_entries(session, differs.id)[-1].note == "nobody knows"


STEPS = ("run", "test", "lose", "count", "fogged", "clear", "open", "seal", "out", "back", "light")
STEP = st.tuples(st.sampled_from(STEPS), st.integers(0, 40))


def _step(session: LabSession, box: PlateBox, step: str, size: int, now: datetime) -> int:
    """Take the step and say how many plates the box must hold then."""
    left = box.plates_left
    match step:
        case "run" | "test" | "lose":
            kind = {"run": PlateEntryKind.RUN, "test": PlateEntryKind.TEST, "lose": PlateEntryKind.LOST}[step]
            draw_plates(session, box.id, plates=size, kind=kind, by="Tomas", now=now)
            return left - size
        case "count":
            count_plate_boxes(session, [Count(box.id, size, "counted")], by="Tomas", now=now)
            return size
        case "fogged" | "clear":
            is_fogged = step == "fogged"
            record_fog_test(session, box.id, plates=size, is_fogged=is_fogged, note="n", by="Tomas", now=now)
            return left - size
        case "light":
            log_light(session, clock=time(8, size), light_zone_id=None, note="", by="Tomas", now=now)
        case _:
            actions: dict[str, Callable[..., None]] = {
                "open": open_plate_box, "seal": seal_plate_box, "out": take_out_of_cold, "back": put_back_into_cold,
            }  # fmt: skip
            actions[step](session, box.id, by="Tomas", now=now)
    return left


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, max_size=20))
def test_whatever_is_done_no_plate_appears_or_disappears_without_an_entry(
    database: Database, cast: Cast, steps: list[tuple[str, int]]
) -> None:
    """Two minutes pass between steps, so that nothing is taken for the same thing sent twice."""
    with database.writing(cast.lab_id) as session:
        box = shelf.box(session)
        plates = 30
        for number, (step, size) in enumerate(steps, start=1):
            # A refused step changes nothing, which the sums below show.
            with suppress(Refusal):
                plates = _step(session, box, step, size, _later(minutes=2 * number))
        entries = list_plate_entries(session, box.id)
        assert box.plates_left == plates == sum(entry.change for entry in entries) >= 0
        assert [entry.change for entry in entries if entry.kind == "arrived"] == [30]
        assert all(entry.change < 0 for entry in entries if entry.kind not in {"arrived", "correction"})
        assert list_unbalanced(session) == []
        session.rollback()


def test_a_second_box_of_the_same_name_is_refused(session: LabSession) -> None:
    shelf.box(session, "box 7")

    with pytest.raises(Refusal, match="already a plate box “box 7”"):
        shelf.box(session, "box 7")


def test_a_box_that_has_not_arrived_yet_is_not_taken_in(session: LabSession) -> None:
    """The cast's morning is 16 February 2027."""
    shelf.box(session, "box 7", arrived_on=date(2027, 2, 16))

    with pytest.raises(Refusal, match="Wed 17 Feb 2027 is still to come"):
        shelf.box(session, "box 8", arrived_on=date(2027, 2, 17))


def test_the_other_labs_box_cannot_be_drawn_from(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        box_id = shelf.box(session).id
    with database.writing(cast.other_lab_id) as session:
        with pytest.raises(NotFound):
            _draw(session, box_id, 1)
        with pytest.raises(NotFound):
            get_plate_box(session, box_id)
