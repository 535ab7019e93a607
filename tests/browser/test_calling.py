"""A class is called in real browsers: on a wall, a tablet, a wrist and from two callers' devices, with and without a network."""

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from server.callings.models import CallEvent
from server.callings.queries import find_called_class, find_to_call, list_events
from server.data.session import LabSession
from server.people.access import COOKIE
from tests.browser.wire import Wire
from tests.callings.calls import at, published
from tests.casts import TOKENS, Cast
from tests.conftest import Running

InLab = Callable[[], AbstractContextManager[LabSession]]

pytestmark = pytest.mark.browser

# Somebody set this device's clock wrong before the page was opened, and may do so again.
WRONG_CLOCK = """
  window.wrongBy = 37 * 60 * 1000;
  const RightDate = Date;
  const rightNow = Date.now;
  Date = class extends RightDate {
    constructor(...given) { given.length ? super(...given) : super(rightNow() + window.wrongBy); }
    static now() { return rightNow() + window.wrongBy; }
  };
"""


@pytest.fixture
def rotation(in_lab: InLab, cast: Cast) -> int:
    with in_lab() as session:
        return published(session, cast.section_id)


@pytest.fixture
def started(server: Running) -> Iterator[None]:
    """The server's clock goes on from twenty seconds before the lights are to go off, at 09:08."""
    began, kept = time.monotonic(), server.app.state.clock
    server.app.state.clock = lambda: at(8) + timedelta(seconds=time.monotonic() - began - 20)
    yield
    server.app.state.clock = kept


class Devices:
    """Opens somebody's device at a named address over plain HTTP, as in a lab, each on a wire of its own."""

    def __init__(self, chromium: Browser, port: int, rotation: int) -> None:
        self.chromium, self.port, self.rotation = chromium, port, rotation
        self.wires: dict[Page, Wire] = {}
        self.faults: list[str] = []

    def __call__(
        self, name: str, path: str, *, script: str = "", width: int = 800, height: int = 1100
    ) -> Page:
        wire = Wire(self.port)
        address = f"http://stillroom.test:{wire.port}"
        context = self.chromium.new_context(viewport={"width": width, "height": height})
        context.set_default_timeout(15_000)
        context.add_cookies([{"name": COOKIE, "value": TOKENS[name], "url": address}])
        if script:
            context.add_init_script(script)
        page = context.new_page()
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.goto(address + path.format(self.rotation))
        self.wires[page] = wire
        return page


@pytest.fixture
def device(chromium: Browser, server: Running, started: None, rotation: int) -> Iterator[Devices]:
    devices = Devices(chromium, urlsplit(server.address).port or 0, rotation)
    yield devices
    for page, wire in devices.wires.items():
        page.context.close()
        wire.close()
    assert devices.faults == []


@pytest.fixture
def events(in_lab: InLab, server: Running, rotation: int) -> Callable[[], list[CallEvent]]:
    """What the server has kept of the class."""

    def kept() -> list[CallEvent]:
        with in_lab() as session:
            now = server.app.state.clock()
            of = find_to_call(session, rotation)
            assert of is not None
            found = find_called_class(session, of, now)
            return [] if found is None else list(list_events(session, found.id))

    return kept


def _state(page: Page, words: str, **waiting: float) -> None:
    expect(page.locator("#state")).to_have_text(words, **waiting)  # type: ignore[arg-type]


def _next(page: Page, words: str) -> None:
    expect(page.locator("#next-words")).to_contain_text(words)


def _settled(page: Page) -> None:
    """The device has measured its clock and nothing that it said waits any more."""
    page.wait_for_function("() => clock.samples.length && (typeof queue === 'undefined' || !queue.length)")


def _press(page: Page, control: str) -> None:
    """A press of somebody who has let go of the last one."""
    page.wait_for_function("() => performance.now() - pressed > 700")
    page.locator(f"[data-control={control}]").click()


def test_one_press_is_seen_on_every_device_and_taken_back_on_every_device(device: Devices) -> None:
    caller = device("mira", "/board/{}/call")
    screens = [
        device("tomas", "/board/{}"),
        device("tablet", "/tablet/board"),
        device("other_tablet", "/tablet/wrist", width=390, height=700),
    ]
    for screen in screens:
        _state(screen, "Lights allowed")
        _next(screen, "then Lights off, load")

    caller.keyboard.press("Space")
    for screen in screens:
        _state(screen, "Dark")
        _next(screen, "then Hold still, settle")
    expect(screens[1].locator("#own")).to_contain_text("G1: settle, S1 (shutter b), in")
    expect(screens[2].locator("#own")).to_contain_text("G2: settle, S2 (shutter b), in")

    _press(caller, "advance")
    for screen in screens:
        _state(screen, "Hold still")
        assert screen.locator("#board-now").get_attribute("data-sounded") in {"hold still", "tick"}

    _press(caller, "back")
    for screen in screens:
        _state(screen, "Dark")


