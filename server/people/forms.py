"""What people type: set-up, sign-in, joining, students."""

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from server.core.moments import is_time_zone
from server.web.submitted import Form, RowId
from server.web.typed import Line


def _email(text: str) -> str:
    if re.fullmatch(r"[^@\s]+@[^@\s]+", text) is None:
        message = "Please write an e-mail address, such as mira@lab.example."
        raise ValueError(message)
    return text


def _password(text: str) -> str:
    if len(text) < 10:  # noqa: PLR2004 - said in the sentence
        message = "Please use at least 10 characters; a few words are easier to remember than signs."
        raise ValueError(message)
    return text


def _zone(text: str) -> str:
    if not is_time_zone(text):
        message = "Please write a time zone such as Europe/Berlin or America/Chicago."
        raise ValueError(message)
    return text


Name = Annotated[Line, Field(min_length=1, max_length=80)]
Email = Annotated[str, Field(max_length=200), AfterValidator(_email)]
Password = Annotated[str, Field(max_length=200), AfterValidator(_password)]


class SetUp(Form):
    code: Annotated[str, Field(max_length=40)]
    lab_name: Name
    time_zone: Annotated[str, Field(max_length=60), AfterValidator(_zone)]
    name: Name
    email: Email
    password: Password


class SigningIn(Form):
    email: Annotated[str, Field(max_length=200)]
    password: Annotated[str, Field(max_length=200)]
    next: Annotated[str, Field(max_length=400)] = "/"


class NewPassword(Form):
    current: Annotated[str, Field(max_length=200)]
    password: Password


class NewPerson(Form):
    """It stands on one page with the form of a new section, so the name's field is called `person_name` there."""

    name: Name = Field(validation_alias="person_name")
    email: Email
    role: Literal["instructor", "technician"]
    password: Password


class NewSection(Form):
    name: Name


class ClassCode(Form):
    code: Annotated[str, Field(max_length=40)]


class JoinGroup(Form):
    code: Annotated[str, Field(max_length=40)]
    group_id: RowId
