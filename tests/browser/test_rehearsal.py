"""A whole class is rehearsed: eighteen students, three stations, six tablets, from joining to claim slips.

One plate fails and is made again, a laser dies and the class is planned anew, and half of the tablets are without a network for ten
minutes. At the end the ledger, the count of plates and the notes agree.
"""

import re
import time as running
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlmodel import select

from server.__main__ import audit
from server.charges.actions import pour_charge
from server.charges.models import Charge
from server.containers.actions import add_usual_streams, set_out_container
from server.containers.queries import list_containers, list_streams
from server.core.planning import plan
from server.data.session import Database, LabSession
from server.people.access import COOKIE
from server.people.actions import add_section, enter_students, form_section_groups
from server.people.queries import list_groups
from server.plates.actions import open_plate_box
from server.plates.queries import list_plate_boxes
from server.questions.actions import set_reserve_rounds
from server.rotations.actions import SEED, add_rotation, keep_plan, plan_question, publish
from server.runs.queries import count_verdicts, list_runs
from server.settings import Settings
from server.stations.actions import add_light_zone, add_place, add_still_zone, add_tray_line
from server.stations.models import Bath, PlaceKind
from server.stations.queries import list_trays
from tests.browser.wire import Wire
from tests.casts import MORNING, TOKENS
from tests.chemistry import mixing
from tests.conftest import Running
from tests.prep.days import stock

InLab = Callable[[], AbstractContextManager[LabSession]]

pytestmark = pytest.mark.browser

ZONE = "Europe/Berlin"
NAMES = (
    "Ada Quist", "Bo Lind", "Cleo Varga", "Dov Maron", "Edda Sund", "Finn Oake", "Gil Aro", "Hana Poe", "Ivo Renn",
    "Jun Takeda", "Kaya Brook", "Leif Thorn", "Mona Vale", "Nils Ferro", "Orla Dean", "Pia Stern", "Quin Abara", "Rui Sato",
)  # fmt: skip
LITRE = 1_000_000
GROUPS = ("G1", "G2", "G3", "G4", "G5", "G6")
# The last step of the usual ones takes five minutes.
VIEWING_MS = 5 * 60_000
# Ten browsers on one machine take their time.
PATIENCE_MS = 30_000


def _furnish(session: LabSession) -> None:
    """A cellar with three stations on one sand table, a tray line with fresh charges, a box of sixty plates, and empty containers."""
    room, table = add_light_zone(session, name="cellar"), add_still_zone(session, name="sand table")
    for name, exposure_s in (("S1", 10), ("S2", 12), ("S3", 19)):
        add_place(
            session, name=name, kind=PlaceKind.STATION, capacity=1, light_zone_id=room.id, still_zone_id=table.id,
            settle_s=60, exposure_s=exposure_s,
        )  # fmt: skip
    add_tray_line(session, name="line 1", capacity=2, light_zone_id=room.id, still_zone_id=None)
    for name, kind, zone_id in (
        ("dryer", PlaceKind.DRYER, None),
        ("bench", PlaceKind.BENCH, room.id),
        ("rack", PlaceKind.RACK, None),
    ):
        add_place(session, name=name, kind=kind, capacity=3, light_zone_id=zone_id, still_zone_id=None)
    box_id = stock(session)
    open_plate_box(session, box_id, by="Tomas", now=MORNING)
    for batch, bath in ((mixing.developer(session), Bath.DEVELOPER), (mixing.bleach(session), Bath.BLEACH)):
        tray = list_trays(session, bath)[0]
        pour_charge(session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=MORNING)
    add_usual_streams(session)
    for stream in list_streams(session):
        set_out_container(
            session, stream_id=stream.id, name=f"{stream.name} 1", size_ul=10 * LITRE, tare_mg=None, area_id=None,
            by="Tomas", now=MORNING,
        )  # fmt: skip


def _publish(session: LabSession, section_id: int) -> int:
    """Nine to half past ten, a plate for each group and a round kept for repeats."""
    rotation = add_rotation(
        session, section_id=section_id, name="First plates", day=MORNING.date(), starts=time(9), ends=time(10, 30),
        plates_per_group=1, now=MORNING, zone=ZONE, talk_s=480, clean_up_s=300,
    )  # fmt: skip
    set_reserve_rounds(session, rotation.id, reserve_rounds=1)
    problem = plan_question(session, rotation.id)
    keep_plan(session, rotation.id, problem, plan(problem, seconds=2, seed=SEED), seed=SEED, now=MORNING)
    publish(session, rotation.id, now=MORNING)
    return rotation.id


