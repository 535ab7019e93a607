"""What the pages about activities and roles show."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from urllib.parse import urlencode

from server.activities.forms import AskedActivity, UsualPlace
from server.activities.models import LabActivity
from server.activities.queries import Kept, find_kept, get_activity, list_activities, list_offered
from server.core.agenda import Doing, agenda
from server.core.filling import WORTH_S, Activity, Busy, Filled, Filling, fill
from server.core.moments import day_at, exact_clock_at
from server.core.role_sheet import DutyLine, duty_lines
from server.core.roles import Duties, Missed, Role, RoleShare, roles_of_steps, share_roles
from server.core.units import duration_words
from server.data.session import LabSession
from server.people.queries import get_section
from server.roles.queries import Classmate
from server.rotations.models import Rotation, RotationState
from server.rotations.queries import get_rotation, list_out_of_plates
from server.stations.queries import list_light_zones, list_still_zones
from server.web.submitted import Submitted

Options = Sequence[tuple[int, str]]
ELSEWHERE = "elsewhere"
LIGHT_WORDS = {"lit": "white light", "dark": "the dark", "any": "any light"}
STILL_WORDS = {"moves": "people walk", "still": "must be still", "any": "people sit"}
WHY_WORDS = {
    "plates": "the group makes too few plates",
    "away": "away",
    "lit": "keeps to the light",
}


@dataclass(frozen=True)
class ActivityLine:
    """One activity in words."""

    id: int
    name: str
    minutes: str
    is_assumed: bool
    how_often: str
    at_once: str
    where: str
    needs: str


@dataclass(frozen=True)
class ActivitiesPage:
    activities: Sequence[ActivityLine]
    light_zones: Options
    still_zones: Options
    form: Submitted[AskedActivity]
    usual_form: Submitted[UsualPlace]


@dataclass(frozen=True)
class ActivityPage:
    """`activity` is what is kept, with its minutes beside it."""

    id: int
    activity: LabActivity
    shortest_min: int
    longest_min: int
    light_zones: Options
    still_zones: Options
    form: Submitted[AskedActivity]


@dataclass(frozen=True)
class PlateLine:
    """Who holds which role for one plate; `holders` are in the order of the roles, empty where nobody does."""

    group: str
    plate: int
    starts: str
    ends: str
    holders: Sequence[str]


@dataclass(frozen=True)
class MissedLine:
    code: str
    name: str
    roles: str
    why: str


@dataclass(frozen=True)
class ClassmateLine:
    """`away` and `lit` are "kept" where the section's pages say so, "tried" where this page's address does, and else empty."""

    code: str
    name: str
    away: str
    lit: str


@dataclass(frozen=True)
class ClockLine:
    """One line of somebody's day; `who` is a role, everybody, or empty beside the plates."""

    starts: str
    ends: str
    who: str
    what: str
    where: str


@dataclass(frozen=True)
class Card:
    """The day of one group, or of one student (a code); `name` is for staff on a screen only."""

    title: str
    name: str
    lines: Sequence[ClockLine]


@dataclass(frozen=True)
class WaitLine:
    group: str
    before: str
    after: str
    activities: int


@dataclass(frozen=True)
class Waits:
    """What waiting is left: the number the page is about, a sentence, and how it was found."""

    left: str
    sentence: str
    lines: Sequence[WaitLine]
    inputs: Sequence[str]


@dataclass(frozen=True)
class RolesPage:
    """`waits` is None until a plate is planned. `chosen` is the choice of who is away or keeps to the light, for an address."""

    id: int
    name: str
    section_id: int
    section: str
    is_stale: bool
    is_published: bool
    roles: Sequence[str]
    plates: Sequence[PlateLine]
    missed: Sequence[MissedLine]
    alone: Sequence[str]
    classmates: Sequence[ClassmateLine]
    waits: Waits | None
    groups: Sequence[Card]
    students: Sequence[Card]
    has_activities: bool
    chosen: str


@dataclass(frozen=True)
class _Day:
    """Seconds of the plan on the lab's wall clock; with the day where there are several."""

    starts_at: datetime
    zone: str
    several: bool

    def clock(self, second: int) -> str:
        instant = self.starts_at + timedelta(seconds=second)
        words = exact_clock_at(instant, self.zone)
        day = day_at(instant, self.zone)
        return f"{day:%a} {day.day} {day:%b}, {words}" if self.several else words

    def clocks(self, start_s: int, end_s: int) -> tuple[str, str]:
        return self.clock(start_s), self.clock(end_s)


