"""The safety pages over HTTP."""

import csv
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.containers.queries import get_container
from server.core.container_life import ContainerState
from server.core.waste_rules.rule import Key
from server.data.session import LabSession
from server.rules.actions import lay_over
from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.containers.bench import LITRE, Bench
from tests.reading import text_of


def _row(page: BeautifulSoup, name: str) -> str:
    row = next(row for row in page.select("tbody tr") if row.select_one("th").text.strip() == name)  # type: ignore[union-attr]
    return " ".join(row.get_text(" ").split())


def _run(tomas: Visitor, status: int = 200, **more: object) -> BeautifulSoup:
    fields: dict[str, Any] = {
        "tablet_id": "eyewash-0001", "minutes": 3, "water_felt": "tepid", "in_order": "true",
    } | more  # fmt: skip
    return tomas.submit("/safety/eyewash", status, **fields)


def test_a_round_stands_there_with_its_age_and_when_it_is_due(server: Running, tomas: Visitor) -> None:
    _run(tomas)
    server.clock.instant = MORNING + timedelta(days=2, hours=1)
    row = _row(tomas.page("/safety"), "Eyewash")

    assert "in order" in row
    assert "Tue 16 Feb 2027, 08:00, 2 days ago, Tomas" in row
    assert "Tue 23 Feb 2027" in row


def test_a_round_that_is_over_its_interval_is_called_due(server: Running, tomas: Visitor) -> None:
    _run(tomas)
    server.clock.instant = MORNING + timedelta(days=10)

    assert "due for 3 days" in _row(tomas.page("/safety"), "Eyewash")


def test_what_was_found_stands_until_it_is_in_order_again(tomas: Visitor) -> None:
    page = tomas.submit(
        "/safety/rounds", check_kind="lasers", in_order="false", found="Shutter of S1 <sticks>."
    )
    assert "not in order" in _row(page, "Lasers")
    assert "Shutter of S1 <sticks>." in _row(page, "Lasers")

    page = tomas.submit("/safety/rounds", check_kind="lasers", in_order="true")
    assert "not in order" not in _row(page, "Lasers")
    assert "Shutter of S1 <sticks>." in text_of(page)


def test_not_in_order_without_words_is_refused(tomas: Visitor) -> None:
    page = tomas.submit("/safety/rounds", 409, check_kind="lasers", in_order="false")

    assert "Say what was not in order" in text_of(page)


def test_a_round_without_its_answer_is_asked_for_again(tomas: Visitor) -> None:
    page = tomas.submit("/safety/rounds", 422, check_kind="lasers", in_order="", found="looked fine")

    assert "Please fill this in." in text_of(page)
    assert page.select_one("#found").text == "looked fine"  # type: ignore[union-attr]
    assert page.select_one("#check_kind option[selected]")["value"] == "lasers"  # type: ignore[index]


def test_each_topic_of_caution_names_who_decides(mira: Visitor) -> None:
    page = text_of(mira.page("/safety"))

    for words in (
        "laser safety officer",
        "safety data sheet",
        "waste office",
        "Local fire and building codes",
    ):
        assert words in page


def test_the_checklist_names_every_check(tomas: Visitor) -> None:
    page = tomas.page("/safety/checklist")

    names = [heading.text for heading in page.find_all("h2")]
    assert names == ["Eyewash", "Waste shelf", "Safelights", "Lasers", "Dark room"]
    assert "Cellar lab. Printed Tue 16 Feb 2027." in text_of(page)


def test_it_is_for_staff_of_the_lab_only(tomas: Visitor, tablet: Visitor, noor: Visitor) -> None:
    tomas.submit("/safety/rounds", check_kind="lasers", in_order="false", found="secret of the cellar")

    tablet.page("/safety", 403)
    tablet.page("/safety/checklist", 403)
    tablet.submit("/safety/rounds", 403, check_kind="lasers", in_order="true")
    assert "secret of the cellar" not in text_of(noor.page("/safety"))


InLab = Callable[[], AbstractContextManager[LabSession]]
POINTS = ("closed", "label", "leak", "upright", "fill_line", "apart")


@pytest.fixture
def carboy_ids(in_lab: InLab, bench: Bench) -> list[int]:
    with in_lab() as session:
        return [
            bench.rinse_carboy(session, held_ul=2 * LITRE, name=name).id for name in ("Rinse 1", "Rinse 2")
        ]


