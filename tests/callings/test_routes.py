"""The board, calling and what devices are told, over HTTP."""

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any
from uuid import uuid4

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from server.people.actions import add_section
from server.rotations.models import NamedVisit, RotationState
from server.rotations.queries import get_plan, get_rotation
from tests.callings.calls import at, called, published
from tests.casts import Cast
from tests.conftest import Running, Visitor
from tests.prep.days import publish_rounds
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def rotation(in_lab: InLab, cast: Cast) -> int:
    """Published, at 09:00 on the lab's clock."""
    with in_lab() as session:
        return published(session, cast.section_id)


def _board(visitor: Visitor, server: Running, rotation: int, minutes: float) -> str:
    server.clock.instant = at(minutes)
    return text_of(visitor.page(f"/board/{rotation}"))


def _told(visitor: Visitor, rotation: int) -> dict[str, Any]:
    told: dict[str, Any] = visitor.get(f"/board/{rotation}/feed").json()
    return told


def _say(
    visitor: Visitor, rotation: int, kind: str, answers: str = "", status: int = 200, **other: object
) -> BeautifulSoup:
    fields = {"tablet_id": str(uuid4()), "kind": kind, "answers": answers, **other}
    return visitor.submit(f"/board/{rotation}/call", status, **fields)


def test_the_board_tells_the_state_what_is_next_and_who_moves(
    tomas: Visitor, server: Running, rotation: int
) -> None:
    """By hand from rounds of 6 min after a talk of 8: load from 08:00, still from 09:30 to 13:15, developed from 14:00."""
    talk = _board(tomas, server, rotation, 7)
    loading = _board(tomas, server, rotation, 8)
    settling = _board(tomas, server, rotation, 10.25)

    assert "09:07 Lights allowed 1:00 then Lights off, load, at 09:08" in talk
    assert "Moves next G1 load S1 (loader a) G2 load S2 (loader a) G3 load S3 (loader a)" in talk
    assert "Dark 1:30 then Hold still, settle, at 09:09:30" in loading
    assert "Hold still In the dark. 2:15 then Shutter open, at 09:12:30" in settling
    assert "G1 shutter open, 45 s S1 (shutter b)" in settling
    assert "Now G1 settle S1" in settling


def test_the_board_stays_dark_for_a_repeat(
    tomas: Visitor, server: Running, rotation: int, in_lab: InLab
) -> None:
    with in_lab() as session:
        plan = get_plan(session, rotation)
        assert plan is not None
        problem = json.loads(plan.class_file)
        problem["groups"].append({"name": "Repeat 1", "passes": 1, "reserve": True})
        plan.class_file = json.dumps(problem)
        session.add(
            NamedVisit(
                plan_id=plan.id, group_name="Repeat 1", pass_no=1, step="load", place="S1", light="dark", still="moves",
                starts_at=at(40), ends_at=at(42),
            )
        )  # fmt: skip

    assert "then Lights off, load, at 09:40" in _board(tomas, server, rotation, 38)
    assert "Dark 1:00 then Lights allowed, at 09:42" in _board(tomas, server, rotation, 41)
    assert "Now Repeat 1 load S1" in _board(tomas, server, rotation, 41)


def test_after_the_last_step_the_board_says_it_is_over(
    tomas: Visitor, server: Running, rotation: int
) -> None:
    text = _board(tomas, server, rotation, 45)

    assert "Lights allowed The class is over." in text


def test_the_board_is_black_from_the_first_frame_and_may_be_kept_by_the_browser(
    mira: Visitor, rotation: int
) -> None:
    answer = mira.get(f"/board/{rotation}")
    page = BeautifulSoup(answer.text, "html.parser")

    assert page.select("link[rel=stylesheet]") == []
    assert "background: #000" in page.head.style.text  # type: ignore[union-attr]
    assert page.html["data-light"] == "green"  # type: ignore[index]
    assert answer.headers["cache-control"] == "private, max-age=14400"
    scripts = [str(script["src"]) for script in page.select("script")]
    kept = mira.get(scripts[0])
    assert "immutable" in kept.headers["cache-control"]
    assert "immutable" not in mira.get(scripts[0].partition("?")[0]).headers.get("cache-control", "")


def test_on_the_board_a_problem_is_told_in_the_dark_too(mira: Visitor, rotation: int) -> None:
    mira.page(f"/board/{rotation}")
    page = mira.page("/board/99999", 404)

    assert page.html["data-light"] == "green"  # type: ignore[index]
    assert "no such rotation" in text_of(page)


def test_the_board_shows_groups_and_no_names(mira: Visitor, rotation: int) -> None:
    assert "Ada Quist" not in text_of(mira.page(f"/board/{rotation}"))
    assert "Ada Quist" not in mira.get(f"/board/{rotation}/feed").text


