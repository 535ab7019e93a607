"""One Tuesday, clicked from an empty database: set up, plan, mix, pour, run, rate, hand over.

The instructor at a desk (1440 px), the technician at the wet bench (800 px), a group with a small tablet (390 px).
"""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from server.data.session import Database
from server.people.actions import issue_set_up_code
from tests.browser.conftest import Open
from tests.casts import MORNING
from tests.conftest import Databases, Running

pytestmark = pytest.mark.browser

PASSWORD = "a few plain words"
NAMES = "First name,Last name\n" + "\n".join(
    f"{first},{last}"
    for first, last in zip(
        ("Ada", "Bo", "Cleo", "Dov", "Edda", "Finn", "Gil", "Hana"),
        ("Quist", "Lind", "Varga", "Maron", "Sund", "Oake", "Aro", "Poe"),
        strict=True,
    )
)


@pytest.fixture
def code(databases: Databases, server: Running) -> Iterator[str]:
    """The set-up code of a server on an empty database."""
    url = databases.empty()
    database = Database(url, connections=6)
    server.app.state.database = database
    with database.writing(None) as session:
        made = issue_set_up_code(session, MORNING)
    yield made
    server.finish()
    database.engine.dispose()
    databases.drop(url)


def _fill(page: Page, **fields: str) -> None:
    """Type into fields by their names."""
    for name, value in fields.items():
        field = page.locator(f"main [name={name}]").first
        if field.evaluate("field => field.tagName") == "SELECT":
            field.select_option(label=value)
        else:
            field.fill(value)


def _choose(field: Locator, words: str) -> None:
    """The first of the list that has these words in it."""
    field.select_option(value=field.locator("option", has_text=words).first.get_attribute("value"))


def _press(page: Page, words: str) -> None:
    page.get_by_role("button", name=words, exact=True).first.click()


def _heading(page: Page, words: str) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text(words)


def _set_up(page: Page, code: str) -> None:
    page.goto("/")
    _heading(page, "Set up your lab")
    _fill(
        page, code=code, lab_name="Cellar lab", time_zone="Europe/Berlin", name="Mira Holt", email="mira@lab.example",
        password=PASSWORD,
    )  # fmt: skip
    _press(page, "Open the lab")
    expect(page.locator(".leave")).to_contain_text("Cellar lab")


def _enter_people(page: Page) -> str:
    """A technician and a section of eight in pairs. Returns the class link."""
    page.goto("/people")
    page.get_by_text("Add a member of staff").click()
    staff = page.locator("form[action='/people/staff']")
    staff.locator("[name=person_name]").fill("Tomas Brandt")
    staff.locator("[name=email]").fill("tomas@lab.example")
    staff.locator("[name=password]").fill(PASSWORD)
    _press(page, "Add")
    expect(page.locator("main")).to_contain_text("Tomas Brandt")
    page.locator("form[action='/people/sections'] [name=name]").fill("Tuesday")
    _press(page, "Add section")
    _heading(page, "Tuesday")
    _fill(page, names=NAMES)
    _press(page, "Add to the list")
    expect(page.get_by_role("row", name=re.compile("Hana Poe"))).to_be_visible()
    _fill(page, size="2")
    _press(page, "Form groups")
    expect(page.get_by_role("row", name="G4 Gil Aro, Hana Poe")).to_be_visible()
    return str(page.locator("main a[href*='/join/']").get_attribute("href"))


def _furnish_the_room(page: Page) -> None:
    page.goto("/stations")
    for name, shares in (
        ("cellar", "white light: one lamp lights it all"),
        ("sand table", "stillness: one step shakes it all"),
    ):
        zone = page.locator("form[action='/stations/zones']")
        zone.locator("[name=name]").fill(name)
        zone.locator("[name=shares]").select_option(label=shares)
        _press(page, "Add zone")
        expect(page.locator("main")).to_contain_text(name)
    line = page.locator("form[action='/stations/tray-lines']")
    line.locator("[name=line_name]").fill("line 1")
    line.locator("[name=line_light_zone_id]").select_option(label="cellar")
    _press(page, "Add tray line")
    expect(page.get_by_role("row", name=re.compile("wash, line 1"))).to_be_visible()
    for name, kind, light, still in (
        ("S1", "station: laser, rest and shutter", "cellar", "sand table"),
        ("S2", "station: laser, rest and shutter", "cellar", "sand table"),
        ("rack", "dryer: plates dry there in class", "none", "none"),
        ("bench", "bench for viewing", "cellar", "none"),
    ):
        place = page.locator("form[action='/stations/places']")
        place.locator("[name=place_name]").fill(name)
        place.locator("[name=kind]").select_option(label=kind)
        place.locator("[name=capacity]").fill("2")
        place.locator("[name=light_zone_id]").select_option(label=light)
        place.locator("[name=still_zone_id]").select_option(label=still)
        _press(page, "Add place")
        expect(page.get_by_role("row", name=re.compile(f"^{name} "))).to_be_visible()


