"""Who is asking, what they may do, and the session that sees their lab only. Routes name these in their signatures."""

from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends, Request

from server.core.codes import hashed
from server.data.session import Database, LabSession
from server.people.models import Role
from server.people.queries import find_signed_in
from server.refusal import NotAllowed, NotSignedIn
from server.web.security import SAFE_METHODS

COOKIE = "stillroom"


@dataclass(frozen=True)
class Signed:
    """Who is signed in: a member of staff, or a tablet that joined a group (`group_id` and `section_id` set).

    `name` is for the ledger and the page's corner; `time_zone` is the lab's.
    """

    lab_id: int
    lab_name: str
    time_zone: str
    role: Role
    name: str
    person_id: int | None = None
    section_id: int | None = None
    group_id: int | None = None

    @property
    def is_staff(self) -> bool:
        return self.role is not Role.STUDENT

    @property
    def is_instructor(self) -> bool:
        return self.role is Role.INSTRUCTOR


def the_database(request: Request) -> Database:
    database = request.app.state.database
    assert isinstance(database, Database)
    return database


def current_instant(request: Request) -> datetime:
    instant = request.app.state.clock()
    assert isinstance(instant, datetime)
    return instant


Base = Annotated[Database, Depends(the_database)]
Now = Annotated[datetime, Depends(current_instant)]


async def anyone(request: Request, database: Base, now: Now) -> Signed | None:
    """Whoever asks, signed in or not. Read once per request, in a session of its own that ends before the route's begins."""
    token = request.cookies.get(COOKIE, "")
    signed: Signed | None = None
    if token:
        async with database.turn(None, writes=False) as session:
            found = find_signed_in(session, hashed(token), now)
        if found is not None:
            lab, person, group = found
            if person is not None:
                signed = Signed(
                    lab.id, lab.name, lab.time_zone, Role(person.role), person.name, person_id=person.id
                )
            elif group is not None:
                signed = Signed(
                    lab.id,
                    lab.name,
                    lab.time_zone,
                    Role.STUDENT,
                    group.name,
                    section_id=group.section_id,
                    group_id=group.id,
                )
    request.state.signed = signed
    return signed


Anyone = Annotated[Signed | None, Depends(anyone)]


async def member(signed: Anyone) -> Signed:
    """Anyone of the lab: staff or a joined tablet."""
    if signed is None:
        raise NotSignedIn(
            "Your sign-in has ended. Sign in again in a new tab, then go back and send this once more."
        )
    return signed


Member = Annotated[Signed, Depends(member)]


async def technician(signed: Member) -> Signed:
    """The technician, or the instructor, who in a small lab does the technician's work."""
    if not signed.is_staff:
        raise NotAllowed("This page is for the lab's staff. Go back to your run notes.")
    return signed


async def instructor(signed: Member) -> Signed:
    if not signed.is_instructor:
        raise NotAllowed("Only an instructor can do this. Ask yours, or go back to what you were doing.")
    return signed


async def student(signed: Member) -> Signed:
    """A tablet that joined a group."""
    if signed.role is not Role.STUDENT:
        raise NotAllowed("This page is for a group's tablet. Join with the class code to use it.")
    return signed


Technician = Annotated[Signed, Depends(technician)]
Instructor = Annotated[Signed, Depends(instructor)]
Student = Annotated[Signed, Depends(student)]


async def one_transaction(request: Request, database: Base, signed: Anyone) -> AsyncIterator[LabSession]:
    """The request's session: it commits when the route returns (before the answer leaves), and not at all on a safe request."""
    lab_id = None if signed is None else signed.lab_id
    async with database.turn(lab_id, writes=request.method not in SAFE_METHODS) as session:
        yield session


Db = Annotated[LabSession, Depends(one_transaction, scope="function")]
