"""Who does what with each plate of a group, so that everybody loads, exposes and processes in turn."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from server.core.planning import Step


class Role(StrEnum):
    """The roles of a group: clean hands load, one hand at the shutter, one voice, wet hands, and the notes."""

    LOADER = "loader"
    SHUTTER = "shutter"
    CALLER = "caller"
    PROCESSOR = "processor"
    RECORDER = "recorder"


# What everybody should have done once: load, expose, process.
ONCE_EACH = (Role.LOADER, Role.SHUTTER, Role.PROCESSOR)
# The run note can be written where there is light.
IN_THE_LIGHT = (Role.RECORDER,)
FEWEST_IN_THE_DARK = 2

Why = Literal["plates", "away", "lit"]

# Where in the row of those who take turns each role stands; with every plate each student moves one place down, and who
# loaded goes to the end. Nobody stands one place after the loader as processor: the next plate would be loaded in wet gloves.
_PLACES = {
    1: (0, 0, 0, 0, 0),
    2: (0, 1, 1, 0, 1),
    3: (0, 1, 0, 2, 1),
    4: (0, 1, 2, 3, 2),
    5: (0, 1, 2, 3, 4),
}


@dataclass(frozen=True)
class Members:
    """A group: its students (codes), the numbers of its plates in the order of time, and how many plates it made before,
    after which the turns go on.
    """

    group: str
    students: tuple[str, ...]
    passes: tuple[int, ...]
    made_before: int = 0


@dataclass(frozen=True)
class Duties:
    """Who holds which role for one plate; a role that nobody can hold is left out."""

    group: str
    pass_no: int
    holders: tuple[tuple[Role, str], ...]

    def holder(self, role: Role) -> str | None:
        return dict(self.holders).get(role)

    def roles_of(self, student: str) -> tuple[Role, ...]:
        return tuple(role for role, holder in self.holders if holder == student)


@dataclass(frozen=True)
class Missed:
    """Which of loading, exposing and processing a student does not do, and why: too few plates, away, or kept to the light."""

    group: str
    student: str
    roles: tuple[Role, ...]
    why: Why


@dataclass(frozen=True)
class RoleShare:
    """`alone` names the groups that make plates with fewer than two students for the dark, which no lab allows."""

    duties: tuple[Duties, ...]
    missed: tuple[Missed, ...]
    alone: tuple[str, ...]


def _places(students: int) -> tuple[int, ...]:
    """The place of each role, in the order of `Role`, in a row of so many students."""
    if students in _PLACES:
        return _PLACES[students]
    # In a larger group loading, exposing and processing stand apart, so that two plates reach as many students as they can.
    third = students // 3
    return (0, third, 1, 2 * students // 3, third + 1)


def share_roles(
    groups: Sequence[Members], *, away: frozenset[str] = frozenset(), lit: frozenset[str] = frozenset()
) -> RoleShare:
    """Share the roles of every plate among the students of its group, in turn.

    Within a group each role is held equally often, give or take one, by those who take turns at it; with as many plates as
    students everybody loads, exposes and processes once. `away` are codes of students who are not there; those in `lit` hold no
    role in the dark and write the run notes instead. The turns follow the order of `students`.

    Six groups of three with one plate each (a worked example of the lab's practice): each student holds one of the three.

    >>> share = share_roles([Members("G1", ("a", "b", "c"), (1,))])
    >>> [f"{one.student} misses {', '.join(one.roles)}" for one in share.missed]
    ['a misses shutter, processor', 'b misses loader, processor', 'c misses loader, shutter']
    """
    duties: list[Duties] = []
    missed: list[Missed] = []
    alone: list[str] = []
    for group in groups:
        there = [student for student in group.students if student not in away]
        own = [
            Duties(group.group, pass_no, _holders(there, lit, group.made_before + number))
            for number, pass_no in enumerate(group.passes)
        ]
        duties.extend(own)
        missed.extend(_missed(group, own, away, lit))
        if own and len([student for student in there if student not in lit]) < FEWEST_IN_THE_DARK:
            alone.append(group.group)
    return RoleShare(tuple(duties), tuple(missed), tuple(alone))


def roles_of_steps(steps: Sequence[Step]) -> tuple[Role | None, ...]:
    """Whose each step of a pass is; None for what the whole group does.

    While the plate holds still, the shutter's; in the dark before it, the loader's; after it the processor's, until the lights
    are on again for everybody. Where nothing holds still, no step is anybody's own.
    """
    still = [index for index, step in enumerate(steps) if step.still == "still"]
    return tuple(_role_of(step, index, still) for index, step in enumerate(steps))


def _role_of(step: Step, index: int, still: Sequence[int]) -> Role | None:
    if not still or step.light == "lit":
        return None
    if index < still[0]:
        return Role.LOADER if step.light == "dark" else None
    return Role.SHUTTER if index <= still[-1] else Role.PROCESSOR


def _holders(there: Sequence[str], lit: frozenset[str], turn: int) -> tuple[tuple[Role, str], ...]:
    in_the_dark = [student for student in there if student not in lit]
    in_the_light = [student for student in there if student in lit]
    places = dict(zip(Role, _places(len(in_the_dark)), strict=True)) if in_the_dark else {}
    holders = []
    for role in Role:
        if in_the_light and role in IN_THE_LIGHT:
            holders.append((role, in_the_light[turn % len(in_the_light)]))
        elif role in places:
            holders.append((role, in_the_dark[(turn + places[role]) % len(in_the_dark)]))
    return tuple(holders)


def _missed(group: Members, own: Sequence[Duties], away: frozenset[str], lit: frozenset[str]) -> list[Missed]:
    found = []
    for student in group.students:
        held = {role for one in own for role in one.roles_of(student)}
        roles = tuple(role for role in ONCE_EACH if role not in held)
        why: Why = "away" if student in away else "lit" if student in lit else "plates"
        if roles:
            found.append(Missed(group.group, student, roles, why))
    return found
