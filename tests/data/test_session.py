"""A session sees one lab; a transaction is kept whole or not at all."""

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import Executable, insert, text, union
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import aliased
from sqlmodel import SQLModel, col, delete, func, select, update

from server.data.session import ACROSS_LABS, Database, LabSession
from server.people.models import Group, Lab, Section, SignIn, Student
from tests.casts import Cast

SECTIONS = SQLModel.metadata.tables["section"]


def test_a_query_sees_only_the_rows_of_its_lab(database: Database, cast: Cast) -> None:
    with database.reading(cast.lab_id) as session:
        assert [section.name for section in session.exec(select(Section))] == ["Tuesday"]
        assert session.exec(select(func.count()).select_from(Section)).one() == 1
        assert session.exec(select(func.max(Section.id))).one() == cast.section_id
        assert session.get(Section, cast.other_section_id) is None
        joined = select(Student.name).join(Group, col(Group.id) == col(Student.group_id))
        assert len(session.exec(joined).all()) == 6
        within = select(Student.name).where(col(Student.group_id).in_(select(Group.id)))
        assert len(session.exec(within).all()) == 6


def test_a_page_sees_one_moment_whatever_is_written_meanwhile(database: Database, cast: Cast) -> None:
    with database.reading(cast.lab_id) as reading:
        before = reading.exec(select(func.count()).select_from(Section)).one()
        with database.writing(cast.lab_id) as writing:
            writing.add(Section(name="Wednesday", short_name="S", class_code="WEDNES"))

        assert reading.exec(select(func.count()).select_from(Section)).one() == before

    with database.reading(cast.lab_id) as reading:
        assert reading.exec(select(func.count()).select_from(Section)).one() == before + 1


def _every_shape_of_a_query() -> dict[str, Any]:
    """Each asks for the names or numbers of all sections there are, in another shape."""
    names = select(Section.name)
    other = aliased(Section)
    within = names.cte("within")
    below = names.subquery()
    return {
        "alias": select(other.name),
        "union": union(names, select(other.name).where(other.id > 0)),
        "common table expression": select(within.c.name),
        "subquery": select(below.c.name),
        "scalar subquery": select(names.scalar_subquery()),
        "join from a table that no lab owns": select(Section.name).select_from(Lab).join(Section),
        "joined alias": select(Lab.id, other.name).join(other, col(other.lab_id) == col(Lab.id)),
        "rows that exist": select(Lab.id, Section.name).where(
            col(Lab.id) == Section.lab_id, select(other.id).where(other.id == Section.id).exists()
        ),
    }


@pytest.mark.parametrize("shape", _every_shape_of_a_query())
def test_no_shape_of_a_query_sees_another_lab(database: Database, cast: Cast, shape: str) -> None:
    with database.reading(cast.lab_id) as session:
        rows = session.execute(_every_shape_of_a_query()[shape]).all()

    assert [row[-1] for row in rows] == ["Tuesday"]


def test_a_row_of_another_lab_does_not_exist(database: Database, cast: Cast) -> None:
    there = select(Section.id).where(Section.id == cast.other_section_id).exists()
    with database.reading(cast.lab_id) as session:
        assert session.exec(select(Lab.name).where(there)).all() == []
        assert session.exec(select(Lab.name).where(~there)).all() != []


