"""Every state of every page near plates, read pixel by pixel: forbidden channels are exactly 0, and little of the screen is lit."""

import os
from base64 import b64decode
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Route, expect

from server.core.board_state import Colour
from server.core.calling import EventKind
from server.core.screen_light import LEVELS, USUAL_LEVEL, Level, look, palette
from server.data.session import LabSession
from server.people.access import COOKIE
from server.plates.queries import list_plate_boxes
from server.web.lights import LEVEL_COOKIE
from tests.browser.conftest import CHROMIUM, QUIET
from tests.browser.pixels import Reader
from tests.callings.calls import at, called, published, said
from tests.casts import MORNING, TOKENS, Cast
from tests.conftest import Running
from tests.runs.notes import file_one

InLab = Callable[[], AbstractContextManager[LabSession]]

pytestmark = pytest.mark.browser

SHOTS = os.environ.get("STILLROOM_SHOTS", "")
SIGHTS = {
    "green": {"sees_red": True, "sees_green": False},
    "red": {"sees_red": False, "sees_green": True},
    "none": {"sees_red": True, "sees_green": True},
}
COLOURS: tuple[Colour, ...] = ("green", "red", "none")
# What a page near plates never holds, because the browser draws it in colours of its own.
DRAWN_BY_THE_BROWSER = "select, img, svg, video, canvas, iframe, [title], [required], input[type=date], input[type=number], progress, meter"


class Screen:
    """A device near plates. What is wrong with anything it showed is kept."""

    def __init__(self, chromium: Browser, server: Running, name: str, width: int, height: int) -> None:
        self.address = f"http://stillroom.test:{urlsplit(server.address).port}"
        self.context = chromium.new_context(viewport={"width": width, "height": height})
        self.context.set_default_timeout(15_000)
        self.reader = Reader(self.context)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self.most = (0.0, 0.0)
        self.sign_in(TOKENS.get(name, ""))

    def sign_in(self, token: str) -> None:
        self.keep(COOKIE, token)

    def keep(self, name: str, value: str) -> None:
        self.context.add_cookies([{"name": name, "value": value, "url": self.address}])

    def open(self, path: str) -> None:
        self.page.goto(self.address + path)

    def check(self, state: str, colour: Colour, *, level: Level = USUAL_LEVEL, whole: bool = True) -> None:
        """Look at every pixel of what is shown, of the whole page or of what of it is on the screen."""
        picture = self.page.screenshot(full_page=whole, caret="initial", animations="allow")
        if SHOTS:
            (Path(SHOTS) / f"{colour} {state.replace('/', '-')}.png").write_bytes(picture)
        self.judge(picture, state, colour, level)
        drawn = self.page.locator(DRAWN_BY_THE_BROWSER).count()
        if drawn:
            self.faults.append(f"{state}: {drawn} things that the browser draws by itself")

    def judge(self, picture: bytes, state: str, colour: Colour, level: Level = USUAL_LEVEL) -> None:
        seen = look(self.reader.counts(picture))
        self.most = (max(self.most[0], seen.lit_share), max(self.most[1], seen.mean_luminance))
        brightest = 0 if colour == "none" else palette(colour, level).ink
        allowed = tuple(brightest if channel == colour else 0 for channel in ("red", "green", "blue"))
        if any(shown > most for shown, most in zip(seen.most, allowed, strict=True)):
            self.faults.append(f"{state} in {colour}: {seen.most} of at most {allowed}")
        if colour != "none" and max(seen.most) == 0:
            self.faults.append(f"{state} in {colour}: nothing is shown")
        self.faults += [f"{state} in {colour}: {fault}" for fault in seen.faults]


@pytest.fixture
def screen(chromium: Browser, server: Running) -> Iterator[Callable[..., Screen]]:
    made: list[Screen] = []

    def _make(name: str, *, width: int = 800, height: int = 1100) -> Screen:
        made.append(Screen(chromium, server, name, width, height))
        return made[-1]

    yield _make
    for one in made:
        one.context.close()


@pytest.fixture
def rotation(in_lab: InLab, cast: Cast) -> int:
    """Published, at 09:00 on the lab's clock: loads in the dark from 09:08, still from 09:09:30, shutter at 09:12:30."""
    with in_lab() as session:
        return published(session, cast.section_id)


def _plates(in_lab: InLab, colour: Colour) -> None:
    """The lab's plates are such that a screen near them may show this colour alone."""
    with in_lab() as session:
        for box in list_plate_boxes(session):
            box.sees_red, box.sees_green = SIGHTS[colour]["sees_red"], SIGHTS[colour]["sees_green"]
            box.opened_at = MORNING


