"""Pours over HTTP."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.containers.actions import set_out_container
from server.containers.models import Source
from server.containers.queries import get_container, get_stream, list_entries, list_unbalanced
from server.core.recipe import Measure
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.queries import list_bottles_of_kit
from server.stations.models import Bath
from tests.casts import MORNING
from tests.chemistry import mixing
from tests.conftest import Running, Visitor
from tests.containers.bench import LITRE, Bench
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


def test_a_pour_is_logged_once_however_often_its_form_is_sent(tomas: Visitor, carboy_id: int) -> None:
    for _again in range(2):
        page = tomas.submit("/waste/pour", **_pour_fields(carboy_id, "pour-0001"))

    assert "13.45 L of 18 L, room for 4.55 L" in text_of(page)
    assert text_of(page).count("250 mL graduate") == 1


def test_the_pour_form_keeps_what_was_typed(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.submit(
        "/waste/pour", 422, **_pour_fields(carboy_id, "pour-0001", "lots", note="after class")
    )

    assert "“lots” is no volume and no mass" in text_of(page)
    assert page.select_one("#amount")["value"] == "lots"  # type: ignore[index]
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

    assert page.select_one("#amount")["value"] == "200 mL"  # type: ignore[index]
    chosen: dict[str, Any] = {
        name: str(page.select_one(f"#{name} option[selected]")["value"])  # type: ignore[index]
        for name in ("container_id", "source", "charge_id")
    }
    assert (chosen["source"], chosen["charge_id"]) == ("spent developer", str(charge_id))

    page = tomas.submit("/waste/pour", tablet_id="pour-0001", amount="200 mL", method="graduate", **chosen)
    assert "200 mL of 4.5 L" in text_of(page)
    assert "Empty spent developer" not in text_of(tomas.page("/waste"))


def test_a_link_with_a_charge_that_is_gone_shows_the_plain_form(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.page("/waste/pour?charge_id=999")

    assert page.select_one("#amount")["value"] == ""  # type: ignore[index]


def _value(page: BeautifulSoup, at: str) -> str:
    found = page.select_one(at)
    assert found is not None
    return str(found["value"])


def _address_of_latest(page: BeautifulSoup) -> str:
    link = page.select_one("#ledger th a")
    assert link is not None
    return str(link["href"])


def test_a_pour_is_reversed_from_its_own_page(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.submit("/waste/pour", **_pour_fields(carboy_id, "pour-0001", "2.5 L"))
    address = _address_of_latest(page)
    number = address.rsplit("/", 1)[1]

    page = tomas.submit(f"{address}/reverse", 422, reason=" ")
    assert "Please fill this in." in text_of(page)
    page = tomas.submit(f"{address}/reverse", reason="meant 250 mL")
    assert "13.2 L of 18 L" in text_of(page)
    assert f"reverses no. {number}" in text_of(page)
    assert "pour, reversed by" in text_of(page)
    assert "−2.5 L" in text_of(page)
    assert tomas.page(address).select_one("form[action$='/reverse']") is None
    page = tomas.submit(f"{address}/reverse", 409, reason="again")
    assert "was reversed already" in text_of(page)


def test_an_entry_s_page_says_why_it_is_so_much(tomas: Visitor, in_lab: InLab, bench: Bench) -> None:
    """By hand: 1.05 kg at 1.05 g/mL are a litre; 250 mL are 262.5 g."""
    with in_lab() as session:
        stream_id = bench.streams(session)[Source.DEVELOPER]
        get_stream(session, stream_id).density_ug_per_ul = 1050
        container_id = set_out_container(
            session, stream_id=stream_id, name="Dev 1", size_ul=5 * LITRE, by="Tomas", now=MORNING
        ).id
    fields = _pour_fields(container_id, "pour-0001", "1.05 kg", source="spent developer")
    page = tomas.submit("/waste/pour", 422, **fields)
    assert "A mass was weighed: choose the scale" in text_of(page)
    page = tomas.submit("/waste/pour", **{**fields, "method": "scale"})
    words = text_of(tomas.page(_address_of_latest(page)))
    assert "+1 L, +1.05 kg. Then Dev 1 held 1 L, 1.05 kg." in words
    assert "1.05 kg weighed ÷ 1.05 g/mL = 1 L" in words
    assert "± 10 mL: a scale, 1 % and at least 10 g, assumed." in words

    fields = _pour_fields(container_id, "pour-0002", source="spent developer", give_or_take="2 %")
    words = text_of(tomas.page(_address_of_latest(tomas.submit("/waste/pour", **fields))))
    assert "As typed: 250 mL ± 2 %, read off a graduate." in words
    assert "250 mL × 1.05 g/mL = 262.5 g" in words
    assert "± 5 mL, as typed." in words


def test_a_pour_of_an_hour_ago_says_when_it_was_and_when_it_was_written(
    tomas: Visitor, carboy_id: int, server: Running
) -> None:
    server.clock.instant = MORNING + timedelta(hours=2)
    fields = _pour_fields(carboy_id, "pour-0001", happened_clock="09:10")
    page = tomas.submit("/waste/pour", **fields)
    assert "Tue 16 Feb 2027, 09:10 written down Tue 16 Feb 2027, 10:00" in text_of(page)

    for wrong, why, status in (
        ({"happened_clock": "10:01"}, "10:01 is still to come", 409),
        ({"happened_clock": "07:59"}, "was set out on Tue 16 Feb 2027, 08:00", 409),
        ({"happened_clock": "25:00"}, "Please write a time such as 09:40.", 422),
        ({"happened_day": "2027-02-16"}, "Please write the time too", 422),
    ):
        fields = _pour_fields(carboy_id, "pour-0002", **wrong)
        assert why in text_of(tomas.submit("/waste/pour", status, **fields))


def test_an_hour_that_the_clocks_skip_or_show_twice_is_asked_back(
    tomas: Visitor, carboy_id: int, server: Running
) -> None:
    """Berlin shows 02:00 to 03:00 twice on 31 October 2027 and skips it on 28 March."""
    server.clock.instant = datetime(2027, 11, 1, 8, 0, tzinfo=UTC)
    skipped = {"happened_day": "2027-03-28", "happened_clock": "02:30"}
    page = tomas.submit("/waste/pour", 422, **_pour_fields(carboy_id, "pour-0001", **skipped))
    assert "the clocks skip 02:30" in text_of(page)
    twice = {"happened_day": "2027-10-31", "happened_clock": "02:30"}
    page = tomas.submit("/waste/pour", 422, **_pour_fields(carboy_id, "pour-0001", **twice))
    assert "02:30 twice that night" in text_of(page.select_one("#clock_turn-fault"))  # type: ignore[arg-type]
    page = tomas.submit("/waste/pour", **_pour_fields(carboy_id, "pour-0001", **twice, clock_turn="after"))
    assert "Sun 31 Oct 2027, 02:30" in text_of(page)


def test_the_class_that_began_last_is_proposed_and_kept(
    tomas: Visitor, in_lab: InLab, bench: Bench, server: Running
) -> None:
    with in_lab() as session:
        carboy_id = bench.rinse_carboy(session).id
        bench.publish(session, "evening", MORNING + timedelta(hours=10), plates=4)
        bench.publish(session, "late", MORNING + timedelta(hours=1), plates=4)
        bench.publish(session, "tomorrow", MORNING + timedelta(hours=26), plates=4)
    server.clock.instant = MORNING + timedelta(hours=2)
    page = tomas.page(f"/waste/pour?container_id={carboy_id}")
    options = [option.text for option in page.select("#rotation_id option")]
    assert options == [
        "no class",
        "Tuesday, evening, Tue 16 Feb 2027, 18:00",
        "Tuesday, late, Tue 16 Feb 2027, 09:00",
    ]
    chosen = page.select_one("#rotation_id option[selected]")
    assert chosen is not None
    assert "late" in chosen.text
    page = tomas.submit("/waste/pour", **_pour_fields(carboy_id, "pour-0001", rotation_id=chosen["value"]))
    assert "Of the class Tuesday, late." in text_of(tomas.page(_address_of_latest(page)))


def test_a_batch_is_discarded_into_waste_with_one_button_and_put_back_with_one(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        bench.charge(session, Bath.DEVELOPER)
        batch_id = mixing.developer(session, 300_000).id
        stream_id = bench.streams(session)[Source.DEVELOPER]
        set_out_container(
            session, stream_id=stream_id, name="Dev 1", size_ul=5 * LITRE, by="Tomas", now=MORNING
        )
    batch = f"/chemistry/batches/{batch_id}"
    link = next(a for a in tomas.page(batch).select("a.button") if a.text == "Discard into waste")
    page = tomas.page(str(link["href"]))
    assert "the rest of batch 2, working developer: 300 mL by its ledger" in text_of(page)
    chosen: dict[str, Any] = {
        name: _value(page, at)
        for name, at in {
            "tablet_id": "[name=tablet_id]",
            "batch_id": "[name=batch_id]",
            "amount": "#amount",
            "container_id": "#container_id option[selected]",
            "source": "#source option[selected]",
        }.items()
    }
    page = tomas.submit("/waste/pour", 422, **{**chosen, "amount": "lots"}, method="graduate")
    assert "the rest of batch 2" in text_of(page)
    page = tomas.submit("/waste/pour", **{**chosen, "amount": "290 mL"}, method="graduate")
    assert "290 mL of 4.5 L" in text_of(page)
    ledger = text_of(tomas.page(batch))
    assert "discarded −300 mL 0 mL into “Dev 1” Tomas" in ledger
    assert "Discard into waste" not in ledger

    entry = _address_of_latest(page)
    assert "300 mL of batch 2 were discarded with it" in text_of(tomas.page(entry))
    tomas.submit(f"{entry}/reverse", reason="the wrong batch")
    assert "correction +300 mL 300 mL its pour into “Dev 1” was reversed Tomas" in text_of(tomas.page(batch))


def test_a_bottle_leads_to_the_form_and_a_powder_does_not(
    tomas: Visitor, in_lab: InLab, bench: Bench, carboy_id: int
) -> None:
    with in_lab() as session:
        bench.charge(session, Bath.BLEACH)
        kit = take_in_kit(
            session, name="powders", arrived_on=MORNING.date(), expires_on=None, by="Tomas", now=MORNING,
            contents=[NewBottle("ascorbic acid", 50_000, Measure.MASS), NewBottle("bleach", LITRE)],
        )  # fmt: skip
        powder, bottle = (one.id for one in list_bottles_of_kit(session, kit.id))
    links = [
        str(a["href"])
        for a in tomas.page(f"/stock/kits/{kit.id}").select("a")
        if a.text == "Discard into waste"
    ]
    assert links == [f"/waste/pour?bottle_id={bottle}"]

    page = tomas.page(links[0])
    assert "the rest of bleach of kit “powders”: 1 L by its ledger" in text_of(page)
    assert page.select_one("#keeps_rest") is not None
    assert "the rest of" not in text_of(tomas.page(f"/waste/pour?bottle_id={powder}"))


def test_a_hundred_pours_at_once_are_each_kept_or_refused_with_a_sentence(
    tomas: Visitor, carboy_id: int, in_lab: InLab
) -> None:
    """Room for 4.8 L to the line, and a hundred pours of 100 mL: 48 fit, 52 don't, and nobody decided that one may go over it."""
    ready = threading.Barrier(100)

    def _pour(number: int) -> tuple[int, str]:
        ready.wait(timeout=60)
        fields = _pour_fields(carboy_id, f"at-once-{number:02}", "100 mL", is_closed_again="true")
        answer = tomas.post("/waste/pour", data=fields)
        return answer.status_code, answer.text

    with ThreadPoolExecutor(100) as pool:
        answers = list(pool.map(_pour, range(100)))

    assert [status for status, _words in answers].count(200) == 48
    assert all("over its fill line" in words for status, words in answers if status != 200)
    with in_lab() as session:
        container, entries = get_container(session, carboy_id), list_entries(session, carboy_id, at_most=200)
        assert (container.held_ul, container.state) == (18_000_000, "closed")
        assert len(entries) == 49
        assert [entry.held_after_ul for entry in entries] == [13_200_000 + 100_000 * n for n in range(49)]
        assert not any(entry.over_line_reason for entry in entries)
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
