"""At the end of a term names go for good, and what is kept by code stays."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy import inspect, make_url, text
from sqlmodel import select

from server.__main__ import audit
from server.data.session import Database, LabSession
from server.people.actions import add_person, enter_students, form_section_groups
from server.people.models import Role
from server.people.queries import get_section, list_codes, list_students
from server.refusal import Refusal
from server.runs.models import Run
from server.settings import Settings
from server.students.actions import arrange, describe_section, erase_names, move_student
from server.students.models import Arrangement
from server.students.queries import Naming, find_photo_bar, list_adjustments, list_consents, list_naming
from tests.casts import MORNING, PASSWORD, STUDENTS, Cast
from tests.conftest import Running, Visitor
from tests.reading import text_of
from tests.test_access import Walk, walk_through

InLab = Callable[[], AbstractContextManager[LabSession]]
SECTION = "/people/sections/1"

pytestmark = pytest.mark.furnished.with_args(walk_through)


@pytest.fixture
def walk(furnished: Walk) -> Walk:
    return furnished


def _kept(database: Database) -> str:
    """Every text of every table."""
    with database.engine.connect() as connection:
        return "\n".join(
            str(value)
            for table in inspect(database.engine).get_table_names()
            for row in connection.execute(text(f'SELECT * FROM "{table}"')).all()
            for value in row
        )


def _in_files(database: Database) -> bytes:
    """What stands in the files of a database that is one file."""
    if not database.is_sqlite:
        return b""
    file = make_url(str(database.engine.url)).database or ""
    return b"".join(
        Path(file + ending).read_bytes() for ending in ("", "-wal") if Path(file + ending).exists()
    )


def test_after_erasing_no_name_is_anywhere_in_the_database_and_every_ledger_agrees(
    mira: Visitor, tablet: Visitor, server: Running, database: Database, in_lab: InLab, cast: Cast,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    with in_lab() as session:
        arrange(session, cast.section_id, 1, arrangements=[Arrangement.LOW_BENCH], words="a chair for Quist")
    with in_lab() as session:
        enter_students(session, cast.section_id, ("Gus Tamm",))
        codes = list_codes(session, cast.section_id)
    everybody = (*STUDENTS, "Gus Tamm")
    assert all(name in _kept(database) for name in everybody)

    page = mira.submit("/people/names", section_ids=cast.section_id, word="erase")

    assert "Only codes are left of Tuesday erased on" in text_of(page)
    kept, files = _kept(database), _in_files(database)
    for name in (*everybody, "a chair for Quist"):
        assert name not in kept
        assert name.encode() not in files
    with in_lab() as session:
        assert list_codes(session, cast.section_id) == codes
        assert list_consents(session, cast.section_id) == []
        assert list_adjustments(session, cast.section_id) == {}
        assert "Tue-G1-a" in find_photo_bar(session, cast.group_ids[0])
        assert session.exec(select(Run)).all()
    audit(Settings(database_url=database.engine.url.render_as_string(hide_password=False)))
    assert "equals its ledger" in capsys.readouterr().out


@pytest.fixture
def erased(session: LabSession, cast: Cast) -> LabSession:
    erase_names(session, [cast.section_id], now=MORNING)
    session.flush()
    return session


def test_the_other_lab_s_names_stay(database: Database, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        erase_names(session, [cast.section_id], now=MORNING)

    assert "Gil Aro" in _kept(database)


def test_what_is_left_of_a_section_changes_no_more(erased: LabSession, cast: Cast) -> None:
    with pytest.raises(Refusal, match="names of “Tuesday” were erased"):
        enter_students(erased, cast.section_id, ("Gus Tamm",))
    with pytest.raises(Refusal, match="were erased"):
        form_section_groups(erased, cast.section_id, size=3)
    with pytest.raises(Refusal, match="were erased"):
        move_student(erased, cast.section_id, 1, group_id=cast.group_ids[1])
    with pytest.raises(Refusal, match="were erased"):
        describe_section(erased, cast.section_id, short_name="X", term_ends_on=None)


def test_erasing_twice_keeps_the_day_of_the_first_time(erased: LabSession, cast: Cast) -> None:
    erase_names(erased, [cast.section_id], now=MORNING + timedelta(days=3))

    assert {one.name for one in list_students(erased, cast.section_id)} == {""}
    assert get_section(erased, cast.section_id).names_erased_at == MORNING


def test_staff_read_codes_where_names_were(mira: Visitor, walk: Walk, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        erase_names(session, [cast.section_id], now=MORNING)
    page = text_of(mira.page(SECTION))

    assert "The names of these students were erased on Tue" in page
    assert "Tue-G2-b" in page
    for address in (
        f"{SECTION}/consents", f"{SECTION}/adjustments", f"{SECTION}/students/1", f"/rotations/{walk.things.rotation_id}/roles",
    ):  # fmt: skip
        assert "Tue-G1-a" in text_of(mira.page(address))


@pytest.mark.parametrize(
    ("section", "word", "sentence"), [("1", "yes", "can't be undone"), ("", "erase", "choose a section")]
)
def test_nothing_is_erased_unless_it_is_meant(
    mira: Visitor, in_lab: InLab, section: str, word: str, sentence: str
) -> None:
    page = mira.submit("/people/names", 422, word=word, **({"section_ids": section} if section else {}))

    assert sentence in text_of(page)
    with in_lab() as session:
        assert "Ada Quist" in {one.name for one in list_students(session, 1)}


def test_a_name_that_somebody_typed_elsewhere_is_told_before(
    mira: Visitor, walk: Walk, in_lab: InLab
) -> None:
    with in_lab() as session:
        run = session.get(Run, walk.things.run_id)
        assert run is not None
        run.comment = "Ada Quist held it upside down"
    with in_lab() as session:
        told = Naming(Run, walk.things.run_id, frozenset({"Ada Quist"}))
        assert list_naming(session, ["Ada Quist", "Bo Lind"]) == [told]
        assert list_naming(session, []) == []

    assert "1 of “run”" in text_of(mira.page("/people/names"))


def test_codes_take_the_place_of_names_that_somebody_typed_elsewhere(
    mira: Visitor, walk: Walk, in_lab: InLab, database: Database, cast: Cast
) -> None:
    with in_lab() as session:
        add_person(session, name="Bo Lind", email="bo@lab.example", role=Role.TECHNICIAN, password=PASSWORD)
        enter_students(session, cast.section_id, ("Gus Tamm", "Rose"))
        run = session.get(Run, walk.things.run_id)
        assert run is not None
        run.comment = "Ada Quist's plate: Gus Tamm and Bo Lind saw a rose"
    assert b"Ada Quist's plate" in _in_files(database) or not database.is_sqlite

    mira.submit("/people/names", section_ids=cast.section_id, word="erase", puts_codes="true")

    with in_lab() as session:
        run = session.get(Run, walk.things.run_id)
        assert run is not None
        assert run.comment == "Tue-G1-a's plate: a student and Bo Lind saw a rose"
    assert b"Ada Quist's plate" not in _in_files(database)


def test_what_was_typed_stays_where_no_codes_are_asked_for(
    mira: Visitor, walk: Walk, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        run = session.get(Run, walk.things.run_id)
        assert run is not None
        run.comment = "Ada Quist's plate"

    mira.submit("/people/names", section_ids=cast.section_id, word="erase")

    with in_lab() as session:
        run = session.get(Run, walk.things.run_id)
        assert run is not None
        assert run.comment == "Ada Quist's plate"


def test_a_section_of_three_hundred_can_be_erased(mira: Visitor, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        enter_students(session, cast.section_id, tuple(f"Student Number{number}" for number in range(300)))

    assert "306" in text_of(mira.page("/people/names"))


def test_today_reminds_the_instructor_once_the_term_is_over(
    mira: Visitor, tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    for day, is_reminded in ((date(2027, 2, 16), False), (date(2027, 2, 15), True)):
        with in_lab() as session:
            describe_section(session, cast.section_id, short_name="Tue", term_ends_on=day)
        assert ("Names of Tuesday" in text_of(mira.page("/"))) is is_reminded
    assert "Names of Tuesday" not in text_of(tomas.page("/"))
    mira.submit("/people/names", section_ids=cast.section_id, word="erase")

    assert "Names of Tuesday" not in text_of(mira.page("/"))
