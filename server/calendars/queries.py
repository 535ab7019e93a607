"""Reads of calendar addresses and of what they carry."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col, func, select

from server.calendars.models import CalendarAddress
from server.data.session import ACROSS_LABS, LabSession
from server.people.models import Section
from server.refusal import NotFound
from server.rotations.models import Period, Rotation, RotationPlan, RotationState, Visit


@dataclass(frozen=True)
class PublishedPeriod:
    """A period of a published rotation; `number` counts the rotation's periods from 1 in the order of time."""

    rotation: Rotation
    plan: RotationPlan
    section_name: str
    number: int
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class Attendance:
    """When a group is first and last busy in a period that starts at `period_starts_at`."""

    rotation_id: int
    period_starts_at: datetime
    group_id: int
    starts_at: datetime
    ends_at: datetime


def list_addresses(session: LabSession) -> Sequence[CalendarAddress]:
    return session.exec(
        select(CalendarAddress).order_by(CalendarAddress.label, col(CalendarAddress.id))
    ).all()


def get_address(session: LabSession, address_id: int) -> CalendarAddress:
    address = session.get(CalendarAddress, address_id)
    if address is None:
        raise NotFound("There is no such calendar address in this lab any more. Look at the list.")
    return address


def find_address(session: LabSession, hashed: str) -> CalendarAddress | None:
    """The address whose secret has this hash, in whichever lab."""
    return session.exec(
        select(CalendarAddress).where(CalendarAddress.secret_hash == hashed), execution_options=ACROSS_LABS
    ).first()


def list_published_periods(
    session: LabSession,
    *,
    section_id: int | None = None,
    rotation_id: int | None = None,
    after: datetime | None = None,
) -> list[PublishedPeriod]:
    """The periods of published rotations, by start: of a section, of one rotation, or all; those that end after `after`."""
    wanted = (
        select(Rotation, RotationPlan, Section, Period)
        .join(RotationPlan, col(RotationPlan.rotation_id) == col(Rotation.id))
        .join(Section, col(Section.id) == col(Rotation.section_id))
        .join(Period, col(Period.rotation_id) == col(Rotation.id))
        .where(Rotation.state == RotationState.PUBLISHED)
        .order_by(col(Period.starts_at), col(Period.id))
    )
    if section_id is not None:
        wanted = wanted.where(Rotation.section_id == section_id)
    if rotation_id is not None:
        wanted = wanted.where(Rotation.id == rotation_id)
    counted: dict[int, int] = {}
    found = []
    for rotation, plan, section, period in session.exec(wanted).all():
        counted[rotation.id] = number = counted.get(rotation.id, 0) + 1
        if after is None or period.ends_at > after:
            found.append(
                PublishedPeriod(rotation, plan, section.name, number, period.starts_at, period.ends_at)
            )
    return found


def list_attendances(session: LabSession, rotation_ids: Sequence[int]) -> list[Attendance]:
    """Per period and group, from the group's first visit to its last; in the order of time."""
    starts = func.min(Visit.starts_at, type_=Visit.starts_at.type)  # type: ignore[attr-defined]
    ends = func.max(Visit.ends_at, type_=Visit.ends_at.type)  # type: ignore[attr-defined]
    rows = session.exec(
        select(Period, Visit.group_id, starts, ends)
        .join(RotationPlan, col(RotationPlan.rotation_id) == col(Period.rotation_id))
        .join(Visit, col(Visit.plan_id) == col(RotationPlan.id))
        .where(
            col(Period.rotation_id).in_(rotation_ids),
            col(Visit.starts_at) >= col(Period.starts_at),
            col(Visit.starts_at) < col(Period.ends_at),
        )
        .group_by(col(Period.id), col(Visit.group_id))
        .order_by(starts, col(Visit.group_id))
    ).all()
    return [
        Attendance(period.rotation_id, period.starts_at, group_id, starts_at, ends_at)
        for period, group_id, starts_at, ends_at in rows
    ]


def list_visits_of_groups(
    session: LabSession, plan_ids: Sequence[int], group_ids: Sequence[int]
) -> Sequence[Visit]:
    """The visits of these groups in these plans, in the order of time."""
    return session.exec(
        select(Visit)
        .where(col(Visit.plan_id).in_(plan_ids), col(Visit.group_id).in_(group_ids))
        .order_by(col(Visit.starts_at), col(Visit.ends_at), col(Visit.id))
    ).all()
