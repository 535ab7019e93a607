"""The tablet in a real browser: the network goes and comes back, and only one colour leaves the screen."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from urllib.parse import urljoin, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route, expect

from server.data.session import LabSession
from server.people.access import COOKIE
from server.plates.queries import get_plate_box
from server.runs.queries import list_runs
from tests.casts import TOKENS, Cast
from tests.conftest import Running
from tests.runs.room import Room, fill_room

InLab = Callable[[], AbstractContextManager[LabSession]]

pytestmark = pytest.mark.browser


@pytest.fixture
def room(in_lab: InLab) -> Room:
    with in_lab() as session:
        return fill_room(session)


@pytest.fixture
def screen(chromium: Browser, server: Running, room: Room) -> Iterator[Page]:
    """G1's tablet on its run note, on a named address over plain HTTP as in a lab."""
    assert room
    address = f"http://stillroom.test:{urlsplit(server.address).port}"
    context = chromium.new_context(viewport={"width": 800, "height": 1200})
    context.add_cookies([{"name": COOKIE, "value": TOKENS["tablet"], "url": address}])
    page = context.new_page()
    page.goto(f"{address}/tablet")
    yield page
    context.close()


def _file_note(screen: Page, station: str) -> None:
    screen.get_by_text(station, exact=True).click()
    screen.get_by_role("button", name="File this run note").click()


def test_joining_leads_to_the_black_page_and_leaves_no_paper_behind(screen: Page, cast: Cast) -> None:
    screen.goto(urljoin(screen.url, f"/join/{cast.class_code}"))
    screen.get_by_role("button", name="G3").click()

    expect(screen.locator("h1")).to_have_text("Run note")
    expect(screen.locator("html")).to_have_css("background-color", "rgb(0, 0, 0)")
    _file_note(screen, "S1")
    expect(screen.locator("#tablet-runs")).to_contain_text("run 1")


def test_a_note_needs_no_keyboard_and_brings_the_stations_times(
    screen: Page, in_lab: InLab, cast: Cast
) -> None:
    _file_note(screen, "S2")

    expect(screen.locator("#tablet-runs li")).to_have_count(1)
    with in_lab() as session:
        run = list_runs(session, cast.section_id)[0]
        assert (run.settle_s, run.exposure_s) == (90, 12)


def test_what_is_filed_without_a_network_arrives_once_when_it_is_back(
    screen: Page, in_lab: InLab, cast: Cast, room: Room
) -> None:
    assert screen.evaluate("isSecureContext") is False
    screen.context.set_offline(True)
    _file_note(screen, "S1")
    expect(screen.locator("#notice")).to_contain_text("kept on this tablet")
    _file_note(screen, "S2")
    expect(screen.locator("#outbox .kept > div")).to_have_count(2)

    screen.context.set_offline(False)
    expect(screen.locator("#outbox")).to_be_hidden(timeout=20_000)
    screen.reload()

    expect(screen.locator("#tablet-runs li")).to_have_count(2)
    with in_lab() as session:
        assert [run.number for run in list_runs(session, cast.section_id)] == [2, 1]
        assert get_plate_box(session, room.plate_box_id).plates_left == 10


def test_a_note_whose_answer_was_lost_on_the_way_is_one_run(
    screen: Page, server: Running, in_lab: InLab, cast: Cast
) -> None:
    lost: list[int] = []

    def lose_the_first_answer(route: Route) -> None:
        if lost:
            route.continue_()
            return
        headers = {
            **route.request.headers,
            "origin": server.address,
            "cookie": f"{COOKIE}={TOKENS['tablet']}",
        }
        answer = route.fetch(url=f"{server.address}/tablet/runs", headers=headers, max_redirects=0)
        lost.append(answer.status)
        route.abort()

    screen.route("**/tablet/runs", lose_the_first_answer)
    _file_note(screen, "S1")
    expect(screen.locator("#notice")).to_contain_text("kept on this tablet")
    expect(screen.locator("#outbox")).to_be_hidden(timeout=20_000)

    assert lost == [303]
    expect(screen.locator("#tablet-runs li")).to_have_count(1)
    with in_lab() as session:
        assert len(list_runs(session, cast.section_id)) == 1


def test_a_kept_note_that_is_refused_stays_with_the_sentence_until_it_is_put_right(
    screen: Page, in_lab: InLab, cast: Cast, room: Room
) -> None:
    screen.context.set_offline(True)
    _file_note(screen, "S1")
    expect(screen.locator("#outbox")).to_be_visible()
    with in_lab() as session:
        get_plate_box(session, room.plate_box_id).plates_left = 0
    screen.context.set_offline(False)
    expect(screen.locator("#outbox")).to_contain_text("Choose another box", timeout=20_000)

    with in_lab() as session:
        get_plate_box(session, room.plate_box_id).plates_left = 5
    screen.get_by_role("button", name="Change it").click()
    screen.locator("#comment").fill("from the second box")
    screen.get_by_role("button", name="File this run note").click()

    expect(screen.locator("#tablet-runs li")).to_have_count(1)
    expect(screen.locator("#outbox")).to_be_hidden()
    with in_lab() as session:
        assert [run.comment for run in list_runs(session, cast.section_id)] == ["from the second box"]


def test_a_refused_note_leaves_the_form_as_it_was(screen: Page, in_lab: InLab, room: Room) -> None:
    with in_lab() as session:
        get_plate_box(session, room.plate_box_id).plates_left = 0
    screen.locator("#comment").fill("the last one")
    _file_note(screen, "S1")

    expect(screen.locator("#notice")).to_contain_text("Choose another box")
    expect(screen.locator("#comment")).to_have_value("the last one")
    expect(screen.locator("#outbox")).to_be_hidden()


