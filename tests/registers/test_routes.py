"""The register and its files over HTTP."""

import csv
from collections.abc import Callable
from contextlib import AbstractContextManager
from io import StringIO

import httpx
import pytest

from server.containers.models import Source
from server.containers.queries import get_container, list_entries
from server.core.container_life import ContainerState
from server.core.measuring import Method
from server.data.session import LabSession
from server.pours.actions import pour, reverse_entry
from server.registers import pages
from tests.casts import MORNING
from tests.conftest import Visitor
from tests.containers.bench import LITRE, Bench
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def carboy_id(in_lab: InLab, bench: Bench) -> int:
    """A carboy with a pour of 2 L, and one of 1 L that was reversed."""
    with in_lab() as session:
        carboy = bench.rinse_carboy(session, held_ul=2 * LITRE)
        wrong = pour(
            session, container_id=carboy.id, volume_ul=LITRE, typed="1 L", method=Method.ESTIMATE, source=Source.RINSE,
            tablet_id="pour-0002", note="=after class", by="Tomas", now=MORNING,
        )  # fmt: skip
        reverse_entry(session, carboy.id, wrong.id, reason="poured elsewhere", by="Mira", now=MORNING)
        return carboy.id


def _rows(answer: httpx.Response) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(answer.content.decode("utf-8-sig"), newline="")))


@pytest.mark.usefixtures("carboy_id")
def test_the_register_shows_every_field_of_an_entry(tomas: Visitor) -> None:
    text = text_of(tomas.page("/waste/register"))

    for words in ("Cellar lab", "Rinse 1", "pour, reversed by no. 3", "reverses no. 2", "estimate", "poured elsewhere", "Mira", "3 kg"):  # fmt: skip
        assert words in text


@pytest.mark.usefixtures("carboy_id")
def test_the_file_of_entries_holds_all_of_them_and_no_formula(tomas: Visitor) -> None:
    answer = tomas.get("/waste/register/entries.csv")
    rows = _rows(answer)

    assert answer.headers["content-type"] == "text/csv; header=present; charset=utf-8"
    assert "waste register 2027-02-16.csv" in answer.headers["content-disposition"]
    assert [(row["kind"], row["in mL"], row["out mL"], row["then held mL"]) for row in rows] == [
        ("pour", "2000.000", "", "2000.000"),
        ("pour", "1000.000", "", "3000.000"),
        ("correction", "", "1000.000", "2000.000"),
    ]
    assert [row["reversed by no"] for row in rows] == ["", "3", ""]
    assert rows[2]["reverses no"] == "2"
    assert rows[1]["note"] == "'=after class"
    assert rows[0]["happened"] == "2027-02-16 08:00"


@pytest.mark.parametrize(
    ("query", "kept"),
    [
        ("first_day=2027-02-16&last_day=2027-02-16", 3),
        ("first_day=2027-02-17", 0),
        ("last_day=2027-02-15", 0),
        ("container=Rinse%201", 3),
    ],
)
@pytest.mark.usefixtures("carboy_id")
def test_the_file_keeps_to_the_days_and_the_container_that_were_asked_for(
    tomas: Visitor, query: str, kept: int
) -> None:
    assert len(_rows(tomas.get(f"/waste/register/entries.csv?{query}"))) == kept


def test_a_file_that_is_written_in_pieces_misses_no_entry(
    tomas: Visitor, in_lab: InLab, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "LINES", 4)
    with in_lab() as session:
        carboy = bench.rinse_carboy(session)
        bench.long_ledger(session, carboy, entries=10)
        # Two that were entered at one moment, at the end of a piece.
        entries = list_entries(session, carboy.id)
        entries[4].entered_at = entries[3].entered_at
        wanted = [str(entry.id) for entry in entries]

    assert [row["no"] for row in _rows(tomas.get("/waste/register/entries.csv"))] == wanted


def test_the_lives_of_containers_are_a_file_too(tomas: Visitor, in_lab: InLab, carboy_id: int) -> None:
    with in_lab() as session:
        states = [get_container(session, carboy_id).state]
    rows = _rows(tomas.get("/waste/register/containers.csv"))

    assert {row["container"] for row in rows} == {"Rinse 1"}
    assert rows[-1]["became"] == states[-1]
    assert rows[0]["size mL"] == "20000.000"
    assert ContainerState(rows[0]["became"])


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ("first_day=2027-02-16&last_day=2027-02-01", 422, "The last day comes before the first."),
        ("first_day=soon", 422, "Please write a date such as"),
        ("container=Rinse%209", 404, "no waste container called “Rinse 9”"),
    ],
)
@pytest.mark.parametrize("ending", ["", "/entries.csv"])
def test_days_or_a_container_that_can_t_be_shown_are_asked_back(
    tomas: Visitor, ending: str, query: str, status: int, words: str
) -> None:
    assert words in text_of(tomas.page(f"/waste/register{ending}?{query}", status))


@pytest.mark.usefixtures("carboy_id")
def test_another_lab_s_register_is_not_seen(petra: Visitor) -> None:
    assert "Rinse 1" not in text_of(petra.page("/waste/register"))
    assert _rows(petra.get("/waste/register/entries.csv")) == []
    assert _rows(petra.get("/waste/register/containers.csv")) == []
    petra.page("/waste/register?container=Rinse%201", 404)


def test_the_register_is_for_staff(tablet: Visitor) -> None:
    for ending in ("", "/entries.csv", "/containers.csv"):
        tablet.page(f"/waste/register{ending}", 403)