def _look(
    tomas: Visitor, ids: list[int], *, well: list[int], status: int = 200, **found: Any
) -> BeautifulSoup:
    """Send a round; `found` gives a point's words for the first container."""
    columns = {point: [found.get(point, ""), *[""] * (len(ids) - 1)] for point in POINTS}
    fields: dict[str, Any] = {
        "tablet_id": found.get("tablet_id", "round-0001"), "container_id": ids, "well": well, "note": found.get("note", ""),
        **columns,
    }  # fmt: skip
    return tomas.submit("/safety/shelf", status, **fields)


def test_a_shelf_round_goes_container_by_container(tomas: Visitor, carboy_ids: list[int]) -> None:
    page = tomas.page("/safety/shelf")
    assert [legend.text for legend in page.select("legend")] == ["Rinse 1", "Rinse 2"]
    assert "2 L of 18 L" in text_of(page)

    page = _look(tomas, carboy_ids, well=carboy_ids)
    assert "in order" in _row(page, "Waste shelf")
    assert "Rinse 1, Rinse 2" in text_of(page)


def test_what_was_found_stands_open_until_it_is_put_right(tomas: Visitor, carboy_ids: list[int]) -> None:
    page = _look(tomas, carboy_ids, well=carboy_ids[1:], label="torn", leak="a <drop> below")
    assert "2 findings not put right" in _row(page, "Waste shelf")
    assert "Rinse 1 , Leak: a <drop> below" in text_of(page)

    for option in page.select("#finding_id option")[1:]:
        page = tomas.submit("/safety/findings", finding_id=str(option["value"]), how="new label, wiped dry")
    assert "put right" in _row(page, "Waste shelf")
    assert "not put right" not in _row(page, "Waste shelf")
    assert "Tomas: new label, wiped dry" in text_of(page)


def test_a_container_that_nobody_answered_for_is_asked_about_again(
    tomas: Visitor, carboy_ids: list[int]
) -> None:
    page = _look(tomas, carboy_ids, well=[], status=422, label="torn", note="tray is wet")

    assert text_of(page).count("Tick that all is in order, or write what was found.") == 1
    assert page.select_one(f"#label-{carboy_ids[0]}")["value"] == "torn"  # type: ignore[index]
    assert page.select_one("#note").text == "tray is wet"  # type: ignore[union-attr]
    assert page.select_one("input[name=tablet_id]")["value"] == "round-0001"  # type: ignore[index]


def test_in_order_and_found_at_once_is_asked_back(tomas: Visitor, carboy_ids: list[int]) -> None:
    page = _look(tomas, carboy_ids, well=carboy_ids, status=422, closed="a funnel in the neck")

    assert "take the tick or the words away" in text_of(page)
    assert page.select_one(f"#well-{carboy_ids[0]}").has_attr("checked")  # type: ignore[union-attr]


def test_too_long_a_note_loses_nothing_that_was_typed(tomas: Visitor, carboy_ids: list[int]) -> None:
    page = _look(tomas, carboy_ids, well=carboy_ids[1:], status=422, label="torn", note="x" * 1001)

    assert "at most 1000 characters" in text_of(page)
    assert page.select_one(f"#label-{carboy_ids[0]}")["value"] == "torn"  # type: ignore[index]


def test_the_shelf_says_what_is_known_to_want_a_look(
    tomas: Visitor, in_lab: InLab, carboy_ids: list[int]
) -> None:
    with in_lab() as session:
        first, second = (get_container(session, one) for one in carboy_ids)
        first.state, first.fill_line_ul = ContainerState.OPEN, LITRE
        second.state, second.labelled_at = ContainerState.CLOSED, MORNING
    text = text_of(tomas.page("/safety/shelf"))

    assert "its lid is noted as off" in text
    assert "by its ledger it stands above its fill line" in text
    assert text.count("no label was printed for it here") == 1


def test_a_shelf_without_containers_has_a_round_too(tomas: Visitor) -> None:
    assert "No waste container stands in the lab." in text_of(tomas.page("/safety/shelf"))
    page = _look(tomas, [], well=[], note="nothing there")
    assert "in order" in _row(page, "Waste shelf")


def test_the_shelf_s_interval_is_the_rule_that_the_lab_keeps(
    server: Running, tomas: Visitor, in_lab: InLab, carboy_ids: list[int]
) -> None:
    _look(tomas, carboy_ids, well=carboy_ids)
    assert "Tue 23 Feb 2027" in _row(tomas.page("/safety"), "Waste shelf")
    with in_lab() as session:
        lay_over(
            session, rule=Key.INSPECTION_DAYS, value="3", reason="campus safety note 4", from_day=MORNING.date(), by="Mira",
            now=MORNING,
        )  # fmt: skip

    page = tomas.page("/safety")
    assert "Fri 19 Feb 2027" in _row(page, "Waste shelf")
    assert "campus safety note 4" in text_of(page)