class LeapingClock:
    """The server's clock: it runs, and leaps over stretches in which nothing happens."""

    def __init__(self) -> None:
        self.began, self.leapt = running.monotonic(), timedelta()

    def __call__(self) -> datetime:
        return MORNING + self.leapt + timedelta(seconds=running.monotonic() - self.began)


@dataclass
class Device:
    """One browser on a wire of its own."""

    page: Page
    wire: Wire


class Classroom:
    """The devices of the class. When the server's clock leaps, so do theirs, as if each had been asleep as long."""

    def __init__(self, chromium: Browser, port: int, clock: LeapingClock) -> None:
        self.chromium, self.port, self.clock = chromium, port, clock
        self.devices: list[Device] = []
        self.faults: list[str] = []

    def open(self, path: str, name: str = "", *, width: int = 800, height: int = 1100) -> Device:
        wire = Wire(self.port)
        address = f"http://stillroom.test:{wire.port}"
        context = self.chromium.new_context(viewport={"width": width, "height": height}, base_url=address)
        context.set_default_timeout(PATIENCE_MS)
        context.clock.install()
        if name:
            context.add_cookies([{"name": COOKIE, "value": TOKENS[name], "url": address}])
        page = context.new_page()
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.goto(path)
        device = Device(page, wire)
        self.devices.append(device)
        return device

    def leap(self, ms: float) -> None:
        if ms <= 0:
            return
        self.clock.leapt += timedelta(milliseconds=ms)
        for device in self.devices:
            device.page.clock.fast_forward(round(ms))

    def close(self) -> None:
        for device in self.devices:
            device.page.context.close()
            device.wire.close()


@pytest.fixture
def classroom(chromium: Browser, server: Running) -> Iterator[Classroom]:
    clock, kept = LeapingClock(), server.app.state.clock
    server.app.state.clock = clock
    room = Classroom(chromium, urlsplit(server.address).port or 0, clock)
    yield room
    room.close()
    server.app.state.clock = kept
    assert room.faults == []


# Whether no cue that is still to be called sends anybody to this station.
NOBODY_GOES_TO = """(station) => !told.cues.some(({ calls }) => calls.some(({ movers }) => movers.some(
  ([key, , place]) => place.startsWith(station) && !(key in told.standing.fired),
)))"""

# What the caller's device would call next, in how many milliseconds, and which visits have begun.
AHEAD = """() => {
  const { standing } = stands();
  const [next] = foreseen(told, standing, null);
  const stationOf = (visit) => told.visits.find(({ plate, step }) => plate === visit.plate && step === "expose")?.place;
  return {
    words: next ? cueWords(next.cue) : "",
    due: next ? next.due + told.zero - clock.now() : 0,
    begun: Object.fromEntries(told.visits.filter(({ key }) => key in standing.fired).map((visit) => [visit.key, [visit.name, stationOf(visit)]])),
  };
}"""


@dataclass
class Class:
    """The class as it goes on: the caller, the wall, the groups' tablets by name, and the plates that have their note."""

    room: Classroom
    caller: Page
    wall: Page
    tablets: dict[str, Device]
    noted: list[str] = field(default_factory=list)

    def ahead(self) -> dict[str, Any]:
        found: dict[str, Any] = self.caller.evaluate(AHEAD)
        return found

    def call(self) -> str:
        """Wait until the next cue is due and call it; empty when nothing more is called."""
        found = self.ahead()
        if found["words"]:
            self.room.leap(max(found["due"], 1000))
            self.caller.keyboard.press("Space")
            self.caller.wait_for_function("() => !queue.length")
            self._note_what_was_developed()
        return str(found["words"])

    def call_until(self, step: str) -> None:
        """Call one cue after the other, up to the first that begins a visit of this name."""
        while not any(visit.startswith(step) for visit in self.ahead()["begun"]):
            assert self.call(), f"“{step}” never came"

    def _note_what_was_developed(self) -> None:
        """Each group files its plate's note once the plate has gone into the developer."""
        for visit, (group, station) in self.ahead()["begun"].items():
            if visit.endswith("/develop") and visit not in self.noted:
                self.noted.append(visit)
                _file_note(self.tablets[group.removesuffix(" again")], station)


