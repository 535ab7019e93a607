"""Today and the page of parts over HTTP."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta

import httpx
import pytest

from server.data.session import Database, LabSession
from tests.casts import MORNING, Cast
from tests.conftest import Databases, Running, Visitor
from tests.prep.days import furnish, publish_rounds, stock
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]
NINE = MORNING + timedelta(hours=1)


def _place(answer: httpx.Response) -> tuple[int, str]:
    return answer.status_code, answer.headers.get("location", "")


@pytest.fixture
def rotation(in_lab: InLab, cast: Cast) -> int:
    """Published, at 09:00 on the lab's clock."""
    with in_lab() as session:
        furnish(session)
        stock(session)
        return publish_rounds(session, cast.section_id, name="first", starts_at=NINE)


@pytest.fixture
def no_lab(server: Running, databases: Databases) -> Iterator[None]:
    """The server before any lab was set up."""
    url = databases.empty()
    kept, server.app.state.database = server.app.state.database, Database(url, connections=2)
    yield
    server.finish()
    server.app.state.database.engine.dispose()
    server.app.state.database = kept
    databases.drop(url)


def test_a_stranger_is_sent_to_sign_in(stranger: Visitor) -> None:
    assert _place(stranger.get("/", follow_redirects=False)) == (303, "/sign-in")


@pytest.mark.usefixtures("no_lab")
def test_before_there_is_a_lab_everybody_is_sent_to_set_one_up(stranger: Visitor) -> None:
    assert _place(stranger.get("/", follow_redirects=False)) == (303, "/set-up")


def test_a_groups_tablet_is_sent_to_its_run_notes(tablet: Visitor) -> None:
    assert _place(tablet.get("/", follow_redirects=False)) == (303, "/tablet")


@pytest.mark.usefixtures("server")
def test_an_empty_lab_reads_what_to_do_first(mira: Visitor, tomas: Visitor) -> None:
    text = text_of(mira.page("/"))

    assert "Add a section, enter its students and form groups done" in text
    assert "Describe the room: zones, a tray line and stations to do" in text
    assert "No rotation is published" in text
    assert text_of(tomas.page("/"))


def test_today_leads_to_the_board_and_the_prep_sheet(mira: Visitor, rotation: int) -> None:
    page = mira.page("/")

    assert page.select_one(".figure-number").text == "1 h"  # type: ignore[union-attr]
    assert mira.page(str(page.select_one(".actions a[href^='/prep/']")["href"]))  # type: ignore[index]
    assert mira.page(str(page.select_one(f"a[href='/board/{rotation}']")["href"]))  # type: ignore[index]
    assert "First steps" not in text_of(page)


@pytest.mark.usefixtures("server")
def test_the_page_of_parts_shows_every_part_to_staff(tomas: Visitor, tablet: Visitor) -> None:
    page = tomas.page("/parts")

    for part in (
        ".fault",
        "button.large",
        ".note.stop",
        ".state.watch",
        "table",
        ".figures",
        ".cautions",
        "details",
    ):
        assert page.select_one(part), part
    assert "twelve" in str(page.select_one("#plates"))
    tablet.page("/parts", 403)