def _minutes(shortest_s: int, longest_s: int) -> str:
    shortest, longest = shortest_s // 60, longest_s // 60
    return f"{shortest} min" if shortest == longest else f"{shortest} to {longest} min"


def activities_page(
    session: LabSession,
    form: Submitted[AskedActivity] | None = None,
    usual_form: Submitted[UsualPlace] | None = None,
) -> ActivitiesPage:
    light = {zone.id: zone.name for zone in list_light_zones(session)}
    still = {zone.id: zone.name for zone in list_still_zones(session)}
    return ActivitiesPage(
        [_activity_line(one, light, still) for one in list_activities(session)],
        list(light.items()),
        list(still.items()),
        form or Submitted(),
        usual_form or Submitted(),
    )


def _activity_line(one: LabActivity, light: dict[int, str], still: dict[int, str]) -> ActivityLine:
    zones = [light.get(one.light_zone_id or 0), still.get(one.still_zone_id or 0)]
    often = "as often as there is time" if one.repeatable else "once"
    return ActivityLine(
        one.id,
        one.name,
        _minutes(one.shortest_s, one.longest_s),
        one.is_assumed,
        f"{often}, before all others" if one.opens else often,
        "any number" if one.at_once is None else str(one.at_once),
        ", ".join(zone for zone in zones if zone) or ELSEWHERE,
        f"{LIGHT_WORDS[one.light]}, {STILL_WORDS[one.still]}",
    )


def activity_page(
    session: LabSession, activity_id: int, form: Submitted[AskedActivity] | None = None
) -> ActivityPage:
    activity = get_activity(session, activity_id)
    return ActivityPage(
        activity.id,
        activity,
        activity.shortest_s // 60,
        activity.longest_s // 60,
        [(zone.id, zone.name) for zone in list_light_zones(session)],
        [(zone.id, zone.name) for zone in list_still_zones(session)],
        form or Submitted(),
    )


@dataclass(frozen=True)
class _Class:
    """One rotation's plan with its roles and activities; `common` is what the whole class does, by its second."""

    kept: Kept
    share: RoleShare
    lit: frozenset[str]
    offered: Sequence[Activity]
    filling: Filling
    day: _Day
    common: Sequence[tuple[int, ClockLine]]


def roles_page(
    session: LabSession, rotation_id: int, zone: str, *, away: Iterable[str] = (), lit: Iterable[str] = ()
) -> RolesPage:
    """Who does what, computed from the kept plan, from who is written down as away on its day and who keeps to the light.

    `away` and `lit` are the codes of more who are tried on this page; those that nobody has are left out.
    """
    rotation = get_rotation(session, rotation_id)
    kept = find_kept(session, rotation)
    mates = kept.classmates if kept is not None else ()
    kept_away, kept_lit = (kept.away, kept.lit) if kept is not None else (frozenset(), frozenset())
    tried_away = frozenset(one.code for one in mates) & frozenset(away) - kept_away
    tried_lit = frozenset(one.code for one in mates) & frozenset(lit) - kept_lit
    gone, in_the_light = kept_away | tried_away, kept_lit | tried_lit
    found = _class(session, rotation, kept, gone, in_the_light, zone) if kept is not None else None
    names = {one.code: one.name for one in mates}
    return RolesPage(
        id=rotation.id,
        name=rotation.name,
        section_id=rotation.section_id,
        section=get_section(session, rotation.section_id).name,
        is_stale=rotation.state == RotationState.DRAFT and kept is not None,
        is_published=rotation.state == RotationState.PUBLISHED,
        roles=[role.value for role in Role],
        plates=[_plate_line(duty, found) for duty in found.share.duties] if found else [],
        missed=[_missed_line(one, names) for one in found.share.missed] if found else [],
        alone=found.share.alone if found else (),
        classmates=[
            ClassmateLine(
                one.code,
                one.name,
                _how_known(one.code, kept_away, tried_away),
                _how_known(one.code, kept_lit, tried_lit),
            )
            for one in mates
        ],
        waits=_waits(found, rotation) if found else None,
        groups=[_group_card(group, found) for group in found.kept.groups] if found else [],
        students=[_student_card(one, found) for one in mates if one.code not in gone] if found else [],
        has_activities=bool(list_activities(session)),
        chosen=_chosen(tried_away, tried_lit),
    )


def _how_known(code: str, kept: frozenset[str], tried: frozenset[str]) -> str:
    return "kept" if code in kept else "tried" if code in tried else ""


