"""Pours over HTTP."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest

from server.containers.queries import get_container, list_entries, list_unbalanced
from server.data.session import LabSession
from server.stations.models import Bath
from tests.casts import MORNING
from tests.conftest import Visitor
from tests.containers.bench import Bench
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


def _pour_fields(container_id: int, tablet_id: str, volume: str = "250 mL", **more: object) -> dict[str, Any]:
    return {
        "container_id": container_id,
        "tablet_id": tablet_id,
        "source": "rinse",
        "volume": volume,
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


def test_a_pour_is_logged_once_however_often_its_form_is_sent(tomas: Visitor, carboy_id: int) -> None:
    for _again in range(2):
        page = tomas.submit("/waste/pour", **_pour_fields(carboy_id, "pour-0001"))

    assert "13.45 L of 18 L, room for 4.55 L" in text_of(page)
    assert text_of(page).count("250 mL graduate") == 1


def test_the_pour_form_keeps_what_was_typed(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.submit(
        "/waste/pour", 422, **_pour_fields(carboy_id, "pour-0001", "lots", note="after class")
    )

    assert "“lots” is not a volume" in text_of(page)
    assert page.select_one("#volume")["value"] == "lots"  # type: ignore[index]
    assert page.select_one("#note")["value"] == "after class"  # type: ignore[index]
    assert page.select_one("input[name=tablet_id]")["value"] == "pour-0001"  # type: ignore[index]
    assert page.select_one(f"#container_id option[value='{carboy_id}']").has_attr("selected")  # type: ignore[union-attr]


def test_every_fresh_pour_form_has_an_id_of_its_own(tomas: Visitor, carboy_id: int) -> None:
    ids = {
        str(tomas.page(f"/waste/pour?container_id={carboy_id}").select_one("input[name=tablet_id]")["value"])  # type: ignore[index]
        for _time in range(3)
    }

    assert len(ids) == 3


def test_a_pour_of_the_wrong_stream_and_one_over_the_line_are_refused(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.submit("/waste/pour", 409, **_pour_fields(carboy_id, "pour-0001", source="spent bleach"))
    assert "takes rinse, not spent bleach" in text_of(page)

    page = tomas.submit("/waste/pour", 409, **_pour_fields(carboy_id, "pour-0001", "5 L"))
    assert "over its fill line at 18 L" in text_of(page)

    page = tomas.submit(
        "/waste/pour", **_pour_fields(carboy_id, "pour-0001", "5 L", over_line_reason="no other container")
    )
    assert "over the fill line by 200 mL" in text_of(page)
    assert "Over the fill line on purpose: no other container" in text_of(page)


def test_a_charge_leads_to_a_filled_in_form_and_is_emptied_with_it(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        charge_id = bench.charge(session, Bath.DEVELOPER).id
    tomas.submit("/waste/streams/usual")
    page = tomas.page("/waste/containers/new")
    stream = page.select_one("#stream_id option")
    assert stream is not None
    tomas.submit("/waste/containers", stream_id=stream["value"], name="Dev 1", size="5 L")
    link = next(
        a for a in tomas.page("/waste").select("a.button") if a.text.startswith("Empty spent developer")
    )
    page = tomas.page(str(link["href"]))

    assert page.select_one("#volume")["value"] == "200 mL"  # type: ignore[index]
    chosen: dict[str, Any] = {
        name: str(page.select_one(f"#{name} option[selected]")["value"])  # type: ignore[index]
        for name in ("container_id", "source", "charge_id")
    }
    assert (chosen["source"], chosen["charge_id"]) == ("spent developer", str(charge_id))

    page = tomas.submit("/waste/pour", tablet_id="pour-0001", volume="200 mL", method="graduate", **chosen)
    assert "200 mL of 4.5 L" in text_of(page)
    assert "Empty spent developer" not in text_of(tomas.page("/waste"))


def test_a_link_with_a_charge_that_is_gone_shows_the_plain_form(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.page("/waste/pour?charge_id=999")

    assert page.select_one("#volume")["value"] == ""  # type: ignore[index]


def test_a_pour_is_reversed_in_the_ledger(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.submit("/waste/pour", **_pour_fields(carboy_id, "pour-0001", "2.5 L"))
    entry = page.select_one("#entry_id option")
    assert entry is not None
    address = f"/waste/containers/{carboy_id}/reverse"

    page = tomas.submit(address, 422, entry_id=entry["value"], reason="")
    assert "Please fill this in." in text_of(page)
    page = tomas.submit(address, entry_id=entry["value"], reason="meant 250 mL")
    assert "13.2 L of 18 L" in text_of(page)
    assert f"reverses no. {entry['value']}" in text_of(page)
    assert "pour, reversed" in text_of(page)
    assert "−2.5 L" in text_of(page)
    page = tomas.submit(address, 409, entry_id=entry["value"], reason="again")
    assert "was reversed already" in text_of(page)


def test_a_reversal_whose_reason_is_a_blank_is_asked_back(tomas: Visitor, carboy_id: int) -> None:
    address = f"/waste/containers/{carboy_id}"
    entry = tomas.page(address).select_one("#entry_id option")
    assert entry is not None

    page = tomas.submit(f"{address}/reverse", 422, entry_id=entry["value"], reason=" ")

    assert "Please fill this in." in text_of(page)
    assert "reverses no." not in text_of(page)


def test_twenty_pours_at_once_are_each_kept_or_refused_with_a_sentence(
    tomas: Visitor, carboy_id: int, in_lab: InLab
) -> None:
    """Room for 4.8 L, and twenty pours of 500 mL: nine fit, eleven don't."""
    ready = threading.Barrier(20)

    def _pour(number: int) -> tuple[int, str]:
        ready.wait(timeout=30)
        answer = tomas.post("/waste/pour", data=_pour_fields(carboy_id, f"at-once-{number:02}", "500 mL"))
        return answer.status_code, answer.text

    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(_pour, range(20)))

    assert [status for status, _words in answers].count(200) == 9
    assert all("over its fill line" in words for status, words in answers if status != 200)
    with in_lab() as session:
        assert get_container(session, carboy_id).held_ul == 17_700_000
        assert len(list_entries(session, carboy_id)) == 10
        assert list_unbalanced(session) == []


def test_the_same_pour_sent_twenty_times_at_once_is_one_entry(
    tomas: Visitor, carboy_id: int, in_lab: InLab
) -> None:
    ready = threading.Barrier(20)

    def _pour(_number: int) -> int:
        ready.wait(timeout=30)
        return tomas.post("/waste/pour", data=_pour_fields(carboy_id, "at-once-00", "500 mL")).status_code

    with ThreadPoolExecutor(20) as pool:
        assert set(pool.map(_pour, range(20))) == {200}

    with in_lab() as session:
        assert get_container(session, carboy_id).held_ul == 13_700_000
