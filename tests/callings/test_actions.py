"""What is said to a class is kept once, in the order in which it was said, or refused in words."""

import pytest
from sqlmodel import select

from server.callings.actions import end_class
from server.callings.models import CalledClass, CallEvent
from server.callings.queries import list_marks
from server.core.calling import EventKind
from server.core.standing import Mode, pending
from server.data.session import LabSession
from server.refusal import Refusal
from server.rotations.models import RotationState
from server.rotations.queries import get_rotation
from tests.callings.calls import at, called, next_key, published, said, stands
from tests.casts import Cast


@pytest.fixture
def rotation(session: LabSession, cast: Cast) -> int:
    return published(session, cast.section_id)


def _ahead(session: LabSession, rotation: int) -> list[str]:
    found = stands(session, rotation)
    return [cue.words for cue in pending(found.replayed.standing)]


def test_a_plan_is_called_step_by_step(session: LabSession, rotation: int) -> None:
    assert _ahead(session, rotation)[:5] == [
        "Lights off, load", "Hold still, settle", "Shutter open", "Develop, load", "Hold still, settle",
    ]  # fmt: skip

    event = called(session, rotation, 8.5)

    assert (event.words, event.planned_at, event.happened_at) == ("Lights off, load", at(8), at(8.5))
    assert event.begins.splitlines() == ["G1/1/load", "G2/1/load", "G3/1/load"]
    assert _ahead(session, rotation)[0] == "Hold still, settle"


def test_the_same_id_twice_is_one_event(session: LabSession, rotation: int) -> None:
    key = next_key(session, rotation)
    first = said(session, rotation, EventKind.CALLED, 8, key, tablet_id="a" * 32)
    again = said(session, rotation, EventKind.CALLED, 9, key, tablet_id="a" * 32)

    assert first.id == again.id
    assert len(session.exec(select(CallEvent)).all()) == 1


def test_a_cue_that_was_called_already_is_refused_with_who_called_it(
    session: LabSession, rotation: int
) -> None:
    key = next_key(session, rotation)
    said(session, rotation, EventKind.CALLED, 8.5, key, by="Tomas")

    with pytest.raises(Refusal, match="“Lights off, load” was called already, at 09:08:30 by Tomas"):
        said(session, rotation, EventKind.CALLED, 8.6, key)
    with pytest.raises(Refusal, match="Something else is next now"):
        said(session, rotation, EventKind.CALLED, 8.7, "G9/9/dance")


def test_what_a_device_kept_without_a_network_counts_from_when_it_was_said(
    session: LabSession, rotation: int
) -> None:
    called(session, rotation, 8, heard=12)
    event = called(session, rotation, 9.5, heard=12)

    assert (event.happened_at, event.kept_at) == (at(9.5), at(12))


def test_undo_takes_back_the_last_and_nothing_else(session: LabSession, rotation: int) -> None:
    first = called(session, rotation, 8)
    second = called(session, rotation, 9)
    with pytest.raises(Refusal, match="nothing to do that with any more"):
        said(session, rotation, EventKind.UNDONE, 9.1, first.tablet_id)

    undone = said(session, rotation, EventKind.UNDONE, 9.2, second.tablet_id)

    assert undone.words == "Taken back: Hold still, settle"
    assert _ahead(session, rotation)[0] == "Hold still, settle"
    assert len(session.exec(select(CallEvent)).all()) == 3


def test_nothing_is_called_while_the_class_is_paused(session: LabSession, rotation: int) -> None:
    called(session, rotation, 8)
    said(session, rotation, EventKind.PAUSED, 8.5, by="Tomas")
    with pytest.raises(Refusal, match=r"Tomas paused the class at 09:08:30\. Press Go on first"):
        called(session, rotation, 9)

    said(session, rotation, EventKind.RESUMED, 9)

    assert called(session, rotation, 10).words == "Hold still, settle"


def test_lights_counts_whatever_else_was_said_and_only_all_clear_ends_it(
    session: LabSession, rotation: int
) -> None:
    called(session, rotation, 8)
    called(session, rotation, 9.5)
    event = said(session, rotation, EventKind.STOPPED, 9, heard=10)

    assert (event.words, event.happened_at) == ("LIGHTS", at(9.5))
    with pytest.raises(Refusal, match="Say all clear first"):
        called(session, rotation, 10)
    with pytest.raises(Refusal, match="All clear was not said yet"):
        said(session, rotation, EventKind.TAKEN_UP, 10)
    said(session, rotation, EventKind.CLEAR, 11)
    said(session, rotation, EventKind.TAKEN_UP, 12)
    assert stands(session, rotation).replayed.standing.mode is Mode.RUNNING


def test_lights_are_not_allowed_over_an_open_plate(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id, rounds=1)
    for minutes in (8, 9.5, 12.5, 14.5):
        called(session, rotation, minutes)
    assert _ahead(session, rotation)[0] == "Lights allowed"

    with pytest.raises(Refusal, match=r"A plate is open in the dark \(G1, G2, G3\).*Allow them in 2 min\."):
        called(session, rotation, 15)
    assert called(session, rotation, 17).words == "Lights allowed"


def test_a_repeat_names_plates_that_were_begun(session: LabSession, rotation: int) -> None:
    with pytest.raises(Refusal, match="nothing to do that with"):
        said(session, rotation, EventKind.REPEAT, 8, repeats=["1 0 G1"])
    for minutes in (8, 9.5, 12.5):
        called(session, rotation, minutes)

    event = said(session, rotation, EventKind.REPEAT, 13.5, repeats=["1 0 G1"])

    assert event.words == "Repeat: G1"
    assert "G1 again" in {
        mover.group
        for cue in pending(stands(session, rotation).replayed.standing)
        for call in cue.calls
        for mover in call.movers
    }


def test_a_rehearsal_is_over_when_the_class_is_near(session: LabSession, rotation: int) -> None:
    """The class is planned for 09:08; what is called three hours before is a rehearsal."""
    called(session, rotation, -180)
    assert stands(session, rotation, at(-150)).rows
    assert not stands(session, rotation, at(-100)).rows

    called(session, rotation, 8)

    assert [row.words for row in stands(session, rotation, at(9)).rows] == ["Lights off, load"]
    assert len(session.exec(select(CalledClass)).all()) == 2


def test_begun_anew_a_class_keeps_what_was_called_before(session: LabSession, rotation: int) -> None:
    called(session, rotation, 8)
    end_class(session, rotation, by="Mira", now=at(9))

    assert _ahead(session, rotation)[0] == "Lights off, load"
    assert called(session, rotation, 10).words == "Lights off, load"
    assert len(session.exec(select(CallEvent)).all()) == 2


def test_a_class_that_is_not_published_is_not_called(session: LabSession, rotation: int) -> None:
    get_rotation(session, rotation).state = RotationState.PLANNED

    with pytest.raises(Refusal, match="not published"):
        said(session, rotation, EventKind.STOPPED, 8)


def test_a_mark_changes_with_everything_that_is_said(session: LabSession, rotation: int) -> None:
    seen = [list_marks(session, [rotation])[rotation]]
    called(session, rotation, 8)
    seen.append(list_marks(session, [rotation])[rotation])
    end_class(session, rotation, by="Mira", now=at(9))
    seen.append(list_marks(session, [rotation])[rotation])

    assert len(set(seen)) == 3
    assert list_marks(session, [999_999]) == {}
