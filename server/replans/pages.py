"""What a rotation's page for changes shows, and a proposal."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from server.core.moments import clock_at, day_at, moment_words
from server.core.planning import Plan, Problem
from server.core.planning.mishaps import PassKey
from server.core.planning.replanning import Line, Stay, compared
from server.core.timeline import Drawing
from server.core.units import duration_words, plates_words
from server.data.session import LabSession
from server.people.queries import get_section, list_every_group
from server.replans.forms import WhatHappened
from server.replans.models import MishapKind, Proposal, ProposalState
from server.replans.queries import Compared, both_plans, get_proposal, list_proposals
from server.rotations.models import Rotation
from server.rotations.pages import Pass, VisitLine, timeline_of
from server.rotations.queries import get_published, get_rotation, lost_plates, read_plan, visits_on_clock
from server.stations.models import PlaceKind
from server.stations.queries import list_places
from server.web.submitted import Submitted

Shown = Literal["new", "old"]
STATES = {
    ProposalState.PROPOSED: ("watch", "proposed"),
    ProposalState.TAKEN: ("well", "taken"),
    ProposalState.DROPPED: ("plain", "left"),
}


@dataclass(frozen=True)
class GoingOn:
    group: str
    plate: int
    step: str
    place: str
    until: str


@dataclass(frozen=True)
class HistoryLine:
    """`decided` is empty as long as nobody has."""

    id: int
    words: str
    asked: str
    state: str
    state_words: str
    decided: str


@dataclass(frozen=True)
class ChangePage:
    """`plates` and `groups` are choices: a value for the form, and its words."""

    id: int
    name: str
    section: str
    clock: str
    begun: str
    going_on: Sequence[GoingOn]
    stations: Sequence[tuple[int, str]]
    trays: Sequence[tuple[int, str]]
    plates: Sequence[tuple[str, str]]
    groups: Sequence[tuple[int, str]]
    history: Sequence[HistoryLine]
    form: Submitted[WhatHappened]


@dataclass(frozen=True)
class ChangedLine:
    """One stay of one plate, as it was and as it is now; a dash where there was or is none."""

    group: str
    plate: int
    what: str
    old_place: str
    new_place: str
    old_time: str
    new_time: str


@dataclass(frozen=True)
class ProposalPage:
    """`finish` is empty where there is no plan. `shown` is `new` or `old`: whose drawing and tables stand below.

    `of_what` is the line that every slip carries on paper.
    """

    id: int
    proposal_id: int
    name: str
    section: str
    words: str
    asked: str
    state: str
    state_words: str
    decided: str
    can_take: bool
    is_open: bool
    finish: str
    verdict: str
    finish_state: str
    reasons: Sequence[str]
    left_out: Sequence[str]
    lost: Sequence[str]
    lines: Sequence[ChangedLine]
    others: str
    shown: str
    drawings: Sequence[Drawing]
    passes: Sequence[Pass]
    of_what: str


def change_page(
    session: LabSession,
    rotation_id: int,
    *,
    now: datetime,
    zone: str,
    form: Submitted[WhatHappened] | None = None,
) -> ChangePage:
    rotation, kept = get_published(session, rotation_id)
    problem, plan = read_plan(session, kept)
    clock = _Clock(kept.starts_at, zone, problem)
    now_s = round((now - kept.starts_at).total_seconds())
    named = {place.name for place in problem.places}
    places = [place for place in list_places(session) if place.name in named]
    making = {group.name for group in problem.groups if not group.reserve}
    ids = {
        group.name: group.id
        for group in list_every_group(session, rotation.section_id)
        if group.name in making
    }
    return ChangePage(
        id=rotation.id,
        name=rotation.name,
        section=get_section(session, rotation.section_id).name,
        clock=clock.of(now_s),
        begun=_begun_words(plan, now_s),
        going_on=[
            GoingOn(visit.group, visit.pass_no, visit.step, visit.place, clock.of(visit.end_s))
            for visit in plan.visits
            if visit.start_s <= now_s < visit.end_s
        ],
        stations=[(place.id, place.name) for place in places if place.kind == PlaceKind.STATION],
        trays=[(place.id, place.name) for place in places if place.kind == PlaceKind.TRAY],
        plates=_plates(plan, ids, lost_plates(kept.lost), now_s),
        groups=[(group_id, name) for name, group_id in ids.items()],
        history=[_history_line(one, zone) for one in list_proposals(session, rotation_id)],
        form=form or Submitted(),
    )


@dataclass(frozen=True)
class _Clock:
    """Seconds of a class on the lab's wall clock, with the day where the class spans several."""

    starts_at: datetime
    zone: str
    problem: Problem

    def of(self, second: int, *, exact: bool = False) -> str:
        """Hours and minutes; with the seconds, if there are any, where it must be exact."""
        instant = self.starts_at + timedelta(seconds=second)
        days = {
            day_at(self.starts_at + timedelta(seconds=opens), self.zone)
            for opens, _closes in self.problem.periods
        }
        several = len(days) > 1 or day_at(instant, self.zone) not in days
        words = moment_words(instant, self.zone) if several else clock_at(instant, self.zone)
        return f"{words}:{instant.second:02}" if exact and instant.second else words

    def done_by(self, second: int) -> str:
        """The next whole minute: at the time shown, it is done."""
        return self.of(-(-second // 60) * 60)


def _begun_words(plan: Plan, now_s: int) -> str:
    passes = {(visit.group, visit.pass_no) for visit in plan.visits}
    begun = {(visit.group, visit.pass_no) for visit in plan.visits if visit.start_s < now_s}
    open_still = {(visit.group, visit.pass_no) for visit in plan.visits if visit.end_s > now_s}
    if not begun:
        return f"By the plan none of the {plates_words(len(passes))} has begun."
    done = len(begun - open_still)
    return f"By the plan {len(begun)} of {plates_words(len(passes))} have begun, {done} of them are done."


def _plates(
    plan: Plan, ids: Mapping[str, int], lost: Collection[PassKey], now_s: int
) -> Sequence[tuple[str, str]]:
    """The plates that may fail, for a form: what has begun, the latest first; before the class begins, every one."""
    starts: dict[PassKey, int] = {}
    for visit in plan.visits:
        key = (visit.group, visit.pass_no)
        if visit.group in ids and key not in lost:
            starts[key] = min(visit.start_s, starts.get(key, visit.start_s))
    begun = [key for key, start_s in starts.items() if start_s < now_s]
    return [
        (f"{ids[group]}-{pass_no}", f"{group}, plate {pass_no}")
        for group, pass_no in sorted(begun or starts, key=lambda key: (-starts[key], key))
    ]


def _history_line(proposal: Proposal, zone: str) -> HistoryLine:
    state, words = STATES[ProposalState(proposal.state)]
    return HistoryLine(
        proposal.id, proposal.words, _asked(proposal, zone), state, words, _decided(proposal, zone)
    )


def _asked(proposal: Proposal, zone: str) -> str:
    planned = f", planned anew from {clock_at(proposal.from_at, zone)} on"
    return f"{moment_words(proposal.asked_at, zone)} by {proposal.asked_by}{planned}"


def _decided(proposal: Proposal, zone: str) -> str:
    if proposal.decided_at is None:
        return ""
    return f"{moment_words(proposal.decided_at, zone)} by {proposal.decided_by}"


def proposal_page(
    session: LabSession, rotation_id: int, proposal_id: int, zone: str, *, shown: Shown = "new"
) -> ProposalPage:
    rotation = get_rotation(session, rotation_id)
    proposal = get_proposal(session, rotation_id, proposal_id)
    both = both_plans(proposal)
    state, state_words = STATES[ProposalState(proposal.state)]
    clock = _Clock(proposal.starts_at, zone, both.new_problem)
    problem, plan = (both.new_problem, both.new) if shown == "new" else (both.old_problem, both.old)
    is_open, has_plan = proposal.state == ProposalState.PROPOSED, both.new.status != "impossible"
    reserve = {group.name for group in both.new_problem.groups if group.reserve}
    section = get_section(session, rotation.section_id).name
    drawing = timeline_of(
        problem,
        visits_on_clock(problem, plan, starts_at=proposal.starts_at),
        starts_at=proposal.starts_at,
        zone=zone,
    ).for_screen()
    return ProposalPage(
        id=rotation.id,
        proposal_id=proposal.id,
        name=rotation.name,
        section=section,
        words=proposal.words,
        asked=_asked(proposal, zone),
        state=state,
        state_words=state_words,
        decided=_decided(proposal, zone),
        can_take=is_open and has_plan,
        is_open=is_open,
        finish=clock.done_by(both.new.makespan_s) if has_plan else "",
        verdict=_verdict(proposal, both, rotation) if has_plan else "There is no plan for this.",
        finish_state="well" if not both.new.unplaced else "watch" if has_plan else "stop",
        reasons=both.new.reasons,
        left_out=[
            f"{one.group}, plate {one.pass_no}" for one in both.new.unplaced if one.group not in reserve
        ],
        lost=[f"{group}, plate {pass_no}" for group, pass_no in sorted(lost_plates(proposal.lost))],
        lines=[
            _changed_line(line, clock)
            for line in compared(
                both.old_problem, both.old, both.new_problem, both.new, _told(proposal, both)
            )
        ]
        if has_plan
        else [],
        others=_others(proposal, "Everybody else" if _told(proposal, both) else "Everybody"),
        shown=shown,
        drawings=[] if drawing is None else [drawing],
        passes=_passes(problem, plan, clock),
        of_what=f"{section}: {rotation.name}, {'the plan before' if shown == 'old' else 'proposed'}, {proposal.words}",
    )


def _passes(problem: Problem, plan: Plan, clock: _Clock) -> Sequence[Pass]:
    order = {group.name: number for number, group in enumerate(problem.groups)}
    passes: dict[PassKey, list[VisitLine]] = {}
    for visit in sorted(plan.visits, key=lambda one: (order[one.group], one.pass_no, one.start_s)):
        line = VisitLine(
            visit.group,
            visit.pass_no,
            visit.step,
            visit.place,
            clock.of(visit.start_s, exact=True),
            clock.of(visit.end_s, exact=True),
        )
        passes.setdefault((visit.group, visit.pass_no), []).append(line)
    return [Pass(group, pass_no, lines) for (group, pass_no), lines in passes.items()]


def _given_up(both: Compared) -> list[str]:
    """The groups that make fewer plates than before."""
    now = {group.name: group.passes for group in both.new_problem.groups}
    return [
        group.name
        for group in both.old_problem.groups
        if not group.reserve and now.get(group.name, 0) < group.passes
    ]


def _told(proposal: Proposal, both: Compared) -> set[str]:
    """The groups that have to be told of something."""
    return {*proposal.moved.splitlines(), *proposal.repeating.splitlines(), *_given_up(both)}


def _counted(number: int, one: str, more: str) -> str:
    return f"1 group {one}" if number == 1 else f"{number} groups {more}"


def _verdict(proposal: Proposal, both: Compared, rotation: Rotation) -> str:
    """What a class is told in one sentence."""
    # The finish is shown at the next whole minute, and what is left until the bell is as much shorter.
    left_s = proposal.bell_s - -(-both.new.makespan_s // 60) * 60
    bell = "cleaning up begins" if rotation.clean_up_s else "the bell"
    when = (
        f"{duration_words(left_s)} before {bell}"
        if left_s >= 0
        else f"{duration_words(-left_s)} after {bell}"
    )
    moved, repeating = len(proposal.moved.splitlines()), len(proposal.repeating.splitlines())
    told = _told(proposal, both)
    stayed = sum(not group.reserve and group.name not in told for group in both.new_problem.groups)
    parts = [_counted(moved, "moves", "move")] if moved or not repeating else []
    if repeating:
        parts.append(_counted(repeating, "makes a plate again", "make a plate again"))
    return f"{when}; {', '.join(parts)}, {stayed} {'stays' if stayed == 1 else 'stay'}"


def _others(proposal: Proposal, who: str) -> str:
    """What holds for everybody who is not in the table."""
    if proposal.kind == MishapKind.LATE:
        return f"{who} keeps place and order and begins later by as much as the class does."
    return f"{who} stays: the same places, and times that differ by a minute at most."


def _changed_line(line: Line, clock: _Clock) -> ChangedLine:
    old, new = line.old, line.new
    stay = new or old
    assert stay is not None
    return ChangedLine(
        line.group,
        line.pass_no,
        stay.steps[0] if len(stay.steps) == 1 else f"{stay.steps[0]} to {stay.steps[-1]}",
        old.place if old else "–",
        new.place if new else "–",
        _times(old, clock),
        _times(new, clock),
    )


def _times(stay: Stay | None, clock: _Clock) -> str:
    if stay is None:
        return "–"
    return f"{clock.of(stay.start_s, exact=True)} to {clock.of(stay.end_s, exact=True)}"