def role_sheet_page(
    session: LabSession, rotation_id: int, zone: str, *, away: Iterable[str] = (), lit: Iterable[str] = ()
) -> RolesPage:
    """The same for paper, which everybody reads: codes only."""
    page = roles_page(session, rotation_id, zone, away=away, lit=lit)
    return replace(page, students=[replace(card, name="") for card in page.students])


def _class(
    session: LabSession,
    rotation: Rotation,
    kept: Kept,
    away: frozenset[str],
    lit: frozenset[str],
    zone: str,
) -> _Class:
    offered = list_offered(session, opening=not rotation.talk_s)
    filling = fill(
        kept.groups, spans=kept.spans, busy=kept.busy, activities=offered, afterglow_s=_afterglow(kept)
    )
    day = _day(kept, zone)
    share = share_roles(kept.members, away=away, lit=lit)
    return _Class(kept, share, lit, offered, filling, day, _common(session, rotation, day))


def _chosen(away: frozenset[str], lit: frozenset[str]) -> str:
    chosen = [("away", code) for code in sorted(away)] + [("lit", code) for code in sorted(lit)]
    return f"?{urlencode(chosen)}" if chosen else ""


def _afterglow(kept: Kept) -> dict[str, int]:
    return {zone.name: zone.afterglow_s for zone in kept.problem.light_zones}


def _day(kept: Kept, zone: str) -> _Day:
    days = {
        day_at(kept.starts_at + timedelta(seconds=opens), zone) for opens, _closes in kept.problem.periods
    }
    return _Day(kept.starts_at, zone, len(days) > 1)


def _plate_line(duty: Duties, found: _Class) -> PlateLine:
    visits = [one for one in found.kept.busy if (one.group, one.pass_no) == (duty.group, duty.pass_no)]
    starts, ends = found.day.clocks(min(one.start_s for one in visits), max(one.end_s for one in visits))
    return PlateLine(duty.group, duty.pass_no, starts, ends, [duty.holder(role) or "" for role in Role])


def _missed_line(one: Missed, names: dict[str, str]) -> MissedLine:
    return MissedLine(
        one.student,
        names[one.student],
        ", ".join(role.value for role in one.roles),
        WHY_WORDS[one.why],
    )


def _waits(found: _Class, rotation: Rotation) -> Waits:
    kept, filling = found.kept, found.filling
    done = [one.group for one in filling.filled]
    groups = "1 group waits" if len(kept.groups) == 1 else f"{len(kept.groups)} groups wait"
    before, after = duration_words(filling.before_s), duration_words(filling.after_s)
    last_span, last_period = kept.spans[-1], kept.problem.periods[-1]
    return Waits(
        left=after,
        sentence=f"{groups} {before} in all without activities and {after} with them.",
        lines=[
            WaitLine(
                one.group, duration_words(one.before_s), duration_words(one.after_s), done.count(one.group)
            )
            for one in filling.waiting
        ],
        inputs=[
            (
                "Counted from each period's start to the end of the class's work in it, less what a group attends and without breaks; "
                f"the last work ends at {found.day.clock(last_span[1])}, and {duration_words(last_period[1] - last_span[1])} are spare after it."
            ),
            (
                "An activity is given where its light and stillness disturb no plate, where it has room for one more group, and where "
                "it lasts its shortest time; who waits longest chooses first, and what was not done yet comes before repeats. "
                "Beginning another activity must save a minute at least (assumed)."
            ),
            *(
                ["The talk for everybody opens the class, so activities that open are left out."]
                if rotation.talk_s
                else []
            ),
        ],
    )


def _common(session: LabSession, rotation: Rotation, day: _Day) -> list[tuple[int, ClockLine]]:
    """What the whole class does while no plate is made: the talk, the breaks and the clean-up."""
    found = []
    for one in list_out_of_plates(session, rotation):
        start_s, end_s = (
            round((instant - day.starts_at).total_seconds()) for instant in (one.starts_at, one.ends_at)
        )
        found.append((start_s, ClockLine(*day.clocks(start_s, end_s), "everybody", one.what, "")))
    return found


def _in_order(
    lines: Iterable[tuple[int, ClockLine]], common: Iterable[tuple[int, ClockLine]]
) -> list[ClockLine]:
    return [line for _second, line in sorted([*lines, *common], key=lambda found: found[0])]


def _group_card(group: str, found: _Class) -> Card:
    doings = agenda(group, spans=found.kept.spans, busy=found.kept.busy, filled=found.filling.filled)
    several = len({one.pass_no for one in doings if one.kind == "visit"}) > 1
    lines = [
        (stay[0].start_s, _stay_line(stay, found.day, several=several))
        for stay in _stays(doings)
        if _worth_saying(stay[0])
    ]
    return Card(group, "", _in_order(lines, found.common))