def test_a_rotation_that_is_not_published_has_no_board(mira: Visitor, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        draft = publish_rounds(
            session, cast.section_id, name="draft", starts_at=at(0), state=RotationState.PLANNED
        )

    for address in (f"/board/{draft}", f"/board/{draft}/call", f"/board/{draft}/feed"):
        assert "is not published, so it has no board" in text_of(mira.page(address, 409))


def test_another_labs_board_is_not_here(noor: Visitor, rotation: int) -> None:
    for address in ("", "/call", "/feed"):
        noor.page(f"/board/{rotation}{address}", 404)
    noor.page(f"/rotations/{rotation}/called", 404)


def test_the_wall_and_calling_are_for_staff(stranger: Visitor, tablet: Visitor, rotation: int) -> None:
    for address in (f"/board/{rotation}", f"/board/{rotation}/call"):
        tablet.page(address, 403)
        assert stranger.page(address, 401).select_one("h1").text == "Please sign in"  # type: ignore[union-attr]


def test_a_class_is_called_without_a_script_too(tomas: Visitor, server: Running, rotation: int) -> None:
    server.clock.instant = at(8)
    page = tomas.page(f"/board/{rotation}/call")
    form = page.select_one("#advance").find_parent("form")  # type: ignore[union-attr]
    fields = {str(field["name"]): str(field["value"]) for field in form.select("input")}  # type: ignore[union-attr]
    after = tomas.submit(f"/board/{rotation}/call", 200, **fields)

    assert after.select_one("#advance-words").text == "Hold still, settle"  # type: ignore[union-attr]
    assert after.select_one("#undo-words").text == "Lights off, load"  # type: ignore[union-attr]
    assert after.select_one("#state").text == "Dark"  # type: ignore[union-attr]


def test_a_device_that_calls_is_told_at_once_and_the_same_press_counts_once(
    mira: Visitor, server: Running, rotation: int
) -> None:
    server.clock.instant = at(8.5)
    key = _told(mira, rotation)["cues"][0]["key"]
    press = {"tablet_id": str(uuid4()), "kind": "called", "answers": key, "ago_ms": "30000"}
    asked = {"Accept": "application/json"}
    first = mira.post(f"/board/{rotation}/call", data=press, headers=asked).json()
    again = mira.post(f"/board/{rotation}/call", data=press, headers=asked).json()

    assert first["standing"] == again["standing"]
    assert first["standing"]["base"] == 480_000
    assert first["ids"] == [press["tablet_id"]]
    assert first["undo"]["words"] == "Lights off, load"


def test_a_stale_press_is_refused_in_words(
    mira: Visitor, tomas: Visitor, server: Running, rotation: int
) -> None:
    server.clock.instant = at(8)
    key = _told(mira, rotation)["cues"][0]["key"]
    _say(mira, rotation, "called", key)

    page = _say(tomas, rotation, "called", key, status=409)

    assert "was called already, at 09:08 by Mira. Nothing was called twice." in text_of(page)


def test_what_is_sent_to_calling_must_be_read(mira: Visitor, rotation: int) -> None:
    page = mira.submit(f"/board/{rotation}/call", 409, kind="dance", tablet_id="x")

    assert "can't be read, so nothing was called" in text_of(page)


def test_lights_is_on_every_board_until_all_is_clear(mira: Visitor, server: Running, rotation: int) -> None:
    server.clock.instant = at(10)
    _say(mira, rotation, "stopped")
    assert "LIGHTS Lights on, shutters closed, stay where you are." in text_of(
        mira.page(f"/board/{rotation}")
    )
    _say(mira, rotation, "clear")
    assert "All clear Lights stay on" in text_of(mira.page(f"/board/{rotation}"))
    _say(mira, rotation, "taken up")
    assert "Hold still" in text_of(mira.page(f"/board/{rotation}"))


def test_a_class_in_danger_says_by_how_much_and_leads_to_the_re_plan(
    mira: Visitor, server: Running, rotation: int
) -> None:
    """Four rounds end at 09:36 with the viewing; the time for plates ends at 09:45, so that twelve minutes are three too many."""
    server.clock.instant = at(20)
    key = _told(mira, rotation)["cues"][0]["key"]
    _say(mira, rotation, "called", key)
    told = _told(mira, rotation)

    assert told["dangers"] == [
        "The bell is in danger: G1 would be done 3 min after 09:45, when plates end and the clean-up begins."
    ]
    assert told["replan"] == f"/rotations/{rotation}/change?late_minutes=12"
    mira.submit("/out-of-the-dark-room", next="/")
    assert mira.page(told["replan"]).select_one("#late_minutes")["value"] == "12"  # type: ignore[index]


@pytest.mark.parametrize("view", ["board", "wrist"])
def test_a_groups_tablet_shows_its_sections_class(
    tablet: Visitor, other_tablet: Visitor, server: Running, rotation: int, cast: Cast, view: str
) -> None:
    server.clock.instant = at(7)
    page = tablet.page(f"/tablet/{view}")

    assert page.select_one("#board-now")["data-own"] == "G1"  # type: ignore[index]
    assert page.select_one("#board-now")["data-feed"] == f"/board/{rotation}/feed"  # type: ignore[index]
    assert "then Lights off, load" in text_of(page)
    other_tablet.page(f"/tablet/{view}/{rotation}/{cast.group_ids[0]}", 404)
    assert tablet.get(f"/board/{rotation}/feed").status_code == 200


def test_a_tablet_without_a_class_near_says_so(tablet: Visitor, server: Running, rotation: int) -> None:
    server.clock.instant = at(60 * 24 * 3)

    assert "No class of your section is near" in text_of(tablet.page("/tablet/board"))
    assert rotation


def test_a_tablet_hears_nothing_of_another_section(tablet: Visitor, in_lab: InLab, rotation: int) -> None:
    with in_lab() as session:
        other = add_section(session, name="Thursday")
        session.flush()
        get_rotation(session, rotation).section_id = other.id

    assert tablet.get(f"/board/{rotation}/feed").status_code == 404
    assert "No class of your section is near" in text_of(tablet.page("/tablet/board"))


def test_what_was_called_stands_beside_what_was_planned(
    mira: Visitor, server: Running, rotation: int, in_lab: InLab
) -> None:
    with in_lab() as session:
        called(session, rotation, 8.5)
        called(session, rotation, 9.5, heard=14)
    server.clock.instant = at(20)
    text = text_of(mira.page(f"/rotations/{rotation}/called"))

    assert (
        "09:08 Lights off, load G1 load, S1 (loader a); G2 load, S2 (loader a); G3 load, S3 (loader a) 09:08:30 30 s late Mira"
        in text
    )
    assert (
        "09:09:30 Hold still, settle G1 settle, S1 (shutter b); G2 settle, S2 (shutter b); G3 settle, S3 (shutter b) 09:09:30 on time Mira"
        in text
    )
    assert "counted, 45 s after “Shutter open”" in text
    assert "09:09:30 Hold still, settle Mira heard of at 09:14" in text


def test_put_away_a_calling_stays_kept_and_the_class_begins_anew(
    mira: Visitor, server: Running, rotation: int, in_lab: InLab
) -> None:
    with in_lab() as session:
        called(session, rotation, 8)
    server.clock.instant = at(10)
    page = mira.submit(f"/board/{rotation}/anew")

    assert "Nothing was called yet" in text_of(page)
    assert "nothing to begin anew" in text_of(mira.submit(f"/board/{rotation}/anew", 409))


@contextmanager
def _listening(visitor: Visitor, rotation: int) -> Iterator[Callable[[], tuple[str, dict[str, Any]]]]:
    """A device on the live feed: what is returned waits for the next event that is no beat."""
    with visitor.stream("GET", f"/board/{rotation}/feed", headers={"Accept": "text/event-stream"}) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        lines = answer.iter_lines()

        def following() -> tuple[str, dict[str, Any]]:
            name = ""
            for line in lines:
                if line.startswith("event: "):
                    name = line.removeprefix("event: ")
                if line.startswith("data: ") and name != "beat":
                    return name, json.loads(line.removeprefix("data: "))
            pytest.fail("the feed ended")

        yield following


def test_whoever_listens_hears_what_is_to_do_and_then_each_thing_that_is_said(
    mira: Visitor, tablet: Visitor, server: Running, rotation: int
) -> None:
    server.clock.instant = at(8)
    with _listening(tablet, rotation) as following:
        name, plan = following()
        assert (name, plan["cues"][0]["at"]) == ("plan", 480)
        name, now = following()
        assert (name, now["standing"]["mode"]) == ("now", "by the plan")

        _say(mira, rotation, "called", plan["cues"][0]["key"])
        name, now = following()

    assert (name, now["standing"]["mode"], now["said"]["words"]) == ("now", "running", "Lights off, load")


def test_sixty_devices_hold_neither_a_thread_nor_a_session_while_they_wait(
    mira: Visitor, server: Running, rotation: int
) -> None:
    """Pages are answered meanwhile, and once nobody listens nobody looks."""
    server.clock.instant = at(8)
    heard: list[str] = []
    ready, over = threading.Semaphore(0), threading.Event()

    def device() -> None:
        with (
            Visitor(base_url=server.address, cookies=mira.cookies, timeout=60, trust_env=False) as visitor,
            _listening(visitor, rotation) as following,
        ):
            following()
            following()
            ready.release()
            heard.append(following()[1]["said"]["words"])
            over.wait(30)

    devices = [threading.Thread(target=device) for _ in range(60)]
    for one in devices:
        one.start()
    for _ in devices:
        assert ready.acquire(timeout=60)
    assert server.app.state.database.engine.pool.checkedout() <= 1
    assert mira.get("/").status_code == 200
    _say(mira, rotation, "called", _told(mira, rotation)["cues"][0]["key"])
    for _ in range(600):
        if len(heard) == len(devices):
            break
        threading.Event().wait(0.05)
    assert heard == ["Lights off, load"] * 60
    over.set()
    for one in devices:
        one.join(timeout=30)
    server.finish()
    assert server.app.state.listening.watched == {}
