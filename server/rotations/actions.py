"""Asking for a rotation, keeping what the planner answers, and publishing it."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, date, datetime, time, timedelta
from typing import cast
from zoneinfo import ZoneInfo

from sqlmodel import col, delete

from server.core.class_time import Stretch
from server.core.moments import NoSuchTime, instant_of
from server.core.planning import (
    ClassFileFault,
    Group,
    Place,
    Plan,
    Problem,
    Step,
    check,
    read_class_file,
    write_class_file,
)
from server.core.planning.problem import Charge, Light, LightZone, Stillness
from server.core.table_file import write_table
from server.data.session import LabSession
from server.people.queries import get_section, list_groups
from server.refusal import Refusal
from server.rotations.forms import NewStep, step_faults
from server.rotations.models import (
    GroupPlates,
    NamedVisit,
    Period,
    PeriodBreak,
    Rotation,
    RotationMix,
    RotationPlan,
    RotationState,
    RotationStep,
    StepPlace,
    StepTime,
    Visit,
)
from server.rotations.queries import (
    AskedGroup,
    PlanVisit,
    get_class_time,
    get_plan,
    get_published,
    get_rotation,
    is_mix_of_use,
    list_asked_groups,
    list_breaks,
    list_every_visit,
    list_group_plates,
    list_missing,
    list_mixes,
    list_periods,
    list_places_of,
    list_published,
    list_steps,
    visits_on_clock,
)
from server.stations.models import Bath, PlaceKind
from server.stations.models import Place as LabPlace
from server.stations.queries import list_light_zones, list_places, list_still_zones

# The same question and seed give the same plan.
SEED = 1
LONGEST_NAME = 80
# What a group of a round kept for repeats is called, with a number.
REPEAT = "Repeat"

# Assumed times, to be changed on the rotation's steps page. After its exposure a plate waits behind the closed shutter until
# everybody may move again, because stations that open on one call close at different times.
DEFAULT_STEPS = (
    NewStep("align", StepPlace.STATION, seconds=300, light="lit", still="moves", max_wait_s=1200),
    NewStep("load", StepPlace.SAME, seconds=60, light="dark", still="moves", max_wait_s=0),
    NewStep("settle", StepPlace.SAME, StepTime.SETTLE, light="dark", still="still", max_wait_s=0),
    NewStep("expose", StepPlace.SAME, StepTime.EXPOSURE, light="dark", still="still", max_wait_s=120),
    NewStep("carry", StepPlace.SAME, seconds=20, still="moves", max_wait_s=1800),
    NewStep("develop", StepPlace.DEVELOPER, seconds=20, light="dark", max_wait_s=0),
    NewStep("rinse", StepPlace.RINSE, seconds=30, light="dark", max_wait_s=0),
    NewStep("bleach", StepPlace.BLEACH, seconds=90, light="dark", max_wait_s=0),
    NewStep("wash", StepPlace.WASH, seconds=60, max_wait_s=3600),
    NewStep("dry", StepPlace.DRYER, seconds=240),
    NewStep("view", StepPlace.BENCH, seconds=300, light="lit"),
)
# A lab may do without these; the steps there are then left out.
DISPENSABLE = (StepPlace.DRYER, StepPlace.BENCH)


def _open_to_change(session: LabSession, rotation_id: int) -> Rotation:
    rotation = get_rotation(session, rotation_id)
    if rotation.state == RotationState.PUBLISHED:
        raise Refusal(
            "This rotation is published, so its plan stays as it is. Withdraw it before it begins, or copy it and change the copy."
        )
    return rotation


def open_question(session: LabSession, rotation_id: int) -> Rotation:
    """The rotation whose question is about to be changed. A plan made before is kept to look at, but it no longer answers it."""
    rotation = _open_to_change(session, rotation_id)
    if rotation.class_file is not None:
        raise Refusal(
            "This rotation asks what its class file says, so nothing of it is changed here. Change the file and take it in again."
        )
    rotation.state = RotationState.DRAFT
    return rotation


def add_rotation(
    session: LabSession,
    *,
    section_id: int,
    name: str,
    day: date,
    starts: time,
    ends: time,
    plates_per_group: int,
    now: datetime,
    zone: str,
    talk_s: int = 0,
    clean_up_s: int = 0,
) -> Rotation:
    """A draft with one period, the usual steps and the same number of plates for each of the section's groups."""
    section = get_section(session, section_id)
    groups = list_groups(session, section.id)
    if not groups:
        raise Refusal(f"{section.name} has no groups yet. Form them under People, then come back.")
    rotation = Rotation(
        section_id=section.id,
        name=name,
        made_at=now,
        talk_s=talk_s,
        clean_up_s=clean_up_s,
        plates_per_group=plates_per_group,
    )
    session.add(rotation)
    session.flush()  # its parts name its id
    session.add_all(
        GroupPlates(rotation_id=rotation.id, group_id=group.id, plates=plates_per_group) for group in groups
    )
    add_period(session, rotation.id, day=day, starts=starts, ends=ends, zone=zone)
    places = list_places(session)
    _write_steps(
        session,
        rotation.id,
        [step for step in DEFAULT_STEPS if step.at not in DISPENSABLE or list_places_of(places, step.at)],
    )
    return rotation


