"""What is typed about pickups and their schedules."""

from typing import Annotated

from pydantic import Field, computed_field

from server.containers.forms import Sentence, TypedSize
from server.core.pickup_days import days_before
from server.core.units import volume_ul
from server.web.submitted import Form, RowId
from server.web.typed import Day, WallClock

SAME_DAY = "same"
_CutOffDay = Annotated[str, Field(pattern=f"^({SAME_DAY}|[0-6])$")]
_SomeContainers = Annotated[int, Field(ge=1, le=1000)]


class NewPickup(Form):
    """The most that a collector takes is kept as microlitres."""

    on_day: Day
    request_day: Day
    request_clock: WallClock
    most: Annotated[TypedSize | None, Field(exclude=True)] = None
    most_containers: _SomeContainers | None = None

    @computed_field
    def most_ul(self) -> int | None:
        return None if self.most is None else volume_ul(self.most)


class ChangedPickup(NewPickup):
    note: Sentence = ""


class NewSchedule(Form):
    """Days that repeat. The cut-off is on the last such weekday before each pickup, or on its own day."""

    first_day: Day
    every_weeks: Annotated[int, Field(ge=1, le=2)]
    until_day: Day
    cut_off_weekday: Annotated[_CutOffDay, Field(exclude=True)]
    cut_off_clock: WallClock
    each_most: Annotated[TypedSize | None, Field(exclude=True)] = None
    each_most_containers: Annotated[_SomeContainers | None, Field(exclude=True)] = None

    @computed_field
    def cut_off_days_before(self) -> int:
        if self.cut_off_weekday == SAME_DAY:
            return 0
        return days_before(pickup=self.first_day, weekday=int(self.cut_off_weekday))

    @computed_field
    def most_ul(self) -> int | None:
        return None if self.each_most is None else volume_ul(self.each_most)

    @computed_field
    def most_containers(self) -> int | None:
        return self.each_most_containers


class ChosenContainers(Form):
    container_ids: list[RowId] = Field(default=[])


class CallingOff(Form):
    reason: Sentence = ""