def _file_note(device: Device, station: str, *, incident: str = "none", developed: bool = True) -> None:
    tablet, filed = device.page, device.page.locator("#tablet-runs li")
    before = filed.count()
    tablet.get_by_text(station, exact=True).click()
    tablet.locator(f"[name=incident][value={incident}]").check(force=True)
    if not developed:
        tablet.get_by_text("not developed", exact=True).click()
    tablet.get_by_role("button", name="File this run note").click()
    if device.wire.whole:
        expect(filed).to_have_count(before + 1, timeout=PATIENCE_MS)
    else:
        expect(tablet.locator("#outbox")).to_be_visible(timeout=PATIENCE_MS)


def _rate(tablet: Page, words: str) -> None:
    """The oldest run of the group that has no verdict yet."""
    waiting = tablet.locator("#tablet-runs a", has_text="waiting")
    before = waiting.count()
    waiting.last.click()
    tablet.get_by_text(words, exact=True).click()
    tablet.get_by_role("button", name="Give this verdict").click()
    expect(tablet.locator("h1")).to_have_text("Run note", timeout=PATIENCE_MS)
    expect(waiting).to_have_count(before - 1, timeout=PATIENCE_MS)


def _leave_to_dry(tablet: Page, slot: str) -> None:
    tablet.locator("#tablet-runs a", has_text="waiting").last.click()
    tablet.get_by_text(slot, exact=True).click()
    tablet.get_by_role("button", name="It stands there").click()
    expect(tablet.locator("#tablet-runs")).to_contain_text(f"in slot {slot}", timeout=PATIENCE_MS)


def _joined(classroom: Classroom, code: str) -> dict[str, Device]:
    tablets = {}
    for group in GROUPS:
        tablets[group] = classroom.open(f"/join/{code}")
        tablets[group].page.get_by_role("button", name=group, exact=True).click()
        expect(tablets[group].page.locator("h1")).to_have_text("Run note")
    return tablets


def _replan_without(desk: Page, rotation_id: int, station: str) -> None:
    desk.goto(f"/rotations/{rotation_id}/change")
    desk.get_by_role("button", name=f"{station} is dead").click()
    desk.get_by_role("button", name="Take it").click()
    expect(desk.get_by_role("region", name="What changed so far")).to_contain_text("taken")


def _repeat(caller: Page, plate: str) -> None:
    """In one of the three places of the round kept for repeats; the others are left out."""
    for choice in (f"^{plate}", "^Nobody repeats"):
        caller.locator("[data-control=repeat]").click()
        caller.get_by_role("button", name=re.compile(choice)).click()
        caller.wait_for_function("() => !queue.length")


def _pour_away(bench: Page, container: str, source: str, volume: str, charge: str = "") -> None:
    bench.goto("/waste/pour")
    for name, words in (("container_id", container), ("source", source), ("charge_id", charge)):
        if words:
            option = bench.locator(f"[name={name}] option", has_text=words).first
            bench.locator(f"[name={name}]").select_option(value=option.get_attribute("value"))
    bench.locator("[name=amount]").fill(volume)
    bench.get_by_role("button", name="Log the pour").first.click()
    expect(bench.locator("h1")).to_have_text(container)
    expect(bench.locator("main")).to_contain_text(volume)


def _go_on_without_a_network(lesson: Class, groups: tuple[str, ...]) -> datetime:
    """Their tablets lose it for ten minutes, and they file their notes all the same. Returns when it is back."""
    cut_at, tablets = lesson.room.clock(), [lesson.tablets[group] for group in groups]
    for tablet in tablets:
        tablet.wire.cut()
    while any(not tablet.page.locator("#outbox").is_visible() for tablet in tablets):
        assert lesson.call()
    while lesson.room.clock() - cut_at < timedelta(minutes=10):
        assert lesson.call()
    mended_at = lesson.room.clock()
    for tablet in tablets:
        tablet.wire.mend()
        expect(tablet.page.locator("#outbox")).to_be_hidden(timeout=PATIENCE_MS)
    return mended_at


