"""Hand-overs and records over HTTP."""

import csv
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import timedelta
from io import StringIO

import pytest
from bs4 import BeautifulSoup

from server.containers.queries import list_unbalanced
from server.data.session import LabSession
from server.sheets.actions import tell_of_container
from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.containers.bench import LITRE, Bench
from tests.pickups.booked import NEXT_FRIDAY, asked, booked
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def ids(in_lab: InLab, bench: Bench, server: Running) -> tuple[int, int, int]:
    """A pickup that is requested for two carboys, on its own day; the first one's id, the second one's."""
    with in_lab() as session:
        first = bench.rinse_carboy(session, held_ul=13_200_000)
        second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
        pickup = asked(session, booked(session), first.id, second.id)
        tell_of_container(
            session, pickup.id, first.id, vessel="plastic can or carboy", contents="rinse water", composition="water 99.5 %\nsalts 0.5 %",
            physical_state="liquid", ph_hundredths=1231, temperature_decicelsius=205, read_ul=None, gross_mg=14_400_000,
            tare_mg=1_200_000, handling="", by="Tomas", now=MORNING,
        )  # fmt: skip
        found = pickup.id, first.id, second.id
    server.clock.instant = MORNING + timedelta(days=3)
    return found


def _hand_over(
    visitor: Visitor, ids: tuple[int, int, int], second: tuple[str, str], status: int = 200
) -> BeautifulSoup:
    pickup_id, first_id, second_id = ids
    return visitor.submit(
        f"/waste/pickups/{pickup_id}/hand-over", status, container_id=[first_id, second_id], outcome=["taken", second[0]],
        line_receipt=["R-7", ""], left_reason=["", second[1]], collected_by="Waste office", receipt="M-12",
    )  # fmt: skip


def test_what_is_not_said_of_a_container_is_asked_for_and_nothing_typed_is_lost(
    tomas: Visitor, ids: tuple[int, int, int]
) -> None:
    page = tomas.page(f"/waste/pickups/{ids[0]}/hand-over")
    assert "Rinse 1 Rinse, 13.2 L" in text_of(page)

    page = _hand_over(tomas, ids, ("", ""), 422)
    assert "Say whether it was taken or left." in text_of(page)
    assert (typed_in(page, "collected_by"), typed_in(page, "line_receipt-1")) == ("Waste office", "R-7")
    page = _hand_over(tomas, ids, ("left", ""), 422)
    assert "Write why it was left." in text_of(page)
    page = _hand_over(tomas, ids, ("eaten", ""), 422)
    assert "Please choose one of the list." in text_of(page)

    page = _hand_over(tomas, ids, ("left", "no label"))
    assert "handed over to Waste office" in text_of(page)
    assert "left: no label" in text_of(page)
    assert "M-12" in text_of(page)
    assert "was handed over already" in text_of(_hand_over(tomas, ids, ("taken", ""), 409))
    assert "collected" in text_of(tomas.page(f"/waste/containers/{ids[1]}"))


def test_a_container_that_was_not_on_the_sheet_is_offered_and_taken_too(
    tomas: Visitor, ids: tuple[int, int, int], in_lab: InLab, bench: Bench
) -> None:
    """A browser sends every line's fields; one that isn't on the sheet has no reason to be left."""
    with in_lab() as session:
        extra_id = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 0").id
    page = tomas.page(f"/waste/pickups/{ids[0]}/hand-over")
    assert "Rinse 0 Rinse, 1 L ; not on the sheet" in text_of(page)
    assert all(len(row.select("[name='left_reason']")) == 1 for row in page.select("tbody tr"))

    page = tomas.submit(
        f"/waste/pickups/{ids[0]}/hand-over", container_id=[ids[1], ids[2], extra_id], outcome=["taken", "left", "taken"],
        line_receipt=["", "", ""], left_reason=["", "no label", ""],
    )  # fmt: skip
    assert "taken, though not on the request" in text_of(page)


@pytest.mark.parametrize(
    ("day", "clock", "sentence"),
    [
        ("2027-02-19", "08:01", "That is still to come."),
        ("2027-02-20", "07:00", "That is still to come."),
        ("2027-02-19", "eight", "a time such as 09:40"),
        ("2026-03-29", "02:30", "the clocks skip 02:30"),
    ],
)
def test_a_time_of_the_hand_over_that_cannot_be_is_asked_back(
    tomas: Visitor, ids: tuple[int, int, int], day: str, clock: str, sentence: str
) -> None:
    page = tomas.page(f"/waste/pickups/{ids[0]}/hand-over")
    assert (typed_in(page, "handed_on"), typed_in(page, "handed_clock")) == ("2027-02-19", "08:00")

    page = tomas.submit(
        f"/waste/pickups/{ids[0]}/hand-over", 422, container_id=[ids[1], ids[2]], outcome=["taken", "taken"], line_receipt=["", ""],
        left_reason=["", ""], handed_on=day, handed_clock=clock,
    )  # fmt: skip
    assert sentence in text_of(page)


def test_a_hand_over_of_the_day_before_is_recorded_for_that_day(
    tomas: Visitor, ids: tuple[int, int, int]
) -> None:
    page = tomas.submit(
        f"/waste/pickups/{ids[0]}/hand-over", container_id=[ids[1], ids[2]], outcome=["taken", "taken"], line_receipt=["", ""],
        left_reason=["", ""], handed_on="2027-02-18", handed_clock="15.20",
    )  # fmt: skip

    assert "handed over, Thu 18 Feb 2027, 15:20" in text_of(page)


