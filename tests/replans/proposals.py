"""A proposal for tests of other rooms."""

from datetime import datetime

from server.core.planning.replanning import replan_after
from server.data.session import LabSession
from server.replans.actions import keep_proposal, question_about
from server.replans.forms import WhatHappened


def add_proposal(session: LabSession, rotation_id: int, *, now: datetime, zone: str = "Europe/Berlin") -> int:
    """Propose a plan that begins ten minutes late; nobody has decided yet."""
    happened = WhatHappened(what="late 10")
    question = question_about(session, rotation_id, happened, now=now, zone=zone)
    found = replan_after(**question.asked, seconds=0.5, seed=1)
    return keep_proposal(session, rotation_id, question, found, now=now, by="Mira")
