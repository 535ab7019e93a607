"""The run note in a real browser: few taps with gloves on, no keyboard, and what follows from a tap."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from server.core.diagnosis import Darkening, Defect
from server.data.session import LabSession
from server.people.access import COOKIE
from server.runs.actions import give_verdict, leave_to_dry
from server.runs.models import ObjectKind, ObjectTone
from server.runs.queries import list_racks, list_runs
from server.stations.queries import get_place
from tests.browser.test_safelight import Screen
from tests.casts import MORNING, TOKENS, Cast
from tests.conftest import Running
from tests.prep.days import publish_rounds
from tests.runs.room import AT_THE_BELL, Room, add_rack, fill_room, make_plates

InLab = Callable[[], AbstractContextManager[LabSession]]

pytestmark = pytest.mark.browser

MOST_TAPS = 12
# 20 mm on a tablet's screen of 96 px to the inch.
LEAST_PX = 75.6

COUNT = """
window.taps = 0; window.keys = 0;
addEventListener("pointerdown", () => { window.taps += 1; }, true);
addEventListener("keydown", () => { window.keys += 1; }, true);
"""


@pytest.fixture
def room(in_lab: InLab, cast: Cast) -> Room:
    """A class that has begun, in which G1 makes two plates at S1."""
    with in_lab() as session:
        room = fill_room(session)
        publish_rounds(session, cast.section_id, name="first", starts_at=MORNING, rounds=2)
        add_rack(session)
        return room


@pytest.fixture
def screen(chromium: Browser, server: Running, room: Room) -> Iterator[Page]:
    """G1's tablet, which counts what touches it."""
    assert room
    context = chromium.new_context(
        base_url=server.address, viewport={"width": 800, "height": 1200}, has_touch=True
    )
    context.set_default_timeout(15_000)
    context.add_cookies([{"name": COOKIE, "value": TOKENS["tablet"], "url": server.address}])
    context.add_init_script(COUNT)
    page = context.new_page()
    page.goto("/tablet")
    yield page
    context.close()


def _tap(what: Locator) -> None:
    box = what.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= LEAST_PX, f"{what}: {box}"
    what.tap()


def _tile(screen: Page, name: str, value: object) -> Locator:
    return screen.locator(f"label:has(input[name={name}][value='{value}'])")


def _fill_usual(screen: Page) -> None:
    """What a group taps for a plate: side, object, a second more in the beam, time to clear, who files."""
    _tap(_tile(screen, "emulsion_by", "b"))
    _tap(screen.get_by_role("button", name="Exposure, seconds: 1 more"))
    _tap(_tile(screen, "object_kind", "coin"))
    _tap(_tile(screen, "object_tone", "shiny"))
    _tap(_tile(screen, "bleach_clear_s", 120))
    _tap(_tile(screen, "filed_by", "a"))


def test_a_usual_note_needs_at_most_twelve_taps_and_no_key(screen: Page, in_lab: InLab, cast: Cast) -> None:
    _fill_usual(screen)
    file = screen.get_by_role("button", name="File this run note")
    box = file.bounding_box()
    assert box is not None
    assert box["height"] >= LEAST_PX
    file.tap()

    expect(screen.locator("#tablet-runs li")).to_have_count(1)
    assert 7 <= screen.evaluate("taps") <= MOST_TAPS
    assert screen.evaluate("keys") == 0
    with in_lab() as session:
        run = list_runs(session, cast.section_id)[0]
        assert (run.plate_no, run.emulsion_by, run.filed_by) == (1, "b", "a")
        assert (run.planned_exposure_s, run.exposure_s, run.settle_s, run.develop_s) == (10, 11, 60, 150)
        assert (run.object_kind, run.object_tone, run.bleach_clear_s) == (
            ObjectKind.COIN,
            ObjectTone.SHINY,
            120,
        )
        assert run.charge_id is not None


def test_everything_that_is_tapped_is_as_wide_as_a_gloved_finger(screen: Page) -> None:
    small = [
        told.text_content()
        for told in screen.locator("form[data-outbox] label:has(input), form[data-outbox] button").all()
        if min((told.bounding_box() or {"width": 0, "height": 0})[side] for side in ("width", "height"))
        < LEAST_PX
    ]

    assert small == []


def test_another_station_brings_its_own_plan_and_a_dropped_plate_was_not_developed(
    screen: Page, in_lab: InLab, cast: Cast, room: Room
) -> None:
    _tap(_tile(screen, "place_id", room.second_station_id))
    _tap(screen.get_by_role("button", name="Exposure, seconds: 1 less"))
    _tap(_tile(screen, "incident", "dropped"))
    _tap(screen.get_by_role("button", name="File this run note"))

    expect(screen.locator("#tablet-runs li")).to_contain_text("dropped, needs no verdict")
    with in_lab() as session:
        run = list_runs(session, cast.section_id)[0]
        assert (run.planned_settle_s, run.planned_exposure_s, run.exposure_s) == (90, 12, 11)
        assert run.charge_id is None


def test_a_note_kept_without_a_network_leaves_the_form_for_the_next_plate(screen: Page) -> None:
    _fill_usual(screen)
    screen.context.set_offline(True)
    _tap(screen.get_by_role("button", name="File this run note"))
    expect(screen.locator("#outbox .kept > div")).to_have_count(1)

    expect(screen.locator("#plate_no")).to_have_value("2")
    for name in ("emulsion_by", "bleach_clear_s", "filed_by"):
        expect(screen.locator(f"input[name={name}]:checked")).to_have_count(0)
    expect(screen.locator("input[name=object_kind]:checked")).to_have_value("coin")