def instant_on(day: date, clock: time, zone: str) -> datetime:
    """The instant at which the lab's wall clock shows `clock` on `day`; refused where the clocks skip it."""
    found = instant_of(day=day, clock=clock, zone=zone)
    if isinstance(found, NoSuchTime):
        raise Refusal(found.sentence)
    return found


def add_period(
    session: LabSession, rotation_id: int, *, day: date, starts: time, ends: time, zone: str
) -> Period:
    """A stretch of the lab's wall clock on `day` in which the section has the room."""
    rotation = open_question(session, rotation_id)
    opens, closes = instant_on(day, starts, zone), instant_on(day, ends, zone)
    if closes <= opens:
        raise Refusal("The period must end after it starts. Choose a later end.")
    for other in list_periods(session, rotation_id):
        if opens < other.ends_at and other.starts_at < closes:
            raise Refusal("This period overlaps one that is there already. Choose other times.")
        if abs(opens - other.starts_at) > timedelta(days=180):
            raise Refusal(
                "This period is more than half a year from another one. Make a rotation of its own for it."
            )
    period = Period(rotation_id=rotation.id, starts_at=opens, ends_at=closes)
    session.add(period)
    session.flush()  # the next one must see it
    return period


def remove_period(session: LabSession, rotation_id: int, period_id: int) -> None:
    """Give the room back; the period's breaks go with it."""
    open_question(session, rotation_id)
    if period_id in [period.id for period in list_periods(session, rotation_id)]:
        session.exec(delete(PeriodBreak).where(col(PeriodBreak.period_id) == period_id))
        session.exec(delete(Period).where(col(Period.id) == period_id))


def set_plates(session: LabSession, rotation_id: int, plates: Mapping[int, int]) -> None:
    """Set how many plates each group (by id) makes. Groups of other sections are refused."""
    rotation = open_question(session, rotation_id)
    known = {asked.group_id: asked for asked in list_group_plates(session, rotation_id)}
    groups = {group.id for group in list_groups(session, rotation.section_id)}
    for group_id, wanted in plates.items():
        if group_id not in groups:
            raise Refusal("One of these groups is not in the section any more. Open the rotation again.")
        asked = known.get(group_id) or GroupPlates(rotation_id=rotation_id, group_id=group_id, plates=wanted)
        asked.plates = wanted
        session.add(asked)


def set_steps(session: LabSession, rotation_id: int, steps: Sequence[NewStep]) -> None:
    """Replace the steps of a pass."""
    open_question(session, rotation_id)
    faults = step_faults(steps)
    if faults:
        raise Refusal(faults[0].sentence)
    if not steps:
        raise Refusal("A pass needs at least one step. Write its name, its place and its seconds.")
    session.exec(delete(RotationStep).where(col(RotationStep.rotation_id) == rotation_id))
    _write_steps(session, rotation_id, steps)


