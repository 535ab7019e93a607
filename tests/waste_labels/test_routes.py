"""Labels of waste containers over HTTP. The cellar lab's clock shows 08:00 when a test begins."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.containers.actions import set_out_container
from server.containers.models import Source, WasteArea
from server.containers.queries import get_container, get_stream, list_streams
from server.core.container_life import AreaKind
from server.core.waste_rules.rule import Establishment
from server.core.waste_rules.rule_sets import RULE_SETS
from server.data.session import LabSession
from server.handovers.actions import hand_over
from server.pickups.actions import book_pickup
from server.rules.actions import choose_rule_set
from tests.casts import MORNING
from tests.chemistry import mixing
from tests.conftest import Visitor
from tests.containers.bench import LITRE, Bench
from tests.kits import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def carboy_id(in_lab: InLab, bench: Bench) -> int:
    """A rinse carboy of 20 L with 2 L in it."""
    with in_lab() as session:
        return bench.rinse_carboy(session, held_ul=2 * LITRE).id


@pytest.fixture
def developer_id(in_lab: InLab, bench: Bench) -> int:
    """A carboy of 5 L for developer waste that held bleach before, in a lab that mixed a developer of known hazards."""
    with in_lab() as session:
        streams = {Source(one.takes): one.id for one in list_streams(session)} or bench.streams(session)
        shelf.bottle(session, shelf.kit(session, "kit 4"), "stock B").hazards = "H290 H314"
        mixing.developer(session)
        return set_out_container(
            session, stream_id=streams[Source.DEVELOPER], name="Dev 1", size_ul=5 * LITRE,
            previous_stream_id=streams[Source.BLEACH], washed=True, by="Tomas", now=MORNING,
        ).id  # fmt: skip


def _drawn(page: BeautifulSoup) -> str:
    """What stands on the drawn label."""
    return " ".join(text.text for text in page.select("svg.label-paper text"))


def _keeps(in_lab: InLab, rule_set: str, establishment: Establishment = Establishment.UNIVERSITY) -> None:
    with in_lab() as session:
        choose_rule_set(
            session, rule_set=rule_set, establishment=establishment, is_far=False, from_day=MORNING.date(),
            by="Mira", now=MORNING,
        )  # fmt: skip


def test_a_label_says_what_is_in_it_since_when_and_how_full_it_may_be(tomas: Visitor, carboy_id: int) -> None:
    text = text_of(tomas.page(f"/waste/containers/{carboy_id}/label"))

    for words in (
        "Rinse water from photographic plates", "Rinse 1; stream: Rinse", "Start date (first drop): Tue 16 Feb 2027",
        "Fill to 18 L at most; 20 L to the brim.", "a funnel in the neck is an open lid", "Cellar lab", "Stands: ____",
        "Water with traces of developer, bleach and silver.",
        "Which hazards it has and how it is classified: ask your waste office.",
        "A vessel for 20 L asks for a label of at least 105 × 74 mm with pictograms of 23 mm.",
    ):  # fmt: skip
        assert words in text


def test_a_label_leaves_the_start_date_open_before_the_first_drop(tomas: Visitor, developer_id: int) -> None:
    text = text_of(tomas.page(f"/waste/containers/{developer_id}/label"))

    assert "Start date (first drop): ____" in text


def test_a_label_carries_the_hazards_of_the_batch_that_was_mixed_last(
    tomas: Visitor, developer_id: int
) -> None:
    page = tomas.page(f"/waste/containers/{developer_id}/label")
    text = text_of(page)

    assert "Danger" in _drawn(page)
    assert "H314 Causes severe skin burns and eye damage." in _drawn(page)
    assert "Alkaline and reducing; burns skin and eyes." in _drawn(page)
    assert "stock B 500 mL/L: H290, H314." in text
    assert "Signs: corrosion." in text
    assert "are those of batch 1, which was mixed last of what this stream takes" in text


def test_codes_in_the_stream_s_own_hazards_count_too(tomas: Visitor, in_lab: InLab, carboy_id: int) -> None:
    with in_lab() as session:
        get_stream(session, get_container(session, carboy_id).stream_id).hazards = "H410; silver in it"
    text = text_of(tomas.page(f"/waste/containers/{carboy_id}/label"))

    assert "H410 Very toxic to aquatic life with long lasting effects." in text
    assert "Silver in it." in text
    assert "Signs: environment." in text


def test_a_label_names_its_place_and_that_the_earlier_label_is_off(
    tomas: Visitor, in_lab: InLab, developer_id: int
) -> None:
    with in_lab() as session:
        area = WasteArea(name="under the sink", kind=AreaKind.SATELLITE)
        session.add(area)
        session.flush()
        get_container(session, developer_id).area_id = area.id
    text = text_of(tomas.page(f"/waste/containers/{developer_id}/label"))

    assert "Stands: under the sink (satellite area)." in text
    assert "Earlier label taken off: ____" in text


def test_a_lab_without_rules_is_told_to_ask_for_the_words(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.page(f"/waste/containers/{carboy_id}/label")

    assert "Words that the waste office asks for: ____" in _drawn(page)
    assert "name no words for the label" in text_of(page)


@pytest.mark.parametrize(
    ("rule_set", "words", "source"),
    [
        ("us-small", "Hazardous Waste", "40 CFR 262.15(a)(5)"),
        ("us-academic", "Unwanted material", "40 CFR 262.206(a)(1)"),
    ],
)
def test_the_words_are_those_of_the_rules_that_the_lab_keeps(
    tomas: Visitor, in_lab: InLab, carboy_id: int, rule_set: str, words: str, source: str
) -> None:
    """The words: 40 CFR 262.15(a)(5) and 262.206(a), read in adoptions and in the 2015 annual edition."""
    _keeps(in_lab, rule_set)
    page = tomas.page(f"/waste/containers/{carboy_id}/label")

    assert _drawn(page).startswith(words)
    assert "Words that the waste office asks for" not in text_of(page)
    assert source in text_of(page)


def test_a_set_with_waste_codes_leaves_room_for_one(tomas: Visitor, in_lab: InLab, carboy_id: int) -> None:
    _keeps(in_lab, next(key for key, one in RULE_SETS.items() if one.labels_by_volume))

    assert "Waste code: ____" in text_of(tomas.page(f"/waste/containers/{carboy_id}/label"))


def test_labels_are_drawn_on_a_sheet_that_is_large_enough_for_what_the_container_holds(
    tomas: Visitor, carboy_id: int
) -> None:
    """CLP Annex I, table 1.3: more than 3 L and up to 50 L want 74 × 105 mm."""
    small = text_of(tomas.page(f"/waste/labels/sheet?format=a4-2x7&container_ids={carboy_id}"))
    large = text_of(tomas.page(f"/waste/labels/sheet?format=a4-2x2&container_ids={carboy_id}"))

    assert "which a vessel for 20 L asks for" in small
    assert "which a vessel for 20 L asks for" not in large


def test_the_code_opens_the_container_s_page(tomas: Visitor, carboy_id: int) -> None:
    for address in (
        f"/waste/containers/{carboy_id}/label",
        f"/waste/labels/sheet?format=a4-2x2&container_ids={carboy_id}",
    ):
        page = tomas.page(address)
        assert page.select("svg.label-code path")
        assert "which the code would open" in text_of(page)


def test_containers_without_a_label_are_offered_and_the_next_sheet_begins_behind_them(
    tomas: Visitor, carboy_id: int
) -> None:
    page = tomas.page("/waste/labels")
    assert "no label yet" in text_of(page)
    assert len(page.select("input[checked]")) == 1

    page = tomas.submit("/waste/labels/sheet", format="a4-2x2", first=4, container_ids=carboy_id)
    assert "labelled printed Tue 16 Feb 2027, 08:00, by Tomas." in text_of(page)
    assert page.select("input[checked]") == []
    assert typed_in(page, "first") == "1"
    assert typed_in(tomas.page("/labels"), "first") == "1"


def test_a_container_says_on_its_page_whether_it_has_a_label(tomas: Visitor, carboy_id: int) -> None:
    assert "no label printed yet" in text_of(tomas.page(f"/waste/containers/{carboy_id}"))
    tomas.submit("/waste/labels/sheet", format="a4-2x2", first=1, container_ids=carboy_id)

    assert "labelled Tue 16 Feb 2027" in text_of(tomas.page(f"/waste/containers/{carboy_id}"))


def test_a_container_that_held_something_is_not_called_labelled_while_its_earlier_label_is_on(
    tomas: Visitor, developer_id: int
) -> None:
    form: dict[str, Any] = {"format": "a4-2x2", "first": 1, "container_ids": developer_id}
    page = tomas.page(f"/waste/labels/sheet?format=a4-2x2&container_ids={developer_id}")
    assert "Held something before: Dev 1." in text_of(page)

    assert "Take the earlier label off" in text_of(tomas.submit("/waste/labels/sheet", 409, **form))
    assert "by Tomas" in text_of(tomas.submit("/waste/labels/sheet", **form, earlier_off="true"))


def test_a_collected_container_gets_no_label(tomas: Visitor, in_lab: InLab, carboy_id: int) -> None:
    with in_lab() as session:
        pickup = book_pickup(
            session, on_day=(MORNING + timedelta(days=3)).date(), request_day=MORNING.date(),
            request_clock=(MORNING + timedelta(hours=3)).time(), zone="Europe/Berlin", by="Tomas", now=MORNING,
        )  # fmt: skip
        hand_over(session, pickup.id, [carboy_id], by="Tomas", now=MORNING)

    page = tomas.submit("/waste/labels/sheet", 409, format="a4-2x2", first=1, container_ids=carboy_id)
    assert "was collected, so no label goes on it" in text_of(page)
    assert "No waste container stands in the lab." in text_of(tomas.page("/waste/labels"))


@pytest.mark.parametrize(
    ("query", "answer"),
    [
        ("format=a4-2x2", "Choose at least one thing that gets a label."),
        ("format=round&container_ids=1", "Please choose one of the list."),
        ("format=a4-2x2&first=5&container_ids=1", "A sheet of this format has 4 labels."),
    ],
)
def test_a_sheet_that_can_t_be_drawn_is_asked_back(
    tomas: Visitor, carboy_id: int, query: str, answer: str
) -> None:
    assert answer in text_of(tomas.page(f"/waste/labels/sheet?{query}", 422))


def test_no_label_calls_a_waste_harmless(tomas: Visitor, carboy_id: int, developer_id: int) -> None:
    for container_id in (carboy_id, developer_id):
        text = text_of(tomas.page(f"/waste/containers/{container_id}/label")).lower()
        assert not any(word in text for word in ("harmless", "non-hazardous", "not hazardous", "is safe"))


def test_another_lab_s_containers_get_no_label_here(petra: Visitor, carboy_id: int) -> None:
    petra.page(f"/waste/containers/{carboy_id}/label", 404)
    petra.page(f"/waste/labels/sheet?container_ids={carboy_id}", 404)
    petra.submit("/waste/labels/sheet", 404, format="a4-2x2", first=1, container_ids=carboy_id)
