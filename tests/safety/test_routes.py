"""The safety pages over HTTP."""

from datetime import timedelta

from bs4 import BeautifulSoup

from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.reading import text_of


def _row(page: BeautifulSoup, name: str) -> str:
    heading = page.find("th", string=name)
    assert heading is not None
    row = heading.parent
    assert row is not None
    return " ".join(row.get_text(" ").split())


def test_a_round_stands_there_with_its_age_and_when_it_is_due(server: Running, tomas: Visitor) -> None:
    tomas.submit("/safety/rounds", check_kind="eyewash", in_order="true")
    server.clock.instant = MORNING + timedelta(days=2, hours=1)
    row = _row(tomas.page("/safety"), "Eyewash")

    assert "in order" in row
    assert "Tue 16 Feb 2027, 08:00, 2 days ago, Tomas" in row
    assert "Tue 23 Feb 2027" in row


def test_a_round_that_is_over_its_interval_is_called_due(server: Running, tomas: Visitor) -> None:
    tomas.submit("/safety/rounds", check_kind="waste shelf", in_order="true")
    server.clock.instant = MORNING + timedelta(days=10)

    assert "due for 3 days" in _row(tomas.page("/safety"), "Waste shelf")


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
