"""Containers over HTTP."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.core.recipe import Measure
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.recipes.forms import NewComponent
from server.recipes.models import Solution
from tests.casts import MORNING
from tests.chemistry import from_powder, mixing
from tests.conftest import Visitor
from tests.containers.bench import Bench
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


def _pour_fields(container_id: int, tablet_id: str, volume: str = "250 mL", **more: object) -> dict[str, Any]:
    return {
        "container_id": container_id,
        "tablet_id": tablet_id,
        "source": "rinse",
        "amount": volume,
        "method": "graduate",
        **more,
    }


@pytest.fixture
def carboy_id(in_lab: InLab, bench: Bench) -> int:
    """A rinse carboy at 13.2 L of 18 L, and the day's three sections published."""
    with in_lab() as session:
        carboy = bench.rinse_carboy(session, held_ul=13_200_000)
        for name, hours in (("morning", 1), ("noon", 3), ("afternoon", 6)):
            bench.publish(session, name, MORNING + timedelta(hours=hours), plates=12)
        return carboy.id


def _book(visitor: Visitor) -> tuple[int, BeautifulSoup]:
    page = visitor.submit(
        "/waste/pickups", on_day="2027-02-19", request_day="2027-02-17", request_clock="12:00"
    )
    form = page.select_one("form[action$='/call-off']")
    assert form is not None
    found = re.search(r"/waste/pickups/([0-9]+)/", str(form["action"]))
    assert found is not None
    return int(found[1]), page


def test_another_labs_waste_is_not_here(petra: Visitor, tomas: Visitor, carboy_id: int) -> None:
    pickup_id, _page = _book(tomas)

    assert "Rinse 1" not in text_of(petra.page("/waste"))
    for ending in ("", "/label"):
        petra.page(f"/waste/containers/{carboy_id}{ending}", 404)
    petra.page(f"/waste/pour?container_id={carboy_id}", 404)
    petra.page(f"/waste/pickups/{pickup_id}", 404)
    petra.submit("/waste/pour", 404, **_pour_fields(carboy_id, "pour-0001"))
    petra.submit(f"/waste/pickups/{pickup_id}/request", 404)
    petra.submit(f"/waste/pickups/{pickup_id}/call-off", 404)
    petra.submit(f"/waste/pickups/{pickup_id}/hand-over", 404, container_ids=[carboy_id])
    assert "13.2 L of 18 L" in text_of(tomas.page("/waste"))


