"""Reading forms."""

from typing import Annotated

import pytest
from pydantic import Field

from server.web.submitted import Form, RowId, Submitted, read
from tests.conftest import Visitor, words


class _Note(Form):
    plates: Annotated[int, Field(ge=1, le=9)]
    comment: Annotated[str, Field(max_length=5)] = ""
    box_ids: tuple[RowId, ...] = ()


def test_a_good_form_is_clean() -> None:
    found = read(_Note, {"plates": " 3 ", "comment": " dim ", "box_ids": ["1", "2"]})

    assert found.clean == _Note(plates=3, comment="dim", box_ids=(1, 2))
    assert found.errors == {}


def test_what_was_typed_stays_beside_its_sentence() -> None:
    found = read(_Note, {"plates": "many", "comment": "so dim"})

    assert found.clean is None
    assert found.value("plates") == "many"
    assert found.error("plates") == "Please write a whole number, such as 12."
    assert found.error("comment") == "Please use at most 5 characters."


def test_an_empty_field_is_asked_for() -> None:
    assert read(_Note, {"plates": ""}).error("plates") == "Please fill this in."


def test_a_number_out_of_bounds_names_the_bound() -> None:
    assert read(_Note, {"plates": "0"}).error("plates") == "Please write 1 or more."
    assert read(_Note, {"plates": "10"}).error("plates") == "Please write 9 or less."


def test_an_id_no_column_holds_is_no_id() -> None:
    assert read(_Note, {"plates": "1", "box_ids": ["99999999999"]}).clean is None


def test_what_only_the_database_knows_is_added() -> None:
    found = Submitted[_Note]({"plates": "3"}, {}, _Note(plates=3)).refused("plates", "Only 2 are left.")

    assert found.clean is None
    assert found.value("plates") == "3"
    assert found.error("plates") == "Only 2 are left."


@pytest.mark.parametrize("told", [True, False], ids=["told beforehand", "sent in pieces"])
def test_a_body_larger_than_any_form_is_refused_with_a_sentence(mira: Visitor, told: bool) -> None:
    body = b"name=" + b"x" * 1_100_000
    headers = {"content-type": "application/x-www-form-urlencoded"}
    answer = mira.post("/people/sections", content=body if told else iter([body]), headers=headers)

    assert answer.status_code == 413
    assert "more than one form can carry" in words(answer)


def test_more_fields_than_any_form_has_are_refused_with_a_sentence(mira: Visitor) -> None:
    answer = mira.post("/people/sections", data={f"field {number}": "1" for number in range(2_001)})

    assert answer.status_code == 400
    assert "This can't be read" in words(answer)


def test_a_character_no_database_keeps_is_left_out(mira: Visitor) -> None:
    mira.submit("/people/sections", name="Mon\x00day")

    assert "Monday" in words(mira.get("/people"))


def test_a_body_that_is_no_form_is_an_empty_form(mira: Visitor) -> None:
    answer = mira.post(
        "/people/sections", content=b'{"name": "Tuesday"}', headers={"content-type": "application/json"}
    )

    assert answer.status_code == 422
    assert "Please fill this in." in answer.text


def test_a_sent_file_is_refused_with_a_sentence(mira: Visitor) -> None:
    answer = mira.post("/people/sections", files={"name": ("a.txt", b"hello")})

    assert answer.status_code == 400
    assert "This can't be read" in words(answer)
