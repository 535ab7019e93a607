"""Changing what is asked of the planner, naming and deleting a rotation, and taking in a class file."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from sqlalchemy.exc import IntegrityError
from sqlmodel import col, delete

from server.core.moments import day_at
from server.core.planning import read_class_file, write_class_file
from server.data.session import LabSession
from server.people.queries import get_section
from server.refusal import NotFound, Refusal
from server.rotations.actions import LONGEST_NAME, drop_plan, instant_on, open_question, set_plates
from server.rotations.models import (
    GroupPlates,
    Period,
    PeriodBreak,
    Rotation,
    RotationMix,
    RotationState,
    RotationStep,
)
from server.rotations.queries import (
    get_plan,
    get_rotation,
    list_breaks,
    list_group_plates,
    list_mixes,
    list_periods,
)
from server.searches.actions import forget_searches
from server.stations.models import PlaceKind
from server.stations.queries import get_place

MOST_MIXES = 12


def set_class_times(session: LabSession, rotation_id: int, *, talk_s: int, clean_up_s: int) -> None:
    """Set the talk at the start of the class and the clean-up at the end of each day, in seconds."""
    rotation = open_question(session, rotation_id)
    rotation.talk_s, rotation.clean_up_s = talk_s, clean_up_s


def add_break(
    session: LabSession, rotation_id: int, *, period_id: int, name: str, starts: time, ends: time, zone: str
) -> None:
    """Split a period in two. `starts` and `ends` are the lab's wall clock on the period's day."""
    open_question(session, rotation_id)
    period = next((one for one in list_periods(session, rotation_id) if one.id == period_id), None)
    if period is None:
        raise NotFound("This period is not in the rotation any more. Open what is asked again.")
    day = day_at(period.starts_at, zone)
    starts_at, ends_at = instant_on(day, starts, zone), instant_on(day, ends, zone)
    if ends_at <= starts_at:
        raise Refusal("The break must end after it starts. Choose a later end.")
    if starts_at <= period.starts_at or ends_at >= period.ends_at:
        raise Refusal(
            "A break lies inside its period. Choose other times, or change when the period starts or ends."
        )
    for other in list_breaks(session, rotation_id):
        if starts_at < other.ends_at and other.starts_at < ends_at:
            raise Refusal(f"There is a break then already: {other.name}. Choose other times.")
    session.add(PeriodBreak(period_id=period_id, name=name, starts_at=starts_at, ends_at=ends_at))
    session.flush()  # the next break must see it


def remove_break(session: LabSession, rotation_id: int, break_id: int) -> None:
    """Join the two parts of the period again."""
    open_question(session, rotation_id)
    for one in list_breaks(session, rotation_id):
        if one.id == break_id:
            session.delete(one)
    session.flush()  # what reads the question next must not see it


def ask_groups(
    session: LabSession, rotation_id: int, plates: Mapping[int, int], ties: Mapping[int, int | None]
) -> None:
    """Set the plates of each group (by id) and the station it is tied to; None = any station."""
    set_plates(session, rotation_id, plates)
    session.flush()  # a group that was formed since has its row only now
    for asked in list_group_plates(session, rotation_id):
        if asked.group_id in ties:
            tied_place_id = ties[asked.group_id]
            if tied_place_id is not None and get_place(session, tied_place_id).kind != PlaceKind.STATION:
                raise Refusal("A group is tied to a station only. Choose one of the list.")
            asked.tied_place_id = tied_place_id


def add_mix(
    session: LabSession, rotation_id: int, *, mixed_at: datetime, life_s: int, plates: int | None
) -> None:
    """Developer that is mixed for the class. It lives from its mixing, and serves `plates` in each developer tray, None = any number."""
    open_question(session, rotation_id)
    periods = list_periods(session, rotation_id)
    if periods and mixed_at + timedelta(seconds=life_s) <= periods[0].starts_at:
        raise Refusal("This mix is dead before the class begins. Write a later time or a longer life.")
    if periods and mixed_at >= periods[-1].ends_at:
        raise Refusal("This mix is made after the class has ended. Write an earlier time.")
    if len(list_mixes(session, rotation_id)) >= MOST_MIXES:
        raise Refusal(f"A rotation has at most {MOST_MIXES} mixes. Remove one first.")
    session.add(RotationMix(rotation_id=rotation_id, mixed_at=mixed_at, life_s=life_s, plates=plates))
    session.flush()  # what reads the question next must see it


def remove_mix(session: LabSession, rotation_id: int, mix_id: int) -> None:
    open_question(session, rotation_id)
    session.exec(
        delete(RotationMix).where(col(RotationMix.id) == mix_id, col(RotationMix.rotation_id) == rotation_id)
    )


def set_reserve_rounds(session: LabSession, rotation_id: int, *, reserve_rounds: int) -> None:
    """Keep so many rounds free at the end for repeats."""
    open_question(session, rotation_id).reserve_rounds = reserve_rounds


def rename_rotation(session: LabSession, rotation_id: int, *, name: str) -> None:
    """Give the rotation another name. The plan stays: what was asked and answered is the same but for the name."""
    rotation = get_rotation(session, rotation_id)
    rotation.name = name
    kept = get_plan(session, rotation_id)
    if kept is not None and rotation.class_file is None:
        kept.class_file = write_class_file(replace(read_class_file(kept.class_file), name=name))


def delete_rotation(session: LabSession, rotation_id: int) -> None:
    """Take a rotation away with all that was asked and planned. A published one, or one that runs were filed under, stays."""
    session.hold(Rotation, rotation_id)
    rotation = get_rotation(session, rotation_id)
    if rotation.state == RotationState.PUBLISHED:
        raise Refusal(
            "This rotation is published, so it stays. Withdraw it before it begins, then delete it."
        )
    try:
        with session.begin_nested():
            _delete_with_parts(session, rotation)
    except IntegrityError as fault:
        raise Refusal("Something was filed under this rotation, so it stays. Rename it instead.") from fault


def _delete_with_parts(session: LabSession, rotation: Rotation) -> None:
    forget_searches(session, rotation.id)
    drop_plan(session, rotation.id)
    periods = [period.id for period in list_periods(session, rotation.id)]
    session.exec(delete(PeriodBreak).where(col(PeriodBreak.period_id).in_(periods)))
    for part in (Period, RotationStep, GroupPlates, RotationMix):
        session.exec(delete(part).where(col(part.rotation_id) == rotation.id))
    session.delete(rotation)
    session.flush()  # what is filed under it is found here, not when the request ends


def take_in_class_file(
    session: LabSession,
    *,
    section_id: int,
    day: date,
    starts: time,
    class_file: str,
    now: datetime,
    zone: str,
) -> Rotation:
    """A draft whose question is a class file that can be read; its first period starts at `starts` on `day`."""
    section = get_section(session, section_id)
    problem = read_class_file(class_file)
    begins = instant_on(day, starts, zone)
    zero = begins - timedelta(seconds=problem.periods[0][0])
    rotation = Rotation(
        section_id=section.id,
        name=problem.name[:LONGEST_NAME],
        made_at=now,
        class_file=write_class_file(problem),
    )
    session.add(rotation)
    session.flush()  # its periods name its id
    session.add_all(
        Period(
            rotation_id=rotation.id,
            starts_at=zero + timedelta(seconds=start_s),
            ends_at=zero + timedelta(seconds=end_s),
        )
        for start_s, end_s in problem.periods
    )
    return rotation
