"""A plan that improves while it is watched, over HTTP with real worker processes."""

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from server.rotations.models import RotationPlan, RotationState
from server.rotations.queries import get_plan, get_rotation
from server.searches.models import PlanSearch, SearchState
from server.searches.queries import find_search
from server.workers import Workers
from tests.casts import Cast
from tests.conftest import Databases, Running, Visitor
from tests.reading import text_of
from tests.rotations.rooms import furnish
from tests.test_many_at_once import process_of

InLab = Callable[[], AbstractContextManager[LabSession]]

INSTANCES = Path(__file__).parents[1] / "core" / "planning" / "instances"
# Its planner never ends before its time: the gap stays open for minutes.
LARGE = (INSTANCES / "large-20-groups-4-stations.json").read_text()
SMALL = (INSTANCES / "small-4-groups-1-station.json").read_text()


@pytest.fixture
def in_a_hurry(server: Running) -> Iterator[None]:
    """Whoever presses Plan is sent to watch the search unless it is over at once."""
    settings = server.app.state.settings
    server.app.state.settings = settings.model_copy(update={"answer_within_s": 0.1})
    yield
    server.app.state.settings = settings


def _taken_in(visitor: Visitor, cast: Cast, text: str = LARGE) -> str:
    """The address of a rotation that asks what a class file says."""
    answer = visitor.post(
        "/class-file",
        data={"section_id": cast.section_id, "day": "2027-02-23", "starts": "09:00", "class_file": text},
    )
    return answer.url.path


def _until(found: Callable[[], bool]) -> None:
    """Wait for what another process does; the limit is no measure, it only ends a test that hangs."""
    for _ in range(600):
        if found():
            return
        time.sleep(0.05)
    pytest.fail("it never came")


def _search(in_lab: InLab, address: str) -> PlanSearch:
    with in_lab() as session:
        search = find_search(session, int(address.rsplit("/", 1)[1]))
    assert search is not None
    return search


def _kept(in_lab: InLab, address: str) -> RotationPlan:
    with in_lab() as session:
        kept = get_plan(session, int(address.rsplit("/", 1)[1]))
    assert kept is not None
    return kept


def test_a_class_that_is_proven_soon_is_answered_with_its_plan(mira: Visitor, cast: Cast) -> None:
    page = mira.submit(f"{_taken_in(mira, cast, SMALL)}/plan", seconds="30")

    assert "proven" in text_of(page)
    assert not page.select("#search")