def _stays(doings: Sequence[Doing]) -> list[list[Doing]]:
    """Steps that follow on each other at one place, together."""
    found: list[list[Doing]] = []
    for one in doings:
        last = found[-1][-1] if found else None
        if (
            last is not None
            and one.kind == last.kind == "visit"
            and (one.place, one.pass_no, one.start_s) == (last.place, last.pass_no, last.end_s)
        ):
            found[-1].append(one)
        else:
            found.append([one])
    return found


def _worth_saying(one: Doing | DutyLine) -> bool:
    """A wait of less than a minute is counted, but it is no line of anybody's sheet."""
    return one.kind != "waiting" or one.end_s - one.start_s >= WORTH_S


def _stay_line(stay: Sequence[Doing], day: _Day, *, several: bool) -> ClockLine:
    first = stay[0]
    what = ", ".join(one.what for one in stay) if first.kind != "waiting" else "wait"
    who = f"plate {first.pass_no}" if several and first.kind == "visit" else ""
    return ClockLine(*day.clocks(first.start_s, stay[-1].end_s), who, what, first.place)


def _student_card(mate: Classmate, found: _Class) -> Card:
    kept = found.kept
    duties = [one for one in found.share.duties if one.group == mate.group]
    in_the_light = mate.code in found.lit
    doings = (
        _in_the_light(mate, found)
        if in_the_light
        else agenda(mate.group, spans=kept.spans, busy=kept.busy, filled=found.filling.filled)
    )
    lines = duty_lines(
        mate.code,
        duties=duties,
        busy=[one for one in kept.busy if one.group == mate.group],
        whose=_whose(kept, mate.group),
        doings=doings,
        keeps_to_the_light=in_the_light,
    )
    told = [
        (one.start_s, _duty_line(one, found.day, several=len(duties) > 1))
        for one in lines
        if _worth_saying(one)
    ]
    return Card(mate.code, mate.name, _in_order(told, found.common))


def _whose(kept: Kept, group: str) -> dict[tuple[int, str], Role | None]:
    found: dict[tuple[int, str], Role | None] = {}
    for asked in kept.problem.groups:
        for pass_no in range(1, asked.passes + 1) if asked.name == group else ():
            steps = kept.problem.steps_of(asked, pass_no)
            for step, role in zip(steps, roles_of_steps(steps), strict=True):
                found[pass_no, step.name] = role
    return found


def _in_the_light(mate: Classmate, found: _Class) -> tuple[Doing, ...]:
    """What a student does who keeps to the light: the group's activities, and others of their own while it is in the dark.

    Only activities that any number can do are chosen for one student, and none that the group does already.
    """
    kept, by_name = found.kept, {one.name: one for one in found.offered}
    mine = [
        one
        for one in found.filling.filled
        if one.group == mate.group and by_name[one.activity].light != "dark"
    ]
    around = [_as_busy(one, by_name[one.activity]) for one in found.filling.filled]
    own = [
        Busy(mate.code, one.start_s, one.end_s)
        for one in (*kept.busy, *around)
        if one.group == mate.group and one.attended and one.light != "dark"
    ]
    taken = {one.activity for one in mine}
    alone = [
        one
        for one in found.offered
        if one.at_once is None and one.light != "dark" and (one.repeatable or one.name not in taken)
    ]
    more = fill(
        [mate.code],
        spans=kept.spans,
        busy=[*kept.busy, *around, *own],
        activities=alone,
        afterglow_s=_afterglow(kept),
    )
    filled = [*more.filled, *(Filled(mate.code, one.activity, one.start_s, one.end_s) for one in mine)]
    return agenda(mate.code, spans=kept.spans, busy=own, filled=filled)


def _as_busy(one: Filled, activity: Activity) -> Busy:
    return Busy(
        one.group,
        one.start_s,
        one.end_s,
        activity.light,
        activity.still,
        activity.light_zone,
        activity.still_zone,
    )


def _duty_line(line: DutyLine, day: _Day, *, several: bool) -> ClockLine:
    who = line.role.value if line.role is not None else "everybody" if line.kind == "visit" else ""
    plate = f", plate {line.pass_no}" if several and line.pass_no else ""
    what = "wait" if line.kind == "waiting" else f"{line.what}{plate}"
    return ClockLine(*day.clocks(line.start_s, line.end_s), who, what, line.place)
