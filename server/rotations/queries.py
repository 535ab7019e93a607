"""Reads of rotations, what they ask and what was planned."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col, func, select

from server.data.session import LabSession
from server.people.models import Section
from server.people.queries import list_groups
from server.refusal import NotFound
from server.rotations.models import (
    GroupPlates,
    Period,
    Rotation,
    RotationPlan,
    RotationState,
    RotationStep,
    StepPlace,
    StepTime,
    Visit,
)
from server.stations.models import Place
from server.stations.queries import list_places


@dataclass(frozen=True)
class Published:
    """A published rotation: `ends_at` is the end of its last visit, `stations` how many stations it uses."""

    rotation_id: int
    plan_id: int
    name: str
    section_id: int
    section_name: str
    starts_at: datetime
    ends_at: datetime
    plates_planned: int
    stations: int


def list_rotations(session: LabSession) -> Sequence[Rotation]:
    """Every rotation, the newest first."""
    return session.exec(select(Rotation).order_by(col(Rotation.id).desc())).all()


def get_rotation(session: LabSession, rotation_id: int) -> Rotation:
    rotation = session.get(Rotation, rotation_id)
    if rotation is None:
        raise NotFound("There is no such rotation in this lab. Choose one from Rotations.")
    return rotation


def list_periods(session: LabSession, rotation_id: int) -> Sequence[Period]:
    """The rotation's periods in the order of time."""
    return session.exec(
        select(Period).where(Period.rotation_id == rotation_id).order_by(col(Period.starts_at))
    ).all()


def list_starts(session: LabSession) -> dict[int, datetime]:
    """When each rotation's first period starts, by rotation."""
    rows = session.exec(
        select(Period.rotation_id, func.min(Period.starts_at)).group_by(col(Period.rotation_id))
    ).all()
    return dict(rows)


def list_steps(session: LabSession, rotation_id: int) -> Sequence[RotationStep]:
    """The steps of a pass in their order."""
    return session.exec(
        select(RotationStep)
        .where(RotationStep.rotation_id == rotation_id)
        .order_by(col(RotationStep.position))
    ).all()


def list_group_plates(session: LabSession, rotation_id: int) -> Sequence[GroupPlates]:
    return session.exec(
        select(GroupPlates).where(GroupPlates.rotation_id == rotation_id).order_by(col(GroupPlates.id))
    ).all()


def get_plan(session: LabSession, rotation_id: int) -> RotationPlan | None:
    """The plan kept for the rotation, if one was made."""
    return session.exec(select(RotationPlan).where(RotationPlan.rotation_id == rotation_id)).first()


def list_plans(session: LabSession) -> dict[int, RotationPlan]:
    """The plans kept in the lab, by rotation."""
    return {plan.rotation_id: plan for plan in session.exec(select(RotationPlan)).all()}


def list_visits(session: LabSession, plan_id: int, group_id: int | None = None) -> Sequence[Visit]:
    """The visits of a plan, or one group's, in the order of time."""
    wanted = select(Visit).where(Visit.plan_id == plan_id)
    if group_id is not None:
        wanted = wanted.where(Visit.group_id == group_id)
    return session.exec(wanted.order_by(col(Visit.starts_at), col(Visit.ends_at), col(Visit.id))).all()


def count_station_use(session: LabSession, plan_id: int, steps: Sequence[RotationStep]) -> int:
    """How many different stations a plan's visits use: the places where something is exposed."""
    exposing = [step.name for step in steps if step.time_from == StepTime.EXPOSURE]
    return session.exec(
        select(func.count(func.distinct(Visit.place))).where(
            Visit.plan_id == plan_id, col(Visit.step).in_(exposing)
        )
    ).one()


def list_published(
    session: LabSession, *, after: datetime, before: datetime | None = None
) -> Sequence[Published]:
    """The published rotations of which a visit ends after `after`, and the first starts before `before`; by start."""
    ends = func.max(Visit.ends_at, type_=Visit.ends_at.type)  # type: ignore[attr-defined]
    rows = session.exec(
        select(Rotation, Section, RotationPlan, ends)
        .join(Section, col(Section.id) == col(Rotation.section_id))
        .join(RotationPlan, col(RotationPlan.rotation_id) == col(Rotation.id))
        .join(Visit, col(Visit.plan_id) == col(RotationPlan.id))
        .where(Rotation.state == RotationState.PUBLISHED)
        .group_by(col(Rotation.id), col(Section.id), col(RotationPlan.id))
        .having(ends > after)
        .order_by(col(RotationPlan.starts_at), col(Rotation.id))
    ).all()
    return [
        Published(
            rotation.id,
            plan.id,
            rotation.name,
            section.id,
            section.name,
            plan.starts_at,
            ends_at,
            plan.plates_planned,
            count_station_use(session, plan.id, list_steps(session, rotation.id)),
        )
        for rotation, section, plan, ends_at in rows
        if before is None or plan.starts_at < before
    ]


def list_places_of(places: Sequence[Place], at: StepPlace) -> list[Place]:
    """The places in order at which a step can be done; none for `same`, which is where the step before was."""
    return [place for place in places if not place.out_of_order and at.value in {place.kind, place.bath}]


def list_missing(session: LabSession, rotation_id: int) -> list[str]:
    """What still has to be there before the rotation can be planned, in sentences that say where to go."""
    rotation = get_rotation(session, rotation_id)
    places, steps = list_places(session), list_steps(session, rotation_id)
    missing = []
    if not list_periods(session, rotation_id):
        missing.append("There is no period. Add one on the rotation's page.")
    if not list_groups(session, rotation.section_id):
        missing.append("The section has no groups. Form them under People.")
    elif not any(asked.plates for asked in list_group_plates(session, rotation_id)):
        missing.append("No group makes a plate. Write the plates per group on the rotation's page.")
    if not steps:
        missing.append("There are no steps. Write them on the rotation's steps page.")
    needed = dict.fromkeys(StepPlace(step.at) for step in steps if step.at != StepPlace.SAME)
    return missing + [_MISSING[at] for at in needed if not list_places_of(places, at)]


_TRAY = "There is no {} tray in order. Add a tray line, or repair it, under Stations."
_MISSING = {
    StepPlace.STATION: "There is no station in order. Add one, or repair one, under Stations.",
    StepPlace.DRYER: "There is no dryer in order. Add one under Stations, or take the step out of the steps.",
    StepPlace.BENCH: "There is no bench in order. Add one under Stations, or take the step out of the steps.",
    **{
        bath: _TRAY.format(bath.value)
        for bath in (StepPlace.DEVELOPER, StepPlace.RINSE, StepPlace.BLEACH, StepPlace.WASH)
    },
}