def _write_steps(session: LabSession, rotation_id: int, steps: Sequence[NewStep]) -> None:
    session.add_all(
        RotationStep(
            rotation_id=rotation_id,
            position=position,
            name=step.name,
            at=step.at,
            time_from=step.time_from,
            seconds=step.seconds or 0,
            light=step.light,
            still=step.still,
            max_wait_s=step.max_wait_s,
            attended=step.attended,
        )
        for position, step in enumerate(steps)
    )
    session.flush()  # what reads the question next must see them


def copy_rotation(session: LabSession, rotation_id: int, *, now: datetime) -> Rotation:
    """A new draft that asks the same question."""
    rotation = get_rotation(session, rotation_id)
    copy = Rotation(
        **rotation.model_dump(exclude={"id", "name", "state", "made_at", "published_at"}),
        name=f"Copy of {rotation.name}"[:LONGEST_NAME],
        made_at=now,
    )
    session.add(copy)
    session.flush()  # its parts name its id
    in_use = {group.id for group in list_groups(session, rotation.section_id)}
    breaks = list_breaks(session, rotation_id)
    for period in list_periods(session, rotation_id):
        again = Period(rotation_id=copy.id, starts_at=period.starts_at, ends_at=period.ends_at)
        session.add(again)
        session.flush()  # its breaks name its id
        session.add_all(
            PeriodBreak(**one.model_dump(exclude={"id", "period_id"}), period_id=again.id)
            for one in breaks
            if one.period_id == period.id
        )
    session.add_all(
        GroupPlates(**asked.model_dump(exclude={"id", "rotation_id"}), rotation_id=copy.id)
        for asked in list_group_plates(session, rotation_id)
        if asked.group_id in in_use
    )
    session.add_all(
        RotationMix(**mix.model_dump(exclude={"id", "rotation_id"}), rotation_id=copy.id)
        for mix in list_mixes(session, rotation_id)
    )
    session.add_all(
        RotationStep(**step.model_dump(exclude={"id", "rotation_id"}), rotation_id=copy.id)
        for step in list_steps(session, rotation_id)
    )
    return copy


def plan_question(session: LabSession, rotation_id: int) -> Problem:
    """What the planner is asked: the room in order, the groups in use, times in seconds from the first period's start.

    The periods are those in which plates are made: the rotation's without the talk, the breaks and the clean-up.
    """
    rotation = _open_to_change(session, rotation_id)
    if rotation.class_file is not None:
        return read_class_file(rotation.class_file)
    missing = list_missing(session, rotation_id)
    if missing:
        raise Refusal(" ".join(missing))
    pieces = get_class_time(session, rotation).plates
    places = [place for place in list_places(session) if not place.out_of_order]
    begins = pieces[0].starts_at
    steps = list_steps(session, rotation_id)
    problem = Problem(
        name=rotation.name,
        periods=tuple((_seconds(begins, one.starts_at), _seconds(begins, one.ends_at)) for one in pieces),
        places=_asked_places(session, places, _asked_charges(session, rotation, pieces)),
        steps=_asked_steps(steps, places),
        groups=(
            *(
                _asked_group(asked, steps, places)
                for asked in list_asked_groups(session, rotation)
                if asked.plates
            ),
            *_repeats(rotation, places),
        ),
        light_zones=_asked_light_zones(session, places),
    )
    try:
        return read_class_file(write_class_file(problem))
    except ClassFileFault as fault:
        raise Refusal(
            f"The planner can't read this rotation: {fault}. Change it, or the room under Stations, and plan again."
        ) from fault


def _seconds(begins: datetime, instant: datetime) -> int:
    return round((instant - begins).total_seconds())


def _asked_group(asked: AskedGroup, steps: Sequence[RotationStep], places: Sequence[LabPlace]) -> Group:
    """A group that is tied to a station has steps of its own, with no other station in them."""
    if asked.tied_place_id is None:
        return Group(asked.group.name, asked.plates)
    open_to_it = [
        place for place in places if place.kind != PlaceKind.STATION or place.id == asked.tied_place_id
    ]
    return Group(asked.group.name, asked.plates, steps=_asked_steps(steps, open_to_it))


def _repeats(rotation: Rotation, places: Sequence[LabPlace]) -> Iterator[Group]:
    """A round kept for repeats is one plate at each station."""
    stations = len(list_places_of(places, StepPlace.STATION))
    for number in range(1, rotation.reserve_rounds * stations + 1):
        yield Group(f"{REPEAT} {number}", 1, reserve=True)


