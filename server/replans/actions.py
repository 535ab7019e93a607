"""Asking for a new plan after something went wrong, keeping what is proposed, and taking it or leaving it."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from server.core.moments import NoSuchTime, clock_at, day_at, instant_of
from server.core.planning import Plan, Problem, answer_json, write_class_file
from server.core.planning.mishaps import (
    AbsentGroup,
    DeadStation,
    FailedPlate,
    LateStart,
    Mishap,
    MovedBell,
    PassKey,
    SpilledCharge,
    Unchanged,
)
from server.core.planning.replanning import Replan
from server.core.units import duration_words
from server.data.session import LabSession
from server.people.queries import get_group
from server.refusal import Refusal
from server.replans.forms import WhatHappened
from server.replans.models import MishapKind, Proposal, ProposalState
from server.replans.queries import both_plans, get_proposal
from server.rotations.actions import replace_plan
from server.rotations.models import Rotation
from server.rotations.queries import get_published, lost_plates, read_plan
from server.stations.queries import get_place

MINUTE_S = 60


@dataclass(frozen=True)
class Question:
    """What the planner is asked, and what is kept of it beside the answer."""

    problem: Problem
    plan: Plan
    mishap: Mishap
    now_s: int
    lost: frozenset[PassKey]
    kind: MishapKind
    words: str
    from_at: datetime
    is_typed: bool
    starts_at: datetime

    @property
    def asked(self) -> dict[str, Any]:
        """What crosses over to the planner."""
        return {
            "problem": self.problem,
            "plan": self.plan,
            "mishap": self.mishap,
            "now_s": self.now_s,
            "lost": self.lost,
        }


def question_about(
    session: LabSession, rotation_id: int, happened: WhatHappened, *, now: datetime, zone: str
) -> Question:
    """The published plan and what went wrong with it, from the next whole minute on or from the time that was typed."""
    rotation, kept = get_published(session, rotation_id)
    problem, plan = read_plan(session, kept)
    clock = _Clock(problem, kept.starts_at, zone)
    from_at = clock.typed(happened.at, now) if happened.at else _next_minute(now)
    mishap, words = _Teller(session, rotation, clock, from_at).told(happened)
    return Question(
        problem=problem,
        plan=plan,
        mishap=mishap,
        now_s=clock.second(from_at),
        lost=lost_plates(kept.lost),
        kind=happened.kind,
        words=words,
        from_at=from_at,
        is_typed=happened.at is not None,
        starts_at=kept.starts_at,
    )


def _next_minute(now: datetime) -> datetime:
    """Until a proposal is read and taken, everybody follows the old plan."""
    return now + timedelta(seconds=-now.timestamp() % MINUTE_S)


@dataclass(frozen=True)
class _Clock:
    """A class's seconds and the lab's wall clock."""

    problem: Problem
    starts_at: datetime
    zone: str

    def second(self, instant: datetime) -> int:
        """The second of the class; before it begins, its first."""
        return max(0, round((instant - self.starts_at).total_seconds()))

    def at(self, second: int) -> datetime:
        return self.starts_at + timedelta(seconds=second)

    def typed(self, clock: time, now: datetime) -> datetime:
        """The wall clock on today's day of the class, or on its first day."""
        days = [day_at(self.at(opens), self.zone) for opens, _closes in self.problem.periods]
        today = day_at(now, self.zone)
        found = instant_of(day=today if today in days else days[0], clock=clock, zone=self.zone)
        if isinstance(found, NoSuchTime):
            raise Refusal(found.sentence)
        return found

    def period(self, now_s: int) -> int:
        """The period that is going on, or comes next."""
        for number, (_opens, closes) in enumerate(self.problem.periods):
            if closes > now_s:
                return number
        raise Refusal(
            "The class is over, so there is nothing left to plan. Type an earlier time to look back."
        )

    def last_period_of_day(self, now_s: int) -> int:
        number = self.period(now_s)
        day = day_at(self.at(self.problem.periods[number][0]), self.zone)
        return max(
            index
            for index, (opens, _closes) in enumerate(self.problem.periods)
            if day_at(self.at(opens), self.zone) == day
        )