def _rate_and_leave_to_dry(lesson: Class, desk: Page) -> None:
    """Four plates are dry at the bell and rated; three stand in the rack, each with a slip that says whose it is."""
    well, bright = "clear in ordinary spot light", "bright, deep and clean"
    for group, words in (("G1", "no image"), ("G1", well), ("G2", bright), ("G3", "no image")):
        _rate(lesson.tablets[group].page, words)
    for group, slot in (("G4", "R1"), ("G5", "R2"), ("G6", "R3")):
        _leave_to_dry(lesson.tablets[group].page, slot)
    desk.goto("/runs")
    expect(desk.locator("main")).to_contain_text("Good so far: 2 of 4 rated, 3 waiting (in R1–R3).")
    desk.goto("/claims/slips")
    for words in ("Wed-G4", "R1", "Wed-G5", "R2", "Wed-G6", "R3"):
        expect(desk.locator("main")).to_contain_text(words)
    slips = desk.locator("main").inner_text()
    assert not any(part in slips for name in NAMES for part in name.split())


def _empty_the_trays(bench: Page) -> None:
    _pour_away(bench, "Developer 1", "spent developer", "200 mL", charge="developer, line 1")
    _pour_away(bench, "Bleach 1", "spent bleach", "200 mL", charge="bleach, line 1")
    _pour_away(bench, "Rinse 1", "rinse", "1.2 L")


def _check_that_all_agree(session: LabSession, section_id: int, mended_at: datetime) -> None:
    """Seven plates were begun, of which one moved and was not developed; three notes waited until the network was mended."""
    runs = list_runs(session, section_id)
    first, *others = [group.id for group in list_groups(session, section_id)]
    assert Counter(run.group_id for run in runs) == Counter([first, first, *others])
    assert [run.number for run in runs] == [7, 6, 5, 4, 3, 2, 1]
    assert Counter(run.incident for run in runs) == {"none": 6, "moved": 1}
    kept = {run.group_id for run in runs if run.exposed_at < mended_at <= run.filed_at}
    assert kept == set(others[2:])
    assert all(
        run.filed_at - run.exposed_at < timedelta(minutes=1) for run in runs if run.group_id not in kept
    )
    assert list_plate_boxes(session)[0].plates_left == 60 - 7
    charges = {charge.id: charge.plates for charge in session.exec(select(Charge))}
    assert charges[runs[0].charge_id or 0] == 6
    assert {one.name: one.held_ul for one in list_containers(session)} == {
        "Developer 1": 200_000, "Bleach 1": 200_000, "Rinse 1": 1_200_000,
    }  # fmt: skip
    assert count_verdicts(session)[section_id].waiting == 3


def test_a_class_of_eighteen_goes_from_joining_to_claim_slips(
    classroom: Classroom, in_lab: InLab, database: Database, capsys: pytest.CaptureFixture[str]
) -> None:
    with in_lab() as session:
        _furnish(session)
        section = add_section(session, name="Wednesday")
        enter_students(session, section.id, NAMES)
        form_section_groups(session, section.id, size=3)
        rotation_id = _publish(session, section.id)
        section_id, code = section.id, section.class_code
    lesson = Class(
        classroom,
        classroom.open(f"/board/{rotation_id}/call", "mira").page,
        classroom.open(f"/board/{rotation_id}", "tomas", width=1440, height=900).page,
        _joined(classroom, code),
    )
    desk, bench = classroom.open("/", "mira", width=1440).page, classroom.open("/", "tomas").page

    # The first plates are exposed at three stations; then the laser of S3 dies.
    lesson.call_until("G1/1/carry")
    expect(lesson.wall.locator("#state")).to_have_text("Lights allowed", timeout=PATIENCE_MS)
    _replan_without(desk, rotation_id, "S3")
    lesson.caller.wait_for_function(NOBODY_GOES_TO, arg="S3")
    # Somebody knocked against the table while G1's plate was exposed: it is made again instead of developed.
    _file_note(lesson.tablets["G1"], "S1", incident="moved", developed=False)
    _repeat(lesson.caller, "G1, plate 1")
    mended_at = _go_on_without_a_network(lesson, ("G4", "G5", "G6"))
    while lesson.call():
        pass
    classroom.leap(VIEWING_MS)
    expect(lesson.wall.locator("#aside")).to_have_text("The class is over.", timeout=PATIENCE_MS)
    _rate_and_leave_to_dry(lesson, desk)
    _empty_the_trays(bench)

    with in_lab() as session:
        _check_that_all_agree(session, section_id, mended_at)
    audit(Settings(database_url=database.engine.url.render_as_string(hide_password=False)))
    assert capsys.readouterr().out == "Every balance of 2 labs equals its ledger.\n"
