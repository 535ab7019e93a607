"""Wrong passwords and class codes, again and again, over HTTP and on the test's clock."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any, Literal

import pytest
from argon2 import PasswordHasher
from sqlmodel import col, func, select

from server.core.tries import FOR_ADDRESS, FOR_SECRET, Patience, Secret
from server.data.session import ACROSS_LABS, Database, LabSession
from server.people import actions
from server.people.actions import count_try, forgive_try, tries_of, try_code
from server.people.models import WrongTry
from tests.casts import MORNING, PASSWORD, Cast
from tests.conftest import Running, Visitor
from tests.reading import text_of

TOO_OFTEN = "That was tried too often"


@pytest.fixture
def later(server: Running) -> Callable[[int], None]:
    """Lets seconds pass."""

    def wait(seconds: int) -> None:
        server.clock.instant += timedelta(seconds=seconds)

    return wait


def _wrong(stranger: Visitor, status: int = 422, email: str = "mira@lab.example") -> str:
    return text_of(stranger.submit("/sign-in", status, email=email, password="wrong horse battery"))


def test_after_five_wrong_passwords_even_the_right_one_waits_and_then_opens(
    stranger: Visitor, later: Callable[[int], None]
) -> None:
    for _ in range(FOR_SECRET.free):
        assert "do not belong together" in _wrong(stranger)
    page = stranger.submit("/sign-in", 429, email="Mira@Lab.example", password=PASSWORD)
    assert f"{TOO_OFTEN}. Wait 15 s, then try again; nothing is locked." in text_of(page)

    later(15)

    assert "Today" in text_of(stranger.submit("/sign-in", email="mira@lab.example", password=PASSWORD))


def test_waiting_is_not_made_longer_by_trying_meanwhile(
    stranger: Visitor, later: Callable[[int], None]
) -> None:
    for _ in range(FOR_SECRET.free):
        _wrong(stranger)
    for _ in range(4):
        later(3)
        assert TOO_OFTEN in _wrong(stranger, 429)
    later(3)
    assert "do not belong together" in _wrong(stranger)
    assert "Wait 30 s" in _wrong(stranger, 429)


def test_another_s_wrong_tries_keep_nobody_else_out(stranger: Visitor, later: Callable[[int], None]) -> None:
    for _ in range(FOR_SECRET.free):
        _wrong(stranger)
    _wrong(stranger, 429)

    page = stranger.submit("/sign-in", email="tomas@lab.example", password=PASSWORD)

    assert "Tomas" in text_of(page)
    later(1)


@pytest.mark.parametrize(
    ("address", "kind"),
    [("198.51.100.7", Secret.CLASS_CODE), ("192.0.2.7", Secret.EMAIL), ("192.0.2.7", Secret.PERSON)],
)
def test_a_class_code_that_is_guessed_waits_there_and_in_no_other_network_or_field(
    session: LabSession, cast: Cast, address: str, kind: Secret
) -> None:
    guessed = tries_of("192.0.2.7", Secret.CLASS_CODE, cast.class_code)
    for _ in range(FOR_SECRET.free):
        assert count_try(session, tries=guessed, now=MORNING) == 0
    assert count_try(session, tries=guessed, now=MORNING) == 15

    assert count_try(session, tries=tries_of(address, kind, cast.class_code), now=MORNING) == 0


def test_what_is_guessed_from_everywhere_waits_everywhere_until_it_is_right_once(
    session: LabSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "FOR_SECRET_ANYWHERE", Patience(free=20))
    tries = [tries_of(f"192.0.2.{number}", Secret.EMAIL, "mira@lab.example") for number in range(4)]
    for _ in range(FOR_SECRET.free):
        assert {count_try(session, tries=one, now=MORNING) for one in tries} == {0}
    fresh = tries_of("198.51.100.7", Secret.EMAIL, "mira@lab.example")
    assert count_try(session, tries=fresh, now=MORNING) == 15

    later = MORNING + timedelta(seconds=15)
    assert count_try(session, tries=fresh, now=later) == 0
    forgive_try(session, tries=fresh)

    assert count_try(session, tries=fresh, now=later) == 0


def test_a_right_password_clears_the_wrong_ones_before_it(stranger: Visitor) -> None:
    for _ in range(3):
        for _ in range(FOR_SECRET.free - 1):
            _wrong(stranger)
        stranger.submit("/sign-in", email="mira@lab.example", password=PASSWORD)


def test_many_addresses_from_one_place_wait_too(stranger: Visitor) -> None:
    for number in range(FOR_ADDRESS.free):
        _wrong(stranger, email=f"somebody{number}@lab.example")

    assert TOO_OFTEN in _wrong(stranger, 429, email="another@lab.example")


@pytest.mark.parametrize("by_link", [True, False])
def test_guessed_class_codes_wait_and_a_right_one_opens_after_it(
    stranger: Visitor, later: Callable[[int], None], cast: Cast, by_link: bool
) -> None:
    for number in range(FOR_ADDRESS.free):
        if by_link:
            stranger.page(f"/join/WRONG{number}", 404)
        else:
            stranger.submit("/join", 422, code=f"WRONG{number}")
    assert TOO_OFTEN in text_of(stranger.submit("/join", 429, code=cast.class_code))
    assert TOO_OFTEN in text_of(stranger.page(f"/join/{cast.class_code}", 429))
    assert TOO_OFTEN in text_of(
        stranger.submit(f"/join/{cast.class_code}", 429, code=cast.class_code, group_id=cast.group_ids[0])
    )

    later(15)

    assert "Which group uses this tablet?" in text_of(stranger.page(f"/join/{cast.class_code}"))


def test_a_code_guessed_with_a_group_counts_too(stranger: Visitor, cast: Cast) -> None:
    for number in range(FOR_ADDRESS.free):
        stranger.submit(f"/join/WRONG{number}", 422, code="x", group_id=cast.group_ids[0])

    assert TOO_OFTEN in text_of(stranger.page(f"/join/{cast.class_code}", 429))


def test_a_class_that_joins_counts_nothing(stranger: Visitor, cast: Cast, database: Database) -> None:
    for _ in range(FOR_ADDRESS.free + 5):
        stranger.page(f"/join/{cast.class_code}")
    with database.reading(None) as session:
        kept = session.exec(select(WrongTry.times), execution_options=ACROSS_LABS).all()

    assert set(kept) == {0}


def test_tablets_that_join_in_one_moment_all_come_in(database: Database, cast: Cast) -> None:
    with database.writing(None) as session:
        count_try(
            session, tries=tries_of("192.0.2.99", Secret.EMAIL, "long ago"), now=MORNING - timedelta(hours=2)
        )
    ready = threading.Barrier(6)

    def join(number: int) -> int:
        ready.wait()
        tries = tries_of(f"192.0.2.{number}", Secret.CLASS_CODE, cast.class_code)
        with database.writing(None) as session:
            return try_code(session, code=cast.class_code, tries=tries, now=MORNING)

    with ThreadPoolExecutor(6) as pool:
        assert list(pool.map(join, range(6))) == [0] * 6
    with database.reading(None) as session:
        kept = session.exec(select(WrongTry.times), execution_options=ACROSS_LABS).all()

    assert set(kept) == {0}


def test_what_is_kept_names_nobody_and_is_forgotten(session: LabSession) -> None:
    count_try(session, tries=tries_of("192.0.2.7", Secret.EMAIL, "mira@lab.example"), now=MORNING)
    rows = session.exec(select(WrongTry), execution_options=ACROSS_LABS).all()
    assert {len(one.tried) for one in rows} == {64}

    count_try(
        session,
        tries=tries_of("192.0.2.8", Secret.EMAIL, "tomas@lab.example"),
        now=MORNING + timedelta(hours=2),
    )

    left = session.exec(select(WrongTry.last_at), execution_options=ACROSS_LABS).all()
    assert set(left) == {MORNING + timedelta(hours=2)}


def test_however_many_are_tried_only_so_many_are_kept(
    session: LabSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "MOST_TRIES_KEPT", 10)
    for number in range(20):
        count_try(
            session, tries=tries_of(f"192.0.2.{number}", Secret.EMAIL, f"somebody{number}"), now=MORNING
        )

    counted = select(func.count(col(WrongTry.id)))
    assert session.exec(counted, execution_options=ACROSS_LABS).one() == 10


def test_a_password_is_changed_and_ends_the_other_sign_ins(mira: Visitor, stranger: Visitor) -> None:
    stranger.submit("/sign-in", email="mira@lab.example", password=PASSWORD)
    assert "Today" in text_of(stranger.page("/"))
    wrong = mira.submit("/password", 422, current="wrong horse battery", password="new horse battery")
    assert "This is not your password" in text_of(wrong)
    short = mira.submit("/password", 422, current=PASSWORD, password="short")
    assert "at least 10 characters" in text_of(short)

    mira.submit("/password", current=PASSWORD, password="new horse battery")

    assert "Today" in text_of(mira.page("/"))
    assert "Sign in" in text_of(stranger.page("/people"))
    stranger.submit("/sign-in", 422, email="mira@lab.example", password=PASSWORD)
    stranger.submit("/sign-in", email="mira@lab.example", password="new horse battery")


class _WritesBesides(PasswordHasher):
    """Somebody else writes while a password is checked or made, which takes a fifth of a second each time."""

    def __init__(self, database: Database) -> None:
        super().__init__()
        self.database, self.times = database, 0

    def _write(self) -> None:
        with self.database.writing(None) as session:
            count_try(session, tries=tries_of("192.0.2.9", Secret.EMAIL, "somebody"), now=MORNING)
        self.times += 1

    def verify(self, *given: Any) -> Literal[True]:
        self._write()
        return super().verify(*given)

    def hash(self, *given: Any, **options: Any) -> str:
        self._write()
        return super().hash(*given, **options)


def test_nobody_waits_to_write_while_a_password_is_changed(
    tomas: Visitor, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    hasher = _WritesBesides(database)
    monkeypatch.setattr(actions, "_passwords", hasher)

    tomas.submit("/password", current=PASSWORD, password="new horse battery")

    assert hasher.times == 2


def test_guessing_the_password_of_a_screen_left_open_waits(tomas: Visitor) -> None:
    for _ in range(FOR_SECRET.free):
        tomas.submit("/password", 422, current="wrong horse battery", password="new horse battery")

    page = tomas.submit("/password", 429, current=PASSWORD, password="new horse battery")

    assert TOO_OFTEN in text_of(page)


def test_who_is_taken_off_the_staff_is_signed_out_at_once(mira: Visitor, tomas: Visitor) -> None:
    assert "Today" in text_of(tomas.page("/"))
    page = mira.submit("/people/staff/2/remove")

    assert "tomas@lab.example" not in text_of(page)
    assert "Sign in" in text_of(tomas.page("/stock"))
    mira.submit("/people/staff/2/remove", 404)


def test_the_last_instructor_can_not_remove_themselves(mira: Visitor) -> None:
    assert "You can't remove yourself" in text_of(mira.submit("/people/staff/1/remove", 409))
