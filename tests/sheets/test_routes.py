"""Request sheets over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from server.data.session import LabSession
from server.handovers.actions import hand_over
from server.pickups.actions import choose_containers
from tests.casts import MORNING
from tests.conftest import Visitor
from tests.containers.bench import Bench
from tests.pickups.booked import BERLIN, booked
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def ids(in_lab: InLab, bench: Bench) -> tuple[int, int]:
    """A pickup with a carboy of 20 L at 13.2 L on its sheet, and the carboy."""
    with in_lab() as session:
        carboy = bench.rinse_carboy(session, held_ul=13_200_000)
        pickup = booked(session)
        choose_containers(session, pickup.id, [carboy.id], zone=BERLIN, by="Tomas", now=MORNING)
        return pickup.id, carboy.id


TOLD = {
    "contents": "Rinse water with traces of developer and bleach",
    "composition": "water 99.5 %\nsalts 0,5\ntraces of silver",
    "physical_state": "liquid",
    "vessel": "plastic can or carboy",
    "ph": "7.4",
    "ph_temperature": "20.5",
    "gross": "14.5 kg",
    "tare": "1.2 kg",
    "handling": "cap leaks",
}


def test_what_is_told_of_a_container_stands_on_the_sheet(tomas: Visitor, ids: tuple[int, int]) -> None:
    pickup_id, carboy_id = ids
    address = f"/waste/pickups/{pickup_id}/containers/{carboy_id}"
    assert typed_in(tomas.page(address), "contents") == "Rinse water from photographic plates"

    tomas.submit(address, 200, **TOLD)
    page = tomas.page(address)
    assert (typed_in(page, "gross"), typed_in(page, "ph"), typed_in(page, "ph_temperature")) == (
        "14.5 kg",
        "7.4",
        "20.5",
    )
    words = text_of(tomas.page(f"/waste/pickups/{pickup_id}/sheet"))
    for told in (
        "Rinse water with traces of developer and bleach",
        "water 99.5 %; salts 0.5 %; traces of silver",
        "pH 7.4 at 20.5 °C",
        "plastic can or carboy, holds 20 L",
        "13 L, 13 kg net",
        "13.3 kg",
        "1.2 kg",
        "14.5 kg",
        "cap leaks",
    ):
        assert told in words


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("composition", "water 99 %", "This adds up to 99 %, not 100 %."),
        ("composition", "wa\u200bter 100", "There is a sign in it that can't be printed."),
        ("read", "20 L", "A capacity is no quantity."),
        ("read", "20", "Please write the unit too: 20 mL or 20 L."),
        ("gross", "25 kg", "the density or the tare is wrong"),
        ("gross", "14.5", "Please write the unit too: 14.5 kg or 14.5 g."),
        ("gross", "0 kg", "Please write more than nothing"),
        ("tare", "heavy", "“heavy” is not a mass"),
        ("tare", "", "Write what the container weighs empty too"),
        ("ph", "15", "Please write 14 or less."),
        ("ph_temperature", "", "A pH depends on the temperature."),
        ("vessel", "bucket", "Please choose one of the list."),
    ],
)
def test_what_cannot_be_is_asked_back_beside_its_field_with_everything_typed_kept(
    tomas: Visitor, ids: tuple[int, int], field: str, typed: str, sentence: str
) -> None:
    """Container capacities are not acceptable as quantities: instructions to EPA Form 8700-22, item 11."""
    fields = {**TOLD, **({"gross": "", "tare": ""} if field == "read" else {}), field: typed}
    page = tomas.submit("/waste/pickups/{}/containers/{}".format(*ids), 422, **fields)

    assert sentence in text_of(page)
    assert typed_in(page, "handling") == "cap leaks"


def test_after_the_hand_over_nothing_is_told_any_more(
    tomas: Visitor, ids: tuple[int, int], in_lab: InLab
) -> None:
    with in_lab() as session:
        hand_over(session, ids[0], [ids[1]], by="Tomas", now=MORNING)
    address = "/waste/pickups/{}/containers/{}".format(*ids)

    assert "what was told stays as it is" in text_of(tomas.page(address))
    assert "was handed over already" in text_of(tomas.submit(address, 409, contents="something else"))


def test_a_container_that_is_not_on_the_sheet_has_no_page_there(tomas: Visitor, ids: tuple[int, int]) -> None:
    words = text_of(tomas.page(f"/waste/pickups/{ids[0]}/containers/{ids[1] + 9}", 404))

    assert "isn't on that pickup's sheet" in words


def test_the_particulars_are_kept_and_shown_again(tomas: Visitor, ids: tuple[int, int]) -> None:
    page = tomas.submit("/waste/pickups/particulars", 422, generator="x" * 121, phone="555 0104")
    assert "at most 120 characters" in text_of(page)
    assert typed_in(page, "phone") == "555 0104"

    tomas.submit("/waste/pickups/particulars", generator="Harbour College", phone="555 0104")
    assert typed_in(tomas.page("/waste/pickups/particulars"), "generator") == "Harbour College"
    assert "Harbour College" in text_of(tomas.page(f"/waste/pickups/{ids[0]}/sheet"))
