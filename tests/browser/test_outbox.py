"""What a tablet files arrives once, whatever happens between it and the server: in real browsers, on a wire that is cut, with a
server that is killed.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from server.data.session import Database, LabSession
from server.plates.queries import get_plate_box
from server.runs.models import Run
from server.runs.queries import list_runs
from server.web.show import ROOT
from tests.browser.tablets import Tablets, measured, mend, nothing_waits, until, waiting, when_sent
from tests.casts import MORNING, Cast
from tests.conftest import Databases, Running
from tests.prep.days import publish_rounds
from tests.runs.room import Room, fill_room

InLab = Callable[[], AbstractContextManager[LabSession]]

pytestmark = pytest.mark.browser

PLATES = 40
HOURS_MS = 3_600_000

# The clocks of this device, which a test moves: the one on its wall, which somebody sets, and the one that runs, which stops
# while the device sleeps. They outlive the page, as they do on a device.
CLOCKS = """
  const [rightDate, rightRunning] = [Date.now, performance.now.bind(performance)];
  const moved = (clock) => Number(localStorage.getItem(`test.${clock}`) ?? 0);
  Date.now = () => rightDate() + moved("wall");
  performance.now = () => rightRunning() + moved("running");
"""


@pytest.fixture
def room(in_lab: InLab) -> Room:
    with in_lab() as session:
        return fill_room(session, plates=PLATES, plates_per_charge=PLATES)


@pytest.fixture
def tablets(chromium: Browser, server: Running) -> Iterator[Tablets]:
    """They are put away before the server is: a board listens for as long as it is open."""
    assert server
    made = Tablets(chromium)
    yield made
    made.close()


@pytest.fixture
def port(server: Running, room: Room) -> int:
    assert room
    return urlsplit(server.address).port or 0


def file_note(page: Page, comment: str, station: str = "S1") -> None:
    page.get_by_text(station, exact=True).click()
    page.locator("#comment").fill(comment)
    page.get_by_role("button", name="File this run note").click()
    expect(page.locator("#comment")).to_have_value("")


def kept_here(page: Page) -> int:
    number: int = page.evaluate("outbox.every().then((notes) => notes.length)")
    return number


@pytest.fixture
def filed(in_lab: InLab, cast: Cast) -> Callable[[], list[Run]]:
    """The section's runs, oldest first."""

    def runs() -> list[Run]:
        with in_lab() as session:
            return list(list_runs(session, cast.section_id))[::-1]

    return runs


Filed = Callable[[], list[Run]]


def comments(runs: list[Run]) -> list[str]:
    return [run.comment for run in runs]