def _asked_charges(session: LabSession, rotation: Rotation, pieces: Sequence[Stretch]) -> tuple[Charge, ...]:
    """The developer that is there while plates are made."""
    begins = pieces[0].starts_at
    return tuple(
        Charge(
            max(0, _seconds(begins, mix.mixed_at)), _seconds(begins, mix.mixed_at) + mix.life_s, mix.plates
        )
        for mix in list_mixes(session, rotation.id)
        if is_mix_of_use(mix, pieces)
    )


def _asked_light_zones(session: LabSession, places: Sequence[LabPlace]) -> tuple[LightZone, ...]:
    used = {place.light_zone_id for place in places}
    return tuple(
        LightZone(zone.name, zone.afterglow_s)
        for zone in list_light_zones(session)
        if zone.afterglow_s and zone.id in used
    )


def _asked_places(
    session: LabSession, places: Sequence[LabPlace], charges: tuple[Charge, ...]
) -> tuple[Place, ...]:
    light = {zone.id: zone.name for zone in list_light_zones(session)}
    still = {zone.id: zone.name for zone in list_still_zones(session)}
    return tuple(
        Place(
            place.name,
            place.capacity,
            light_zone=light.get(place.light_zone_id or 0),
            still_zone=still.get(place.still_zone_id or 0),
            charges=charges if place.bath == Bath.DEVELOPER else (),
        )
        for place in places
    )


def _asked_steps(steps: Sequence[RotationStep], places: Sequence[LabPlace]) -> tuple[Step, ...]:
    asked = []
    here: list[LabPlace] = []
    for step in steps:
        same = step.at == StepPlace.SAME
        here = here if same else list_places_of(places, StepPlace(step.at))
        asked.append(
            Step(
                step.name,
                "same" if same else tuple(place.name for place in here),
                _step_seconds(step, here),
                light=cast("Light", step.light),
                still=cast("Stillness", step.still),
                max_wait_s=step.max_wait_s,
                attended=step.attended,
            )
        )
    return tuple(asked)


def _step_seconds(step: RotationStep, here: Sequence[LabPlace]) -> int | dict[str, int]:
    """One number where all places agree. A step takes a second at least, so a settle time of 0 is planned as 1 s."""
    if step.time_from == StepTime.OWN:
        return step.seconds
    settle = step.time_from == StepTime.SETTLE
    by_place = {place.name: max(1, (place.settle_s if settle else place.exposure_s) or 0) for place in here}
    return min(by_place.values()) if len(set(by_place.values())) == 1 else by_place


def keep_plan(
    session: LabSession, rotation_id: int, problem: Problem, plan: Plan, *, seed: int, now: datetime
) -> RotationPlan:
    """Keep the planner's answer in the place of an earlier one, after every rule has been checked again."""
    session.hold(Rotation, rotation_id)
    rotation = _open_to_change(session, rotation_id)
    if plan_question(session, rotation_id) != problem:
        raise Refusal("The rotation or the room was changed while it was planned. Press Plan once more.")
    broken = check(problem, plan)
    if broken:
        raise Refusal(f"The plan breaks a rule, so it was not kept: {broken[0]} Press Plan once more.")
    drop_plan(session, rotation_id)
    planned, unplaced = _count_plates(problem, plan)
    kept = RotationPlan(
        rotation_id=rotation_id,
        status=plan.status,
        makespan_s=plan.makespan_s,
        bound_s=plan.bound_s,
        whiteboard_s=plan.whiteboard_s,
        plates_planned=planned,
        plates_unplaced=unplaced,
        unplaced=_unplaced_words(plan),
        reasons="\n".join(plan.reasons),
        class_file=write_class_file(problem),
        seed=seed,
        starts_at=_second_zero(session, rotation, problem),
        made_at=now,
    )
    session.add(kept)
    session.flush()  # its visits name its id
    session.add_all(_visit_rows(session, rotation, kept, problem, plan))
    rotation.state = RotationState.PLANNED
    return kept


