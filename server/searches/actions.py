"""Searching for a plan: ask, keep what is better, stop, end."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col, delete

from server.core.planning import Plan, Problem, Progress, write_class_file
from server.data.session import LabSession
from server.refusal import Refusal
from server.rotations.actions import SEED, keep_plan, plan_question, publish, raise_bound
from server.rotations.models import Rotation
from server.rotations.queries import get_plan, get_rotation, read_plan
from server.searches.models import PlanSearch, SearchState
from server.searches.queries import GOING, LOST, find_going, find_search, is_lost

CHANGED = "The rotation or the room was changed during the search, so the search was ended. Press Plan to plan it as it stands now."


@dataclass(frozen=True)
class Asked:
    """A search to be begun: its id, its question, and what the planner is given.

    `start` and `known_bound_s` come from an earlier search of the same question, so that a second one never falls behind it.
    """

    search_id: int
    rotation_id: int
    problem: Problem
    seconds: float
    seed: int
    start: Plan | None
    known_bound_s: int


def ask_search(
    session: LabSession, rotation_id: int, *, seconds: float, by: str, now: datetime
) -> Asked | None:
    """A search of the rotation as it stands; None where one is going on already, which the asker then watches too."""
    session.hold(Rotation, rotation_id)
    problem = plan_question(session, rotation_id)
    asked = write_class_file(problem)
    last = find_search(session, rotation_id)
    if last is not None and last.state in GOING:
        if not is_lost(last, now) and last.class_file == asked:
            return None
        _end(last, SearchState.FAILED, LOST if is_lost(last, now) else CHANGED, now)
    search = PlanSearch(
        rotation_id=rotation_id,
        seconds=seconds,
        seed=SEED,
        class_file=asked,
        asked_by=by,
        asked_at=now,
        heard_at=now,
    )
    session.add(search)
    session.flush()  # its id is handed to the process that works on it
    kept = get_plan(session, rotation_id)
    start = None if kept is None or kept.class_file != asked else read_plan(session, kept)[1]
    known_bound_s = 0 if start is None or start.unplaced else start.bound_s
    return Asked(search.id, rotation_id, problem, seconds, SEED, start, known_bound_s)


def _hold(session: LabSession, asked: Asked) -> PlanSearch | None:
    """The search, if it is still wanted. Whoever writes about a rotation holds the rotation first."""
    session.hold(Rotation, asked.rotation_id)
    search = session.hold(PlanSearch, asked.search_id)
    return search if search is not None and search.state in GOING else None


def hear_of_search(
    session: LabSession, asked: Asked, news: Progress | None, *, is_new: bool, has_begun: bool, now: datetime
) -> None:
    """Note that the search goes on; keep its plan where it `is_new`, and its bound."""
    search = _hold(session, asked)
    if search is None:
        return
    if write_class_file(plan_question(session, asked.rotation_id)) != search.class_file:
        raise Refusal(CHANGED)
    search.heard_at = now
    if has_begun and search.state == SearchState.WAITING:
        search.state, search.began_at = SearchState.WORKING, now
    if news is not None and is_new:
        keep_plan(session, asked.rotation_id, asked.problem, news.plan, seed=asked.seed, now=now)
        search.has_found = True
    elif news is not None:
        raise_bound(session, asked.rotation_id, news.bound_s)


def end_search(
    session: LabSession,
    asked: Asked,
    best: Progress | None,
    *,
    state: SearchState,
    sentence: str,
    now: datetime,
) -> None:
    """Keep the last plan and say how the search ended."""
    search = _hold(session, asked)
    if search is None:
        return
    if best is not None:
        keep_plan(session, asked.rotation_id, asked.problem, best.plan, seed=asked.seed, now=now)
        search.has_found = True
    _end(search, state, sentence, now)


def _end(search: PlanSearch, state: SearchState, sentence: str, now: datetime) -> None:
    search.state, search.sentence, search.ended_at = state, sentence, now


def ask_to_stop(session: LabSession, rotation_id: int, *, now: datetime) -> None:
    """Have the search end, wherever it runs; the best plan so far stays."""
    session.hold(Rotation, get_rotation(session, rotation_id).id)
    search = find_going(session, rotation_id, now)
    if search is not None:
        search.stop_asked = True


def forget_searches(session: LabSession, rotation_id: int) -> None:
    """Take away what is known of a rotation's searches; one that is going on ends."""
    session.exec(delete(PlanSearch).where(col(PlanSearch.rotation_id) == rotation_id))


def publish_planned(session: LabSession, rotation_id: int, *, now: datetime) -> None:
    """Make the plan the section's, once nothing is going to change it any more."""
    session.hold(Rotation, rotation_id)
    if find_going(session, rotation_id, now) is not None:
        raise Refusal(
            "The planner is still searching for a better plan, so what you see may change. Press “Stop and keep” or wait until it ends, then publish."
        )
    publish(session, rotation_id, now=now)
