"""The pages of limits over HTTP."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from server.containers.models import Source
from server.containers.queries import get_container
from server.core.waste_rules.rule import Key
from server.data.session import LabSession
from tests.conftest import Visitor, words
from tests.limits.shelf import L, Shelf, days_ago

InLab = Callable[[], AbstractContextManager[LabSession]]
SAMPLE = {"sampled_on": "2027-02-16", "sampled_clock": "07:30", "origin": "electrode"}


@pytest.fixture
def bottle_id(in_lab: InLab, shelf: Shelf) -> int:
    """A bottle of bleach with 2 L in it in a satellite area of a small quantity generator."""
    with in_lab() as session:
        shelf.keep(session, "us-small")
        bottle = shelf.container(
            session, "Bleach 1", shelf.area(session), source=Source.BLEACH, size_ul=5 * L
        )
        shelf.enter(session, bottle, 2 * L, days_ago(1))
        return bottle.id


def _measure(visitor: Visitor, bottle_id: int, **typed: str) -> tuple[int, str]:
    answer = visitor.post(f"/waste/containers/{bottle_id}/determinations", data={**SAMPLE, **typed})
    return answer.status_code, words(answer)


@pytest.mark.usefixtures("bottle_id")
def test_every_limit_opens_to_its_rule_edition_source_inputs_and_formula(tomas: Visitor) -> None:
    text = words(tomas.get("/waste/limits"))

    assert "US small quantity generator" in text
    assert "2 L of non-acute waste in this area; the most is 55 gal (208.198 L)." in text
    assert "How: total > limit" in text
    assert (
        "40 CFR 262.15(a); EPA's answer in its list of frequent questions; source: word-for-word adoptions"
        in text
    )
    assert "What stands under them must hold 5 L. Measure the tray" in text
    assert "Measure the pH where the waste arises" in text


@pytest.mark.usefixtures("bottle_id")
def test_a_lab_s_month_is_only_a_contribution(tomas: Visitor) -> None:
    text = words(tomas.get("/waste/limits"))

    assert "This lab's contribution: 2 kg." in text
    assert "What this lab made is a contribution; the category is the whole site's." in text


@pytest.mark.usefixtures("bottle_id")
def test_a_mass_opens_to_its_density(tomas: Visitor) -> None:
    text = words(tomas.get("/waste/limits"))

    assert re.search(r"otherwise volume × 1\.[0-9]{3} g/mL, which is assumed until it is measured", text)


def test_a_measured_ph_is_held_against_both_limits(tomas: Visitor, bottle_id: int) -> None:
    """40 CFR 261.22."""
    _status, reached = _measure(tomas, bottle_id, ph="2.00", ph_temperature="20")
    assert "pH 2 reaches the limit: 2 or less is corrosive waste." in reached
    assert "limits reached or clocks run out" not in reached
    assert "1 limit is reached or clock run out" in words(tomas.get("/waste/limits"))

    _status, below = _measure(tomas, bottle_id, ph="2.01", ph_temperature="20", silver_mg_per_l="4.99")
    assert "pH 2.01 does not reach this limit. The waste office determines what the waste is." in below
    assert "4.99 mg/L of silver does not reach this limit of 5.0 mg/L." in below


def test_a_caustic_sample_that_is_cold_is_measured_again(tomas: Visitor, bottle_id: int) -> None:
    _status, text = _measure(tomas, bottle_id, ph="12.48", ph_temperature="20")

    assert "measure pH 12.48 again there" in text


def test_what_came_in_after_the_sample_asks_for_another(
    tomas: Visitor, in_lab: InLab, shelf: Shelf, bottle_id: int
) -> None:
    _measure(tomas, bottle_id, silver_mg_per_l="1.5")
    with in_lab() as session:
        shelf.enter(session, get_container(session, bottle_id), L)

    text = words(tomas.get(f"/waste/containers/{bottle_id}/determinations"))
    assert (
        "1.5 mg/L of silver did not reach this limit of 5.0 mg/L, but 1 L came in since: measure again."
        in text
    )


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"ph": "9.1"}, "A pH depends on the temperature."),
        ({}, "Please write what was measured above"),
        ({"silver_mg_per_l": "many"}, "Please write a number"),
        ({"silver_mg_per_l": "1", "sampled_on": "2027-02-17"}, "That is still to come."),
        ({"silver_mg_per_l": "1", "origin": ""}, "Please fill this in."),
        ({"said": "D002", "determined_on": "2027-02-15"}, "between the sample's day and today"),
        ({"silver_mg_per_l": "1.2345"}, "at most 3 digits"),
    ],
)
def test_a_measurement_that_cannot_be_read_keeps_what_was_typed(
    tomas: Visitor, bottle_id: int, typed: dict[str, str], sentence: str
) -> None:
    status, text = _measure(tomas, bottle_id, **typed, sample_note="third bottle")

    assert status == 422
    assert sentence in text
    page = tomas.post(
        f"/waste/containers/{bottle_id}/determinations",
        data={**SAMPLE, **typed, "sample_note": "third bottle"},
    )
    assert 'value="third bottle"' in page.text


def test_what_the_waste_office_said_stands_beside_the_container(tomas: Visitor, bottle_id: int) -> None:
    _status, text = _measure(tomas, bottle_id, said="D002, D011", determined_on="2027-02-16")
    assert "D002, D011, on Tue 16 Feb 2027" in text

    assert "The waste office: D002, D011" in words(tomas.get("/waste/limits"))


@pytest.mark.usefixtures("bottle_id")
def test_what_the_rest_of_the_site_counted_makes_its_category(tomas: Visitor) -> None:
    """40 CFR 262.13: exactly 1000 kg make a large quantity generator."""
    page = tomas.submit(
        "/waste/limits/months", month="2027-02", non_acute="998", told_by="waste office, by phone"
    )
    text = " ".join(page.get_text(" ").split())

    assert (
        "the site is a large quantity generator in this month. That is more than what the lab's rules are for"
        in text
    )
    assert "998 kg" in text


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"month": "Feb"}, "Please write a month such as 2027-02."),
        ({"non_acute": "998 L"}, "is not a unit of mass here"),
        ({"month": "2199-12"}, "That month is still to come."),
        ({"reached_on": "2027-02-17"}, "That day is still to come."),
        ({"told_by": ""}, "Please fill this in."),
    ],
)
def test_a_month_that_cannot_be_read_keeps_what_was_typed(
    tomas: Visitor, typed: dict[str, str], sentence: str
) -> None:
    sent = {"month": "2027-02", "non_acute": "998", "told_by": "waste office", "acute": "0.5", **typed}
    page = tomas.submit("/waste/limits/months", status=422, **sent)

    assert sentence in " ".join(page.get_text(" ").split())
    assert page.select_one("#acute[value='0.5']")


@pytest.mark.usefixtures("bottle_id")
def test_a_tray_is_held_against_its_containers(tomas: Visitor, in_lab: InLab) -> None:
    """40 CFR 264.175(b)(3)."""
    area = str(tomas.page("/waste/limits").select("#area_id option")[0]["value"])
    small = tomas.submit("/waste/limits/trays", area_id=area, tray="4.9 L").get_text(" ")
    large = tomas.submit("/waste/limits/trays", area_id=area, tray="5 L").get_text(" ")

    assert "The tray holds 4.9 L: set some of them into another tray." in " ".join(small.split())
    assert "What stands under them must hold 5 L. The tray holds 5 L." in " ".join(large.split())
    assert "nothing" in tomas.submit("/waste/limits/trays", status=422, area_id=area, tray="0 L").get_text()


@pytest.mark.usefixtures("bottle_id")
def test_a_stream_that_counts_as_acute_has_the_limit_of_acute_waste(tomas: Visitor) -> None:
    options = tomas.page("/waste/limits").select("#stream_id option")
    stream = next(str(one["value"]) for one in options if "Bleach" in one.get_text())
    page = tomas.submit(
        "/waste/limits/streams", stream_id=stream, counts_as="acute liquid", reason="waste office"
    )

    assert "2 L of liquid acute waste in this area are over the most, 1 qt (946.4 mL)." in " ".join(
        page.get_text(" ").split()
    )
    assert tomas.submit("/waste/limits/streams", status=422, stream_id=stream, counts_as="", reason="")


@pytest.mark.usefixtures("bottle_id")
def test_a_clock_stands_with_its_due_day_and_its_rule(mira: Visitor, in_lab: InLab, shelf: Shelf) -> None:
    with in_lab() as session:
        shelf.lay(session, Key.REMOVAL_DAYS, "3")

    text = words(mira.get("/waste/limits"))
    assert "“Bleach 1” by Thu 18 Feb 2027 2 days left" in text
    assert "edition: campus rule from Wed 1 Jan 2020; source: the leaflet." in text
    today = words(mira.get("/"))
    assert "Waste: “Bleach 1”" in today
    assert "2 days left" in today


@pytest.mark.usefixtures("bottle_id")
def test_the_sixth_plate_may_bring_the_rinse_to_the_limit(tomas: Visitor) -> None:
    """2 g/L of dichromate, 0.5 mL a plate into 400 mL: 0.88 mg/L each."""
    text = words(tomas.get("/waste/limits/carried?bath_of=dichromate&strength=2&carried=0.5+mL&rinse=400+mL"))

    assert "Plate 6 may bring the rinse to 5.0 mg/L of chromium, at 0.884 mg/L a plate." in text


@pytest.mark.usefixtures("bottle_id")
def test_thirty_plates_may_leave_181_milligrams_of_silver(tomas: Visitor) -> None:
    """3 g/m², assumed, on plates of 63.5 mm; half of it in a litre."""
    text = words(
        tomas.get("/waste/limits/dissolved?coverage_g_per_m2=3&plates=30&dissolved_percent=50&bath=1+L")
    )

    assert "181 mg/L of silver may be in the bath. That reaches 5.0 mg/L: have it measured" in text


@pytest.mark.usefixtures("bottle_id")
def test_an_estimate_never_says_that_a_limit_is_not_reached(tomas: Visitor) -> None:
    pages = [
        tomas.get("/waste/limits/dissolved?coverage_g_per_m2=0.01&plates=1&dissolved_percent=1&bath=100+L"),
        tomas.get("/waste/limits/carried?bath_of=silver&strength=0&carried=0.5+mL&rinse=400+mL"),
    ]

    for page in pages:
        figures = " ".join(page.text.split())
        assert "does not reach" not in figures
        assert "measured" in words(page)
    assert (
        tomas.get("/waste/limits/carried?bath_of=silver&strength=x&carried=1+mL&rinse=1+L").status_code == 422
    )
    assert "How this is worked out" not in words(tomas.get("/waste/limits/carried"))


def test_without_a_rule_set_an_estimate_asks_the_waste_office(tomas: Visitor) -> None:
    text = words(tomas.get("/waste/limits/carried?bath_of=silver&strength=5&carried=0.5+mL&rinse=400+mL"))

    assert "Ask the waste office: this rule set names no limit for silver." in text


def test_an_empty_lab_s_limits_ask_the_waste_office(tomas: Visitor) -> None:
    text = words(tomas.get("/waste/limits"))

    assert "No rule set is chosen yet" in text
    assert "No clock runs." in text