class TestTheWire:
    def test_a_tab_closed_while_notes_wait_and_opened_again_sends_them(
        self, tablets: Tablets, port: int, filed: Filed
    ) -> None:
        page, wire = tablets.new(port)
        assert page.evaluate("[isSecureContext, 'locks' in navigator, 'serviceWorker' in navigator]") == [
            False,
            False,
            False,
        ]
        wire.cut()
        file_note(page, "first")
        file_note(page, "second")
        waiting(page, 2)
        page.close()
        wire.mend()
        page = tablets.tab(page.context)

        nothing_waits(page)
        assert comments(filed()) == ["first", "second"]

    def test_a_note_whose_answer_is_lost_is_sent_again_and_is_one_run(
        self, tablets: Tablets, port: int, filed: Filed, in_lab: InLab, room: Room
    ) -> None:
        page, wire = tablets.new(port)
        when_sent(page, wire.lose_answers)
        file_note_unheard(page, "heard of once")
        until(page, lambda: len(filed()) == 1)
        wire.cut()
        waiting(page, 1)
        mend(page, wire)

        nothing_waits(page)
        assert comments(filed()) == ["heard of once"]
        with in_lab() as session:
            assert get_plate_box(session, room.plate_box_id).plates_left == PLATES - 1

    def test_what_waits_is_sent_from_the_board_too(
        self, tablets: Tablets, port: int, filed: Filed, cast: Cast, in_lab: InLab
    ) -> None:
        with in_lab() as session:
            publish_rounds(session, cast.section_id, name="first", starts_at=MORNING, rounds=2)
        page, wire = tablets.new(port)
        wire.cut()
        file_note(page, "on the way to the board")
        page.evaluate("outbox.sendAll = async () => {}")  # the run notes' page itself sends nothing any more
        wire.mend()
        page.get_by_role("link", name="Board").click()
        expect(page.locator("#board-now")).to_be_visible()

        until(page, lambda: comments(filed()) == ["on the way to the board"])

    def test_a_plate_whose_note_still_waits_is_rated_and_its_verdict_follows_the_note(
        self, tablets: Tablets, port: int, filed: Filed
    ) -> None:
        page, wire = tablets.new(port)
        wire.cut()
        file_note(page, "dry before it arrived")
        page.get_by_role("button", name="Rate its plate").click()
        page.get_by_role("button", name="Give this verdict").click()
        expect(page.locator("#notice")).to_contain_text("choose one of the five")
        page.get_by_text("bright, deep and clean").click()
        page.locator("#early-comment").fill("seen at the window")
        page.get_by_role("button", name="Give this verdict").click()
        expect(page.locator("#outbox")).to_contain_text("waiting for its run note to go first")
        waiting(page, 2)
        mend(page, wire)

        nothing_waits(page)
        [run] = filed()
        assert (run.verdict, run.verdict_comment) == (4, "seen at the window")

    def test_a_verdict_goes_with_the_refused_note_that_it_builds_on(
        self, tablets: Tablets, port: int, filed: Filed, in_lab: InLab, room: Room
    ) -> None:
        page, wire = tablets.new(port)
        wire.cut()
        file_note(page, "from an empty box")
        page.get_by_role("button", name="Rate its plate").click()
        page.get_by_text("no image").click()
        page.get_by_role("button", name="Give this verdict").click()
        waiting(page, 2)
        with in_lab() as session:
            get_plate_box(session, room.plate_box_id).plates_left = 0
        mend(page, wire)
        expect(page.locator("#outbox")).to_contain_text("Choose another box")
        page.get_by_role("button", name="Throw it away").click()
        page.get_by_role("button", name="Press again to throw it away").click()

        nothing_waits(page)
        assert kept_here(page) == 0
        assert filed() == []

    def test_a_note_that_the_page_is_filing_is_not_sent_beside_it(self, tablets: Tablets, port: int) -> None:
        page, _wire = tablets.new(port)
        sent = page.evaluate(
            """async () => {
              const note = { id: outbox.newId(), group: "0", what: "note", action: "/tablet/runs", fields: [["comment", "one"]], files: [],
                             written: outbox.writing() };
              const sent = [];
              const sendAs = (what) => outbox.sendAll(({ id }) => id === note.id, () => sent.push(what));
              await outbox.add(note);
              await sendAs("while it is filed");
              await outbox.change(note.id, { claim: null });
              while (!sent.length) await sendAs("afterwards");
              await outbox.release(note.id);
              return sent;
            }"""
        )

        assert sent == ["afterwards"]

    def test_a_verdict_that_is_half_given_stays_while_another_note_is_filed(
        self, tablets: Tablets, port: int, filed: Filed
    ) -> None:
        page, wire = tablets.new(port)
        wire.cut()
        file_note(page, "first")
        page.get_by_role("button", name="Rate its plate").click()
        page.locator("#early-comment").fill("seen at the window")
        mend(page, wire)
        nothing_waits(page)
        file_note_unheard(page, "second")
        expect(page.locator("#notice")).to_have_text("Filed: run note.")
        expect(page.locator("#tablet-runs li")).to_have_count(2)
        expect(page.locator("#comment")).to_have_value("")
        assert page.locator("#early-comment").input_value() == "seen at the window"
        page.get_by_text("bright, deep and clean").click()
        page.get_by_role("button", name="Give this verdict").click()
        expect(page.locator("#early-comment")).to_have_count(0)

        assert [(run.comment, run.verdict_comment) for run in filed()] == [
            ("first", "seen at the window"),
            ("second", ""),
        ]

    def test_two_tabs_of_one_tablet_send_each_note_once(
        self, tablets: Tablets, port: int, filed: Filed
    ) -> None:
        first, wire = tablets.new(port)
        second = tablets.tab(first.context)
        sent: list[str] = []
        first.context.on(
            "request", lambda asked: sent.append(asked.post_data or "") if asked.method == "POST" else None
        )
        wire.cut()
        for number in range(2):
            file_note(first, f"one {number}")
            file_note(second, f"two {number}")
        sent.clear()
        wire.mend()

        nothing_waits(first)
        nothing_waits(second)
        assert sorted(comments(filed())) == ["one 0", "one 1", "two 0", "two 1"]
        assert len(sent) == 4

    def test_a_note_that_a_dead_page_was_sending_is_sent_by_another(
        self, tablets: Tablets, port: int, filed: Filed
    ) -> None:
        page, wire = tablets.new(port)
        wire.cut()
        file_note(page, "left behind")
        id_ = page.evaluate("outbox.every().then((notes) => notes[0].id)")
        claim = "([id, at]) => outbox.change(id, { claim: { page: 'a dead one', at: Date.now() + at, ms: 25000 } })"
        page.evaluate(claim, [id_, 0])
        assert page.evaluate("(id) => outbox.claim(id)", id_) is None
        for age_ms in (-25_001, 3 * HOURS_MS):  # long ago, and before the clock was set back
            page.evaluate(claim, [id_, age_ms])
            assert page.evaluate("(id) => outbox.claim(id)", id_)["id"] == id_
        wire.mend()

        nothing_waits(page)
        assert comments(filed()) == ["left behind"]

    def test_two_tablets_of_one_group_file_at_once_while_the_network_comes_and_goes(
        self, tablets: Tablets, port: int, filed: Filed, in_lab: InLab, room: Room
    ) -> None:
        devices = [tablets.new(port), tablets.new(port)]
        for number in range(4):
            for which, (page, wire) in enumerate(devices):
                if (number + which) % 2:
                    wire.cut()
                else:
                    wire.mend()
                file_note(page, f"{which} {number}", f"S{which + 1}")
        for page, wire in devices:
            mend(page, wire)
            nothing_waits(page)

        runs = filed()
        assert sorted(comments(runs)) == sorted(
            f"{which} {number}" for which in (0, 1) for number in range(4)
        )
        assert [run.number for run in runs] == list(range(1, 9))
        assert len({run.tablet_id for run in runs}) == 8
        with in_lab() as session:
            assert get_plate_box(session, room.plate_box_id).plates_left == PLATES - 8


