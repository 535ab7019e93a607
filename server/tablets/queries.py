"""Reads of screens near plates, of their tests, and of the colour that they may show."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import cast

from sqlmodel import col, select

from server.core.board_state import BoxSight, Colour, screen_colour
from server.core.screen_light import FogTest, Screening, Stage, screening
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.plates.models import PlateBox
from server.plates.queries import list_boxes_out, list_offered_boxes
from server.refusal import NotFound
from server.tablets.models import Screen, ScreenTest


def list_screens(session: LabSession) -> Sequence[Screen]:
    return session.exec(select(Screen).order_by(col(Screen.name))).all()


def find_screen(session: LabSession, device: str) -> Screen | None:
    """The screen that asks, None where it has no name in this lab yet."""
    return session.exec(select(Screen).where(Screen.device == device)).first() if device else None


def find_screen_named(session: LabSession, name: str) -> Screen | None:
    return session.exec(select(Screen).where(Screen.name == name)).first()


def get_screen(session: LabSession, screen_id: int) -> Screen:
    screen = session.get(Screen, screen_id)
    if screen is None:
        raise NotFound("There is no such tablet in this lab. Choose one from Tablets.")
    return screen


def list_screen_tests(session: LabSession, screen_id: int) -> Sequence[ScreenTest]:
    """The tests of one screen, newest first."""
    return session.exec(
        select(ScreenTest)
        .where(ScreenTest.screen_id == screen_id)
        .order_by(col(ScreenTest.made_on).desc(), col(ScreenTest.id).desc())
    ).all()


def list_every_screen_test(session: LabSession) -> Mapping[int, Sequence[ScreenTest]]:
    """The tests of each screen that has any, newest first, by the id of the screen."""
    found: dict[int, list[ScreenTest]] = {}
    ordered = select(ScreenTest).order_by(col(ScreenTest.made_on).desc(), col(ScreenTest.id).desc())
    for test in session.exec(ordered).all():
        found.setdefault(test.screen_id, []).append(test)
    return found


def list_boxes_near(session: LabSession, now: datetime) -> Sequence[PlateBox]:
    """The boxes whose plates may be out; where none is known to be, every one that a plate may be taken from, the likeliest first."""
    return list_boxes_out(session, now) or list_offered_boxes(session, day_in_lab(session, now))


def find_screen_colour(session: LabSession, now: datetime) -> Colour:
    """The one colour of every screen near the plates of these boxes."""
    return screen_colour(BoxSight(box.sees_red, box.sees_green) for box in list_boxes_near(session, now))


def screening_of(tests: Sequence[ScreenTest], *, box_id: int, colour: Colour, level: int) -> Screening:
    """What the tests of one screen say of it beside one box. They are given newest first, and the core takes the last of a day."""
    found = (
        FogTest(
            test.plate_box_id,
            cast("Colour", test.colour),
            test.level,
            Stage(test.stage),
            test.last_clear_s,
            test.distance_mm,
            test.made_on,
        )
        for test in reversed(tests)
    )
    return screening(found, box_id=box_id, colour=colour, level=level)