@dataclass(frozen=True)
class _Teller:
    """Turns what was tapped into what the planner understands, and into words for everybody else."""

    session: LabSession
    rotation: Rotation
    clock: _Clock
    from_at: datetime

    @property
    def now_s(self) -> int:
        return self.clock.second(self.from_at)

    def _words(self, instant: datetime) -> str:
        return clock_at(instant, self.clock.zone)

    def told(self, happened: WhatHappened) -> tuple[Mishap, str]:
        tell = {
            MishapKind.LATE: self._late,
            MishapKind.STATION: self._station,
            MishapKind.PLATE: self._plate,
            MishapKind.ABSENT: self._absent,
            MishapKind.SPILL: self._spill,
            MishapKind.BELL: self._bell,
        }
        return tell[happened.kind](happened)

    def _late(self, happened: WhatHappened) -> tuple[Mishap, str]:
        minutes = happened.number or happened.late_minutes or 0
        late = LateStart(self.clock.period(self.now_s), minutes * MINUTE_S)
        return late, f"The class begins {duration_words(late.by_s)} late."

    def _station(self, happened: WhatHappened) -> tuple[Mishap, str]:
        name = self._place(happened.number or 0)
        since = f"{name} is out of order from {self._words(self.from_at)}"
        if happened.back_at is None:
            return DeadStation(name, self.now_s), f"{since} on."
        back_at = self.clock.typed(happened.back_at, self.from_at)
        return DeadStation(
            name, self.now_s, self.clock.second(back_at)
        ), f"{since} to {self._words(back_at)}."

    def _plate(self, happened: WhatHappened) -> tuple[Mishap, str]:
        group_id, _dash, pass_no = (happened.plate or "").partition("-")
        failed = FailedPlate(self._group(int(group_id)), int(pass_no))
        return failed, f"Plate {failed.pass_no} of {failed.group} failed and is made again."

    def _absent(self, happened: WhatHappened) -> tuple[Mishap, str]:
        name = self._group(happened.absent_group_id or 0)
        if happened.joins_group_id is None:
            return AbsentGroup(name), f"{name} is absent."
        other = self._group(happened.joins_group_id)
        return AbsentGroup(name, other), f"One student of {name} is left and joins {other}."

    def _spill(self, happened: WhatHappened) -> tuple[Mishap, str]:
        name = self._place(happened.number or 0)
        full_at = self.from_at + timedelta(minutes=happened.refill_minutes)
        words = f"{name} is spilled and filled again by {self._words(full_at)}."
        return SpilledCharge((name,), self.clock.second(full_at)), words

    def _bell(self, happened: WhatHappened) -> tuple[Mishap, str]:
        minutes = happened.number or happened.bell_minutes or 0
        bell = MovedBell(self.clock.last_period_of_day(self.now_s), minutes * MINUTE_S)
        when = "later" if minutes > 0 else "earlier"
        return bell, f"The bell comes {duration_words(abs(bell.by_s))} {when}."

    def _place(self, place_id: int) -> str:
        name = get_place(self.session, place_id).name
        if name not in {place.name for place in self.clock.problem.places}:
            raise Refusal(f"{name} is not used in this rotation, so nothing changes. Choose another place.")
        return name

    def _group(self, group_id: int) -> str:
        group = get_group(self.session, group_id)
        making = {one.name for one in self.clock.problem.groups if not one.reserve}
        name = group.name
        if group.section_id != self.rotation.section_id or name not in making:
            raise Refusal(f"{name} makes no plate in this rotation. Choose another group.")
        return name


def keep_proposal(
    session: LabSession,
    rotation_id: int,
    question: Question,
    found: Replan | Unchanged,
    *,
    now: datetime,
    by: str,
) -> int:
    """Keep what the planner proposes beside the plan it would replace, and return its id."""
    if isinstance(found, Unchanged):
        raise Refusal(found.reason)
    proposal = Proposal(
        rotation_id=rotation_id,
        kind=question.kind,
        words=question.words,
        asked_at=now,
        asked_by=by,
        from_at=question.from_at,
        is_typed=question.is_typed,
        starts_at=question.starts_at,
        old_class_file=write_class_file(question.problem),
        old_answer=answer_json(question.plan),
        new_class_file=write_class_file(found.problem),
        new_answer=answer_json(found.plan),
        moved="\n".join(found.moved),
        repeating="\n".join(found.repeating),
        lost="\n".join(f"{pass_no} {group}" for group, pass_no in sorted(found.lost - question.lost)),
        bell_s=found.bell_s,
    )
    session.add(proposal)
    session.flush()  # the page that follows names its id
    return proposal.id


def take(session: LabSession, rotation_id: int, proposal_id: int, *, now: datetime, by: str) -> None:
    """Put the proposed plan in the place of the published one; everything that shows visits follows it from now on."""
    proposal = _open_proposal(session, rotation_id, proposal_id)
    _rotation, kept = get_published(session, rotation_id)
    problem, plan = read_plan(session, kept)
    if (write_class_file(problem), answer_json(plan)) != (proposal.old_class_file, proposal.old_answer):
        raise Refusal(
            "The plan was changed after this was proposed, so it no longer fits. Say once more what happened."
        )
    compared = both_plans(proposal)
    if compared.new.status == "impossible":
        raise Refusal("This proposal has no plan in it. Leave it, and say once more what happened.")
    _refuse_what_is_past(proposal, now)
    lost = lost_plates(kept.lost) | lost_plates(proposal.lost)
    replace_plan(session, rotation_id, compared.new_problem, compared.new, lost=lost, now=now)
    _decide(proposal, ProposalState.TAKEN, now, by)


def _refuse_what_is_past(proposal: Proposal, now: datetime) -> None:
    """A plan made from the clock is good as long as nothing that it changes was to begin since."""
    if proposal.is_typed:
        return
    since, until = (round((one - proposal.starts_at).total_seconds()) for one in (proposal.from_at, now))
    compared = both_plans(proposal)
    both = set(compared.old.visits) & set(compared.new.visits)
    # A class that is late has not followed its old plan.
    told = (
        compared.new.visits
        if proposal.kind == MishapKind.LATE
        else (*compared.old.visits, *compared.new.visits)
    )
    if any(since <= visit.start_s < until for visit in told if visit not in both):
        raise Refusal(
            "What this proposal changes was to begin meanwhile, so it is too late for it. Say once more what happened."
        )


def drop(session: LabSession, rotation_id: int, proposal_id: int, *, now: datetime, by: str) -> None:
    """Leave the published plan as it is."""
    _decide(_open_proposal(session, rotation_id, proposal_id), ProposalState.DROPPED, now, by)


def _open_proposal(session: LabSession, rotation_id: int, proposal_id: int) -> Proposal:
    session.hold(Rotation, rotation_id)
    proposal = get_proposal(session, rotation_id, proposal_id)
    session.refresh(proposal)  # somebody may have decided while this request waited for the row
    if proposal.state != ProposalState.PROPOSED:
        raise Refusal(
            f"This proposal was {proposal.state} already, by {proposal.decided_by}. Say once more what happened."
        )
    return proposal


def _decide(proposal: Proposal, state: ProposalState, now: datetime, by: str) -> None:
    proposal.state, proposal.decided_at, proposal.decided_by = state, now, by
