"""What is typed about a rotation."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator

from server.rotations.models import StepPlace, StepTime
from server.web.submitted import Form, RowId, Submitted, read_lines
from server.web.typed import Day, Line, WallClock

Name = Annotated[Line, Field(min_length=1, max_length=80)]
StepName = Annotated[Line, Field(max_length=40)]
Plates = Annotated[int, Field(ge=0, le=20)]
Minutes = Annotated[int, Field(ge=0, le=240)]
StepSeconds = Annotated[int, Field(ge=1, le=43_200)]
WaitSeconds = Annotated[int, Field(ge=0, le=604_800)]
MOST_STEPS = 40


class NewPeriod(Form):
    """`starts` and `ends` are the lab's wall clock on `day`."""

    day: Day
    starts: WallClock
    ends: WallClock

    @field_validator("ends")
    @classmethod
    def _ends_after_it_starts(cls, ends: time, others: ValidationInfo) -> time:
        starts = others.data.get("starts")
        if starts is not None and ends <= starts:
            message = "The period must end after it starts."
            raise ValueError(message)
        return ends


class NewRotation(NewPeriod):
    section_id: RowId
    name: Name
    plates_per_group: Annotated[int, Field(ge=1, le=20)] = 1
    talk_min: Minutes = 0
    clean_up_min: Minutes = 0

    def asked(self) -> dict[str, Any]:
        """What is asked, with the talk and the clean-up in seconds."""
        times = {"talk_s": 60 * self.talk_min, "clean_up_s": 60 * self.clean_up_min}
        return self.model_dump(exclude={"talk_min", "clean_up_min"}) | times


class StepRow(Form):
    """One line of the steps. Without a name the line is left out; `position` is its place in the order."""

    name: StepName | None = None
    position: Annotated[int, Field(ge=0, le=10_000)] = 0
    at: StepPlace = StepPlace.SAME
    time_from: StepTime = StepTime.OWN
    seconds: StepSeconds | None = None
    light: Literal["dark", "lit", "any"] = "any"
    still: Literal["still", "moves", "any"] = "any"
    max_wait_s: WaitSeconds | None = None
    attended: bool = True


class StepTable(Form):
    """One entry a line."""

    name: tuple[str, ...] = ()
    position: tuple[str, ...] = ()
    at: tuple[str, ...] = ()
    time_from: tuple[str, ...] = ()
    seconds: tuple[str, ...] = ()
    light: tuple[str, ...] = ()
    still: tuple[str, ...] = ()
    max_wait_s: tuple[str, ...] = ()
    attended: tuple[str, ...] = ()


@dataclass(frozen=True)
class NewStep:
    """A step as asked for. `seconds` counts where the time is the step's own."""

    name: str
    at: StepPlace
    time_from: StepTime = StepTime.OWN
    seconds: int | None = None
    light: str = "any"
    still: str = "any"
    max_wait_s: int | None = None
    attended: bool = True


@dataclass(frozen=True)
class StepFault:
    """What is wrong with one step: its index, the field and a sentence."""

    index: int
    field: str
    sentence: str


def step_faults(steps: Sequence[NewStep]) -> list[StepFault]:
    """What steps may not be beside one another."""
    faults = []
    where = None
    for index, step in enumerate(steps):
        if step.at is StepPlace.SAME and index == 0:
            faults.append(StepFault(index, "at", "The first step has no step before it. Choose a place."))
        where = where if step.at is StepPlace.SAME else step.at
        if step.name in [other.name for other in steps[:index]]:
            faults.append(
                StepFault(index, "name", f"Two steps are called “{step.name}”. Give one another name.")
            )
        if step.time_from is StepTime.OWN and step.seconds is None:
            faults.append(StepFault(index, "seconds", "Please write how many seconds it takes."))
        if step.time_from is not StepTime.OWN and where is not StepPlace.STATION:
            faults.append(
                StepFault(index, "time_from", "Only a step at a station can take the station's time.")
            )
    return faults


def read_steps(table: StepTable) -> tuple[list[Submitted[StepRow]], list[NewStep]]:
    """The lines with a sentence beside each fault, and the steps in their order: none where there is a fault."""
    lines = [line for line in read_lines(StepRow, table) if line.value("name").strip()]
    for index in range(MOST_STEPS, len(lines)):
        sentence = f"A pass has at most {MOST_STEPS} steps. Take this one out."
        lines[index] = lines[index].refused("name", sentence)
    clean = [(line.clean, index) for index, line in enumerate(lines) if line.clean is not None]
    ordered = sorted(clean, key=lambda found: found[0].position)
    steps = [NewStep(**row.model_dump(exclude={"position"})) for row, _index in ordered]
    if len(clean) < len(lines):
        return lines, []  # beside a line that can't be read, the others can't be judged
    faults = step_faults(steps)
    for fault in faults:
        index = ordered[fault.index][1]
        lines[index] = lines[index].refused(fault.field, fault.sentence)
    return lines, [] if faults else steps
