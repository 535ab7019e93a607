"""Headers, and writes that another site sends."""

import socket
from urllib.parse import urlsplit

import pytest

from server.web import security
from tests.conftest import Running, Visitor, words


def test_every_answer_carries_the_strict_policy(mira: Visitor) -> None:
    for address in ("/people", "/nowhere", "/static/css/paper.css"):
        policy = mira.get(address).headers["content-security-policy"]

        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "base-uri 'none'" in policy
        assert "form-action 'self'" in policy
        assert "unsafe" not in policy


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Origin": "http://[no address"},
        {"Origin": "http://127.0.0.1"},
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


def test_a_foreign_write_from_an_open_page_leaves_the_page_as_it_is(mira: Visitor) -> None:
    answer = mira.post("/people/sections", headers={"Origin": "null", "HX-Request": "true"})

    assert answer.status_code == 403
    assert answer.headers["HX-Retarget"] == "#notice"


def test_a_form_that_is_long_on_its_way_keeps_nobody_waiting(mira: Visitor, server: Running) -> None:
    """A tablet at the edge of the network has sent half of its form; everybody else goes on writing."""
    place = urlsplit(server.address)
    with socket.create_connection((place.hostname, place.port)) as slow:
        head = (
            "POST /sign-in HTTP/1.1",
            f"Host: {place.netloc}",
            f"Origin: {server.address}",
            "Content-Type: application/x-www-form-urlencoded",
            "Content-Length: 100",
        )
        slow.sendall("\r\n".join([*head, "", "email=mira"]).encode())
        mira.timeout = 10
        for name in ("Monday", "Wednesday", "Thursday"):
            assert mira.post("/people/sections", data={"name": name}).status_code == 200


def test_a_form_that_never_arrives_whole_is_given_up(
    server: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(security, "LONGEST_SENDING_S", 0.05)
    place = urlsplit(server.address)
    with socket.create_connection((place.hostname, place.port), timeout=20) as slow:
        head = (
            "POST /sign-in HTTP/1.1",
            f"Host: {place.netloc}",
            f"Origin: {server.address}",
            "Content-Length: 9",
        )
        slow.sendall("\r\n".join([*head, "", "email"]).encode())
        answer = slow.makefile("rb").read().decode()

    assert answer.startswith("HTTP/1.1 408")
    assert "Please send it once more" in answer


def _half_a_photo(server: Running) -> socket.socket:
    place = urlsplit(server.address)
    slow = socket.create_connection((place.hostname, place.port), timeout=20)
    head = (
        "POST /tablet/runs/1/photos HTTP/1.1",
        f"Host: {place.netloc}",
        f"Origin: {server.address}",
        "Content-Length: 2000000",
    )
    slow.sendall("\r\n".join([*head, "", "half"]).encode())
    return slow


def test_few_large_photos_are_read_at_a_time_and_one_more_is_told_to_come_again(
    tablet: Visitor, server: Running
) -> None:
    """Each is kept in memory until it is whole."""
    first = [_half_a_photo(server) for _ in range(security.LARGE_ONES_AT_ONCE)]
    with _half_a_photo(server) as one_more:
        answer = one_more.makefile("rb").read().decode()
    assert answer.startswith("HTTP/1.1 503")
    assert "send this one again in a minute" in answer
    assert tablet.post("/tablet/runs/1/photos").status_code == 404  # a small one is read all the same

    for one in first:
        one.close()
    for _ in range(100):
        with _half_a_photo(server) as again:
            again.settimeout(0.5)
            try:
                assert b"503" in again.recv(100)
            except TimeoutError:
                break  # it is being read: whoever went has made room
    else:
        pytest.fail("nobody made room")


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


def test_behind_a_server_that_speaks_https_the_cookie_stays_on_https(stranger: Visitor) -> None:
    answer = stranger.post(
        "/sign-in",
        data={"email": "mira@lab.example", "password": "correct horse battery"},
        headers={"X-Forwarded-Proto": "https"},
        follow_redirects=False,
    )

    assert "Secure" in answer.headers["set-cookie"]


def test_pages_are_not_kept_by_the_browser(mira: Visitor) -> None:
    assert mira.get("/people").headers["cache-control"] == "no-store"
