"""The overview of stock and the account over HTTP."""

import csv
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from server.kits.actions import correct_bottle, draw_from_bottle
from server.kits.models import STOCK_A, STOCK_B
from server.plates.actions import draw_plates
from server.plates.models import PlateEntryKind
from tests.casts import MORNING
from tests.conftest import Visitor
from tests.kits import shelf as kits
from tests.plates import shelf as plates
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


def _rows(page: BeautifulSoup) -> list[str]:
    return [text_of(row) for row in page.select("tbody tr")]


def test_an_empty_shelf_says_what_to_do(tomas: Visitor) -> None:
    text = text_of(tomas.page("/stock"))

    assert "0 plates left" in text
    assert "No plates are on the shelf" in text
    assert "No kit is on the shelf" in text


def test_expired_and_used_up_things_are_told_apart(tomas: Visitor, in_lab: InLab) -> None:
    with in_lab() as session:
        plates.box(session, "old box", expires_on=date(2027, 2, 15))
        kits.kit(session, "old kit", expires_on=date(2027, 2, 15), stock_b_ul=0, bleach_ul=0)
    text = text_of(tomas.page("/stock"))

    assert "30 plates left, 0 of them in sound boxes" in text
    assert "expired Mon 15 Feb 2027: plate box “old box”" in text
    assert "short of plates: 0 plates may be used, the last delivery brought 30 plates" in text
    assert "short of stock A: 0 mL may be used" in text


def test_the_terms_account_names_the_box_whose_plates_are_missing(tomas: Visitor, in_lab: InLab) -> None:
    """Worked by hand: bought 90; 71 runs, 9 tests and 2 dropped are 82; counted 6, so 2 are missing, both of box 8."""
    with in_lab() as session:
        boxes = [plates.box(session, f"box {number}").id for number in (7, 8, 9)]
        used = (
            (boxes[0], 28, PlateEntryKind.RUN),
            (boxes[0], 2, PlateEntryKind.LOST),
            (boxes[1], 25, PlateEntryKind.RUN),
            (boxes[1], 1, PlateEntryKind.TEST),
            (boxes[2], 18, PlateEntryKind.RUN),
            (boxes[2], 8, PlateEntryKind.TEST),
        )
        for box_id, taken, kind in used:
            draw_plates(session, box_id, plates=taken, kind=kind, by="Tomas", now=MORNING)
    assert "0 plates are missing" in text_of(tomas.page("/stock/account"))

    tomas.submit(f"/stock/plate-boxes/{boxes[1]}/corrections", counted="2", reason="term end")

    page = tomas.page("/stock/account")
    assert "2 plates are missing" in text_of(page)
    assert "= 90 − 71 − 9 − 2 − 6 = 2" in text_of(page)
    assert "box 8 30 25 1 0 2 2 2 on Tue 16 Feb 2027" in _rows(page)
    assert "All boxes 90 71 9 2 6 2" in _rows(page)


def test_the_terms_account_judges_what_is_unexplained_of_a_solution(tomas: Visitor, in_lab: InLab) -> None:
    """Worked by hand: 2 L bought, 1.55 L mixed, 0.40 L measured: 50 mL or 2.5 % are unexplained, within 5 %."""
    with in_lab() as session:
        kit = kits.kit(session, stock_a_ul=2_000_000)
        stock_a, stock_b = (kits.bottle(session, kit, kind) for kind in (STOCK_A, STOCK_B))
        draw_from_bottle(session, stock_a.id, amount=1_550_000, batch_number=1, by="Tomas", now=MORNING)
        for bottle, measured_ul in ((stock_a, 400_000), (stock_b, 900_000)):
            correct_bottle(
                session, bottle.id, measured=measured_ul, reason="term end", by="Tomas", now=MORNING
            )

    rows = _rows(tomas.page("/stock/account"))

    assert "stock A 2 L 1.55 L 0 mL 400 mL 50 mL (2.5 %) within 5 %" in rows
    assert "stock B 1 L 0 mL 0 mL 900 mL 100 mL (10.0 %) more than 5 %: ask" in rows


@pytest.fixture
def two_boxes(in_lab: InLab) -> tuple[int, int]:
    with in_lab() as session:
        return plates.box(session, "box 7").id, plates.box(session, "box 8").id


def _counts(boxes: tuple[int, int], counted: list[str], reason: list[str], left: int = 30) -> dict[str, Any]:
    return {"plate_box_id": list(boxes), "left": [left, left], "counted": counted, "reason": reason}


