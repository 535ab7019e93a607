"""Forms: what was typed, what is wrong with it, and the clean shape when nothing is.

FastAPI's own form models answer a bad value with JSON before the route runs; this reading never raises, so a route
can draw the same page again with the sentence beside the field and everything typed still there.
"""

from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Generic, NamedTuple, TypeVar

from annotated_types import Ge, Le
from fastapi import Request
from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.datastructures import ImmutableMultiDict, UploadFile

Shape = TypeVar("Shape", bound="Form")

# The id of a row, in an address or a form: what no database column holds is no id.
RowId = Annotated[int, Ge(1), Le(2_147_483_647)]

# More than any form of ours needs.
MOST_FIELDS = 2_000


class Form(BaseModel):
    """The base of every form shape: surrounding blanks go, unknown fields are ignored."""

    model_config = ConfigDict(str_strip_whitespace=True, frozen=True, extra="ignore")

    @classmethod
    def many(cls) -> frozenset[str]:
        """The names of fields that may come several times (lists)."""
        return frozenset(
            name
            for name, info in cls.model_fields.items()
            if str(info.annotation).startswith(("list", "tuple"))
        )


@dataclass(frozen=True)
class Submitted(Generic[Shape]):
    """`values` is what was typed, `errors` maps a field to its sentence, `clean` is the shape or None."""

    values: Mapping[str, Any] = field(default_factory=dict)
    errors: Mapping[str, str] = field(default_factory=dict)
    clean: Shape | None = None

    def value(self, name: str, default: object = "") -> Any:
        """What stands in the field: the typed text, or `default` where nothing was typed yet."""
        return self.values.get(name, default)

    def error(self, name: str) -> str:
        return self.errors.get(name, "")

    def refused(self, name: str, sentence: str) -> "Submitted[Shape]":
        """The same form with one more sentence, for what only the database knows."""
        return Submitted(self.values, {**self.errors, name: sentence}, None)


# Pydantic's findings in words for a person; `{…}` is the bound that was crossed.
_SENTENCES = {
    "missing": "Please fill this in.",
    "string_too_short": "Please fill this in.",
    "too_short": "Please fill this in.",
    "int_parsing": "Please write a whole number, such as 12.",
    "int_parsing_size": "Please write a smaller number.",
    "int_from_float": "Please write a whole number, such as 12.",
    "int_type": "Please write a whole number, such as 12.",
    "float_parsing": "Please write a number, such as 2.5.",
    "decimal_parsing": "Please write a number, such as 2.5.",
    "decimal_type": "Please write a number, such as 2.5.",
    "greater_than_equal": "Please write {ge} or more.",
    "greater_than": "Please write more than {gt}.",
    "less_than_equal": "Please write {le} or less.",
    "less_than": "Please write less than {lt}.",
    "decimal_max_places": "Please write at most {decimal_places} digits behind the point.",
    "string_too_long": "Please use at most {max_length} characters.",
    "too_long": "Please use at most {max_length} characters.",
    "literal_error": "Please choose one of the list.",
    "enum": "Please choose one of the list.",
    "date_from_datetime_parsing": "Please write a date such as 2027-02-16.",
    "date_parsing": "Please write a date such as 2027-02-16.",
    "date_type": "Please write a date such as 2027-02-16.",
    "time_parsing": "Please write a time such as 09:40.",
    "value_error": "{error}",
}


def _sentence(error: Mapping[str, Any]) -> str:
    return _SENTENCES.get(error["type"], "This can't be read. Please check it.").format(
        **error.get("ctx", {})
    )


def read(shape: type[Shape], values: Mapping[str, Any]) -> Submitted[Shape]:
    """Check `values` against `shape`. A text of blanks counts as not filled in."""
    filled = {
        name: value for name, value in values.items() if (value.strip() if isinstance(value, str) else value)
    }
    try:
        return Submitted(values, {}, shape.model_validate(filled))
    except ValidationError as faults:
        errors: dict[str, str] = {}
        for fault in faults.errors():
            name = str(fault["loc"][0]) if fault["loc"] else "form"
            errors.setdefault(name, _sentence(fault))
        return Submitted(values, errors, None)


def read_lines(shape: type[Shape], table: Form) -> list[Submitted[Shape]]:
    """The lines of a table, each checked by itself."""
    columns = table.model_dump()
    return [
        read(shape, dict(zip(columns, cells, strict=True))) for cells in zip(*columns.values(), strict=False)
    ]


def _typed(text: object) -> str:
    """What was typed, without the one character that no database keeps in a text."""
    return str(text).replace("\x00", "")


def _values(shape: type[Form], given: ImmutableMultiDict[str, Any]) -> dict[str, Any]:
    many = shape.many()
    return {
        name: [_typed(text) for text in given.getlist(name)] if name in many else _typed(given.get(name, ""))
        for name in {*given.keys(), *many}
    }


def asked(request: Request, shape: type[Shape]) -> Submitted[Shape]:
    """The form that an address carries behind its question mark; one that was not asked yet is empty and without faults."""
    return read(shape, _values(shape, request.query_params)) if request.query_params else Submitted()


class SentFile(NamedTuple):
    """A file as it was sent, whatever it says it is."""

    name: str
    content: bytes


def submitted_with_file(
    shape: type[Shape], name: str
) -> Callable[[Request], Coroutine[Any, Any, tuple[Submitted[Shape], SentFile | None]]]:
    """A dependency that reads a form and the one file that may come with it in the field `name`."""

    async def reading(request: Request) -> tuple[Submitted[Shape], SentFile | None]:
        async with request.form(max_files=1, max_fields=MOST_FIELDS) as form:
            sent = form.get(name)
            file = (
                SentFile(_typed(sent.filename), await sent.read()) if isinstance(sent, UploadFile) else None
            )
            fields = ImmutableMultiDict([(key, text) for key, text in form.multi_items() if key != name])
            values = _values(shape, fields)
        return read(shape, values), file if file and (file.name or file.content) else None

    return reading


def submitted(shape: type[Shape]) -> Callable[[Request], Coroutine[Any, Any, Submitted[Shape]]]:
    """A dependency that reads the request's form as `shape` and never raises on bad input."""

    async def reading(request: Request) -> Submitted[Shape]:
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            values = _values(shape, form)
        return read(shape, values)

    return reading