def file_note_unheard(page: Page, comment: str) -> None:
    page.get_by_text("S1", exact=True).click()
    page.locator("#comment").fill(comment)
    page.get_by_role("button", name="File this run note").click()


class OwnServer:
    """A server process of the test's own, which dies as in a power cut and comes back at the same address."""

    def __init__(self, url: str) -> None:
        self.url, self.port = url, 0
        self.start()

    def start(self) -> None:
        environment = {**os.environ, "STILLROOM_DATABASE_URL": self.url, "PYTHONUNBUFFERED": "1"}
        command = [sys.executable, "-m", "tests.one_process", str(self.port)]
        self.process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.port = urlsplit(self.process.stdout.readline().strip()).port or 0

    def kill(self) -> None:
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait(timeout=20)
        assert self.process.stdout is not None
        self.process.stdout.close()


@pytest.fixture
def own_server(databases: Databases, cast: Cast) -> Iterator[tuple[OwnServer, Filed]]:
    url = databases.filled()
    database = Database(url, connections=2)
    with database.writing(cast.lab_id) as session:
        fill_room(session, plates=PLATES, plates_per_charge=PLATES)
    served = OwnServer(url)

    def runs() -> list[Run]:
        with database.reading(cast.lab_id) as session:
            return list(list_runs(session, cast.section_id))[::-1]

    yield served, runs
    served.kill()
    database.engine.dispose()
    databases.put_back(url)


class TestTheServer:
    def test_a_server_killed_in_the_middle_of_an_answer_and_started_again_has_each_note_once(
        self, tablets: Tablets, own_server: tuple[OwnServer, Filed]
    ) -> None:
        served, runs = own_server
        page, wire = tablets.new(served.port)
        file_note(page, "before")
        expect(page.locator("#tablet-runs li")).to_have_count(1)
        when_sent(page, wire.lose_answers)
        file_note_unheard(page, "on its way")
        until(page, lambda: len(runs()) == 2)  # kept there, and the tablet does not know
        served.kill()
        wire.cut()
        file_note(page, "while it is down")
        waiting(page, 2)

        served.start()
        wire.mend()
        nothing_waits(page)
        assert comments(runs()) == ["before", "on its way", "while it is down"]

    def test_a_server_that_hangs_and_is_killed_before_it_kept_a_note_has_it_afterwards(
        self, tablets: Tablets, own_server: tuple[OwnServer, Filed]
    ) -> None:
        served, runs = own_server
        page, _wire = tablets.new(served.port)
        hangs: list[int] = []

        def hang() -> None:
            os.kill(served.process.pid, signal.SIGSTOP)
            hangs.append(served.process.pid)

        when_sent(page, hang)
        file_note_unheard(page, "into a hanging server")
        until(page, lambda: bool(hangs))
        served.kill()
        waiting(page, 1)
        assert runs() == []

        served.start()
        nothing_waits(page)
        assert comments(runs()) == ["into a hanging server"]


