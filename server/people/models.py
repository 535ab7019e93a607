"""The lab, its staff, its sections of students and who is signed in."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from server.data.columns import LabOwned, instant, one_of


class Role(StrEnum):
    INSTRUCTOR = "instructor"
    TECHNICIAN = "technician"
    STUDENT = "student"


class Lab(SQLModel, table=True):
    """`time_zone` is an IANA name; every instant is kept in UTC and shown on this clock."""

    id: int = Field(default=None, primary_key=True)
    name: str
    time_zone: str
    opened_at: datetime = instant()


class SetUpCode(SQLModel, table=True):
    """A printed code that lets its reader set up one new lab."""

    __tablename__ = "set_up_code"

    id: int = Field(default=None, primary_key=True)
    code_hash: str = Field(unique=True)
    made_at: datetime = instant()


class Person(LabOwned, table=True):
    """An instructor or a technician. Students have no account."""

    __table_args__ = (one_of("role", (Role.INSTRUCTOR, Role.TECHNICIAN)),)

    id: int = Field(default=None, primary_key=True)
    name: str
    email: str = Field(unique=True)
    role: str
    password_hash: str


class Section(LabOwned, table=True):
    """One scheduled class. `class_code` lets a tablet join it; `short_name` begins the codes of its students.

    Once its students' names were erased, `names_erased_at` says when: then only codes are left.
    """

    __table_args__ = (UniqueConstraint("lab_id", "name"), UniqueConstraint("lab_id", "short_name"))

    id: int = Field(default=None, primary_key=True)
    name: str
    short_name: str
    class_code: str = Field(unique=True)
    term_ends_on: date | None = None
    names_erased_at: datetime | None = instant(default=None)


class Group(LabOwned, table=True):
    """Students who share a plate. `number` is unique in the section; on screens it is G1, G2, … Out of use: nobody is in it."""

    __tablename__ = "student_group"
    __table_args__ = (UniqueConstraint("section_id", "number"),)

    id: int = Field(default=None, primary_key=True)
    section_id: int = Field(foreign_key="section.id", index=True)
    number: int
    in_use: bool = True

    @property
    def name(self) -> str:
        return f"G{self.number}"


class Student(LabOwned, table=True):
    """A name on the section's list, empty once it was erased; `letter` tells the members of a group apart on shared screens.

    No id is given twice: a page that was open while somebody was removed never speaks of somebody else.
    """

    __table_args__ = (UniqueConstraint("group_id", "letter"), {"sqlite_autoincrement": True})

    id: int = Field(default=None, primary_key=True)
    section_id: int = Field(foreign_key="section.id", index=True)
    group_id: int | None = Field(default=None, foreign_key="student_group.id", index=True)
    name: str
    letter: str = ""
    is_minor: bool = False


class SignIn(LabOwned, table=True):
    """A signed-in member of staff, or a tablet that joined a group. Only the hash of the cookie is kept."""

    __tablename__ = "sign_in"
    __table_args__ = (
        CheckConstraint("(person_id IS NULL) <> (group_id IS NULL)", name="is_a_person_or_a_group"),
    )

    id: int = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True)
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    group_id: int | None = Field(default=None, foreign_key="student_group.id", index=True)
    made_at: datetime = instant()
    ends_at: datetime = instant()


class WrongTry(SQLModel, table=True):
    """How often something was tried in vain. `tried` is the hash of a network, or of what was tried, from one network or from anywhere."""

    __tablename__ = "wrong_try"

    id: int = Field(default=None, primary_key=True)
    tried: str = Field(unique=True)
    times: int
    last_at: datetime = instant(index=True)