def test_the_whole_class_is_paused_and_stopped_from_the_same_places(device: Devices) -> None:
    caller, wall = device("mira", "/board/{}/call"), device("tomas", "/board/{}")
    places = []

    def stands() -> dict[str, dict[str, float] | None]:
        controls = ("advance", "back", "hold", "repeat", "lights")
        return {one: caller.locator(f"[data-control={one}]").bounding_box() for one in controls}  # type: ignore[misc]

    places.append(stands())
    _press(caller, "advance")
    _state(wall, "Dark")
    _press(caller, "hold")
    expect(wall.locator("#aside")).to_contain_text("Paused for")
    places.append(stands())
    _press(caller, "advance")
    expect(wall.locator("#aside")).to_be_hidden()
    caller.keyboard.press("Escape")
    _state(wall, "LIGHTS")
    expect(caller.locator("#advance-words")).to_have_text("All clear")
    places.append(stands())
    _press(caller, "advance")
    _state(wall, "All clear")
    _press(caller, "advance")
    _state(wall, "Dark")
    device.wires[caller].cut()
    expect(caller.locator("#alone")).to_be_visible(timeout=20_000)
    places.append(stands())

    assert all(one == places[0] for one in places)
    for box in places[0].values():
        assert box is not None
        assert min(box["height"], box["width"]) >= 75


def test_two_callers_at_once_call_one_cue_once(
    device: Devices, events: Callable[[], list[CallEvent]]
) -> None:
    one, two = device("mira", "/board/{}/call"), device("tomas", "/board/{}/call")
    for caller in (one, two):
        expect(caller.locator("#advance-words")).to_have_text("Lights off, load")
    # Both fingers come down before either device has heard of the other.
    two.evaluate("source.close()")
    one.keyboard.press("Space")
    _settled(one)
    two.keyboard.press("Space")

    expect(two.locator("#refused")).to_contain_text("was called already")
    two.evaluate("listen()")
    for caller in (one, two):
        expect(caller.locator("#advance-words")).to_have_text("Hold still, settle")
    assert [event.words for event in events()] == ["Lights off, load"]


def test_a_glove_that_touches_twice_calls_once(
    device: Devices, events: Callable[[], list[CallEvent]]
) -> None:
    caller = device("mira", "/board/{}/call")
    caller.locator("#advance").dblclick()
    caller.keyboard.down("PageDown")
    caller.keyboard.down("PageDown")
    _settled(caller)

    assert len(events()) == 1
    expect(caller.locator("#advance-words")).to_have_text("Hold still, settle")


def test_what_is_called_without_a_network_counts_from_when_it_was_called_and_arrives_once(
    device: Devices, events: Callable[[], list[CallEvent]], server: Running
) -> None:
    caller, wall = device("mira", "/board/{}/call"), device("tomas", "/board/{}")
    _settled(caller)
    device.wires[caller].cut()
    _press(caller, "advance")
    pressed_at = server.app.state.clock()
    _state(caller, "Dark")
    _press(caller, "advance")
    _state(caller, "Hold still")
    expect(caller.locator("#kept-here")).to_have_text("2 kept on this device, not yet at the server.")
    expect(caller.locator("#alone")).to_contain_text("What you call is kept here", timeout=20_000)
    caller.keyboard.press("F5")
    caller.wait_for_load_state()
    _state(caller, "Hold still")
    assert events() == []

    device.wires[caller].mend()
    expect(caller.locator("#kept-here")).to_be_hidden(timeout=20_000)
    _state(wall, "Hold still")
    found = events()
    assert [event.words for event in found] == ["Lights off, load", "Hold still, settle"]
    assert abs(found[0].happened_at - pressed_at) < timedelta(seconds=2)
    assert found[0].kept_at - found[0].happened_at > timedelta(seconds=4)


