"""The only reader of the wall clock."""

from datetime import UTC, datetime


def utc_now() -> datetime:
    return datetime.now(UTC)  # noqa: TID251 - this is the one place that may ask the time