# Sent as the browser would without a script, so that the refusal is a page of its own.
SEND = "HTMLFormElement.prototype.submit.call(document.querySelector('main form'))"


def _notes(tablet: Screen, run_id: int, colour: Colour) -> None:
    page = tablet.page
    tablet.open("/tablet")
    tablet.check("run note", colour)
    if colour != "none":
        page.locator("#comment").fill("a worde mispeled")
        page.locator("#comment").select_text()
        tablet.check("run note with its comment marked", colour, whole=False)
        page.keyboard.press("Tab")
        tablet.check("run note with the keyboard on its button", colour, whole=False)
    page.evaluate("document.querySelector('[name=exposure_s]').value = 'much'")
    page.evaluate(SEND)
    page.wait_for_url("**/tablet/runs")
    tablet.check("run note refused", colour)
    tablet.open(f"/tablet/runs/{run_id}")
    tablet.check("run when dry", colour)
    page.evaluate(SEND)
    page.wait_for_url("**/verdict")
    tablet.check("run when dry refused", colour)


def _problems(tablet: Screen, server: Running, class_code: str, colour: Colour) -> None:
    for state, path in (
        ("this screen", "/screen"),
        ("no such run", "/tablet/runs/99999"),
        ("no such page", "/tablet/nowhere"),
        ("white page shut", "/stock"),
        ("join", "/join"),
        ("join by an unknown code", "/join/NOBODY"),
        ("join a group", f"/join/{class_code}"),
    ):
        tablet.open(path)
        tablet.check(state, colour)
    tablet.page.evaluate(SEND)
    expect(tablet.page.locator("[role=alert]")).to_be_attached()
    tablet.check("join refused", colour)
    tablet.open("/screen")
    tablet.page.evaluate(
        "HTMLFormElement.prototype.submit.call(document.querySelector('[action=\"/screen/name\"]'))"
    )
    tablet.page.wait_for_url("**/screen/name")
    tablet.check("a screen that is to be named", colour)
    database = server.app.state.database
    del server.app.state.database
    tablet.open("/tablet")
    server.app.state.database = database
    tablet.check("fault", colour)
    tablet.sign_in("ended")
    tablet.open("/tablet")
    tablet.check("signed out", colour)
    tablet.sign_in(TOKENS["tablet"])


@pytest.mark.parametrize("colour", COLOURS)
def test_the_tablet_emits_one_channel_in_every_state(
    screen: Callable[..., Screen], in_lab: InLab, cast: Cast, server: Running, rotation: int, colour: Colour
) -> None:
    _plates(in_lab, colour)
    with in_lab() as session:
        run_id = file_one(session, cast).id
    server.clock.instant = at(8.5)
    tablet = screen("tablet")

    _notes(tablet, run_id, colour)
    for view in ("board", "wrist"):
        tablet.open(f"/tablet/{view}")
        expect(tablet.page.locator("#state")).to_have_text("Dark")
        tablet.check(view, colour, whole=False)
    _problems(tablet, server, cast.class_code, colour)
    server.clock.instant = at(100)
    tablet.open("/tablet/board")
    expect(tablet.page.locator("#aside")).to_have_text("The class is over.")
    lit: Colour = "green" if colour == "none" else colour
    expect(tablet.page.locator("html")).to_have_attribute("data-light", lit)
    tablet.check("over", lit, whole=False)
    server.clock.instant = at(-2000)
    tablet.open("/tablet/board")
    expect(tablet.page.locator("html")).to_have_attribute("data-light", lit)
    tablet.check("no class", lit)

    assert rotation
    assert tablet.faults == []


# States of a class in its order: minutes after nine, what the board says, and what is said to the class before.
STATES: tuple[tuple[str, float, str, EventKind | None], ...] = (
    ("lights allowed", 1, "Lights allowed", None),
    ("dark", 8.5, "Dark", EventKind.CALLED),
    ("hold still", 10, "Hold still", EventKind.CALLED),
    ("shutter open", 12.6, "Hold still", EventKind.CALLED),
    ("paused", 14, "Dark", EventKind.PAUSED),
    ("danger of the bell", 60, "Dark", None),
    ("LIGHTS", 61, "LIGHTS", EventKind.STOPPED),
    ("all clear", 62, "All clear", EventKind.CLEAR),
)