def test_a_hand_over_entered_by_mistake_is_taken_back(tomas: Visitor, ids: tuple[int, int, int]) -> None:
    _hand_over(tomas, ids, ("taken", ""))
    page = tomas.submit(f"/waste/pickups/{ids[0]}/take-back", 422, take_back_reason=" ")
    assert "Please fill this in." in text_of(page)

    page = tomas.submit(f"/waste/pickups/{ids[0]}/take-back", take_back_reason="wrong pickup")
    assert "hand-over taken back: wrong pickup" in text_of(page)
    assert "13.2 L" in text_of(tomas.page(f"/waste/containers/{ids[1]}"))
    _hand_over(tomas, ids, ("taken", ""))


def test_a_missed_pickup_keeps_what_was_said_and_warns_on_the_overview_and_today(
    tomas: Visitor, ids: tuple[int, int, int]
) -> None:
    page = tomas.submit(f"/waste/pickups/{ids[0]}/missed", 422, said="")
    assert "Please fill this in." in text_of(page)

    page = tomas.submit(f"/waste/pickups/{ids[0]}/missed", said="truck broke down")
    assert "missed: truck broke down" in text_of(page)
    for address in ("/waste", "/", "/waste/pickups"):
        words = text_of(tomas.page(address))
        assert (
            "was missed (truck broke down); still here: “Rinse 1”, “Rinse 2”. Call your waste office."
            in words
        )
    page = tomas.page(f"/waste/pickups/{ids[0]}/hand-over")
    assert "nothing more is handed over to it" in text_of(page)


def test_records_are_shown_and_downloaded_for_the_days_that_were_asked_for(
    tomas: Visitor, ids: tuple[int, int, int], in_lab: InLab
) -> None:
    _hand_over(tomas, ids, ("left", "=no label"))
    with in_lab() as session:
        booked(session, NEXT_FRIDAY).called_off_at = MORNING

    page = tomas.page("/waste/pickups/records")
    assert "Taken: 1 container with 13.2 L, 13.2 kg net." in text_of(page)
    assert "Nothing is ever deleted here." in text_of(page)
    assert "three years" in text_of(page)
    assert "No pickup was booked" in text_of(
        tomas.page("/waste/pickups/records?first=2027-03-31&last=2027-03-01")
    )
    page = tomas.page("/waste/pickups/records?first=then&last=2027-03-01", 422)
    assert typed_in(page, "first") == "then"

    file = tomas.get("/waste/pickups/records.csv?first=2027-02-01&last=2027-02-28")
    assert 'filename="pickups 2027-02-01 to 2027-02-28.csv"' in file.headers["content-disposition"]
    rows = list(csv.DictReader(StringIO(file.content.decode("utf-8-sig"))))
    assert [(row["Container"], row["Became"]) for row in rows] == [
        ("Rinse 1", "taken"),
        ("Rinse 2", "left: =no label"),
        ("", ""),
    ]
    taken = rows[0]
    assert (taken["Composition"], taken["pH"], taken["Measured at"]) == (
        "water 99.5 %; salts 0.5 %",
        "12.31",
        "20.5 °C",
    )
    assert (taken["Quantity in L"], taken["Net in kg"], taken["Tare in kg"]) == ("13.2", "13.2", "1.2")
    assert (taken["How measured"], taken["Receipt of the container"]) == ("weighed", "R-7")
    assert (taken["Requested by"], taken["Collected by"]) == ("Tomas", "Waste office")
    assert rows[2]["State"] == "called off"


def test_an_empty_span_of_records_is_the_last_three_years(tomas: Visitor, server: Running) -> None:
    server.clock.instant = MORNING.replace(year=2028, month=2, day=29)
    page = tomas.page("/waste/pickups/records")

    assert (typed_in(page, "first"), typed_in(page, "last")) == ("2025-02-28", "2028-02-29")
    file = tomas.get("/waste/pickups/records.csv")
    assert "2025-02-28 to 2028-02-29" in file.headers["content-disposition"]


def test_twenty_hand_overs_at_once_collect_once(
    tomas: Visitor, ids: tuple[int, int, int], in_lab: InLab
) -> None:
    ready = threading.Barrier(20)

    def _hand(_number: int) -> int:
        ready.wait(timeout=30)
        data = {
            "container_id": [ids[1], ids[2]],
            "outcome": ["taken", "left"],
            "line_receipt": ["", ""],
            "left_reason": ["", "dented"],
        }
        return tomas.post(f"/waste/pickups/{ids[0]}/hand-over", data=data).status_code

    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(_hand, range(20)))

    assert sorted(answers) == [200, *[409] * 19]
    with in_lab() as session:
        assert list_unbalanced(session) == []


def test_two_people_handing_one_container_to_two_pickups_at_once_collect_it_once(
    tomas: Visitor, mira: Visitor, ids: tuple[int, int, int], in_lab: InLab, bench: Bench
) -> None:
    """It stands on neither sheet, and both collectors would take it along."""
    with in_lab() as session:
        extra_id = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 3").id
        pickups = [booked(session, NEXT_FRIDAY).id, booked(session, NEXT_FRIDAY + timedelta(days=7)).id]
    ready = threading.Barrier(2)

    def _hand(visitor: Visitor, pickup_id: int) -> int:
        ready.wait(timeout=30)
        data = {"container_id": [extra_id], "outcome": ["taken"], "line_receipt": [""], "left_reason": [""]}
        return visitor.post(f"/waste/pickups/{pickup_id}/hand-over", data=data).status_code

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(_hand, (tomas, mira), pickups))

    assert sorted(answers) == [200, 409]
    with in_lab() as session:
        assert list_unbalanced(session) == []
