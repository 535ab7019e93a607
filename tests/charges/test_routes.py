"""The trays' page over HTTP. The cellar lab's clock shows 08:00 when a test begins."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.charges.actions import count_plate_through, empty_charge
from server.charges.queries import list_charges, list_unbalanced
from server.chemistry.actions import check_batch
from server.chemistry.queries import list_live_batches
from server.data.session import LabSession
from server.stations.actions import add_tray_line
from tests.casts import MORNING
from tests.chemistry import mixing, mixing_pages
from tests.conftest import Running, Visitor
from tests.kits import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def stocked(in_lab: InLab) -> None:
    with in_lab() as session:
        shelf.kit(session, "later kit")
        shelf.kit(session, "kit 4", expires_on=datetime(2027, 3, 1, tzinfo=UTC).date())
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)


def _mix(in_lab: InLab, volume_ul: int = 600_000, **changed: Any) -> None:
    """Developer that has stood."""
    with in_lab() as session:
        mixing.developer(session, volume_ul, **changed)


def _pour(visitor: Visitor, status: int = 200, **changed: str) -> BeautifulSoup:
    page = visitor.page("/charges")
    fields = {
        "batch_id": mixing_pages.options(page, "batch_id")[0][0],
        "place_id": mixing_pages.options(page, "place_id")[0][0],
        "charge_volume": typed_in(page, "charge_volume"),
    }
    return visitor.submit("/charges", status, **(fields | changed))


def test_a_charge_stands_in_its_tray_with_its_limits(tomas: Visitor, in_lab: InLab, stocked: None) -> None:
    _mix(in_lab)
    page = _pour(tomas)
    row = text_of(page.select_one(".trays li"))  # type: ignore[arg-type]
    assert row == (
        "developer, line 1 usable 6 h 0 min left ends 14:00 room for 12 plates of 63.5 × 63.5 mm; "
        "0 plates through, 0 cm² of 483.8 cm² 200 mL of batch 1; its label Top up Empty it into waste"
    )
    assert (
        "200 mL serve 483.8 cm² of plates: a charge of 200 mL now serves 12 plates of 63.5 × 63.5 mm, which are 483.8 cm², "
        "in proportion; these figures are assumed"
    ) in text_of(page)
    assert "developer, line 1" not in [words for _id, words in mixing_pages.options(page, "place_id")]

    with in_lab() as session:
        charge = list_charges(session)[0].charge
        for _plate in range(12):
            count_plate_through(session, charge.id, through_at=MORNING, now=MORNING)
    assert "used up" in text_of(tomas.page("/charges"))


def test_developer_that_is_only_in_used_up_charges_is_none_to_use(
    tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab, 50_000)
    assert "of working developer in developer, line 1, batch 1; it ends 14:00" in text_of(
        _pour(tomas, charge_volume="50 mL")
    )
    with in_lab() as session:
        charge = list_charges(session)[0].charge
        for _plate in range(3):
            count_plate_through(session, charge.id, through_at=MORNING, now=MORNING)

    assert "No working developer stands in a tray that can be used now" in text_of(tomas.page("/charges"))


def test_a_charge_past_its_life_is_told_and_its_batch_is_to_discard(
    server: Running, tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab)
    _pour(tomas)
    server.clock.instant = MORNING + timedelta(hours=6, minutes=5)
    text = text_of(tomas.page("/charges"))

    assert "developer, line 1 past its life ended 5 min 0 s ago ended 14:00 room for 12 plates" in text
    assert "No working developer stands in a tray that can be used now" in text
    assert "Batch 1 , working developer, ended 14:00; still to discard: 400 mL" in text_of(
        tomas.page("/chemistry")
    )


def test_an_ended_batch_is_not_poured(server: Running, tomas: Visitor, in_lab: InLab, stocked: None) -> None:
    _mix(in_lab)
    page = tomas.page("/charges")
    batch, tray = mixing_pages.options(page, "batch_id")[0][0], mixing_pages.options(page, "place_id")[0][0]
    server.clock.instant = MORNING + timedelta(hours=6)
    page = tomas.submit("/charges", 409, batch_id=batch, place_id=tray, charge_volume="200 mL")

    assert "Batch 1 ended Tue 16 Feb 2027, 14:00" in text_of(page)


def test_batches_poured_into_one_tray_at_once_become_one_charge(
    tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    batches, at_once = 8, threading.Barrier(8)
    for number in range(batches):
        _mix(in_lab, 100_000, mixed_at=MORNING - timedelta(minutes=50 - number))
    tray = mixing_pages.options(tomas.page("/charges"), "place_id")[0][0]
    with in_lab() as session:
        ids = [batch.id for batch in list_live_batches(session, MORNING)]

    def pour(batch_id: int) -> int:
        at_once.wait(timeout=30)
        fields = {"batch_id": batch_id, "place_id": tray, "charge_volume": "100 mL"}
        return tomas.post("/charges", data=fields).status_code

    with ThreadPoolExecutor(batches) as threads:
        answers = sorted(threads.map(pour, ids))

    assert answers == [200] + [409] * (batches - 1)
    with in_lab() as session:
        assert len(list_charges(session)) == 1
        assert list_unbalanced(session) == []


def test_developer_does_not_go_into_the_bleach_tray(tomas: Visitor, in_lab: InLab, stocked: None) -> None:
    _mix(in_lab)
    bleach = next(
        key
        for key, words in mixing_pages.options(tomas.page("/charges"), "place_id")
        if words == "bleach, line 1"
    )

    assert "bleach, line 1 is not for working developer" in text_of(_pour(tomas, 409, place_id=bleach))


def test_a_charge_without_a_readable_volume_is_shown_again(
    tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab)
    page = _pour(tomas, 422, charge_volume="one tray")

    assert page.select_one("#charge_volume-fault") is not None
    assert typed_in(page, "charge_volume") == "one tray"


def _top_up(visitor: Visitor, status: int = 200, **changed: str) -> BeautifulSoup:
    page = visitor.page("/charges/1")
    fields = {
        "batch_id": mixing_pages.options(page, "batch_id")[0][0],
        "after_parts": str(page.select("[name=after_parts]")[0]["value"]),
        "more_volume": "50 mL",
    }
    return visitor.submit("/charges/1/parts", status, **(fields | changed))


def test_a_topped_up_charge_shows_its_parts_and_which_of_them_rules(
    tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab, 200_000, mixed_at=MORNING - timedelta(hours=2))
    _pour(tomas)
    _mix(in_lab, 200_000)
    page = _top_up(tomas)
    rows = [" ".join(row.get_text(" ").split()) for row in page.select("tbody tr")]

    assert rows == [
        "batch 1 200 mL Tue 16 Feb 2027, 08:00 by Tomas ends Tue 16 Feb 2027, 12:00 rules the charge",
        "batch 2 50 mL Tue 16 Feb 2027, 08:00 by Tomas ends Tue 16 Feb 2027, 14:00",
    ]
    assert "usable ends 12:00" in text_of(page)
    assert "250 mL of batches 1 and 2" in text_of(tomas.page("/charges"))


def test_a_topping_up_without_a_readable_volume_is_shown_again(
    tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab)
    _pour(tomas)
    page = _top_up(tomas, 422, more_volume="a dash")

    assert page.select_one("#more_volume-fault") is not None
    assert typed_in(page, "more_volume") == "a dash"


def test_a_topping_up_sent_twice_is_told_and_poured_once(
    tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab)
    _pour(tomas)
    _top_up(tomas)

    assert "was topped up meanwhile" in text_of(_top_up(tomas, 409, after_parts="1"))
    assert "250 mL" in text_of(tomas.page("/charges/1"))


def test_a_spent_charge_offers_no_topping_up(tomas: Visitor, in_lab: InLab, stocked: None) -> None:
    _mix(in_lab)
    _pour(tomas, charge_volume="20 mL")
    with in_lab() as session:
        count_plate_through(session, 1, through_at=MORNING, now=MORNING)
    page = tomas.page("/charges/1")

    assert "It can't be used any more (used up), and topping up restarts nothing" in text_of(page)
    assert page.select("[name=more_volume]") == []


def test_only_an_instructor_allows_more_plates_and_everybody_sees_who_and_why(
    tomas: Visitor, mira: Visitor, tablet: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab)
    _pour(tomas, charge_volume="50 mL")
    given: dict[str, Any] = {"more_plates": "5", "reason": "the strip was as before"}
    assert tomas.page("/charges/1").select("[name=more_plates]") == []
    assert "Only an instructor can do this" in text_of(tomas.submit("/charges/1/more-plates", 403, **given))
    assert "Only an instructor can do this" in text_of(tablet.submit("/charges/1/more-plates", 403, **given))
    mira.submit("/charges/1/more-plates", **given)

    words = "Mira allowed 5 plates from then on, past its capacity, Tue 16 Feb 2027, 08:00"
    assert f"{words}: the strip was as before" in text_of(tomas.page("/charges/1"))
    assert f"{words}: the strip was as before" in text_of(tomas.page("/charges"))
    assert "room for 5 plates" in text_of(tomas.page("/charges"))


def test_more_plates_without_a_reason_are_not_allowed(
    mira: Visitor, tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab)
    _pour(tomas, charge_volume="50 mL")
    page = mira.submit("/charges/1/more-plates", 422, more_plates="5", reason=" ")

    assert page.select_one("#reason-fault") is not None
    assert typed_in(page, "more_plates") == "5"


def test_an_emptied_charge_is_shown_without_what_can_be_done_to_one_in_a_tray(
    tomas: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab)
    _pour(tomas)
    with in_lab() as session:
        empty_charge(session, 1, now=MORNING)
    page = tomas.page("/charges/1")

    assert "emptied Tue 16 Feb 2027, 08:00" in text_of(page)
    assert page.select("main form, main .actions") == []
    assert "200 mL of batch 1, 0 plates through" in text_of(tomas.page("/charges"))


def test_an_empty_tray_leads_to_pouring_into_it(tomas: Visitor, in_lab: InLab, stocked: None) -> None:
    _mix(in_lab)
    link = tomas.page("/charges").select(".trays a")[-1]
    page = tomas.page(str(link["href"]).partition("#")[0])

    assert [option.text for option in page.select("#place_id option[selected]")] == ["bleach, line 1"]


def test_a_batch_that_stands_is_told_until_when_and_only_an_instructor_allows_it_sooner(
    tomas: Visitor, mira: Visitor, tablet: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab, stand_s=300)
    page = tomas.page("/charges")
    assert "Batch 1 stands still until Tue 16 Feb 2027, 08:05, as its recipe says" in text_of(page)
    assert page.select("[name=early_reason]") == []
    assert "stands still until" in text_of(_pour(tomas, 409))
    given: dict[str, Any] = {"early_batch_id": "1", "early_reason": "the class waits"}
    for visitor in (tomas, tablet):
        assert "Only an instructor can do this" in text_of(visitor.submit("/charges/early", 403, **given))
    mira.submit("/charges/early", **given)
    assert "Mira allowed to pour it sooner: the class waits" in text_of(tomas.page("/charges"))
    _pour(tomas)

    words = "Mira allowed batch 1 before it had stood, Tue 16 Feb 2027, 08:00: the class waits"
    for visitor, address in (
        (tomas, "/charges"),
        (tomas, "/charges/1"),
        (tomas, "/"),
        (tomas, "/labels/charges/1"),
    ):
        assert words in text_of(visitor.page(address)), address


def test_an_early_pouring_without_a_reason_is_shown_again(
    mira: Visitor, in_lab: InLab, stocked: None
) -> None:
    _mix(in_lab, stand_s=300)
    page = mira.submit("/charges/early", 422, early_batch_id="1", early_reason=" ")

    assert page.select_one("#early_reason-fault") is not None


def test_a_failed_check_is_told_on_the_charge(tomas: Visitor, in_lab: InLab, stocked: None) -> None:
    _mix(in_lab)
    _pour(tomas)
    with in_lab() as session:
        check_batch(session, 1, passed=False, look="brown", by="Tomas", now=MORNING)

    assert "developer, line 1 failed its check" in text_of(tomas.page("/charges"))
    assert "It can't be used any more (failed its check)" in text_of(tomas.page("/charges/1"))


def test_students_never_see_or_fill_the_trays(tablet: Visitor) -> None:
    assert "for the lab's staff" in text_of(tablet.page("/charges", 403))
    tablet.submit("/charges", 403)
