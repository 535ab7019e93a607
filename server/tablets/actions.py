"""Naming screens that stand near plates, and writing their tests down."""

import secrets
from datetime import date, datetime

from server.core.screen_light import Channel, Level, Stage
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.plates.queries import get_plate_box
from server.refusal import Refusal
from server.tablets.models import Screen, ScreenTest
from server.tablets.queries import find_screen_named, get_screen, list_screen_tests


def add_screen(session: LabSession, *, name: str, by: str, now: datetime) -> Screen:
    """A screen with a name of its own, and the id that its device is to keep."""
    _refuse_taken(session, name)
    screen = Screen(name=name, device=secrets.token_urlsafe(16), named_at=now, named_by=by)
    session.add(screen)
    return screen


def take_name(session: LabSession, screen_id: int, *, is_staff: bool) -> Screen:
    """The device that asks is that screen from now on, and the one that was it has no name any more.

    Where the name has tests already, only staff say so: they are tests of one screen, and would speak for another.
    """
    screen = get_screen(session, screen_id)
    if not is_staff and list_screen_tests(session, screen.id):
        raise Refusal(
            f"“{screen.name}” has fog tests already, which are of one screen alone. Give this one a name of its own, "
            "or let staff sign in on it and choose."
        )
    screen.device = secrets.token_urlsafe(16)
    return screen


def rename_screen(session: LabSession, screen_id: int, *, name: str, by: str, now: datetime) -> None:
    screen = get_screen(session, screen_id)
    if name != screen.name:
        _refuse_taken(session, name)
        screen.name, screen.named_at, screen.named_by = name, now, by


def _refuse_taken(session: LabSession, name: str) -> None:
    if find_screen_named(session, name) is not None:
        raise Refusal(
            f"There is a tablet “{name}” already. Choose it from the list, or give this one another name."
        )


def note_test(
    session: LabSession,
    screen_id: int,
    *,
    plate_box_id: int,
    colour: Channel,
    level: Level,
    stage: Stage,
    distance_mm: int,
    step_s: int,
    last_clear_s: int,
    made_on: date,
    note: str,
    by: str,
    now: datetime,
) -> ScreenTest:
    """Write down a coin test: `last_clear_s` is a whole number of steps, 0 where the first one left a mark."""
    screen, box = get_screen(session, screen_id), get_plate_box(session, plate_box_id)
    if last_clear_s % step_s:
        raise Refusal(
            f"Coins were taken away every {step_s} s, so the longest time without a mark is a whole number of these steps."
        )
    if made_on > day_in_lab(session, now):
        raise Refusal("This day is still to come. Write the day on which the test was made.")
    test = ScreenTest(
        screen_id=screen.id,
        plate_box_id=box.id,
        colour=colour,
        level=level,
        stage=stage,
        distance_mm=distance_mm,
        step_s=step_s,
        last_clear_s=last_clear_s,
        made_on=made_on,
        note=note,
        noted_at=now,
        noted_by=by,
    )
    session.add(test)
    return test
