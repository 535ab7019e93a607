"""Whatever goes wrong, a person reads a sentence."""

from collections.abc import Iterator

import pytest

from server.people.access import COOKIE
from tests.conftest import Running, Visitor, words


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("/nowhere", "There is no page at this address"),
        ("/people/sections/999999", "There is no such section in this lab"),
        ("/people/sections/twelve", "There is no page at this address"),
        ("/people/sections/99999999999999", "There is no page at this address"),
        ("/people/sections/-1", "There is no page at this address"),
        ("/static/nothing.css", "There is no page at this address"),
    ],
)
def test_an_unknown_address_has_its_sentence(mira: Visitor, address: str, sentence: str) -> None:
    answer = mira.get(address)

    assert answer.status_code == 404
    assert sentence in words(answer)


def test_a_form_address_that_is_only_looked_at_has_its_sentence(mira: Visitor) -> None:
    answer = mira.get("/people/staff")

    assert answer.status_code == 405
    assert "only takes a form that was sent from its own page" in words(answer)


def test_a_stranger_is_asked_to_sign_in(stranger: Visitor) -> None:
    answer = stranger.get("/people", follow_redirects=False)

    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?next=%2Fpeople"


def test_an_open_page_stays_when_the_sign_in_has_ended(stranger: Visitor) -> None:
    """It may hold typed text, or be the dark screen of a room with open plates; only a sentence appears."""
    answer = stranger.get("/people", headers={"HX-Request": "true", "HX-Request-Type": "partial"})

    assert answer.status_code == 401
    assert answer.headers["HX-Retarget"] == "#notice"
    assert "HX-Redirect" not in answer.headers
    assert "Your sign-in has ended" in words(answer)


def test_a_sign_in_that_has_ended_is_no_sign_in(mira: Visitor, server: Running) -> None:
    server.clock.instant = server.clock.instant.replace(year=2029)

    assert mira.get("/people", follow_redirects=False).status_code == 303


def test_a_forged_cookie_is_no_sign_in(stranger: Visitor) -> None:
    stranger.cookies.set(COOKIE, "token-of-nobody")

    assert stranger.get("/people", follow_redirects=False).status_code == 303


def test_a_refused_action_has_its_sentence_above_the_form_that_stays(mira: Visitor) -> None:
    answer = mira.post("/people/sections", data={"name": "Tuesday"}, headers={"HX-Request": "true"})

    assert answer.status_code == 409
    assert answer.headers["HX-Retarget"] == "#notice"
    assert answer.headers["HX-Push-Url"] == "false"
    assert "There is a section “Tuesday” already" in words(answer)
    assert "<html" not in answer.text


@pytest.fixture
def broken(server: Running) -> Iterator[None]:
    """A server whose database has gone."""
    database = server.app.state.database
    del server.app.state.database
    yield
    server.app.state.database = database


@pytest.mark.usefixtures("broken")
def test_a_fault_of_ours_has_its_sentence_and_a_reference(mira: Visitor) -> None:
    answer = mira.get("/people")

    assert answer.status_code == 500
    assert "Something went wrong on our side" in words(answer)
    assert "Reference:" in words(answer)
    assert "Traceback" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]
