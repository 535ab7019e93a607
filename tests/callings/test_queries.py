"""What was called is learned from, and which class a group's tablet shows."""

from datetime import timedelta

import pytest

from server.callings.queries import find_shown, list_called_exposures, plates_named
from server.chances.queries import find_pace
from server.core.calling import EventKind
from server.data.session import LabSession
from tests.callings.calls import at, called, published, said
from tests.casts import Cast
from tests.prep.days import publish_rounds


@pytest.fixture
def rotation(session: LabSession, cast: Cast) -> int:
    return published(session, cast.section_id)


def _expose(session: LabSession, rotation: int, minutes: float) -> None:
    """Load, hold still and the shutter, the last one so many minutes after nine."""
    for before in (4.5, 3, 0):
        called(session, rotation, minutes - before)


def test_an_exposure_is_learned_from_when_it_was_called(session: LabSession, rotation: int) -> None:
    _expose(session, rotation, 15)

    assert [(one.planned_at, one.called_at) for one in list_called_exposures(session)] == [(at(12.5), at(15))]


def test_what_was_taken_back_or_rehearsed_teaches_nothing(session: LabSession, rotation: int) -> None:
    _expose(session, rotation, -200)
    assert list_called_exposures(session) == []
    called(session, rotation, 8)
    called(session, rotation, 9.5)
    opened = called(session, rotation, 12)
    said(session, rotation, EventKind.UNDONE, 12.1, opened.tablet_id)

    assert list_called_exposures(session) == []


def test_five_called_classes_teach_the_lab_its_pace(session: LabSession, cast: Cast, rotation: int) -> None:
    """Planned 12.5 min after the class began and called after 18.75: each took one and a half of its time."""
    rotations = [rotation] + [
        publish_rounds(session, cast.section_id, name=f"class {day}", starts_at=at(24 * 60 * day))
        for day in range(1, 5)
    ]
    for day, one in enumerate(rotations):
        assert find_pace(session).is_assumed
        _expose(session, one, 24 * 60 * day + 18.75)

    pace = find_pace(session)

    assert (pace.classes, pace.is_assumed) == (5, False)
    assert pace.longer == pytest.approx(1.25)


def test_a_tablet_shows_the_class_that_is_called_before_the_one_that_is_planned_now(
    session: LabSession, cast: Cast, rotation: int
) -> None:
    later = publish_rounds(session, cast.section_id, name="later", starts_at=at(60))
    assert find_shown(session, cast.section_id, at(5)) == rotation
    assert find_shown(session, cast.section_id, at(61)) == later
    called(session, rotation, 55)

    assert find_shown(session, cast.section_id, at(61)) == rotation
    assert find_shown(session, cast.section_id, at(61) + timedelta(days=3)) is None
    assert find_shown(session, cast.other_section_id, at(5)) is None


def test_a_group_s_odd_name_is_read_back_as_it_was() -> None:
    """A sign that other programs take for the end of a line."""
    assert plates_named("1 0 G\u2028x\n2 1 G2") == (("G\u2028x", 1, 0), ("G2", 2, 1))
