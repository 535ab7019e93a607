"""Days to prepare: a room of three stations, a shelf, and published rotations with visits that can be counted by hand."""

from collections import Counter
from datetime import date, datetime, timedelta
from itertools import cycle
from typing import cast

from server.core.planning import Group, Place, Problem, Step, write_class_file
from server.core.planning.problem import Light, Stillness
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.people.queries import list_groups
from server.plates.actions import take_in_plate_box
from server.rotations.models import (
    Period,
    Rotation,
    RotationPlan,
    RotationState,
    RotationStep,
    StepPlace,
    StepTime,
    Visit,
)
from server.stations.actions import add_place, add_tray_line
from server.stations.models import PlaceKind
from tests.casts import MORNING

STATIONS = ("S1", "S2", "S3")
# Seconds after the start of a round of 6 min: load 90 s, settle 180 s, expose 45 s, all at the station; the plate is
# developed for 2.5 min from the end of its round on.
_STEPS = (
    ("load", StepPlace.STATION, StepTime.OWN, 0, 90, "dark", "moves"),
    ("settle", StepPlace.SAME, StepTime.SETTLE, 90, 270, "dark", "still"),
    ("expose", StepPlace.SAME, StepTime.EXPOSURE, 270, 315, "dark", "still"),
    ("develop", StepPlace.DEVELOPER, StepTime.OWN, 360, 510, "dark", "any"),
    ("view", StepPlace.BENCH, StepTime.OWN, 540, 600, "lit", "moves"),
)


def furnish(session: LabSession) -> None:
    """Three stations and a tray line."""
    add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
    for name, exposure_s in zip(STATIONS, (10, 12, 19), strict=True):
        add_place(
            session,
            name=name,
            kind=PlaceKind.STATION,
            capacity=1,
            light_zone_id=None,
            still_zone_id=None,
            settle_s=60,
            exposure_s=exposure_s,
        )


def stock(
    session: LabSession,
    *,
    plates: int = 60,
    stock_a_ul: int = 1_000_000,
    stock_b_ul: int = 1_000_000,
    bleach_ul: int = 1_000_000,
    expires_on: date | None = None,
    sees_red: bool = True,
    sees_green: bool = False,
) -> int:
    """A kit and a plate box. Returns the box's id."""
    take_in_kit(
        session,
        name="kit 1",
        arrived_on=MORNING.date(),
        expires_on=None,
        storage="",
        contents=[
            NewBottle(STOCK_A, stock_a_ul),
            NewBottle(STOCK_B, stock_b_ul),
            NewBottle(BLEACH, bleach_ul),
        ],
        by="Tomas",
        now=MORNING,
    )
    return take_in_plate_box(
        session,
        name="box 1",
        plates=plates,
        width_um=63_500,
        height_um=63_500,
        dose_uj_per_cm2=600,
        sees_red=sees_red,
        sees_green=sees_green,
        sees_blue=True,
        arrived_on=MORNING.date(),
        expires_on=expires_on,
        warm_up_s=3600,
        by="Tomas",
        now=MORNING,
    ).id


def _class_file(session: LabSession, section_id: int, name: str, rounds: int) -> str:
    """The question behind the visits, plates from 8 min after the start to 5 min before the bell; groups take turns."""
    places = {StepPlace.DEVELOPER: ("developer, line 1",), StepPlace.BENCH: ("bench",)}
    steps = tuple(
        Step(
            step,
            "same" if at == StepPlace.SAME else places.get(at, STATIONS),
            end - begin,
            cast("Light", light),
            cast("Stillness", still),
        )
        for step, at, _time_from, begin, end, light, still in _STEPS
    )
    turns = cycle(group.name for group in list_groups(session, section_id))
    passes = Counter({next(turns): rounds for _round in range(rounds) for _station in STATIONS})
    names = (*STATIONS, "developer, line 1", "bench")
    return write_class_file(
        Problem(
            name,
            ((8 * 60, 45 * 60),),
            tuple(Place(place, 3, light_zone=None if place == "bench" else "room") for place in names),
            steps,
            tuple(Group(group, count) for group, count in passes.items()),
        )
    )


def publish_rounds(
    session: LabSession,
    section_id: int,
    *,
    name: str,
    starts_at: datetime,
    rounds: int = 4,
    state: RotationState = RotationState.PUBLISHED,
    round_s: int = 360,
    develop_s: int = 150,
) -> int:
    """A rotation: a talk of 8 min, then `rounds` of 6 min with a plate at each station, developed after its round. Returns its id."""
    rotation = Rotation(section_id=section_id, name=name, state=state, made_at=MORNING)
    session.add(rotation)
    session.flush()
    ends_at = starts_at + timedelta(minutes=50)
    session.add(Period(rotation_id=rotation.id, starts_at=starts_at, ends_at=ends_at))
    plan = RotationPlan(
        rotation_id=rotation.id,
        status="optimal",
        makespan_s=3000,
        bound_s=3000,
        plates_planned=3 * rounds,
        plates_unplaced=0,
        class_file=_class_file(session, section_id, name, rounds),
        seed=1,
        starts_at=starts_at,
        made_at=MORNING,
    )
    session.add(plan)
    for position, (step, at, time_from, begin, end, light, still) in enumerate(_STEPS, start=1):
        session.add(
            RotationStep(
                rotation_id=rotation.id,
                position=position,
                name=step,
                at=at,
                time_from=time_from,
                seconds=end - begin,
                light=light,
                still=still,
            )
        )
    session.flush()
    groups = cycle(list_groups(session, section_id))
    for number in range(rounds):
        begins = starts_at + timedelta(minutes=8, seconds=round_s * number)
        for station in STATIONS:
            group = next(groups)
            for step, at, _time_from, begin, end, light, still in _STEPS:
                place = {StepPlace.DEVELOPER: "developer, line 1", StepPlace.BENCH: "bench"}.get(at, station)
                session.add(
                    Visit(
                        plan_id=plan.id,
                        group_id=group.id,
                        pass_no=number + 1,
                        step=step,
                        place=place,
                        light=light,
                        still=still,
                        starts_at=begins + timedelta(seconds=begin),
                        ends_at=begins + timedelta(seconds=360 + develop_s if step == "develop" else end),
                    )
                )
    session.flush()
    return rotation.id


def publish_capacity_day(session: LabSession, section_id: int) -> tuple[int, int, int]:
    """Three classes at 09:00, 11:00 and 14:00 on the cellar lab's clock (one hour ahead of UTC), 12 plates each."""
    at = MORNING + timedelta(hours=1)
    first, second, third = (
        publish_rounds(session, section_id, name=name, starts_at=at + timedelta(hours=hours))
        for name, hours in (("first", 0), ("second", 2), ("third", 5))
    )
    return first, second, third
