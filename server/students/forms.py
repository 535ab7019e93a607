"""What is typed about a section and its students."""

import re
from typing import Annotated

from pydantic import AfterValidator, Field

from server.core.grouping import read_names
from server.core.student_codes import LONGEST
from server.web.submitted import Form, RowId
from server.web.typed import Day


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