@pytest.mark.parametrize("colour", COLOURS)
def test_the_wall_and_the_caller_emit_one_channel_in_every_state(
    screen: Callable[..., Screen], in_lab: InLab, server: Running, rotation: int, colour: Colour
) -> None:
    """Where plates see every colour a board shows itself only while lights are allowed, and while it hears of the server."""
    _plates(in_lab, colour)
    wall = screen("tomas", width=1440, height=900)
    for state, minutes, words, event in STATES:
        if event is not None:
            with in_lab() as session:
                if event is EventKind.CALLED:
                    called(session, rotation, minutes - 0.1)
                else:
                    said(session, rotation, event, minutes - 0.1)
        server.clock.instant = at(minutes)
        lit = words in {"Lights allowed", "LIGHTS", "All clear"}
        shown: Colour = "green" if colour == "none" and lit else colour
        for place, path in (("wall", f"/board/{rotation}"), ("caller", f"/board/{rotation}/call")):
            wall.open(path)
            expect(wall.page.locator("#state")).to_have_text(words)
            expect(wall.page.locator("html")).to_have_attribute("data-light", shown)
            wall.check(f"{state}, {place}", shown, whole=False)
    wall.page.evaluate("heard = -1e6; show()")
    expect(wall.page.locator("#alone")).not_to_be_empty()
    wall.check("alone", colour, whole=False)
    wall.open("/board/99999")
    wall.check("no such board", colour)

    assert wall.faults == []


def test_nothing_flashes_between_two_pages_that_come_late(
    screen: Callable[..., Screen], server: Running, rotation: int
) -> None:
    """Every frame that the browser paints from the first dark page on, while pages, problems and their scripts are slow."""
    server.clock.instant = at(8.5)
    tablet = screen("tablet")
    page = tablet.page
    tablet.open("/tablet")
    frames: list[bytes] = []
    wire = tablet.context.new_cdp_session(page)

    def painted(frame: dict[str, Any]) -> None:
        frames.append(b64decode(frame["data"]))
        wire.send("Page.screencastFrameAck", {"sessionId": frame["sessionId"]})

    def late(route: Route) -> None:
        page.wait_for_timeout(60)
        route.continue_()

    wire.on("Page.screencastFrame", painted)
    wire.send("Page.startScreencast", {"format": "png"})
    tablet.context.route("**/*", late)
    for path in ("/tablet/board", "/tablet/nowhere", "/join", "/stock", "/tablet"):
        tablet.open(path)
    page.reload()
    page.go_back()
    page.wait_for_timeout(100)
    wire.send("Page.stopScreencast")
    for number, frame in enumerate(frames):
        tablet.judge(frame, f"frame {number}", "green")

    assert rotation
    assert len(frames) > 4
    assert [fault for fault in tablet.faults if "nothing is shown" not in fault] == []


@pytest.mark.parametrize("colour", ["green", "red"])
def test_a_page_that_gets_nothing_but_itself_is_black_and_readable(
    screen: Callable[..., Screen], in_lab: InLab, server: Running, rotation: int, colour: Colour
) -> None:
    """No style sheet, script or picture arrives."""
    _plates(in_lab, colour)
    server.clock.instant = at(8.5)
    tablet = screen("tablet")
    tablet.context.route("**/static/**", lambda route: route.abort())
    for path in ("/tablet", "/tablet/board", "/tablet/nowhere", "/join"):
        tablet.open(path)
        tablet.check(f"{path} alone", colour)

    assert rotation
    assert tablet.faults == []


def test_without_a_network_a_screen_stays_on_its_page_and_says_so(
    screen: Callable[..., Screen], server: Running, rotation: int
) -> None:
    """The browser's own page about a lost network is white."""
    server.clock.instant = at(8.5)
    tablet = screen("tablet")
    page = tablet.page
    tablet.open("/tablet")
    tablet.context.set_offline(True)
    ways: tuple[Callable[[], object], ...] = (
        lambda: page.get_by_role("link", name="Board").click(),
        lambda: page.keyboard.press("F5"),
        lambda: page.keyboard.press("Control+r"),
        lambda: page.get_by_role("button", name="Sign out").click(),
    )
    for leave in ways:
        page.evaluate("document.getElementById('unreached')?.remove()")
        leave()
        expect(page.locator("#unreached")).to_contain_text("this page stays")
        tablet.check("network lost", "green")
    assert page.url.endswith("/tablet")

    tablet.context.set_offline(False)
    page.get_by_role("link", name="Board").click()
    page.wait_for_url("**/tablet/board/**")
    tablet.check("network back", "green")

    assert rotation
    assert tablet.faults == []


