"""What the planner answers, and that answer as JSON, written and read back."""

import json
from dataclasses import dataclass
from typing import Literal

Status = Literal["optimal", "feasible", "partial", "impossible"]


@dataclass(frozen=True)
class Visit:
    """One step of one pass (counted from 1) at one place, from ``start_s`` to ``end_s``."""

    group: str
    pass_no: int
    step: str
    place: str
    start_s: int
    end_s: int


@dataclass(frozen=True)
class Unplaced:
    """A pass that found no room in the periods."""

    group: str
    pass_no: int


@dataclass(frozen=True)
class Plan:
    """Who is where and when.

    ``makespan_s`` is the second at which the last visit ends, ``bound_s`` a second before which no plan with as
    many passes can end. ``whiteboard_s`` is the finish of the rounds a careful instructor would write on a
    whiteboard, or None where those rounds do not fit. ``reasons`` are sentences for a person. ``most`` tells whether
    no plan places more passes.
    """

    status: Status
    makespan_s: int
    bound_s: int
    visits: tuple[Visit, ...]
    unplaced: tuple[Unplaced, ...] = ()
    reasons: tuple[str, ...] = ()
    whiteboard_s: int | None = None
    most: bool = True


@dataclass(frozen=True)
class Progress:
    """How far a search has come: the best plan so far, its finish, and a second before which none like it can end."""

    makespan_s: int
    bound_s: int
    plan: Plan


def answer_json(plan: Plan) -> str:
    """Return the plan as the JSON object that ``stillroom plan --json`` prints."""
    return json.dumps(
        {
            "status": plan.status,
            "makespan_s": plan.makespan_s,
            "bound_s": plan.bound_s,
            "visits": [
                {
                    "group": visit.group,
                    "pass": visit.pass_no,
                    "step": visit.step,
                    "place": visit.place,
                    "start_s": visit.start_s,
                    "end_s": visit.end_s,
                }
                for visit in plan.visits
            ],
            "unplaced": [{"group": missing.group, "pass": missing.pass_no} for missing in plan.unplaced],
            "reasons": list(plan.reasons),
            "whiteboard_s": plan.whiteboard_s,
        },
        ensure_ascii=False,
        indent=1,
    )


def read_answer(text: str) -> Plan:
    """Return the plan that `answer_json` has written; KeyError or ValueError for any other text."""
    found = json.loads(text)
    return Plan(
        found["status"],
        found["makespan_s"],
        found["bound_s"],
        tuple(
            Visit(one["group"], one["pass"], one["step"], one["place"], one["start_s"], one["end_s"])
            for one in found["visits"]
        ),
        tuple(Unplaced(one["group"], one["pass"]) for one in found["unplaced"]),
        tuple(found["reasons"]),
        found["whiteboard_s"],
    )
