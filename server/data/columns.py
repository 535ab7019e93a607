"""Column types, the naming of constraints, and the class that every lab-owned table descends from."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import CheckConstraint, DateTime, Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import Field, SQLModel

SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcInstant(TypeDecorator[datetime]):
    """An instant in UTC. Refuses naive values on the way in and never returns one."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        if value is None:
            return None
        if value.tzinfo is None:
            message = f"{value!r} has no time zone"
            raise ValueError(message)
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def instant(**options: Any) -> Any:
    """A column that holds an instant in UTC."""
    return Field(sa_type=UtcInstant, **options)


def one_of(column: str, words: Iterable[str]) -> CheckConstraint:
    """A constraint that `column` holds one of `words`."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_is_known")


def not_negative(column: str) -> CheckConstraint:
    return CheckConstraint(f"{column} >= 0", name=f"{column}_not_negative")


class LabOwned(SQLModel):
    """Every row of such a table belongs to one lab; `LabSession` fills and guards `lab_id`."""

    lab_id: int = Field(default=None, foreign_key="lab.id", index=True)