class GoingClock:
    """The server's clock, which goes on from MORNING and jumps when a test says that time has passed."""

    def __init__(self) -> None:
        self.began, self.passed = time.monotonic(), timedelta()

    def __call__(self) -> datetime:
        return MORNING + self.passed + timedelta(seconds=time.monotonic() - self.began)


@pytest.fixture
def clock(server: Running) -> Iterator[GoingClock]:
    kept, going = server.app.state.clock, GoingClock()
    server.app.state.clock = going
    yield going
    server.app.state.clock = kept


def move(page: Page, clock: str, by: timedelta) -> None:
    page.evaluate(
        "([clock, by]) => localStorage.setItem(clock, Number(localStorage.getItem(clock) ?? 0) + by)",
        [f"test.{clock}", by.total_seconds() * 1000],
    )


def pass_time(page: Page, server: GoingClock, by: timedelta, *, asleep: bool = False) -> None:
    """Time passes for the server and for both clocks of the device, or for its wall clock alone while it sleeps."""
    server.passed += by
    move(page, "wall", by)
    if not asleep:
        move(page, "running", by)


def right(exposed_at: datetime, meant: datetime) -> bool:
    return abs(exposed_at - meant) < timedelta(seconds=3)


@pytest.mark.parametrize(
    ("wrong_h", "put_right", "closed"),
    [(-3, False, False), (3, True, False), (-3, True, True), (3, False, True)],
    ids=[
        "slow",
        "fast, put right while a note waits",
        "slow, put right while the page is closed",
        "fast, page closed",
    ],
)
def test_a_wrong_clock_files_no_wrong_time(
    tablets: Tablets,
    port: int,
    clock: GoingClock,
    filed: Filed,
    wrong_h: int,
    put_right: bool,
    closed: bool,
) -> None:
    page, wire = tablets.new(port, CLOCKS)
    move(page, "wall", timedelta(hours=wrong_h))
    page.reload()
    measured(page)
    wire.cut()
    pass_time(page, clock, timedelta(minutes=10))
    file_note(page, "in the cellar")
    exposed = clock()
    pass_time(page, clock, timedelta(minutes=20))
    if put_right:
        move(page, "wall", timedelta(hours=-wrong_h))
    if closed:
        page.close()
        wire.mend()
        page = tablets.tab(page.context)
    else:
        mend(page, wire)

    nothing_waits(page)
    [run] = filed()
    assert right(run.exposed_at, exposed)


def test_a_tablet_that_slept_before_and_after_a_note_files_its_time(
    tablets: Tablets, port: int, clock: GoingClock, filed: Filed
) -> None:
    page, wire = tablets.new(port, CLOCKS)
    wire.cut()
    pass_time(page, clock, timedelta(minutes=10), asleep=True)
    file_note(page, "after a nap")
    exposed = clock()
    pass_time(page, clock, timedelta(minutes=20), asleep=True)
    mend(page, wire)

    nothing_waits(page)
    [run] = filed()
    assert right(run.exposed_at, exposed)


MIN = 60_000


def _instant(server: float, wall: float, running: float, page: str = "one") -> dict[str, Any]:
    return {"server": server, "wall": wall, "running": running, "page": page}


# All start together at 0; the note is written at 10 min and sent at 30 min of the server's clock. What the wall clock and the
# running one show at both instants, in minutes, and the page that sends it.
BOTH_CLOCKS = {
    "neither is wrong": (10, 10, 30, 30, "one"),
    "set ahead before it was written": (190, 10, 210, 30, "one"),
    "set back before it was written": (-170, 10, -150, 30, "one"),
    "set ahead while it waited": (10, 10, 210, 30, "one"),
    "set back while it waited": (10, 10, -150, 30, "one"),
    "set ahead before, in a page that was opened again": (190, 10, 210, 5, "two"),
    "set back while it waited in a closed page": (10, 10, -150, 5, "two"),
    "slept before and after": (10, 0, 30, 0, "one"),
    "slept before": (10, 0, 30, 20, "one"),
    "slept after": (10, 10, 30, 10, "one"),
    "slept before, set ahead while it waited in a closed page": (10, 0, 210, 5, "two"),
}


