"""What one student does with each plate and in between, on the clock: the sheet by student role."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from server.core.agenda import Doing
from server.core.filling import Busy
from server.core.roles import Duties, Role

CALLS = "call lights off, hold still, shutter"
NOTES = "write the run note"


@dataclass(frozen=True)
class DutyLine:
    """One line of a student's sheet. `role` is none for what everybody of the group does, and beside the plates."""

    start_s: int
    end_s: int
    kind: Literal["visit", "activity", "waiting"]
    role: Role | None
    what: str
    place: str = ""
    pass_no: int = 0


def duty_lines(
    student: str,
    *,
    duties: Sequence[Duties],
    busy: Sequence[Busy],
    whose: Mapping[tuple[int, str], Role | None],
    doings: Sequence[Doing],
    keeps_to_the_light: bool = False,
) -> tuple[DutyLine, ...]:
    """A student's lines in the order of time.

    `duties` and `busy` are those of the student's group; `whose` says whose each step (by pass and name) is; `doings` are what
    the student does beside the plates. Who calls does so from the first step in the dark to the end of the last that holds still,
    who writes the run note from then on until the plate is done. Steps of one role that follow on each other at one place are one
    line. Who keeps to the light is not there in the dark.
    """
    found: list[DutyLine] = []
    for duty in duties:
        roles = duty.roles_of(student)
        visits = sorted((one for one in busy if one.pass_no == duty.pass_no), key=lambda one: one.start_s)
        for one in visits:
            role = whose[one.pass_no, one.step]
            there = role in roles if role is not None else not (keeps_to_the_light and one.light == "dark")
            if there and one.attended:
                _add(found, DutyLine(one.start_s, one.end_s, "visit", role, one.step, one.place, one.pass_no))
        found.extend(_beside(visits, roles))
    found.extend(
        DutyLine(one.start_s, one.end_s, one.kind, None, one.what) for one in doings if one.kind != "visit"
    )
    return tuple(sorted(found, key=lambda line: (line.start_s, line.end_s)))


def _add(found: list[DutyLine], line: DutyLine) -> None:
    """Add the line, or let the last one go on."""
    last = found[-1] if found else None
    if last is not None and (last.role, last.place, last.pass_no, last.end_s) == (
        line.role,
        line.place,
        line.pass_no,
        line.start_s,
    ):
        found[-1] = DutyLine(
            last.start_s,
            line.end_s,
            "visit",
            line.role,
            f"{last.what}, {line.what}",
            line.place,
            line.pass_no,
        )
    else:
        found.append(line)


def _beside(visits: Sequence[Busy], roles: Sequence[Role]) -> Iterator[DutyLine]:
    """Calling and writing, which are no steps."""
    still = [one for one in visits if one.still == "still"]
    if not still:
        return
    first, last = next((one for one in visits if one.light == "dark"), still[0]), still[-1]
    if Role.CALLER in roles:
        yield DutyLine(first.start_s, last.end_s, "visit", Role.CALLER, CALLS, last.place, last.pass_no)
    done = max((one.end_s for one in visits if one.attended), default=last.end_s)
    if Role.RECORDER in roles and done > last.end_s:
        yield DutyLine(last.end_s, done, "visit", Role.RECORDER, NOTES, "", last.pass_no)
