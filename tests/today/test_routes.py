"""Today, the board and the page of parts over HTTP."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta

import httpx
import pytest

from server.data.session import Database, LabSession
from server.rotations.models import NamedVisit, RotationState
from server.rotations.queries import get_plan
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


def _board(visitor: Visitor, server: Running, rotation: int, minutes: float) -> str:
    server.clock.instant = NINE + timedelta(minutes=minutes)
    return text_of(visitor.page(f"/board/{rotation}/now"))


def test_the_board_tells_the_state_its_next_change_and_who_moves(
    tomas: Visitor, server: Running, rotation: int
) -> None:
    """By hand from rounds of 6 min after a talk of 8: load from 08:00, still from 09:30 to 13:15, developed from 14:00."""
    talk = _board(tomas, server, rotation, 7)
    loading = _board(tomas, server, rotation, 8)
    settling = _board(tomas, server, rotation, 10.25)

    assert "09:07 Lights allowed 1:00 then Dark, at 09:08" in talk
    assert "Moves next: in 1:00, at 09:08 G1 load S1 G2 load S2 G3 load S3" in talk
    assert "Dark 1:30 then Hold still, at 09:09" in loading
    assert "Hold still in the dark 3:00 then Lights allowed, at 09:13" in settling
    assert "Moves next: in 3:45, at 09:14" in settling
    assert "Now G1 settle S1" in settling


def test_the_board_stays_dark_for_a_repeat(
    tomas: Visitor, server: Running, rotation: int, in_lab: InLab
) -> None:
    with in_lab() as session:
        plan = get_plan(session, rotation)
        assert plan is not None
        session.add(
            NamedVisit(
                plan_id=plan.id, group_name="Repeat 1", pass_no=1, step="load", place="S1", light="dark", still="moves",
                starts_at=NINE + timedelta(minutes=40), ends_at=NINE + timedelta(minutes=42),
            )
        )  # fmt: skip

    assert "then Dark, at 09:40" in _board(tomas, server, rotation, 38)
    assert "Dark 1:00 then Lights allowed, at 09:42" in _board(tomas, server, rotation, 41)
    assert "Now Repeat 1 load S1" in _board(tomas, server, rotation, 41)


def test_after_the_last_step_the_board_says_it_is_over(
    tomas: Visitor, server: Running, rotation: int
) -> None:
    text = _board(tomas, server, rotation, 37)

    assert "Lights allowed The rotation is over." in text
    assert "Moves next" not in text


def test_the_board_is_black_from_the_first_frame_and_asks_every_second(mira: Visitor, rotation: int) -> None:
    page = mira.page(f"/board/{rotation}")
    now = page.select_one("#board-now")
    assert now is not None

    assert [str(sheet["href"]) for sheet in page.select("link[rel=stylesheet]")] == ["/static/css/board.css"]
    assert page.body["class"] == ["green"]  # type: ignore[index]
    assert (now["hx-get"], now["hx-trigger"], now["hx-swap"]) == (
        f"/board/{rotation}/now",
        "every 1s",
        "outerHTML",
    )
    assert mira.page(f"/board/{rotation}/now").select_one("#board-now")["class"] == ["green"]  # type: ignore[index]


def test_the_board_shows_groups_and_no_names(mira: Visitor, rotation: int) -> None:
    assert "Ada Quist" not in text_of(mira.page(f"/board/{rotation}"))


def test_a_rotation_that_is_not_published_has_no_board(mira: Visitor, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        draft = publish_rounds(
            session, cast.section_id, name="draft", starts_at=NINE, state=RotationState.PLANNED
        )

    assert "is not published, so it has no board" in text_of(mira.page(f"/board/{draft}", 409))


def test_another_labs_board_is_not_here(noor: Visitor, rotation: int) -> None:
    noor.page(f"/board/{rotation}", 404)
    noor.page(f"/board/{rotation}/now", 404)


def test_the_board_is_for_staff(stranger: Visitor, tablet: Visitor, rotation: int) -> None:
    for address in (f"/board/{rotation}", f"/board/{rotation}/now"):
        tablet.page(address, 403)
        assert stranger.page(address).select_one("h1").text == "Sign in"  # type: ignore[union-attr]


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
