"""Transfers, samples, spills and what dried up, over HTTP."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from typing import Any

import pytest

from server.containers.queries import get_container, list_entries, list_unbalanced
from server.data.session import LabSession
from tests.conftest import Visitor
from tests.containers.bench import LITRE, Bench
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def pair(in_lab: InLab, bench: Bench) -> tuple[int, int]:
    """A carboy with 10 L in it, and an empty one beside it."""
    with in_lab() as session:
        source = bench.rinse_carboy(session, held_ul=10 * LITRE)
        return source.id, bench.rinse_carboy(session, name="Rinse 2").id


def test_a_transfer_is_logged_from_its_container_s_page(tomas: Visitor, pair: tuple[int, int]) -> None:
    source, target = pair
    link = tomas.page(f"/waste/containers/{source}").select_one("a[href$='/transfers']")
    assert link is not None
    address = str(link["href"])
    page = tomas.page(address)
    assert page.select_one("#amount")["value"] == "10 L"  # type: ignore[index]
    assert [option["value"] for option in page.select("#to_container_id option")] == [str(target)]
    fields: dict[str, Any] = {
        "tablet_id": str(page.select_one("[name=tablet_id]")["value"]),  # type: ignore[index]
        "to_container_id": target,
        "method": "graduate",
    }

    page = tomas.submit(address, 422, **fields, amount="much", note="consolidated")
    assert page.select_one("#amount")["value"] == "much"  # type: ignore[index]
    assert page.select_one("#note")["value"] == "consolidated"  # type: ignore[index]
    for _again in range(2):
        page = tomas.submit(address, **fields, amount="4 L", is_closed_again="true")
    assert "6 L of 18 L" in text_of(page)
    assert "transfer out to “Rinse 2”" in text_of(page)

    there = tomas.page(f"/waste/containers/{target}")
    assert "transfer in from “Rinse 1”" in text_of(there)
    entry = tomas.page(str(there.select_one("#ledger th a")["href"]))  # type: ignore[index]
    assert "came out of “Rinse 1”" in text_of(entry)
    assert "Both legs of the transfer are reversed" in text_of(entry)
    reverse = entry.select_one("form[action$='/reverse']")
    assert reverse is not None
    assert "0 mL of 18 L" in text_of(tomas.submit(str(reverse["action"]), reason="the wrong one"))
    assert "10 L of 18 L" in text_of(tomas.page(f"/waste/containers/{source}"))


def test_without_another_container_of_the_stream_one_is_to_be_set_out(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        carboy_id = bench.rinse_carboy(session, held_ul=LITRE).id

    assert "No other container of this stream takes waste now" in text_of(
        tomas.page(f"/waste/containers/{carboy_id}/transfers")
    )


@pytest.mark.parametrize(
    ("kind", "mass"), [("sample", "−1 kg"), ("spill", "−1 kg"), ("evaporation", "−1 kg")]
)
def test_what_has_left_is_logged_with_where_it_went(
    tomas: Visitor, pair: tuple[int, int], kind: str, mass: str
) -> None:
    address = f"/waste/containers/{pair[0]}/losses"
    fields: dict[str, Any] = {
        "tablet_id": "loss-0001", "kind": kind, "amount": "1 L", "method": "estimate", "happened_clock": "08:00",
    }  # fmt: skip
    page = tomas.submit(address, 422, **fields, note=" ")
    assert "Please fill this in." in text_of(page)
    page = tomas.submit(address, **fields, note="see the plan")
    assert "9 L of 18 L" in text_of(page)
    assert f"{kind} Tue 16 Feb 2027, 08:00 Tomas 1 L estimate, ± 200 mL −1 L {mass} 9 L" in text_of(page)


def test_something_else_is_no_loss(tomas: Visitor, pair: tuple[int, int]) -> None:
    page = tomas.submit(
        f"/waste/containers/{pair[0]}/losses", 422, tablet_id="loss-0001", kind="collected", amount="1 L",
        method="estimate", note="taken",
    )  # fmt: skip

    assert "Please choose one of the list." in text_of(page)


def test_another_lab_s_containers_are_not_here(petra: Visitor, pair: tuple[int, int]) -> None:
    source, target = pair
    told: dict[str, Any] = {"tablet_id": "transfer-01", "amount": "1 L", "method": "graduate"}
    petra.page(f"/waste/containers/{source}/transfers", 404)
    petra.page(f"/waste/containers/{source}/losses", 404)
    petra.submit(f"/waste/containers/{source}/transfers", 404, **told, to_container_id=target)
    petra.submit(f"/waste/containers/{source}/losses", 404, **told, kind="spill", note="not mine")


def test_transfers_both_ways_at_once_wait_for_each_other_and_lose_nothing(
    tomas: Visitor, pair: tuple[int, int], in_lab: InLab, bench: Bench
) -> None:
    """Each holds two containers; taken in any order, the ones would wait for the others for good."""
    with in_lab() as session:
        bench.rinse(session, pair[1], 5 * LITRE, tablet_id="pour-0002")
    ready = threading.Barrier(40)

    def _transfer(number: int) -> int:
        source, target = pair if number % 2 else pair[::-1]
        fields = {
            "tablet_id": f"at-once-{number:02}", "to_container_id": target, "amount": "100 mL", "method": "graduate",
            "is_closed_again": "true",
        }  # fmt: skip
        ready.wait(timeout=60)
        return tomas.post(f"/waste/containers/{source}/transfers", data=fields).status_code

    with ThreadPoolExecutor(40) as pool:
        assert set(pool.map(_transfer, range(40))) == {200}

    with in_lab() as session:
        assert [get_container(session, one).held_ul for one in pair] == [10 * LITRE, 5 * LITRE]
        assert [len(list_entries(session, one)) for one in pair] == [41, 41]
        assert list_unbalanced(session) == []