def test_a_board_without_a_network_goes_on_by_the_plan_says_so_and_catches_up(device: Devices) -> None:
    caller, wall = device("mira", "/board/{}/call"), device("tomas", "/board/{}")
    _press(caller, "advance")
    _state(wall, "Dark")
    _settled(wall)
    device.wires[wall].cut()
    expect(wall.locator("#alone")).to_contain_text("Alone: no word from the server", timeout=20_000)
    countdown = wall.locator("#countdown").inner_text()
    expect(wall.locator("#countdown")).not_to_have_text(countdown)

    wall.keyboard.press("F5")
    wall.wait_for_load_state()
    _state(wall, "Dark")
    expect(wall.locator("#alone")).to_contain_text("It goes on by the plan", timeout=20_000)
    countdown = wall.locator("#countdown").inner_text()
    expect(wall.locator("#countdown")).not_to_have_text(countdown)

    _press(caller, "advance")
    device.wires[wall].mend()
    _state(wall, "Hold still", timeout=20_000)
    expect(wall.locator("#alone")).to_be_hidden()


def test_a_device_whose_clock_is_wrong_counts_as_the_others_do(device: Devices) -> None:
    right, wrong = device("tomas", "/board/{}"), device("tablet", "/tablet/board", script=WRONG_CLOCK)
    _settled(right)
    _settled(wrong)

    def apart() -> float:
        """How far the two are from each other, in seconds; each tells what the server's clock says."""
        here, there = right.evaluate("clock.now()"), wrong.evaluate("clock.now()")
        return abs(float(here) - float(there)) / 1000

    assert (
        abs(
            float(wrong.evaluate("Date.now() - clock.now()"))
            - float(right.evaluate("Date.now() - clock.now()"))
        )
        > 2_000_000
    )
    assert apart() < 5
    wrong.evaluate("window.wrongBy = -3 * 3600 * 1000")
    wrong.wait_for_function("() => clock.last.wall < Date.now() + 1000 && clock.samples.length")
    assert apart() < 5
    _next(wrong, "then Lights off, load, at 09:08")


def test_a_device_that_slept_shows_what_was_called_meanwhile(device: Devices) -> None:
    caller, tablet = device("mira", "/board/{}/call"), device("tablet", "/tablet/board")
    _settled(tablet)
    asleep = tablet.context.new_cdp_session(tablet)
    asleep.send("Page.setWebLifecycleState", {"state": "frozen"})
    _press(caller, "advance")
    _press(caller, "advance")
    _state(caller, "Hold still")
    asleep.send("Page.setWebLifecycleState", {"state": "active"})

    _state(tablet, "Hold still", timeout=20_000)
    expect(tablet.locator("#alone")).to_be_hidden()


def test_a_plate_that_moved_is_made_again_and_the_rest_comes_later(device: Devices) -> None:
    caller, wall = device("mira", "/board/{}/call"), device("tomas", "/board/{}")
    for state in ("Dark", "Hold still"):
        _press(caller, "advance")
        _state(wall, state)
    _press(caller, "repeat")
    caller.get_by_role("button", name="G2, plate 1, at once").click()

    expect(caller.locator("#undo-words")).to_have_text("Repeat: G2")
    _press(caller, "advance")
    expect(wall.locator("#last")).to_contain_text("Last: Shutter open")
    expect(wall.locator("#moves")).to_contain_text("G1 develop")
    assert "G2 again" in wall.evaluate("told.visits.map((visit) => visit.name)")


def test_sound_starts_with_a_tap_is_tried_and_stays_as_loud_as_it_was_set(device: Devices) -> None:
    wall = device("tomas", "/board/{}")
    expect(wall.locator("#sound-state")).to_contain_text("tap “Sound” once to start it")
    wall.get_by_role("button", name="Sound").click()
    expect(wall.locator("#sound-state")).to_have_text("Sound is on, loudness 3 of 5.")
    wall.get_by_role("button", name="Louder").click()
    wall.get_by_role("button", name="Test").click()
    expect(wall.locator("#board-now")).to_have_attribute("data-sounded", "clear")
    expect(wall.locator("#sound-state")).to_have_text("Sound is on, loudness 4 of 5.")
    wall.reload()
    wall.get_by_role("button", name="Sound").click()
    expect(wall.locator("#sound-state")).to_have_text("Sound is on, loudness 4 of 5.")


@pytest.mark.parametrize(
    ("name", "path", "width"),
    [
        ("mira", "/board/{}", 1440),
        ("mira", "/board/{}/call", 390),
        ("tablet", "/tablet/board", 800),
        ("tablet", "/tablet/wrist", 390),
    ],
)
def test_a_called_class_has_no_barriers_and_scrolls_only_down(
    device: Devices, name: str, path: str, width: int
) -> None:
    caller, page = device("mira", "/board/{}/call"), device(name, path, width=width, height=900)
    for state in ("Dark", "Hold still"):
        _press(caller, "advance")
        _state(page, state)

    assert Axe().run(page).response["violations"] == []
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0
