"""What is ticked on a prep sheet, and the times and assignments that a lab sets for it."""

from collections.abc import Mapping
from typing import Annotated

from pydantic import Field

from server.core.prep_sheet import LineKind, Who
from server.web.submitted import Form
from server.web.typed import WallClock


class Tick(Form):
    """`done` is what the line shall be, so that a tick that is sent twice is one tick."""

    done: bool


Minutes = Annotated[int, Field(ge=0, le=240)]


class PrepSettings(Form):
    """Durations are typed in minutes. The field of an assignment is called as its kind, with lines for blanks."""

    mix_lead: Minutes
    measure: Minutes
    change: Minutes
    late_start: Minutes
    lay_out_lead: Minutes
    equalise: Annotated[int, Field(ge=0, le=24 * 60)]
    dark: Minutes
    opens: WallClock
    day_before: WallClock
    take_out: Who
    weigh: Who
    mix: Who
    label: Who
    check_a_bath: Who
    pour: Who
    lay_out: Who
    lasers: Who
    check_the_room: Who
    after_class: Who

    def times(self) -> Mapping[str, int]:
        """The times in seconds, by the column that keeps them."""
        durations = ("mix_lead", "measure", "change", "late_start", "lay_out_lead", "equalise", "dark")
        clocks = {"opens": self.opens, "day_before": self.day_before}
        return {
            **{f"{name}_s": getattr(self, name) * 60 for name in durations},
            **{f"{name}_s": clock.hour * 3600 + clock.minute * 60 for name, clock in clocks.items()},
        }

    def assignments(self) -> Mapping[LineKind, Who]:
        return {kind: getattr(self, kind.replace(" ", "_")) for kind in LineKind}