def _plan_and_publish(page: Page) -> None:
    page.goto("/rotations")
    _fill(
        page,
        section_id="Tuesday",
        name="First plates",
        day="2027-02-16",
        starts="09:00",
        ends="09:20",
        plates_per_group="1",
        talk_min="0",
        clean_up_min="0",
    )
    _press(page, "Add rotation")
    _heading(page, "First plates")
    _press(page, "Plan")
    expect(page.locator("main")).to_contain_text(re.compile("what would make it fit"), timeout=30_000)

    # Twenty minutes were not enough; an hour more is.
    address = page.url
    page.get_by_role("link", name=re.compile("^Change what is asked")).click()
    page.get_by_role("button", name=re.compile("^Remove")).click()
    expect(page.locator("main")).to_contain_text("There is no period yet. Add one here.")
    period = page.locator("form[action$='/periods']")
    period.locator("[name=day]").fill("2027-02-16")
    period.locator("[name=starts]").fill("09:00")
    period.locator("[name=ends]").fill("10:30")
    period.get_by_role("button").click()
    expect(page.locator("main")).to_contain_text("10:30")
    page.goto(address)
    page.get_by_role("button", name=re.compile("^Plan")).click()
    expect(page.get_by_role("button", name="Publish")).to_be_visible(timeout=30_000)
    expect(page.locator(".figure-number")).to_have_text(re.compile(r"^09:\d\d$"))
    for words in ("No plan ends before", "Gap", "By hand, in rounds"):
        expect(page.locator("dl.figures")).to_contain_text(words)
    expect(page.locator("svg.drawing").first).to_be_visible()
    expect(page.locator("main")).to_contain_text("develop")
    page.get_by_role("link", name="Print sheet").click()
    expect(page.locator("main")).to_contain_text("First plates")
    assert len(page.pdf()) > 10_000
    page.goto(address)
    _press(page, "Publish")
    expect(page.locator("main")).to_contain_text("published")


def _sign_in(page: Page, email: str) -> None:
    page.goto("/sign-in")
    _fill(page, email=email, password=PASSWORD)
    _press(page, "Sign in")
    expect(page.locator(".leave")).to_contain_text("Cellar lab")


def _take_in_stock(page: Page) -> None:
    page.goto("/stock/kits")
    _fill(page, kit_name="kit 1", kit_expires_on="2027-12-01")
    for line, amount in enumerate(("1 L", "1 L", "500 mL"), start=1):
        page.locator(f"#amount-{line}").fill(amount)
    _press(page, "Take in the kit")
    expect(page.locator("main")).to_contain_text("kit 1")
    page.goto("/stock/plate-boxes")
    _fill(
        page,
        box_name="box 1",
        plates="20",
        width_mm="63.5",
        height_mm="63.5",
        dose_uj_per_cm2="600",
        box_expires_on="2027-06-01",
    )
    page.locator("[name=sees]").select_option(index=1)
    page.locator("[name=kept]").select_option(index=1)
    _press(page, "Take in the box")
    expect(page.locator("main")).to_contain_text("box 1")


def _mix_and_charge(page: Page) -> None:
    page.goto("/chemistry")
    _fill(page, volume="400 mL", mixed_at="07:50")
    _press(page, "Enter the batch")
    expect(page.locator("main")).to_contain_text(re.compile(r"\d+ h \d+ min left"))
    page.goto("/chemistry/mix")
    _choose(page.locator("#asked-recipe"), "bleach")
    page.locator("#asked-volume").fill("300 mL")
    _press(page, "Show what it takes")
    expect(page.locator("#volume")).to_have_value("300 mL")
    _press(page, "Enter the batch")
    expect(page.locator("h1")).to_contain_text("bleach")
    for tray in ("developer, line 1", "bleach, line 1"):
        page.goto("/charges")
        pour = page.locator("form[action='/charges']")
        _choose(pour.locator("[name=batch_id]"), tray.split(",", maxsplit=1)[0])
        _choose(pour.locator("[name=place_id]"), tray)
        pour.locator("[name=charge_volume]").fill("200 mL")
        pour.get_by_role("button").click()
        expect(page.locator("main")).to_contain_text(tray)