def _second_zero(session: LabSession, rotation: Rotation, problem: Problem) -> datetime:
    """The instant from which the question counts its seconds."""
    first = get_class_time(session, rotation).plates[0]
    return first.starts_at - timedelta(seconds=problem.periods[0][0])


def _visit_rows(
    session: LabSession, rotation: Rotation, kept: RotationPlan, problem: Problem, plan: Plan
) -> list[Visit | NamedVisit]:
    """Visits of the section's groups, and of groups that are only a name."""
    mine = (
        {}
        if rotation.class_file is not None
        else {group.name: group.id for group in list_groups(session, rotation.section_id)}
    )
    rows: list[Visit | NamedVisit] = []
    for visit in visits_on_clock(problem, plan, starts_at=kept.starts_at):
        row = asdict(visit)
        name = row.pop("group")
        if name in mine:
            rows.append(Visit(**row, plan_id=kept.id, group_id=mine[name]))
        else:
            rows.append(NamedVisit(**row, plan_id=kept.id, group_name=name))
    return rows


def replace_plan(
    session: LabSession,
    rotation_id: int,
    problem: Problem,
    plan: Plan,
    *,
    lost: Collection[tuple[str, int]],
    now: datetime,
) -> None:
    """Put a plan made in the middle of a class in the place of the published one, after every rule has been checked again.

    `lost` are the plates, by group and pass, that were begun in vain.
    """
    rotation, kept = get_published(session, rotation_id)
    broken = check(problem, plan)
    if broken:
        raise Refusal(f"The new plan breaks a rule, so the old one stays: {broken[0]} Ask for another one.")
    _drop_visits(session, kept)
    kept.status, kept.reasons = plan.status, "\n".join(plan.reasons)
    kept.makespan_s, kept.bound_s, kept.whiteboard_s = plan.makespan_s, plan.bound_s, plan.whiteboard_s
    planned, kept.plates_unplaced = _count_plates(problem, plan)
    kept.plates_planned = planned - len(lost)
    kept.unplaced = _unplaced_words(plan)
    kept.class_file = write_class_file(problem)
    kept.changed_at = now
    kept.lost = "\n".join(f"{pass_no} {group}" for group, pass_no in sorted(lost))
    session.add_all(_visit_rows(session, rotation, kept, problem, plan))
    _refuse_a_clash(session, rotation, kept)


def _count_plates(problem: Problem, plan: Plan) -> tuple[int, int]:
    """How many plates of the section's groups are planned, and how many are left out."""
    ordinary = {group.name: group.passes for group in problem.groups if not group.reserve}
    unplaced = sum(one.group in ordinary for one in plan.unplaced)
    return sum(ordinary.values()) - unplaced, unplaced


def _unplaced_words(plan: Plan) -> str:
    return "\n".join(f"{one.group}, plate {one.pass_no}" for one in plan.unplaced)


def _drop_visits(session: LabSession, kept: RotationPlan) -> None:
    session.exec(delete(Visit).where(col(Visit.plan_id) == kept.id))
    session.exec(delete(NamedVisit).where(col(NamedVisit.plan_id) == kept.id))


def raise_bound(session: LabSession, rotation_id: int, bound_s: int) -> None:
    """The planner has ruled out that as many plates are done before `bound_s`, for the plan that is kept."""
    kept = get_plan(session, rotation_id)
    if kept is not None and bound_s > kept.bound_s:
        kept.bound_s = min(bound_s, kept.makespan_s)
        if kept.bound_s == kept.makespan_s and not kept.plates_unplaced:
            kept.status = "optimal"


def drop_plan(session: LabSession, rotation_id: int) -> None:
    kept = get_plan(session, rotation_id)
    if kept is not None:
        _drop_visits(session, kept)
        session.delete(kept)
        session.flush()  # the next plan of the rotation takes its place


