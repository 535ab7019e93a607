"""What is typed about a section and its students."""

import re
from typing import Annotated

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from server.core.arrangements import reasons_in
from server.core.grouping import read_names
from server.core.student_codes import LONGEST
from server.students.models import Arrangement, Signing
from server.web.submitted import Form, RowId
from server.web.typed import Day, Note


def _names(text: str) -> str:
    faults = read_names(text).faults
    if faults:
        message = " ".join(faults[:5])
        raise ValueError(message)
    return text


def _short(text: str) -> str:
    if re.fullmatch(rf"[A-Za-z0-9]{{1,{LONGEST}}}", text) is None:
        message = "Please use letters and figures only, at most six, such as Tue2."
        raise ValueError(message)
    return text


class SectionDetails(Form):
    short_name: Annotated[str, Field(max_length=40), AfterValidator(_short)]
    term_ends_on: Day | None = None


class NewStudents(Form):
    """`names` is pasted text, one name a line or CSV with a heading line."""

    names: Annotated[str, Field(max_length=40_000), AfterValidator(_names)]


class GroupSize(Form):
    size: Annotated[int, Field(ge=1, le=12)]


class NewGroup(Form):
    """The group that a student goes to; none = no group."""

    group_id: RowId | None = None


# What can be ticked about a student in the table of consents, by the word that stands in the form.
TICKS: dict[str, Signing | None] = {
    "safety": Signing.SAFETY,
    "guardian": Signing.GUARDIAN,
    "photo": Signing.PHOTO,
    "minor": None,
}
# A tick and the student it is about: `safety-12`.
Tick = Annotated[str, Field(pattern=rf"^({'|'.join(TICKS)})-[1-9][0-9]{{0,8}}$")]


class Signatures(Form):
    """The table of consents: `ticks` as they are now, `before` as they stood when the table was shown."""

    on_day: Day
    ticks: list[Tick] = Field(default_factory=list)
    before: list[Tick] = Field(default_factory=list)

    def changed(self, *, given: bool) -> set[tuple[int, Signing | None]]:
        """Which student's ticks were set, or taken away."""
        now, then = set(self.ticks), set(self.before)
        return {
            (int(tick.split("-")[1]), TICKS[tick.split("-")[0]])
            for tick in (now - then if given else then - now)
        }


class Away(Form):
    is_away: bool = False


class Arranged(Form):
    """What is arranged for a student; `is_meant` says that `words` name no reason although they sound like one."""

    arrangements: list[Arrangement] = Field(default_factory=list)
    is_meant: bool = False
    words: Note = ""

    @field_validator("words")
    @classmethod
    def _without_reasons(cls, text: str, info: ValidationInfo) -> str:
        reasons = reasons_in(text)
        if reasons and not info.data.get("is_meant"):
            message = f"“{reasons[0]}” sounds like a reason. Write only what is arranged; if it says no reason, tick that below."
            raise ValueError(message)
        return text


ERASE = "erase"


def _meant(text: str) -> str:
    if text.casefold() != ERASE:
        message = f"Please type the word “{ERASE}”. It can't be undone."
        raise ValueError(message)
    return text


class Erasure(Form):
    """Which sections' names are erased, whether codes take their place in what was typed elsewhere, and the word that says it is meant."""

    section_ids: Annotated[list[RowId], Field(min_length=1)]
    puts_codes: bool = False
    word: Annotated[str, Field(max_length=40), AfterValidator(_meant)]
