"""A session sees one lab; a transaction is kept whole or not at all."""

import pytest
from sqlmodel import col, func, select

from server.data.session import ACROSS_LABS, Database
from server.people.models import Group, Section, Student
from tests.casts import Cast


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


def test_without_a_lab_a_query_fails(database: Database) -> None:
    with database.reading(None) as session, pytest.raises(TypeError, match="bound to no lab"):
        session.exec(select(Section)).all()


def test_looking_across_labs_must_be_asked_for_by_name(database: Database) -> None:
    with database.reading(None) as session:
        assert len(session.exec(select(Section), execution_options=ACROSS_LABS).all()) == 2


def test_a_new_row_belongs_to_the_session_s_lab(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        section = Section(name="Thursday", class_code="NEWONE")
        session.add(section)
        session.flush()
        assert section.lab_id == cast.lab_id


def test_a_row_of_another_lab_can_not_be_written(database: Database, cast: Cast) -> None:
    with pytest.raises(TypeError, match="in a session of lab"), database.writing(cast.lab_id) as session:
        session.add(Section(lab_id=cast.other_lab_id, name="Thursday", class_code="NEWONE"))


def _add_and_fail(database: Database, lab_id: int) -> None:
    with database.writing(lab_id) as session:
        session.add(Section(name="Thursday", class_code="NEWONE"))
        session.flush()
        _ = 1 / 0


def test_raising_undoes_everything(database: Database, cast: Cast) -> None:
    with pytest.raises(ZeroDivisionError):
        _add_and_fail(database, cast.lab_id)

    with database.reading(cast.lab_id) as session:
        assert session.exec(select(func.count()).select_from(Section)).one() == 1


def test_reading_never_writes(database: Database, cast: Cast) -> None:
    with database.reading(cast.lab_id) as session:
        session.add(Section(name="Thursday", class_code="NEWONE"))
        session.flush()

    with database.reading(cast.lab_id) as session:
        assert session.exec(select(func.count()).select_from(Section)).one() == 1