def _set_out_containers(page: Page) -> None:
    page.goto("/waste")
    _press(page, "Begin with developer, bleach and rinse")
    expect(page.get_by_role("heading", name="Rinse", level=2)).to_be_visible()
    for stream, size in (("Developer", "5 L"), ("Bleach", "5 L"), ("Rinse", "2 L")):
        page.goto("/waste/containers/new")
        container = page.locator("form[action='/waste/containers']")
        _choose(container.locator("[name=stream_id]"), stream)
        container.locator("[name=name]").fill(f"{stream} 1")
        container.locator("[name=size]").fill(size)
        _press(page, "Set it out")
        _heading(page, f"{stream} 1")
    page.goto("/waste")


def _file_a_note(page: Page, link: str) -> None:
    page.goto(link)
    _heading(page, "Tuesday")
    _press(page, "G2")
    _heading(page, "Run note")
    page.get_by_text("box 1").first.click()
    page.get_by_text("S2").first.click()
    _press(page, "File this run note")
    expect(page.locator("#tablet-runs")).to_contain_text("run 1")


def _give_the_verdict(page: Page) -> None:
    page.locator("#tablet-runs a").first.click()
    page.locator("[name=verdict][value='3']").check(force=True)
    _press(page, "Give this verdict")
    expect(page.locator("#tablet-runs")).not_to_contain_text("waiting")


def _pour(page: Page, container: str, source: str, volume: str, charge: str = "") -> None:
    page.goto("/waste/pour")
    _choose(page.locator("[name=container_id]"), container)
    _choose(page.locator("[name=source]"), source)
    page.locator("[name=amount]").fill(volume)
    if charge:
        _choose(page.locator("[name=charge_id]"), charge)
    _press(page, "Log the pour")


def _hand_over(page: Page) -> None:
    page.goto("/waste/pickups")
    _fill(page, on_day="2027-02-19", request_day="2027-02-17", request_clock="12:00")
    _press(page, "Book it")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Pickup of")
    page.get_by_label(re.compile("Developer 1")).check()
    _press(page, "Put these on the sheet")
    _press(page, "It is requested now")
    expect(page.locator("main")).to_contain_text("Withdraw the request")
    page.get_by_role("link", name="Hand over, or nobody came").click()
    page.get_by_label("Developer 1, line 1", exact=True).select_option("taken")
    _press(page, "Hand over")
    expect(page.locator("main")).to_contain_text("handed over,")
    expect(page.locator("main")).to_contain_text("200 mL")


@pytest.mark.usefixtures("server")
def test_a_lab_runs_one_tuesday(code: str, opened: Open) -> None:
    mira, tomas, tablet = opened(width=1440), opened(width=800), opened(width=390)
    _set_up(mira, code)
    link = _enter_people(mira)
    _furnish_the_room(mira)
    _plan_and_publish(mira)

    _sign_in(tomas, "tomas@lab.example")
    _take_in_stock(tomas)
    _mix_and_charge(tomas)
    _set_out_containers(tomas)
    expect(tomas.locator("main")).to_contain_text("First plates")

    mira.goto("/runs")
    _file_a_note(tablet, link)
    # The instructor's page was open already: the note shows up by itself.
    expect(mira.locator("#run-rows")).to_contain_text("run 1", timeout=10_000)
    _give_the_verdict(tablet)
    expect(mira.locator("#run-rows")).not_to_contain_text("waiting", timeout=10_000)
    tomas.goto("/stock")
    expect(tomas.get_by_role("row", name=re.compile("box 1"))).to_contain_text("19")

    _pour(tomas, "Developer 1", "spent developer", "200 mL", charge="developer")
    expect(tomas.locator("main")).to_contain_text("200 mL")
    _pour(tomas, "Rinse 1", "rinse", "1.5 L")
    _pour(tomas, "Rinse 1", "rinse", "400 mL")
    expect(tomas.locator("#notice")).to_contain_text("fill line")
    assert tomas.locator("[name=amount]").input_value() == "400 mL"
    _hand_over(tomas)
    tomas.goto("/")
    expect(tomas.locator("main")).to_contain_text("First plates")