@pytest.mark.parametrize("colour", ["green", "red"])
def test_what_waits_on_a_tablet_emits_one_channel(
    screen: Callable[..., Screen], in_lab: InLab, server: Running, rotation: int, colour: Colour
) -> None:
    _plates(in_lab, colour)
    server.clock.instant = at(8.5)
    tablet = screen("tablet")
    page = tablet.page
    tablet.open("/tablet")
    page.wait_for_function("() => outbox.writing().anchor")
    tablet.context.set_offline(True)
    page.get_by_role("button", name="File this run note").click()
    expect(page.locator("#notice")).to_contain_text("kept on this tablet")
    tablet.check("a note that waits", colour)
    page.get_by_role("button", name="Rate its plate").click()
    page.get_by_role("button", name="Give this verdict").click()
    expect(page.locator("#notice")).to_contain_text("choose one of the five")
    tablet.check("an early verdict that lacks one", colour)
    page.evaluate(
        "outbox.every().then(([note]) => outbox.change(note.id, { sentence: 'Choose another box.' })).then(showOutbox)"
    )
    page.get_by_role("button", name="Throw it away").click()
    expect(page.get_by_role("button", name="Press again to throw it away")).to_be_visible()
    tablet.check("a note that was not taken", colour)

    assert rotation
    assert tablet.faults == []


def test_a_board_that_the_browser_keeps_opens_without_a_network(
    screen: Callable[..., Screen], server: Running, rotation: int
) -> None:
    server.clock.instant = at(8.5)
    wall = screen("tomas", width=1440, height=900)
    wall.open(f"/board/{rotation}/call")
    wall.page.get_by_role("link", name="Board for the wall").click()
    wall.page.wait_for_url(f"**/board/{rotation}")
    wall.context.set_offline(True)
    wall.page.get_by_role("link", name="Leave the board").click()
    expect(wall.page.locator("#unreached")).to_contain_text("this page stays")
    wall.check("board that cannot be left", "green", whole=False)
    wall.page.get_by_role("link", name="Call this class").click()
    expect(wall.page.locator("#advance")).to_be_visible()
    wall.check("caller from where it is kept", "green", whole=False)

    assert wall.faults == []


def test_a_class_code_is_tapped_on_the_page_itself(screen: Callable[..., Screen], cast: Cast) -> None:
    """The device's own keyboard would light up."""
    tablet = screen("", width=390, height=800)
    tablet.open("/join")
    assert tablet.page.locator("#code").get_attribute("inputmode") == "none"
    keys = tablet.page.get_by_role("group", name="Signs")
    for sign in f"A{cast.class_code}":
        keys.get_by_role("button", name=sign, exact=True).click()
    tablet.check("keys of a class code", "green")
    tablet.page.locator("#code").press("Home")
    tablet.page.locator("#code").press("Delete")
    keys.get_by_role("button", name=cast.class_code[-1], exact=True).click()
    keys.get_by_role("button", name="Back").click()
    tablet.page.get_by_role("button", name="Find my class").click()
    expect(tablet.page.locator("h1")).to_have_text("Tuesday")

    assert tablet.faults == []


def test_a_screen_warns_and_changes_its_colour_while_its_page_is_open(
    screen: Callable[..., Screen], in_lab: InLab, server: Running, rotation: int
) -> None:
    """Plates that see green come out while a run note is open; looking is brought forward by coming back to the page."""
    _plates(in_lab, "green")
    server.clock.instant = at(8.5)
    tablet = screen("tablet")
    for path in ("/tablet/board", "/tablet"):
        tablet.open(path)
        expect(tablet.page.locator("#screen-warning")).to_contain_text("no fog test for box 1")
        tablet.check(f"warning on {path}", "green")
    _plates(in_lab, "red")
    tablet.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(tablet.page.locator("html")).to_have_attribute("data-light", "red")
    tablet.check("changed while it was open", "red")

    assert rotation
    assert tablet.faults == []


def test_a_screen_that_shows_nothing_goes_black_when_nobody_answers_and_calls_all_the_same(
    screen: Callable[..., Screen], in_lab: InLab, server: Running, rotation: int
) -> None:
    """Where plates see every colour it shows itself in a lit room; a caller's hand finds the large control in the dark."""
    _plates(in_lab, "none")
    server.clock.instant = at(1)
    tablet = screen("tablet")
    tablet.open("/tablet")
    expect(tablet.page.locator("html")).to_have_attribute("data-light", "green")
    tablet.context.set_offline(True)
    expect(tablet.page.locator("html")).to_have_attribute("data-light", "none", timeout=15_000)
    tablet.check("alone in a lit room", "none")
    server.clock.instant = at(8)
    caller = screen("tomas", width=1440, height=900)
    caller.open(f"/board/{rotation}/call")
    caller.page.locator("#advance").click()
    expect(caller.page.locator("#state")).to_have_text("Dark")
    caller.check("called blind", "none", whole=False)

    assert [*tablet.faults, *caller.faults] == []