def test_the_run_is_rated_on_the_tablet(screen: Page, in_lab: InLab, cast: Cast) -> None:
    _file_note(screen, "S1")
    screen.get_by_text("waiting for its verdict").click()
    screen.get_by_text("bright, deep and clean").click()
    screen.get_by_role("button", name="Give this verdict").click()

    expect(screen.locator("#tablet-runs")).to_contain_text("4, bright, deep and clean")
    with in_lab() as session:
        assert list_runs(session, cast.section_id)[0].verdict == 4


def _brightest(screen: Page) -> list[int]:
    """The most of each channel in any pixel; the picture is read in the browser itself."""
    picture = screen.screenshot(full_page=True, caret="initial").hex()
    most: list[int] = screen.evaluate(
        """async (hex) => {
          const bytes = Uint8Array.from(hex.match(/../g), (pair) => parseInt(pair, 16));
          const image = await createImageBitmap(new Blob([bytes], { type: "image/png" }));
          const canvas = new OffscreenCanvas(image.width, image.height);
          const pen = canvas.getContext("2d");
          pen.drawImage(image, 0, 0);
          const pixels = pen.getImageData(0, 0, image.width, image.height).data;
          const most = [0, 0, 0];
          for (let at = 0; at < pixels.length; at += 4)
            for (const channel of [0, 1, 2]) most[channel] = Math.max(most[channel], pixels[at + channel]);
          return most;
        }""",
        picture,
    )
    return most


def test_near_plates_that_see_red_the_screen_emits_green_only(screen: Page) -> None:
    screen.locator("#comment").fill("in the dark")
    red, green, blue = _brightest(screen)

    assert (red, blue) == (0, 0)
    assert green > 150


def test_near_plates_that_see_green_also_a_problem_is_told_in_red_only(
    screen: Page, in_lab: InLab, room: Room
) -> None:
    with in_lab() as session:
        box = get_plate_box(session, room.plate_box_id)
        box.sees_green, box.sees_red = True, False
    screen.reload()
    screen.goto(urljoin(screen.url, "/tablet/runs/99999"))
    expect(screen.locator("#problem")).to_contain_text("no run of your group")
    assert Axe().run(screen).response["violations"] == []
    red, green, blue = _brightest(screen)

    assert (green, blue) == (0, 0)
    assert red > 150


def test_a_page_still_open_from_another_group_sends_nothing_in_this_one_s_name(
    screen: Page, in_lab: InLab, cast: Cast
) -> None:
    """G1's page is open in the background when G2 joins on the same tablet."""
    second = screen.context.new_page()
    second.goto(urljoin(screen.url, f"/join/{cast.class_code}"))
    second.get_by_role("button", name="G2").click()
    expect(second.locator("h1")).to_have_text("Run note")
    _file_note(screen, "S1")
    expect(screen.locator("#notice")).to_contain_text("kept on this tablet")
    with in_lab() as session:
        assert list_runs(session, cast.section_id) == []

    second.goto(urljoin(screen.url, f"/join/{cast.class_code}"))
    second.get_by_role("button", name="G1").click()
    expect(second.locator("#tablet-runs")).to_contain_text("run 1")
    with in_lab() as session:
        assert [run.group_id for run in list_runs(session, cast.section_id)] == [cast.group_ids[0]]


@pytest.mark.parametrize("since", ["", "mira"], ids=["nobody signed in", "staff signed in on it"])
def test_a_tablet_that_is_not_the_group_s_any_more_keeps_its_notes_and_says_why(
    screen: Page, in_lab: InLab, cast: Cast, since: str
) -> None:
    screen.context.set_offline(True)
    _file_note(screen, "S1")
    expect(screen.locator("#notice")).to_contain_text("did not answer")
    address = urljoin(screen.url, "/")
    screen.context.add_cookies([{"name": COOKIE, "value": TOKENS.get(since, "ended"), "url": address}])
    screen.context.set_offline(False)
    expect(screen.locator("#notice")).to_contain_text("sign-in has ended", timeout=20_000)
    _file_note(screen, "S2")
    expect(screen.locator("#outbox .kept > div")).to_have_count(2)

    screen.goto(f"{address}join/{cast.class_code}")
    screen.get_by_role("button", name="G1").click()
    expect(screen.locator("#tablet-runs li")).to_have_count(2, timeout=20_000)
    with in_lab() as session:
        assert len(list_runs(session, cast.section_id)) == 2


def test_a_note_the_server_stumbles_over_holds_up_no_other(screen: Page) -> None:
    screen.context.set_offline(True)
    _file_note(screen, "S1")
    expect(screen.locator("#outbox .kept > div")).to_have_count(1)
    _file_note(screen, "S2")
    expect(screen.locator("#outbox .kept > div")).to_have_count(2)
    first = screen.evaluate("everyNote().then((notes) => notes[0].id)")

    def stumble_over_the_first(route: Route) -> None:
        if first in (route.request.post_data or ""):
            route.fulfill(status=500, body="")
        else:
            route.continue_()

    screen.route("**/tablet/runs", stumble_over_the_first)
    screen.context.set_offline(False)
    expect(screen.locator("#tablet-runs li")).to_have_count(1, timeout=20_000)
    expect(screen.locator("#outbox .kept > div")).to_have_count(1)


def test_every_control_is_large_enough_for_a_gloved_finger(screen: Page) -> None:
    """At least 20 mm, which a 10-inch tablet shows in about 76 px."""
    sizes = screen.evaluate(
        """() => [...document.querySelectorAll("main button, main label:has(input), main a, main input[type=text]")]
          .filter((each) => each.getClientRects().length)
          .map((each) => [each.textContent.trim(), each.getBoundingClientRect().height])"""
    )

    assert len(sizes) > 10
    assert [size for size in sizes if size[1] < 76] == []