def test_when_a_note_was_written_follows_from_two_clocks_that_may_each_be_wrong(
    tablets: Tablets, port: int
) -> None:
    page, _wire = tablets.new(port)
    found = {}
    for name, (wall, running, later_wall, later_running, later_page) in BOTH_CLOCKS.items():
        written = {"wall": wall * MIN, "running": running * MIN, "page": "one", "anchor": _instant(0, 0, 0)}
        now = _instant(30 * MIN, later_wall * MIN, later_running * MIN, later_page)
        at = page.evaluate("([written, now]) => outbox.writtenAt(written, now)", [written, now])
        found[name] = at / MIN

    assert found == dict.fromkeys(BOTH_CLOCKS, 10)


class TestTheStorage:
    def test_what_an_older_page_kept_is_taken_over_and_sent(
        self, tablets: Tablets, port: int, clock: GoingClock, filed: Filed, cast: Cast, room: Room
    ) -> None:
        page, wire = tablets.new(port)
        wire.cut()
        fields = {
            "group_id": cast.group_ids[0],
            "tablet_id": "6b0c5b0e-3f0e-4a52-9a43-0d2f7f9c1a11",
            "plate_box_id": room.plate_box_id,
            "place_id": room.station_id,
            "comment": "from an older page",
        }
        page.evaluate(
            """([group, fields]) => {
              const note = { id: fields.tablet_id, group: String(group), what: "run note", action: "/tablet/runs",
                             fields: Object.entries(fields).map(([name, value]) => [name, String(value)]),
                             written: Date.now() - 600000 };
              localStorage.setItem("stillroom.note." + note.id, JSON.stringify(note));
              localStorage.setItem("stillroom.note.broken", "{");
            }""",
            [cast.group_ids[0], fields],
        )
        written = clock() - timedelta(minutes=10)
        waiting(page, 1)
        assert page.evaluate(f"localStorage.getItem('stillroom.note.{fields['tablet_id']}')") is None
        wire.mend()

        nothing_waits(page)
        [run] = filed()
        assert run.comment == "from an older page"
        assert right(run.exposed_at, written)

    @pytest.mark.parametrize(
        "without",
        [
            "Object.defineProperty(window, 'indexedDB', { value: undefined });",
            "IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); };",
            "IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };",
        ],
        ids=["none", "forbidden", "full"],
    )
    def test_a_browser_that_keeps_nothing_says_so_and_sends_all_the_same(
        self, tablets: Tablets, port: int, filed: Filed, without: str
    ) -> None:
        page, wire = tablets.new(port, without)
        file_note(page, "at once")
        expect(page.locator("#tablet-runs li")).to_have_count(1)
        wire.cut()
        file_note(page, "later")
        expect(page.locator("#notice")).to_contain_text("waits only in this page")
        page.get_by_role("link", name="Board").click()
        expect(page.locator("#notice")).to_contain_text("Press again to leave")
        waiting(page, 1)
        mend(page, wire)

        nothing_waits(page)
        assert comments(filed()) == ["at once", "later"]

    def test_a_database_that_the_browser_lost_in_its_sleep_is_opened_anew(
        self, tablets: Tablets, port: int
    ) -> None:
        page, wire = tablets.new(
            port,
            "const open = IDBFactory.prototype.open;"
            "IDBFactory.prototype.open = function (...given) {"
            "  const request = open.apply(this, given);"
            "  request.addEventListener('success', () => (window.lastOpened = request.result));"
            "  return request; };",
        )
        page.evaluate("outbox.every()")
        wire.cut()
        page.evaluate("window.lastOpened.close()")
        file_note(page, "after the nap")
        waiting(page, 1)

        assert page.evaluate("outbox.onlyHere()") == 0
        page.evaluate("window.lastOpened.close()")
        assert kept_here(page) == 1

    def test_what_found_no_room_goes_into_the_database_when_there_is_some(
        self, tablets: Tablets, port: int
    ) -> None:
        page, wire = tablets.new(
            port,
            "const put = IDBObjectStore.prototype.put;"
            "IDBObjectStore.prototype.put = function (note) {"
            "  if (window.full) throw new DOMException('full', 'QuotaExceededError');"
            "  return put.call(this, note); };",
        )
        wire.cut()
        page.evaluate("window.full = true")
        file_note(page, "tight")
        waiting(page, 1)
        assert page.evaluate("outbox.onlyHere()") == 1
        page.evaluate("window.full = false")
        page.wait_for_function("() => outbox.onlyHere() === 0")
        assert kept_here(page) == 1