def test_a_large_class_shows_its_first_plan_and_is_stopped_and_kept(
    mira: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    page = mira.submit(f"{address}/plan", seconds="60")

    assert text_of(page.select_one("h1")) == "Planning 20 groups, 4 stations, 2 lines, 2 plates each"  # type: ignore[arg-type]
    words = text_of(page.select_one("#search"))  # type: ignore[arg-type]
    for told in ("best finish so far", "No plan ends before", "Gap", "Plates placed 40", "Stop and keep"):
        assert told in words
    assert page.select_one("#search")["hx-get"] == f"{address}/search/progress"  # type: ignore[index]
    assert page.select_one("#search-drawing svg") is not None
    first = _kept(in_lab, address)

    page = mira.submit(f"{address}/search/stop")
    _until(lambda: _search(in_lab, address).state == SearchState.STOPPED)
    assert "was stopped, and the best plan found until then is kept" in text_of(
        mira.page(f"{address}/search")
    )
    last = _kept(in_lab, address)
    assert last.plates_planned == 40
    assert last.makespan_s <= first.makespan_s


def test_the_watching_page_is_told_in_parts(
    mira: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    mira.submit(f"{address}/plan", seconds="60")
    part = {"HX-Request": "true", "HX-Request-Type": "partial"}

    progress = BeautifulSoup(mira.get(f"{address}/search/progress", headers=part).text, "html.parser")
    drawing = BeautifulSoup(mira.get(f"{address}/search/drawing", headers=part).text, "html.parser")
    assert [tag.get("id") for tag in progress.find_all(recursive=False)] == ["search"]
    assert [tag.get("id") for tag in drawing.find_all(recursive=False)] == ["search-drawing"]
    assert progress.select_one("[hx-trigger='every 1s']") is not None

    mira.submit(f"{address}/search/stop")
    _until(lambda: _search(in_lab, address).state == SearchState.STOPPED)
    over = BeautifulSoup(mira.get(f"{address}/search/progress", headers=part).text, "html.parser")
    assert over.select_one("[hx-trigger='every 1s']") is None
    assert over.select_one(f"[hx-get='{address}'][hx-target='body']") is not None


def test_a_second_asker_watches_the_search_that_is_going_on(
    mira: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    mira.submit(f"{address}/plan", seconds="60")
    going = _search(in_lab, address).id
    page = mira.submit(f"{address}/plan", seconds="60")

    assert "Stop and keep" in text_of(page)
    assert _search(in_lab, address).id == going
    assert "still searching for a better plan" in text_of(mira.submit(f"{address}/publish", 409))
    mira.submit(f"{address}/search/stop")
    _until(lambda: _search(in_lab, address).state == SearchState.STOPPED)


def test_a_search_whose_rotation_is_changed_ends_and_keeps_nothing_stale(
    mira: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    mira.submit(f"{address}/plan", seconds="60")
    with in_lab() as session:
        rotation = get_rotation(session, int(address.rsplit("/", 1)[1]))
        rotation.class_file = SMALL
        session.add(rotation)
    _until(lambda: _search(in_lab, address).state == SearchState.FAILED)

    assert "was changed during the search" in text_of(mira.page(f"{address}/search"))
    mira.submit(f"{address}/plan", seconds="30")
    _until(lambda: _search(in_lab, address).state == SearchState.DONE)
    assert _kept(in_lab, address).status == "optimal"


def test_a_search_of_a_server_that_is_gone_says_so(
    server: Running, mira: Visitor, cast: Cast, in_lab: InLab, databases: Databases, in_a_hurry: None
) -> None:
    """Another server process begins the search and is killed in the middle; a minute later this one is asked."""
    address = _taken_in(mira, cast)
    with process_of(server.app.state.database.engine.url.render_as_string(hide_password=False)) as (
        other,
        process,
    ):
        other.post(f"{address}/plan", data={"seconds": "60"})
        assert "best finish so far" in mira.page(f"{address}/search").get_text()
        process.kill()
        process.wait(timeout=20)
    kept = _kept(in_lab, address)
    server.clock.instant += timedelta(minutes=1)

    page = text_of(mira.page(f"{address}/search"))

    assert "The server stopped during the search" in page
    assert kept.plates_planned == 40
    again = mira.submit(f"{address}/plan", seconds="60")
    assert "Stop and keep" in text_of(again)
    mira.submit(f"{address}/search/stop")
    _until(lambda: _search(in_lab, address).state == SearchState.STOPPED)
    assert _kept(in_lab, address).makespan_s <= kept.makespan_s


def test_one_process_searches_and_another_watches_and_stops_it(
    server: Running, mira: Visitor, cast: Cast, in_lab: InLab, databases: Databases, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    with process_of(server.app.state.database.engine.url.render_as_string(hide_password=False)) as (
        other,
        _process,
    ):
        mira.submit(f"{address}/plan", seconds="60")
        assert "Stop and keep" in other.get(f"{address}/search").text
        other.post(f"{address}/search/stop")
        _until(lambda: _search(in_lab, address).state == SearchState.STOPPED)

    assert _kept(in_lab, address).plates_planned == 40


def test_a_time_that_cannot_be_read_asks_again(mira: Visitor, cast: Cast) -> None:
    address = _taken_in(mira, cast, SMALL)

    assert "How long to search: Please write 600 or less." in text_of(
        mira.submit(f"{address}/plan", 409, seconds="601")
    )


def test_a_technician_watches_and_does_not_stop_it(
    mira: Visitor, tomas: Visitor, noor: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    mira.submit(f"{address}/plan", seconds="60")

    assert "Stop and keep" not in text_of(tomas.page(f"{address}/search"))
    tomas.submit(f"{address}/search/stop", 403)
    noor.page(f"{address}/search", 404)
    noor.submit(f"{address}/search/stop", 404)
    assert _search(in_lab, address).state in {SearchState.WAITING, SearchState.WORKING}
    mira.submit(f"{address}/search/stop")
    _until(lambda: _search(in_lab, address).state == SearchState.STOPPED)


def test_a_rotation_that_was_never_planned_has_no_search(mira: Visitor, cast: Cast) -> None:
    address = _taken_in(mira, cast, SMALL)

    page = text_of(mira.page(f"{address}/search"))

    assert "no plan" in page
    assert "To the rotation" in page


def test_publishing_waits_until_the_search_has_ended(
    mira: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    """The plan on the screen may be another one a second later."""
    with in_lab() as session:
        furnish(session)
    asked = {"section_id": cast.section_id, "name": "Eighteen plates", "day": "2027-02-16", "starts": "10:00", "ends": "16:00", "plates_per_group": 6}  # fmt: skip
    address = mira.post("/rotations", data=asked).url.path
    mira.submit(f"{address}/plan", seconds="60")

    assert "still searching for a better plan" in text_of(mira.submit(f"{address}/publish", 409))

    mira.submit(f"{address}/search/stop")
    _until(lambda: _search(in_lab, address).ended_at is not None)
    mira.submit(f"{address}/publish")
    with in_lab() as session:
        assert get_rotation(session, int(address.rsplit("/", 1)[1])).state == RotationState.PUBLISHED


def test_searching_again_never_falls_behind_what_is_kept(
    mira: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    mira.submit(f"{address}/plan", seconds="4")
    _until(lambda: _search(in_lab, address).ended_at is not None)
    before = _kept(in_lab, address)

    mira.submit(f"{address}/plan", seconds="60")
    after = _kept(in_lab, address)
    mira.submit(f"{address}/search/stop")
    _until(lambda: _search(in_lab, address).ended_at is not None)

    assert (after.makespan_s, -after.bound_s) <= (before.makespan_s, -before.bound_s)


def test_a_full_line_refuses_and_begins_nothing(
    server: Running, mira: Visitor, cast: Cast, in_lab: InLab, in_a_hurry: None
) -> None:
    usual, server.app.state.workers = server.app.state.workers, Workers(1, 0)
    try:
        mira.submit(f"{_taken_in(mira, cast)}/plan", seconds="60")
        other = _taken_in(mira, cast)

        assert "The planner is busy" in text_of(mira.submit(f"{other}/plan", 409))
        with in_lab() as session:
            assert find_search(session, int(other.rsplit("/", 1)[1])) is None
    finally:
        server.app.state.workers.close()
        server.app.state.workers = usual


def test_a_rotation_that_was_searched_can_be_deleted_even_in_the_midst_of_it(
    mira: Visitor, cast: Cast, in_a_hurry: None
) -> None:
    address = _taken_in(mira, cast)
    mira.submit(f"{address}/plan", seconds="60")

    assert mira.post(f"{address}/delete").status_code == 200
    mira.page(address, 404)
