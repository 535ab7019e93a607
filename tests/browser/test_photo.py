"""Photos in a real browser: taken on a white page, made small and upright on the tablet, kept there without a network, filed once."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from sqlmodel import select

from server.data.session import LabSession
from server.people.access import COOKIE
from server.photos.models import Photo
from server.runs.actions import file_run
from server.runs.models import Incident
from tests.browser.tablets import Tablets, mend, nothing_waits, until, waiting, when_sent
from tests.casts import MORNING, TOKENS, Cast
from tests.conftest import Running
from tests.pictures import GPS_WORDS, corners, encoded, four_corners, oriented
from tests.runs.room import fill_room

InLab = Callable[[], AbstractContextManager[LabSession]]

pytestmark = pytest.mark.browser


@pytest.fixture
def tablets(chromium: Browser) -> Iterator[Tablets]:
    made = Tablets(chromium)
    yield made
    made.close()


@pytest.fixture
def run_id(in_lab: InLab, cast: Cast) -> int:
    with in_lab() as session:
        room = fill_room(session)
        return file_run(
            session, tablet_id="a run", section_id=cast.section_id, group_id=cast.group_ids[0],
            plate_box_id=room.plate_box_id, place_id=room.station_id, charge_id=None, rotation_id=None, settle_s=60,
            exposure_s=10, develop_s=None, incident=Incident.NONE, comment="", exposed_at=MORNING, by="G1", now=MORNING,
        ).id  # fmt: skip


@pytest.fixture
def port(server: Running) -> int:
    return urlsplit(server.address).port or 0


Kept = Callable[[], list[Photo]]


@pytest.fixture
def kept(in_lab: InLab) -> Kept:
    def photos() -> list[Photo]:
        with in_lab() as session:
            return list(session.exec(select(Photo).order_by(Photo.id)).all())  # type: ignore[arg-type]

    return photos


def _to_photos(page: Page, run_id: int) -> None:
    """Out of the dark, as somebody says on the way to the white page."""
    page.context.clear_cookies(name="light")
    page.goto(urljoin(page.url, f"/tablet/lit/runs/{run_id}/photo"))
    page.wait_for_function("() => outbox.writing().anchor")


def _take(page: Page, content: bytes, name: str = "IMG_0001.JPG") -> None:
    page.locator("#photo").set_input_files({"name": name, "mimeType": "image/jpeg", "buffer": content})
    page.get_by_role("button", name="File this photo").click()


def test_a_photo_is_seen_filed_and_shown(tablets: Tablets, port: int, run_id: int, kept: Kept) -> None:
    page, _wire = tablets.new(port)
    _to_photos(page, run_id)
    page.locator("#photo").set_input_files(
        {"name": "IMG.JPG", "mimeType": "image/jpeg", "buffer": oriented(6, place=True)}
    )
    expect(page.locator("#preview")).to_be_visible()
    page.get_by_role("button", name="File this photo").click()

    expect(page.locator("#notice")).to_have_text("Filed: photo of run 1.")
    expect(page.locator(".photos img")).to_have_count(1)
    page.wait_for_function("() => document.querySelector('.photos img').naturalWidth === 320")
    [photo] = kept()
    assert corners(photo.jpeg or b"") == ("red", "green", "blue", "white")
    assert GPS_WORDS not in (photo.jpeg or b"")


def test_the_tablet_itself_makes_a_picture_small_upright_and_free_of_its_place(
    tablets: Tablets, port: int, run_id: int
) -> None:
    page, wire = tablets.new(port)
    _to_photos(page, run_id)
    wire.cut()
    large = four_corners(4000, 3000).transpose(Image.Transpose.ROTATE_90)
    exif = Image.Exif()
    exif[274] = 6
    exif[270] = GPS_WORDS.decode()
    sent = encoded(large, "JPEG", exif=exif.tobytes())
    _take(page, sent)
    waiting(page, 1)
    [waits] = page.evaluate(
        "outbox.every().then((notes) => notes[0].files.map((file) => [file.type, [...new Uint8Array(file.bytes)]]))"
    )

    content = bytes(waits[1])
    assert waits[0] == "image/jpeg"
    assert GPS_WORDS in sent
    assert GPS_WORDS not in content
    assert corners(content) == ("red", "green", "blue", "white")
    page.evaluate("outbox.every().then((notes) => outbox.release(notes[0].id))")


def test_photos_taken_without_a_network_arrive_once_also_from_a_page_in_the_dark(
    tablets: Tablets, port: int, run_id: int, kept: Kept
) -> None:
    page, wire = tablets.new(port)
    _to_photos(page, run_id)
    wire.cut()
    _take(page, encoded(Image.new("RGB", (3000, 2000), "teal"), "JPEG"))
    expect(page.locator("#notice")).to_contain_text("kept on this tablet")
    _take(page, encoded(Image.new("RGB", (2000, 3000), "navy"), "PNG"), "second.png")
    waiting(page, 2)
    page.close()
    wire.mend()
    dark = tablets.tab(page.context)

    nothing_waits(dark)
    assert [(photo.width_px, photo.height_px) for photo in kept()] == [(1600, 1067), (1067, 1600)]


def test_a_photo_whose_answer_is_lost_is_one_photo(
    tablets: Tablets, port: int, run_id: int, kept: Kept
) -> None:
    page, wire = tablets.new(port)
    _to_photos(page, run_id)
    when_sent(page, wire.lose_answers)
    _take(page, oriented(1))
    until(page, lambda: len(kept()) == 1)
    wire.cut()
    waiting(page, 1)
    mend(page, wire)

    nothing_waits(page)
    assert len(kept()) == 1


def test_a_photo_that_never_gets_through_holds_up_no_note(
    tablets: Tablets, port: int, run_id: int, kept: Kept
) -> None:
    page, wire = tablets.new(port)
    page.context.route("**/tablet/runs/*/photos", lambda route: route.abort())
    _to_photos(page, run_id)
    _take(page, oriented(1))
    waiting(page, 1)
    dark = tablets.tab(page.context)
    wire.cut()
    dark.get_by_role("button", name="File this run note").click()
    waiting(dark, 2)
    mend(dark, wire)

    expect(dark.locator("#tablet-runs li")).to_have_count(2)
    waiting(dark, 1)
    assert kept() == []


def test_what_is_no_picture_is_refused_beside_the_form(
    tablets: Tablets, port: int, run_id: int, kept: Kept
) -> None:
    page, _wire = tablets.new(port)
    _to_photos(page, run_id)
    _take(page, b"Dear diary, this is no picture.")

    expect(page.locator("#notice")).to_contain_text("no picture that can be read")
    expect(page.locator("#outbox")).to_be_hidden()
    assert kept() == []


def test_a_browser_without_scripts_files_the_picture_as_the_camera_made_it(
    chromium: Browser, server: Running, run_id: int, kept: Kept, tmp_path: Path
) -> None:
    file = tmp_path / "IMG_0001.JPG"
    file.write_bytes(oriented(8, place=True))
    context = chromium.new_context(java_script_enabled=False, base_url=server.address)
    context.add_cookies([{"name": COOKIE, "value": TOKENS["tablet"], "url": server.address}])
    page = context.new_page()
    page.goto(f"/tablet/lit/runs/{run_id}/photo")
    page.locator("#photo").set_input_files(file)
    page.get_by_role("button", name="File this photo").click()

    expect(page.locator("h1")).to_have_text("Run note")
    [photo] = kept()
    assert corners(photo.jpeg or b"") == ("red", "green", "blue", "white")
    context.close()