def test_without_a_plan_too_a_kept_note_takes_what_was_seen_of_its_plate_along(
    screen: Page, server: Running
) -> None:
    server.clock.instant = MORNING + timedelta(days=1)
    screen.reload()
    expect(screen.locator("#plate_no")).to_have_count(0)
    _fill_usual(screen)
    screen.context.set_offline(True)
    _tap(screen.get_by_role("button", name="File this run note"))
    expect(screen.locator("#outbox .kept > div")).to_have_count(1)

    for name in ("emulsion_by", "bleach_clear_s", "filed_by"):
        expect(screen.locator(f"input[name={name}]:checked")).to_have_count(0)


def test_a_plate_that_was_not_dropped_after_all_and_the_next_one_were_developed(
    screen: Page, room: Room
) -> None:
    developed = screen.locator("input[name=charge_id]:checked")
    _tap(_tile(screen, "incident", "dropped"))
    expect(developed).to_have_value("")
    _tap(_tile(screen, "incident", "moved"))
    expect(developed).to_have_value(str(room.charge_id))

    _tap(_tile(screen, "incident", "dropped"))
    screen.context.set_offline(True)
    _tap(screen.get_by_role("button", name="File this run note"))
    expect(screen.locator("#outbox .kept > div")).to_have_count(1)
    expect(developed).to_have_value(str(room.charge_id))


def test_a_verdict_given_in_the_dark_answers_with_what_to_change(screen: Page) -> None:
    _tap(screen.get_by_role("button", name="File this run note"))
    screen.get_by_role("link", name="run 1").click()
    _tap(_tile(screen, "verdict", 2))
    _tap(_tile(screen, "defects", "edge stripes"))
    _tap(_tile(screen, "darkening", "pale"))
    _tap(screen.get_by_role("button", name="Give this verdict"))

    expect(screen.get_by_role("heading", name="Run 1: what may have gone wrong")).to_be_visible()
    expect(screen.locator("#causes li")).to_have_count(3)
    expect(screen.locator("#causes")).to_contain_text("Next: 14 s instead of 10 s")
    expect(screen.locator("#causes")).to_contain_text("Put the black strip on the edge that faces the beam")


def test_a_plate_is_left_in_the_rack_with_one_tap(screen: Page) -> None:
    _tap(screen.get_by_role("button", name="File this run note"))
    screen.get_by_role("link", name="run 1").click()
    _tap(screen.get_by_role("button", name="It stands there"))

    expect(screen.locator("#tablet-runs")).to_contain_text("in slot R1")


def test_ticks_causes_reminders_and_slots_keep_to_one_channel(
    chromium: Browser, server: Running, in_lab: InLab, cast: Cast, room: Room
) -> None:
    with in_lab() as session:
        runs = make_plates(
            session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=AT_THE_BELL
        )
        leave_to_dry(
            session, runs[7].id, place_id=add_rack(session, name="second"), slot=1, by="G1", now=MORNING
        )
        ticks = (Defect.FOG_VEIL, Defect.STAIN)
        give_verdict(
            session, runs[6].id, verdict=1, comment="", defects=ticks, darkening=Darkening.PALE, now=MORNING
        )
        waiting, rated, left = runs[8].id, runs[6].id, runs[7].id
        get_place(session, room.second_station_id).out_of_order = True
    server.clock.instant = MORNING + timedelta(days=1)
    tablet = Screen(chromium, server, "tablet", 800, 1100)
    for state, path in (
        ("reminder and a station out of order", "/tablet"),
        ("causes on the run note", f"/tablet?rated={rated}"),
        ("rated with ticks and causes", f"/tablet/runs/{rated}"),
        ("slots", f"/tablet/runs/{waiting}"),
        ("another slot", f"/tablet/runs/{left}"),
    ):
        tablet.open(path)
        for why in tablet.page.locator("summary").all():
            why.click()
        tablet.check(state, "green")
    tablet.context.close()

    assert tablet.faults == []


def test_slips_are_printed_large_and_several_on_a_page(
    opened: Callable[..., Page], in_lab: InLab, cast: Cast, room: Room
) -> None:
    with in_lab() as session:
        runs = make_plates(
            session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=[None] * 6
        )
        rack = list_racks(session)[0].id
        for slot, run in enumerate(runs, start=1):
            leave_to_dry(session, run.id, place_id=rack, slot=slot, by="G1", now=MORNING)
    page = opened("tomas", width=794, height=1123)
    page.goto("/claims/slips")
    page.emulate_media(media="print")

    slips = page.locator(".claim-slips li")
    expect(slips).to_have_count(6)
    sizes, inks = page.evaluate(
        """() => {
          const words = [...document.querySelectorAll(".claim-slips p, .claim-slips strong")].map(getComputedStyle);
          return [words.map((one) => parseFloat(one.fontSize) * 0.75), [...new Set(words.map((one) => one.color))]];
        }"""
    )
    # 14 points and more, in one ink, and all six on a sheet of A4.
    assert min(sizes) >= 13.99
    assert len(inks) == 1
    last = slips.last.bounding_box()
    assert last is not None
    assert last["y"] + last["height"] <= 1123
