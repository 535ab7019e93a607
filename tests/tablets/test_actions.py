"""Screens have names, and tests of their own."""

from datetime import timedelta

import pytest

from server.core.screen_light import Stage, Trust
from server.data.session import LabSession
from server.plates.models import PlateBox
from server.plates.queries import get_plate_box
from server.refusal import NotFound, Refusal
from server.tablets.actions import add_screen, note_test, rename_screen, take_name
from server.tablets.models import Screen, ScreenTest
from server.tablets.pages import light_told
from server.tablets.queries import find_screen, list_screen_tests, screening_of
from tests.casts import MORNING
from tests.prep.days import furnish, stock


@pytest.fixture
def box(session: LabSession) -> PlateBox:
    furnish(session)
    found = get_plate_box(session, stock(session))
    session.flush()  # tests name it
    return found


@pytest.fixture
def screen(session: LabSession) -> Screen:
    made = add_screen(session, name="tablet 3", by="Tomas", now=MORNING)
    session.flush()  # tests name it
    return made


def _tested(
    session: LabSession, screen: Screen, box: PlateBox, last_clear_s: int, **other: object
) -> ScreenTest:
    given = {
        "colour": "green", "level": 3, "stage": Stage.AFTER, "distance_mm": 500, "step_s": 60, "made_on": MORNING.date(), "note": "",
        "by": "Tomas", "now": MORNING, "plate_box_id": box.id, **other,
    }  # fmt: skip
    made = note_test(session, screen.id, last_clear_s=last_clear_s, **given)  # type: ignore[arg-type]
    session.flush()  # it is looked at
    return made


def test_a_screen_is_found_again_by_what_its_device_keeps(session: LabSession, screen: Screen) -> None:
    assert find_screen(session, screen.device) == screen
    assert find_screen(session, "") is None
    assert len(screen.device) > 20


def test_two_screens_have_two_names(session: LabSession, screen: Screen) -> None:
    other = add_screen(session, name="tablet 4", by="Tomas", now=MORNING)
    session.flush()  # it is named anew
    with pytest.raises(Refusal, match="“tablet 3” already"):
        add_screen(session, name="tablet 3", by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="“tablet 3” already"):
        rename_screen(session, other.id, name="tablet 3", by="Tomas", now=MORNING)
    rename_screen(session, screen.id, name="tablet 3", by="Mira", now=MORNING)
    rename_screen(session, other.id, name="wall", by="Mira", now=MORNING)

    assert (screen.named_by, other.name) == ("Tomas", "wall")


def test_a_test_is_kept_with_its_box_its_distance_and_its_day(
    session: LabSession, screen: Screen, box: PlateBox
) -> None:
    test = _tested(session, screen, box, 420)

    assert list_screen_tests(session, screen.id) == [test]
    assert (test.plate_box_id, test.distance_mm, test.made_on) == (box.id, 500, MORNING.date())


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"last_clear_s": 400}, "whole number of these steps"),
        ({"made_on": MORNING.date() + timedelta(days=1)}, "still to come"),
    ],
)
def test_a_test_that_cannot_have_been_is_refused(
    session: LabSession, screen: Screen, box: PlateBox, other: dict[str, object], words: str
) -> None:
    given = {"last_clear_s": 420, **other}
    with pytest.raises(Refusal, match=words):
        _tested(session, screen, box, **given)  # type: ignore[arg-type]


def test_a_test_of_no_screen_or_of_no_box_is_not_here(
    session: LabSession, screen: Screen, box: PlateBox
) -> None:
    with pytest.raises(NotFound):
        _tested(session, screen, box, 420, plate_box_id=999)
    with pytest.raises(NotFound):
        rename_screen(session, 999, name="wall", by="Mira", now=MORNING)


def test_the_last_test_of_a_day_counts(session: LabSession, screen: Screen, box: PlateBox) -> None:
    _tested(session, screen, box, 600)
    _tested(session, screen, box, 60)
    found = screening_of(list_screen_tests(session, screen.id), box_id=box.id, colour="green", level=3)

    assert (found.trust, found.safe_s) == (Trust.FAILED, 30)


def test_a_screen_that_was_tested_from_afar_says_so_until_it_was_tested_from_near(
    session: LabSession, screen: Screen, box: PlateBox
) -> None:
    """A pass at 10 m says nothing of a plate at 30 cm, which gets a thousand times the light."""
    _tested(session, screen, box, 420, distance_mm=10_000)
    afar = light_told(session, screen.device, 3, MORNING).warning
    _tested(session, screen, box, 420, distance_mm=300)

    assert afar == "▲ tablet 3 was tested 1000 cm from box 1: keep it as far away."
    assert light_told(session, screen.device, 3, MORNING).warning == ""


def test_a_name_is_of_one_device_and_staff_alone_hand_on_one_that_has_tests(
    session: LabSession, screen: Screen, box: PlateBox
) -> None:
    first = screen.device
    second = take_name(session, screen.id, is_staff=False).device
    session.flush()  # it is looked for
    assert find_screen(session, first) is None
    _tested(session, screen, box, 420)
    with pytest.raises(Refusal, match="has fog tests already"):
        take_name(session, screen.id, is_staff=False)
    assert screen.device == second

    assert take_name(session, screen.id, is_staff=True).device != second


def test_a_screen_warns_until_it_has_passed_for_the_box_that_is_near(
    session: LabSession, screen: Screen, box: PlateBox
) -> None:
    said = [
        light_told(session, "", 3, MORNING).warning,
        light_told(session, screen.device, 3, MORNING).warning,
    ]
    _tested(session, screen, box, 120)
    said.append(light_told(session, screen.device, 3, MORNING).warning)
    _tested(session, screen, box, 420)
    said.append(light_told(session, screen.device, 3, MORNING).warning)
    said.append(light_told(session, screen.device, 4, MORNING).warning)

    assert said == [
        "▲ This screen has no name, so no fog test for box 1. See “Screen”.",
        "▲ tablet 3 has no fog test for box 1.",
        "▲ tablet 3 failed its fog test for box 1: keep it away.",
        "",
        "▲ tablet 3 has no fog test for box 1.",
    ]