def test_an_eyewash_round_tells_minutes_and_temperature(tomas: Visitor) -> None:
    page = _run(tomas)

    assert "ran 3 min, water tepid" in _row(page, "Eyewash")


def test_cold_water_called_in_order_is_refused(tomas: Visitor) -> None:
    assert "Cold water is not in order" in text_of(_run(tomas, 409, water_felt="cold"))


@pytest.mark.parametrize(("field", "value"), [("minutes", "0"), ("minutes", "soon"), ("water_felt", "")])
def test_an_eyewash_round_that_can_t_be_read_keeps_what_was_typed(
    tomas: Visitor, field: str, value: str
) -> None:
    page = _run(tomas, 422, **{field: value}, found="handle is stiff")

    assert page.select_one("#found").text == "handle is stiff"  # type: ignore[union-attr]
    assert page.select_one("input[name=tablet_id]")["value"] == "eyewash-0001"  # type: ignore[index]


def test_the_history_is_shown_a_page_at_a_time(tomas: Visitor, carboy_ids: list[int]) -> None:
    for number in range(22):
        _look(tomas, carboy_ids, well=carboy_ids, tablet_id=f"round-{number:04}", note=f"look {number}")
    page = tomas.page("/safety/history")
    assert "look 21" in text_of(page)
    assert "look 1 " not in text_of(page)

    older = page.select_one("a[href*='before=']")
    assert older is not None
    text = text_of(tomas.page(str(older["href"])))
    assert "look 1 " in text
    assert "look 21" not in text


def test_the_records_are_a_table_for_an_inspector(tomas: Visitor, carboy_ids: list[int]) -> None:
    _run(tomas)
    _look(tomas, carboy_ids, well=carboy_ids[1:], label="=torn")
    answer = tomas.get("/safety/rounds.csv")
    rows = list(csv.DictReader(StringIO(answer.content.decode("utf-8-sig"), newline="")))

    assert "safety rounds 2027-02-16.csv" in answer.headers["content-disposition"]
    assert (rows[0]["check"], rows[0]["eyewash ran min"], rows[0]["water"]) == ("eyewash", "3", "tepid")
    assert rows[0]["done"] == "2027-02-16 08:00"
    assert len(rows) == 1 + 2 * len(POINTS)
    [found] = [row for row in rows if row["found"] not in {"", "in order"}]
    assert (found["container"], found["point"], found["found"]) == ("Rinse 1", "label", "'=torn")


def test_the_looks_at_one_container_have_a_page(tomas: Visitor, carboy_ids: list[int]) -> None:
    assert "No round has looked at it yet." in text_of(tomas.page(f"/safety/containers/{carboy_ids[0]}"))
    _look(tomas, carboy_ids, well=carboy_ids[1:], upright="tilted")

    assert "Rinse 1, Tray: tilted" in text_of(tomas.page(f"/safety/containers/{carboy_ids[0]}"))
    assert "tilted" not in text_of(tomas.page(f"/safety/containers/{carboy_ids[1]}"))


def test_the_checklist_has_a_box_for_each_point_of_each_container(
    tomas: Visitor, carboy_ids: list[int]
) -> None:
    page = tomas.page("/safety/checklist")
    rows = [row for row in page.select("tbody tr") if row.select_one("th").text in {"Rinse 1", "Rinse 2"}]  # type: ignore[union-attr]

    assert [row.text.count("☐") for row in rows] == [len(POINTS)] * 2


def test_another_lab_s_shelf_is_not_seen_nor_put_right(
    tomas: Visitor, petra: Visitor, carboy_ids: list[int]
) -> None:
    page = _look(tomas, carboy_ids, well=carboy_ids[1:], label="ripped")
    finding_id = str(page.select("#finding_id option")[1]["value"])

    assert "ripped" not in text_of(petra.page("/safety"))
    assert "ripped" not in petra.get("/safety/rounds.csv").text
    petra.page(f"/safety/containers/{carboy_ids[0]}", 404)
    petra.submit("/safety/findings", 404, finding_id=finding_id, how="not mine")
    _look(petra, carboy_ids, well=carboy_ids, status=404)
