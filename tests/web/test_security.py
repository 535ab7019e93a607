"""Headers, and writes that another site sends."""

import pytest

from tests.conftest import Running, Visitor, words


def test_every_answer_carries_the_strict_policy(mira: Visitor) -> None:
    for address in ("/people", "/nowhere", "/static/css/paper.css"):
        policy = mira.get(address).headers["content-security-policy"]

        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
        assert "unsafe" not in policy


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
    ],
    ids=str,
)
def test_a_write_from_another_site_does_nothing(mira: Visitor, headers: dict[str, str]) -> None:
    answer = mira.post("/people/sections", data={"name": "Planted"}, headers=headers)

    assert answer.status_code == 403
    assert "sent from another site" in words(answer)
    assert "Planted" not in mira.get("/people").text


def test_a_write_without_any_origin_does_nothing(mira: Visitor) -> None:
    del mira.headers["Origin"]

    assert mira.post("/people/sections", data={"name": "Planted"}).status_code == 403


def test_a_browser_on_a_secure_address_may_write(mira: Visitor) -> None:
    answer = mira.post("/people/sections", data={"name": "Monday"}, headers={"Sec-Fetch-Site": "same-origin"})

    assert answer.status_code == 200


def test_the_cookie_can_not_be_read_by_scripts_nor_sent_by_other_sites(
    stranger: Visitor, server: Running
) -> None:
    answer = stranger.post(
        "/sign-in",
        data={"email": "mira@lab.example", "password": "correct horse battery"},
        follow_redirects=False,
    )
    cookie = answer.headers["set-cookie"]

    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert server.address.startswith("http:")
    assert "Secure" not in cookie


def test_pages_are_not_kept_by_the_browser(mira: Visitor) -> None:
    assert mira.get("/people").headers["cache-control"] == "no-store"