def publish(session: LabSession, rotation_id: int, *, now: datetime) -> None:
    """Make the plan the section's; from now on it stays as it is."""
    session.hold(Rotation, rotation_id)
    rotation = _open_to_change(session, rotation_id)
    if rotation.class_file is not None:
        raise Refusal(
            "A class file doesn't say which step exposes and which develops, so what was planned from it can be compared and printed, "
            "and not published. Add a rotation for the class."
        )
    kept = get_plan(session, rotation_id)
    if rotation.state != RotationState.PLANNED or kept is None:
        raise Refusal("There is no plan of the rotation as it stands. Press Plan first.")
    if not kept.plates_planned:
        raise Refusal("The plan has no plate in it. Change the rotation and plan it again.")
    if write_class_file(plan_question(session, rotation_id)) != kept.class_file:
        raise Refusal("The room or the groups were changed after this plan was made. Press Plan again first.")
    _refuse_a_clash(session, rotation, kept)
    rotation.state, rotation.published_at = RotationState.PUBLISHED, now


def _refuse_a_clash(session: LabSession, rotation: Rotation, kept: RotationPlan) -> None:
    """Two published rotations never want the same section or the same place at the same time."""
    visits = list_every_visit(session, kept.id)
    ends_at = max(visit.ends_at for visit in visits)
    for other in list_published(session, after=kept.starts_at, before=ends_at):
        if other.rotation_id == rotation.id:
            continue
        there = list_every_visit(session, other.plan_id)
        busy = {
            mine.place
            for mine in visits
            for theirs in there
            if mine.place == theirs.place
            and mine.starts_at < theirs.ends_at
            and theirs.starts_at < mine.ends_at
        }
        if other.section_id == rotation.section_id or busy:
            shared = f"the section {other.section_name}" if not busy else " and ".join(sorted(busy))
            raise Refusal(
                f"“{other.name}” is published for the same time and needs {shared} too. Withdraw it, or plan this one for other "
                "times."
            )


def withdraw(session: LabSession, rotation_id: int, *, now: datetime) -> None:
    """Take a published rotation back before it begins; it may then be changed, and nothing is prepared for it."""
    session.hold(Rotation, rotation_id)
    rotation = get_rotation(session, rotation_id)
    kept = get_plan(session, rotation_id)
    if rotation.state != RotationState.PUBLISHED or kept is None:
        raise Refusal("This rotation is not published, so there is nothing to withdraw.")
    if list_periods(session, rotation_id)[0].starts_at <= now:
        raise Refusal("This rotation has begun, so it stays published. Copy it to plan what is left.")
    rotation.state, rotation.published_at = RotationState.PLANNED, None


def class_file(session: LabSession, rotation_id: int) -> str:
    """The question as JSON: as it was asked for the plan, or as it would be asked now where there is none.

    What came as a file is given back letter by letter.
    """
    rotation = get_rotation(session, rotation_id)
    if rotation.class_file is not None:
        return rotation.class_file
    kept = get_plan(session, rotation_id)
    if kept is None or rotation.state == RotationState.DRAFT:
        return write_class_file(plan_question(session, rotation_id))
    return kept.class_file


VISITS_HEAD = (
    "date", "starts", "ends", "starts (UTC)", "ends (UTC)", "group", "plate", "step", "place", "light", "still",
)  # fmt: skip


def visits_file(session: LabSession, rotation_id: int, *, zone: str) -> str:
    """The plan as a table for spreadsheets: a line per visit in the order of time.

    `date`, `starts` and `ends` are the lab's wall clock (`zone`), `date` the day on which the visit starts.
    """
    rotation = get_rotation(session, rotation_id)
    kept = get_plan(session, rotation_id)
    if kept is None or rotation.state == RotationState.DRAFT:
        raise Refusal("There is no plan of the rotation as it stands. Press Plan first.")
    rows = [
        (
            *_wall_clock(visit, zone),
            *(
                f"{instant.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
                for instant in (visit.starts_at, visit.ends_at)
            ),
            visit.group,
            str(visit.pass_no),
            visit.step,
            visit.place,
            visit.light,
            visit.still,
        )
        for visit in list_every_visit(session, kept.id)
    ]
    return write_table(VISITS_HEAD, rows)


def _wall_clock(visit: PlanVisit, zone: str) -> tuple[str, str, str]:
    starts, ends = (instant.astimezone(ZoneInfo(zone)) for instant in (visit.starts_at, visit.ends_at))
    return f"{starts:%Y-%m-%d}", f"{starts:%H:%M:%S}", f"{ends:%H:%M:%S}"
