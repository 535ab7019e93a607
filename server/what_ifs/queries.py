"""Reads of what changes to a rotation would bring."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlmodel import select

from server.core.codes import hashed
from server.core.planning import Change, Outlook, Plan, Problem, changes_of, outlook_of, unchanged
from server.data.session import LabSession
from server.rotations.models import RotationPlan, RotationState
from server.rotations.queries import get_plan, get_rotation, read_plan
from server.what_ifs.models import WhatIfLine, WhatIfSet

# After so long, solves that had 20 s have been broken off: their server was stopped.
BROKEN_OFF = timedelta(seconds=60)


@dataclass(frozen=True)
class Weighed:
    """A rotation's kept plan and the changes to its class. `digest` stands for everything that an answer depends on."""

    kept: RotationPlan
    problem: Problem
    plan: Plan
    talk_s: int
    before: Outlook
    changes: Sequence[Change]
    digest: str

    @property
    def asked(self) -> Sequence[Change]:
        """What is planned: each change, and first the class as it is where a better plan of it may exist."""
        return self.changes if self.before.proven else [unchanged(self.problem), *self.changes]


def find_weighed(session: LabSession, rotation_id: int) -> Weighed | None:
    """The plan of the rotation as it stands, to weigh changes against; None where there is none."""
    rotation = get_rotation(session, rotation_id)
    kept = get_plan(session, rotation_id)
    if kept is None or rotation.state == RotationState.DRAFT:
        return None
    problem, plan = read_plan(session, kept)
    # Whether no more plates fit is not kept with the plan.
    plan = replace(plan, most=not plan.unplaced)
    changes = changes_of(problem, talk_s=rotation.talk_s)
    before = outlook_of(problem, plan)
    told = [str(before), str(rotation.talk_s), kept.class_file, *(change.key for change in changes)]
    return Weighed(kept, problem, plan, rotation.talk_s, before, changes, hashed("\n".join(told)))


def find_set(session: LabSession, rotation_id: int) -> WhatIfSet | None:
    """The newest set that was asked for, whichever plan it belongs to."""
    return session.exec(select(WhatIfSet).where(WhatIfSet.rotation_id == rotation_id)).first()


def map_outlooks(session: LabSession, set_id: int) -> Mapping[str, Outlook]:
    """What was found so far, by the change's key."""
    return {
        line.key: Outlook(line.placed, line.plates, line.makespan_s, line.bound_s, line.most)
        for line in session.exec(select(WhatIfLine).where(WhatIfLine.set_id == set_id)).all()
    }


def is_going_on(asked: WhatIfSet, now: datetime) -> bool:
    return asked.done_at is None and now < asked.asked_at + BROKEN_OFF