def test_a_white_page_of_the_tablet_goes_when_lights_are_not_allowed_any_more(
    screen: Callable[..., Screen], in_lab: InLab, cast: Cast, server: Running, rotation: int
) -> None:
    """It opened in a lit room. Without an answer nobody knows whether the room is lit, so the page waits in black."""
    with in_lab() as session:
        run_id = file_one(session, cast).id
    _plates(in_lab, "green")
    server.clock.instant = at(1)
    tablet = screen("tablet")
    tablet.open("/tablet")
    tablet.open(f"/tablet/lit/runs/{run_id}/photo")
    expect(tablet.page.locator("h1")).to_contain_text("Photos of run")
    tablet.context.set_offline(True)
    expect(tablet.page.locator("h1")).to_be_hidden(timeout=15_000)
    tablet.check("photos alone", "none")
    tablet.context.set_offline(False)
    expect(tablet.page.locator("h1")).to_be_visible(timeout=15_000)
    server.clock.instant = at(8.5)
    tablet.page.wait_for_url("**/tablet")
    tablet.check("after its white page", "green")

    assert rotation
    assert [fault for fault in tablet.faults if "photos alone: " not in fault] == []


def test_nothing_of_a_page_near_plates_goes_to_paper(screen: Callable[..., Screen], rotation: int) -> None:
    """A window for printing is white, and so is paper that is carried into the dark."""
    tablet = screen("tablet")
    tablet.open("/tablet")
    tablet.page.keyboard.press("Control+p")
    expect(tablet.page.locator("#unreached")).to_contain_text("Nothing is printed")
    tablet.page.emulate_media(media="print")

    assert rotation
    assert tablet.page.evaluate("getComputedStyle(document.documentElement).display") == "none"


@pytest.mark.parametrize("level", LEVELS)
def test_nothing_is_brighter_than_what_was_chosen_on_the_device(
    screen: Callable[..., Screen], server: Running, rotation: int, level: Level
) -> None:
    server.clock.instant = at(8.5)
    tablet = screen("tablet")
    tablet.keep(LEVEL_COOKIE, str(level))
    for path in ("/tablet", "/tablet/board"):
        tablet.open(path)
        tablet.check(f"{path} at level {level}", "green", level=level)
    # The wall's longest words are the most light.
    server.clock.instant = at(1)
    wall = screen("tomas", width=1440, height=900)
    wall.keep(LEVEL_COOKIE, str(level))
    wall.open(f"/board/{rotation}")
    expect(wall.page.locator("#state")).to_have_text("Lights allowed")
    wall.check(f"wall at level {level}", "green", level=level, whole=False)

    assert [*tablet.faults, *wall.faults] == []


# Lets a browser give every third of a pixel its own share of a letter.
FONTS = """<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><include ignore_missing="yes">/etc/fonts/fonts.conf</include>
<match target="font"><edit name="rgba" mode="assign"><const>rgb</const></edit>
<edit name="antialias" mode="assign"><bool>true</bool></edit><edit name="lcdfilter" mode="assign"><const>lcddefault</const></edit></match>
<match target="pattern"><edit name="rgba" mode="assign"><const>rgb</const></edit></match></fontconfig>"""


def test_letters_smoothed_by_thirds_of_a_pixel_have_no_fringes(
    chromium: Browser, server: Running, rotation: int, tmp_path: Path
) -> None:
    fonts = tmp_path / "fonts.conf"
    fonts.write_text(FONTS)
    smooth = chromium.browser_type.launch(
        executable_path=CHROMIUM,
        args=[*QUIET, "--enable-lcd-text"],
        ignore_default_args=["--disable-lcd-text", "--font-render-hinting=none"],
        env={**os.environ, "FONTCONFIG_FILE": str(fonts)},
    )
    tablet = Screen(smooth, server, "tablet", 800, 1100)
    tablet.page.set_content("<body style='font: 30px sans-serif'>black on white has them</body>")
    fringed = tablet.reader.counts(tablet.page.screenshot())
    tablet.open("/tablet")
    tablet.check("letters with thirds of pixels", "green")
    smooth.close()

    assert rotation
    assert any(red != blue for red, _green, blue in fringed)
    assert tablet.faults == []