def test_a_container_for_another_labs_stream_is_not_opened(
    petra: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        stream_id = next(iter(bench.streams(session).values()))
    petra.submit("/waste/streams/usual")

    petra.submit("/waste/containers", 404, stream_id=stream_id, name="Mine", size="5 L")


@pytest.mark.parametrize(
    "address", ["/waste", "/waste/pour", "/waste/pickups", "/waste/containers/1", "/waste/pickups/1"]
)
def test_students_do_not_see_the_waste_pages(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


@pytest.mark.parametrize(
    "address",
    [
        "/waste/streams",
        "/waste/streams/usual",
        "/waste/containers",
        "/waste/containers/1/entries/1/reverse",
        "/waste/pour",
        "/waste/pickups",
        "/waste/pickups/1/request",
        "/waste/pickups/1/call-off",
        "/waste/pickups/1/hand-over",
    ],
)
def test_students_write_nothing_about_waste(tablet: Visitor, address: str) -> None:
    tablet.submit(address, 403)


def test_a_stream_is_added_and_a_second_for_its_source_refused(tomas: Visitor) -> None:
    page = tomas.submit("/waste/streams", name="Rinse", takes="rinse", hazards="traces of silver")
    assert page.select_one("h1").text == "Rinse"  # type: ignore[union-attr]
    assert "Takes rinse only; traces of silver." in text_of(page)
    assert "water, traces of several baths" in text_of(page)

    page = tomas.submit("/waste/streams", 409, name="Rinse again", takes="rinse", hazards="")
    assert "takes rinse already" in text_of(page)

    page = tomas.submit("/waste/streams", 422, name="x" * 41, takes="soup", hazards="keep me")
    assert page.select_one("#name")["value"] == "x" * 41  # type: ignore[index]
    assert page.select_one("#hazards")["value"] == "keep me"  # type: ignore[index]
    assert "Please choose one of the list." in text_of(page)


def test_the_streams_page_tells_what_each_pair_may_bring(tomas: Visitor) -> None:
    tomas.submit("/waste/streams/usual", with_sulfite="true")
    tomas.submit("/waste/streams", name="Towels", takes="other", hazards="")
    page = tomas.page("/waste/streams")
    rows = {
        " ".join(row.select_one("th").text.split()): " ".join(row.text.split())  # type: ignore[union-attr]
        for row in page.select("table.pairs tbody tr")
    }

    assert list(rows) == [
        "Developer and Bleach",
        "Developer and Rinse",
        "Developer and Towels",
        "Bleach and Rinse",
        "Bleach and Towels",
        "Rinse and Towels",
    ]
    developer_bleach = rows["Developer and Bleach"]
    assert "keep apart" in developer_bleach
    assert "explosion, fire, toxic gas" in developer_bleach
    assert "EPA-600/2-80-076" in developer_bleach
    assert "from memory" in developer_bleach
    assert "sulfur dioxide" in developer_bleach
    assert "stand apart" in developer_bleach
    assert "not in the chart; not known to be harmless" in rows["Bleach and Towels"]
    assert not re.search(r"\b(safe|compatible)\b", text_of(page), re.IGNORECASE)


def test_a_stream_s_page_keeps_what_was_typed_and_takes_what_it_holds(tomas: Visitor) -> None:
    tomas.submit("/waste/streams/usual")
    address = str(tomas.page("/waste/streams").select_one("table a[href^='/waste/streams/']")["href"])  # type: ignore[index]
    page = tomas.submit(address, 422, name="Developer", density="heavy", groups=["10", "soup"])
    assert page.select_one("#density")["value"] == "heavy"  # type: ignore[index]
    assert "Please write a number" in text_of(page)
    assert [box["value"] for box in page.select("input[name=groups][checked]")] == ["10"]

    page = tomas.submit(
        address, name="Developer", density="1.055", density_measured="true", groups=["10", "sulfites", "1"]
    )
    assert "Holds: mineral acids, caustics, sulfites." in text_of(page)
    assert "1.055 g/mL, measured" in text_of(page)
    assert "What it may do in its own container" in text_of(page)


def test_a_dichromate_stream_is_added_by_itself(tomas: Visitor) -> None:
    page = tomas.submit("/waste/streams/dichromate")

    assert page.select_one("h1").text == "Dichromate bleach"  # type: ignore[union-attr]
    assert (
        "oxidizing mineral acids, toxic metals and their salts, strong oxidizers, photographic bleach"
        in text_of(page)
    )
    assert "already a stream called" in text_of(tomas.submit("/waste/streams/dichromate", 409))


def test_what_the_last_batch_holds_says_how_much_gas_acid_would_free(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    """35 g/L of sodium carbonate, weighed to 0.01 g, give off 7.94 L of carbon dioxide a litre at most: 24.055 L/mol, computed."""
    with in_lab() as session:
        bench.streams(session)
        from_powder.recipes(session)
        from_powder.powders(session)
        for stock in ("stock A", "stock B"):
            mixing.by_name(session, stock, 500_000)
        developer = mixing.developer(session, 250_000)
    page = tomas.page("/waste/streams")
    link = str(page.select_one("table a[href^='/waste/streams/']")["href"])  # type: ignore[index]

    assert re.search(
        r"g/L of Na2CO3 ÷ 105\.988 g/mol, .* = 7\.9[345][0-9]? L of carbon dioxide", text_of(page)
    )
    assert f"Batch {developer.number}, mixed last, holds" in text_of(tomas.page(link))


def test_sulfite_in_the_last_batch_is_counted_though_nobody_ticked_it(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    """5 g/L of sodium sulfite give off 0.954 L of sulfur dioxide a litre at most, 19 ppm in 50 m³: computed."""
    with in_lab() as session:
        bench.streams(session)
        from_powder.write(
            session, "sulfite developer", Solution.DEVELOPER, NewComponent("sulfite", 5_000, Measure.MASS, "Na2SO3")
        )  # fmt: skip
        take_in_kit(
            session, name="sulfite", arrived_on=MORNING.date(), expires_on=None,
            contents=[NewBottle("sulfite", 100_000, Measure.MASS, formula="Na2SO3")], by="Tomas", now=MORNING,
        )  # fmt: skip
        mixing.by_name(session, "sulfite developer", 1_000_000)
    page = text_of(tomas.page("/waste/streams"))

    assert "5 g/L of Na2SO3 ÷ 126.037 g/mol" in page
    assert "0.9543 L of sulfur dioxide (2.541 g) from each litre at most" in page
    assert "makes 19.1 ppm; a workplace's air may hold 5 ppm" in page
