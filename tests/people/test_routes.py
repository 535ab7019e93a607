"""The people pages over HTTP."""

import pytest

from tests.casts import PASSWORD, Cast
from tests.conftest import Visitor
from tests.reading import text_of


def test_a_pasted_list_becomes_students_and_groups(mira: Visitor) -> None:
    page = mira.submit("/people/sections", name="Wednesday")
    address = page.select_one("form[action$='/students']")
    assert address is not None
    section = str(address["action"]).removesuffix("/students")
    mira.submit(
        f"{section}/students",
        names="First name,Last name\nAda,Quist\nBo,Lind\nCleo,Varga\nDov,Maron\nEdda,Sund",
    )
    page = mira.submit(f"{section}/groups", size=2)

    assert "Ada Quist, Bo Lind, Cleo Varga" in text_of(page)
    assert "Dov Maron, Edda Sund" in text_of(page)


def test_a_list_with_a_name_twice_is_shown_again_with_the_sentence(mira: Visitor, cast: Cast) -> None:
    page = mira.submit(f"/people/sections/{cast.section_id}/students", 422, names="Gus Tamm\nGus Tamm")

    assert "“Gus Tamm” stands on line 1 and on line 2" in text_of(page)
    assert page.select_one("#names").text == "Gus Tamm\nGus Tamm"  # type: ignore[union-attr]


def test_blanks_are_no_name(mira: Visitor) -> None:
    assert "fill this in" in text_of(mira.submit("/people/sections", 422, name="   "))


def test_a_label_belongs_to_the_field_of_its_own_form(mira: Visitor) -> None:
    ids = [str(one["id"]) for one in mira.page("/people").select("[id]")]

    assert sorted(ids) == sorted(set(ids))


def test_a_member_of_staff_is_added(mira: Visitor) -> None:
    typed = {"email": "pia@lab.example", "role": "technician", "password": PASSWORD}

    assert "fill this in" in text_of(mira.submit("/people/staff", 422, person_name=" ", **typed))
    assert "Pia Rohde" in text_of(mira.submit("/people/staff", 200, person_name="Pia Rohde", **typed))


def test_signing_in_leads_to_the_page_that_was_asked_for(stranger: Visitor) -> None:
    page = stranger.page("/people")
    assert page.select_one("input[name=next]")["value"] == "/people"  # type: ignore[index]

    page = stranger.submit("/sign-in", email="Mira@lab.example", password=PASSWORD, next="/people")

    assert page.select_one("h1").text == "People"  # type: ignore[union-attr]


def test_a_wrong_password_gets_a_sentence_and_keeps_the_address(stranger: Visitor) -> None:
    page = stranger.submit("/sign-in", 422, email="mira@lab.example", password="wrong horse battery")

    assert "do not belong together" in text_of(page)
    assert page.select_one("#email")["value"] == "mira@lab.example"  # type: ignore[index]


@pytest.mark.parametrize(
    "away", ["//evil.example", "/\\\\evil.example", "https://evil.example", "evil.example"]
)
def test_signing_in_never_leads_to_another_site(stranger: Visitor, away: str) -> None:
    answer = stranger.post(
        "/sign-in",
        data={"email": "mira@lab.example", "password": PASSWORD, "next": away},
        follow_redirects=False,
    )

    assert answer.headers["location"] == "/"