def test_changes_and_deletions_stay_in_the_lab(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        session.exec(update(Section).values(name="changed"))
        session.exec(update(Section).where(col(Section.id) == cast.other_section_id).values(name="changed"))
        session.exec(delete(SignIn))
    with database.reading(cast.other_lab_id) as session:
        assert session.exec(select(Section.name)).all() == ["Friday"]
        assert len(session.exec(select(SignIn)).all()) == 3


def test_what_was_found_across_labs_is_not_got_by_its_id(database: Database, cast: Cast) -> None:
    with database.reading(cast.lab_id) as session:
        kept = session.exec(select(Section), execution_options=ACROSS_LABS).all()

        assert len(kept) == 2
        assert session.get(Section, cast.other_section_id) is None


@pytest.mark.parametrize(
    "statement",
    [
        text("SELECT name FROM section"),
        SECTIONS.select(),
        SECTIONS.update().values(name="changed"),
        SECTIONS.delete(),
        insert(Section).values(lab_id=1, name="Thursday", class_code="NEWONE"),
    ],
    ids=str,
)
def test_a_statement_that_no_lab_can_be_added_to_fails(
    database: Database, cast: Cast, statement: Executable
) -> None:
    with database.writing(cast.lab_id) as session, pytest.raises(TypeError, match="the lab can't be added"):
        session.execute(statement)


def test_a_row_can_not_be_moved_to_another_lab(session: LabSession, cast: Cast) -> None:
    session.get_one(Section, cast.section_id).lab_id = cast.other_lab_id

    with pytest.raises(TypeError, match="in a session of lab"):
        session.flush()


def test_without_a_lab_a_query_fails(database: Database) -> None:
    with database.reading(None) as session, pytest.raises(TypeError, match="bound to no lab"):
        session.exec(select(Section)).all()


def test_looking_across_labs_must_be_asked_for_by_name(database: Database) -> None:
    with database.reading(None) as session:
        assert len(session.exec(select(Section), execution_options=ACROSS_LABS).all()) == 2


def test_a_new_row_belongs_to_the_session_s_lab(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        section = Section(name="Thursday", short_name="S", class_code="NEWONE")
        session.add(section)
        session.flush()
        assert section.lab_id == cast.lab_id


def test_a_row_of_another_lab_can_not_be_written(database: Database, cast: Cast) -> None:
    with pytest.raises(TypeError, match="in a session of lab"), database.writing(cast.lab_id) as session:
        session.add(Section(lab_id=cast.other_lab_id, name="Thursday", short_name="S", class_code="NEWONE"))


def _add_and_fail(database: Database, lab_id: int) -> None:
    with database.writing(lab_id) as session:
        session.add(Section(name="Thursday", short_name="S", class_code="NEWONE"))
        session.flush()
        _ = 1 / 0


def test_raising_undoes_everything(database: Database, cast: Cast) -> None:
    with pytest.raises(ZeroDivisionError):
        _add_and_fail(database, cast.lab_id)

    with database.reading(cast.lab_id) as session:
        assert session.exec(select(func.count()).select_from(Section)).one() == 1


def test_reading_never_writes(database: Database, cast: Cast) -> None:
    with database.reading(cast.lab_id) as session:
        session.add(Section(name="Thursday", short_name="S", class_code="NEWONE"))
        session.flush()

    with database.reading(cast.lab_id) as session:
        assert session.exec(select(func.count()).select_from(Section)).one() == 1


def test_a_row_that_names_nothing_can_not_be_written(session: LabSession) -> None:
    session.add(Student(section_id=99_999, name="Ada Quist"))

    with pytest.raises(IntegrityError):
        session.flush()


def test_two_processes_that_read_before_they_write_wait_for_each_other(
    database: Database, cast: Cast
) -> None:
    """On SQLite a transaction that reads first and writes later would fail when another has written in between."""
    url = database.engine.url.render_as_string(hide_password=False)
    processes = [Database(url, connections=1) for _process in range(2)]

    def write(process: Database) -> None:
        for number in range(20):
            with process.writing(cast.lab_id) as session:
                assert session.exec(select(Section)).all()
                name = f"{id(process)} {number}"
                session.add(Section(name=name, short_name=name, class_code=name))

    with ThreadPoolExecutor(2) as threads:
        list(threads.map(write, processes))
    for process in processes:
        process.engine.dispose()

    with database.reading(cast.lab_id) as session:
        assert session.exec(select(func.count()).select_from(Section)).one() == 41


def test_a_held_row_is_read_anew_and_keeps_what_this_transaction_changed(
    database: Database, cast: Cast
) -> None:
    with database.writing(cast.lab_id) as session:
        section = session.hold(Section, cast.section_id)
        assert section is not None
        section.name = "Tuesday early"

        assert session.hold(Section, cast.section_id) is section
        assert section.name == "Tuesday early"


def test_a_row_of_another_lab_can_not_be_held(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        assert session.hold(Section, cast.other_section_id) is None
