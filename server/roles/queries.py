"""Reads of who takes turns at which role in a rotation's plan."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sqlmodel import col, select

from server.core.moments import day_at
from server.core.roles import Duties, Members, share_roles
from server.data.session import LabSession
from server.people.queries import (
    get_lab,
    list_codes,
    list_group_names,
    list_groups,
    list_students,
)
from server.rotations.models import Rotation, RotationPlan, RotationState
from server.rotations.models import Visit as KeptVisit
from server.rotations.queries import list_every_visit
from server.students.queries import list_away, list_lit


@dataclass(frozen=True)
class Classmate:
    """A student who is in a group; `name` is for staff only."""

    code: str
    name: str
    group: str


@dataclass(frozen=True)
class Turns:
    """Who takes turns in a rotation, by code: `members` are the groups that have students, `away` is who is not there on its
    first day, `lit` who keeps to the light.
    """

    classmates: tuple[Classmate, ...]
    members: tuple[Members, ...]
    away: frozenset[str]
    lit: frozenset[str]


def find_turns(session: LabSession, rotation: Rotation, kept: RotationPlan) -> Turns:
    """Who takes turns at the plates of a kept plan; the groups in the order of their numbers."""
    section_id = rotation.section_id
    codes = list_codes(session, section_id)
    day = day_at(kept.starts_at, get_lab(session).time_zone)
    away, lit = (
        frozenset(codes[student_id] for student_id in found if student_id in codes)
        for found in (list_away(session, section_id, day), list_lit(session, section_id, day))
    )
    mates = _classmates(session, section_id, codes)
    return Turns(mates, _members(session, rotation, kept, mates), away, lit)


def find_duties(
    session: LabSession, rotation: Rotation, kept: RotationPlan
) -> Mapping[tuple[str, int], Duties]:
    """Who holds which role, by group and number of its plate."""
    turns = find_turns(session, rotation, kept)
    share = share_roles(turns.members, away=turns.away, lit=turns.lit)
    return {(one.group, one.pass_no): one for one in share.duties}


def _classmates(session: LabSession, section_id: int, codes: Mapping[int, str]) -> tuple[Classmate, ...]:
    """The section's students who are in a group, by group and letter."""
    groups = {group.id: group for group in list_groups(session, section_id)}
    mates = [
        (groups[student.group_id], student)
        for student in list_students(session, section_id)
        if student.id in codes and student.group_id in groups
    ]
    return tuple(
        Classmate(codes[student.id], student.name, group.name)
        for group, student in sorted(mates, key=lambda one: (one[0].number, one[1].letter, one[1].id))
    )


def list_plates(session: LabSession, rotation: Rotation, kept: RotationPlan) -> Mapping[str, Members]:
    """The plates of each group in a kept plan, with nobody in the groups yet."""
    before = _plates_before(session, rotation, kept)
    passes: dict[str, list[int]] = {}
    for visit in list_every_visit(session, kept.id):
        passes.setdefault(visit.group, []).append(visit.pass_no)
    return {
        group: Members(group, (), tuple(dict.fromkeys(own)), before.get(group, 0))
        for group, own in passes.items()
    }


def _members(
    session: LabSession, rotation: Rotation, kept: RotationPlan, classmates: tuple[Classmate, ...]
) -> tuple[Members, ...]:
    plates = list_plates(session, rotation, kept)
    students: dict[str, list[str]] = {}
    for mate in classmates:
        students.setdefault(mate.group, []).append(mate.code)
    return tuple(
        replace(plates.get(group, Members(group, (), ())), students=tuple(own))
        for group, own in students.items()
    )


def _plates_before(session: LabSession, rotation: Rotation, kept: RotationPlan) -> dict[str, int]:
    """How many plates each group made in the section's published rotations that started before this one."""
    rows = session.exec(
        select(KeptVisit.group_id, KeptVisit.plan_id, KeptVisit.pass_no)
        .join(RotationPlan, col(RotationPlan.id) == col(KeptVisit.plan_id))
        .join(Rotation, col(Rotation.id) == col(RotationPlan.rotation_id))
        .where(
            Rotation.section_id == rotation.section_id,
            Rotation.state == RotationState.PUBLISHED,
            RotationPlan.starts_at < kept.starts_at,
        )
        .distinct()
    ).all()
    names = list_group_names(session)
    made: dict[str, int] = {}
    for group_id, _plan_id, _pass_no in rows:
        made[names[group_id]] = made.get(names[group_id], 0) + 1
    return made