def test_boxes_are_counted_at_once_and_each_difference_is_asked_about(
    tomas: Visitor, two_boxes: tuple[int, int]
) -> None:
    page = tomas.submit("/stock/account/counts", 422, **_counts(two_boxes, ["30", "28"], ["", ""]))
    assert "The ledger says 30, you counted 28: 2 missing. Look for them and ask" in text_of(page)
    assert (typed_in(page, "counted-1"), typed_in(page, "counted-2")) == ("30", "28")
    assert "0 plates are missing" in text_of(page)

    page = tomas.submit("/stock/account/counts", **_counts(two_boxes, ["30", "28"], ["", "nobody knows"]))

    assert "box 7 30 0 0 0 30 0 30 on Tue 16 Feb 2027" in _rows(page)
    assert "box 8 30 0 0 0 28 2 28 on Tue 16 Feb 2027" in _rows(page)
    assert "2 plates are missing" in text_of(page)
    assert "correction −2 28 nobody knows Tomas" in text_of(tomas.page(f"/stock/plate-boxes/{two_boxes[1]}"))


def test_more_plates_than_the_ledger_says_are_asked_about_too(
    tomas: Visitor, two_boxes: tuple[int, int]
) -> None:
    page = tomas.submit("/stock/account/counts", 422, **_counts(two_boxes, ["", "31"], ["", ""]))

    assert "you counted 31: 1 too many. Look whether plates of another box lie in it" in text_of(page)


def test_a_ledger_that_moved_while_somebody_counted_is_asked_about(
    tomas: Visitor, two_boxes: tuple[int, int]
) -> None:
    counts = _counts(two_boxes, ["31", ""], ["", ""], left=31)
    page = tomas.submit("/stock/account/counts", 422, **counts)

    assert "The ledger went from 31 to 30 since you opened this page" in text_of(page)


@pytest.mark.parametrize(
    ("counted", "sentence", "status"),
    [("thirty", "whole number", 422), ("-1", "0 or more", 422), ("", "Nothing was counted", 409)],
)
def test_counts_that_cannot_be_read_and_no_counts_at_all_change_nothing(
    tomas: Visitor, two_boxes: tuple[int, int], counted: str, sentence: str, status: int
) -> None:
    page = tomas.submit("/stock/account/counts", status, **_counts(two_boxes, [counted, ""], ["", ""]))

    assert sentence in text_of(page)
    assert "0 plates are missing" in text_of(tomas.page("/stock/account"))


def test_a_box_that_was_not_counted_stays_as_it_is(tomas: Visitor, two_boxes: tuple[int, int]) -> None:
    page = tomas.submit("/stock/account/counts", **_counts(two_boxes, ["", "30"], ["", ""]))

    assert "box 7 30 0 0 0 30 0" in _rows(page)
    assert "box 8 30 0 0 0 30 0 30 on Tue 16 Feb 2027" in _rows(page)


def test_the_account_says_which_tests_and_losses_took_the_plates(
    tomas: Visitor, two_boxes: tuple[int, int]
) -> None:
    address = f"/stock/plate-boxes/{two_boxes[0]}"
    tomas.submit(f"{address}/tests", test="test strip", test_plates="3")
    tomas.submit(f"{address}/losses", loss="given away", lost_plates="1")
    tomas.submit(f"{address}/fog-tests", result="clear", fog_plates="2")

    assert "Tests and losses: fog test 2, lost, given away 1, test strip 3." in text_of(
        tomas.page("/stock/account")
    )


def test_the_account_by_box_is_downloaded_as_a_table(tomas: Visitor, two_boxes: tuple[int, int]) -> None:
    tomas.submit("/stock/account/counts", **_counts(two_boxes, ["", "28"], ["", "nobody knows"]))
    answer = tomas.get("/stock/account/plates.csv")
    rows = list(csv.DictReader(answer.text.removeprefix("\ufeff").splitlines()))

    assert "plates by box 2027-02-16.csv" in answer.headers["content-disposition"]
    assert [(row["Box"], row["Bought"], row["On the shelf"], row["Missing"]) for row in rows] == [
        ("box 7", "30", "30", "0"),
        ("box 8", "30", "28", "2"),
    ]
    assert (rows[1]["Counted"], rows[1]["Counted on"]) == ("28", "Tue 16 Feb 2027")


def test_an_account_without_stock_says_what_to_do(tomas: Visitor) -> None:
    assert "Take the first one in under Stock" in text_of(tomas.page("/stock/account"))


@pytest.mark.parametrize("address", ["/stock", "/stock/account"])
def test_students_never_see_the_stock(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


def test_the_overview_says_what_can_still_be_made_and_of_what(tomas: Visitor, in_lab: InLab) -> None:
    with in_lab() as session:
        kits.kit(session, stock_b_ul=450_000, bleach_ul=0, makes_ul=2_000_000)
    page = tomas.page("/stock")

    assert "working developer that can still be made 900 mL" in text_of(page)
    assert "working developer 900 mL stock B" in _rows(page)
    assert (
        "Why 900 mL of working developer It would take 450 mL of stock A of kit “kit 4” 450 mL of stock B of kit “kit 4”"
        in text_of(page)
    )
    assert "bleach 0 mL missing bleach" in _rows(page)
    assert "kit 4 2 L 900 mL less stock B" in _rows(page)
