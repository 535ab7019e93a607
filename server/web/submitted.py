"""Forms: what was typed, what is wrong with it, and the clean shape when nothing is.

FastAPI's own form models answer a bad value with JSON before the route runs; this reading never raises, so a route
can draw the same page again with the sentence beside the field and everything typed still there.
"""

from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Generic, TypeVar

from annotated_types import Ge, Le
from fastapi import Request
from pydantic import BaseModel, ConfigDict, ValidationError

from server.refusal import Refusal

Shape = TypeVar("Shape", bound="Form")

# The id of a row, in an address or a form: what no database column holds is no id.
RowId = Annotated[int, Ge(1), Le(2_147_483_647)]

# More than any form of ours needs; a larger body is refused before it is read into memory.
LARGEST_FORM_BYTES = 1_000_000
MOST_FIELDS = 2_000


class Form(BaseModel):
    """The base of every form shape: surrounding blanks go, unknown fields are ignored."""

    model_config = ConfigDict(str_strip_whitespace=True, frozen=True, extra="ignore")

    @classmethod
    def many(cls) -> frozenset[str]:
        """The names of fields that may come several times (lists)."""
        return frozenset(
            name for name, info in cls.model_fields.items() if str(info.annotation).startswith(("list", "tuple"))
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


def _sentence(error: Mapping[str, Any]) -> str:  # noqa: PLR0912 - one branch for each kind of finding
    """Pydantic's findings in words for a person."""
    bounds = error.get("ctx", {})
    match error["type"]:
        case "missing" | "string_too_short":
            return "Please fill this in."
        case "int_parsing" | "int_from_float" | "int_type" | "int_parsing_size":
            return "Please write a whole number, such as 12."
        case "float_parsing" | "decimal_parsing" | "decimal_type":
            return "Please write a number, such as 2.5."
        case "greater_than_equal":
            return f"Please write {bounds['ge']} or more."
        case "greater_than":
            return f"Please write more than {bounds['gt']}."
        case "less_than_equal":
            return f"Please write {bounds['le']} or less."
        case "less_than":
            return f"Please write less than {bounds['lt']}."
        case "string_too_long":
            return f"Please use at most {bounds['max_length']} characters."
        case "literal_error" | "enum":
            return "Please choose one of the list."
        case "date_from_datetime_parsing" | "date_parsing" | "date_type":
            return "Please write a date such as 2027-02-16."
        case "datetime_from_date_parsing" | "datetime_parsing" | "time_parsing":
            return "Please write a time such as 09:40."
        case "value_error":
            return str(bounds["error"])
        case _:
            return "This can't be read. Please check it."


def read(shape: type[Shape], values: Mapping[str, Any]) -> Submitted[Shape]:
    """Check `values` against `shape`. An empty text counts as not filled in."""
    filled = {name: value for name, value in values.items() if value not in ("", [])}
    try:
        return Submitted(values, {}, shape.model_validate(filled))
    except ValidationError as faults:
        errors: dict[str, str] = {}
        for fault in faults.errors():
            name = str(fault["loc"][0]) if fault["loc"] else "form"
            errors.setdefault(name, _sentence(fault))
        return Submitted(values, errors, None)


def submitted(shape: type[Shape]) -> Callable[[Request], Coroutine[Any, Any, Submitted[Shape]]]:
    """A dependency that reads the request's form as `shape` and never raises on bad input."""
    many = shape.many()

    async def reading(request: Request) -> Submitted[Shape]:
        if int(request.headers.get("content-length") or 0) > LARGEST_FORM_BYTES:
            raise Refusal("That is more than one form can carry. Please send it in smaller parts.")
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            values = {
                name: form.getlist(name) if name in many else form.get(name) for name in {*form.keys(), *many}
            }
        return read(shape, values)

    return reading
