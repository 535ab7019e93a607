"""Reads of what was proposed for a rotation."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import col, select

from server.core.planning import Plan, Problem, read_answer, read_class_file
from server.data.session import LabSession
from server.refusal import NotFound
from server.replans.models import Proposal


@dataclass(frozen=True)
class Compared:
    """A proposal's two plans, as the planner knows them."""

    old_problem: Problem
    old: Plan
    new_problem: Problem
    new: Plan


def list_proposals(session: LabSession, rotation_id: int) -> Sequence[Proposal]:
    """What was proposed for a rotation, the newest first."""
    return session.exec(
        select(Proposal).where(Proposal.rotation_id == rotation_id).order_by(col(Proposal.id).desc())
    ).all()


def get_proposal(session: LabSession, rotation_id: int, proposal_id: int) -> Proposal:
    proposal = session.get(Proposal, proposal_id)
    if proposal is None or proposal.rotation_id != rotation_id:
        raise NotFound("There is no such proposal for this rotation. Choose one from its page for changes.")
    return proposal


def both_plans(proposal: Proposal) -> Compared:
    return Compared(
        read_class_file(proposal.old_class_file),
        read_answer(proposal.old_answer),
        read_class_file(proposal.new_class_file),
        read_answer(proposal.new_answer),
    )
