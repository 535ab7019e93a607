"""Recording a safety round."""

from datetime import datetime

from server.data.session import LabSession
from server.refusal import Refusal
from server.safety.models import SafetyCheck, SafetyRound


def record_round(
    session: LabSession, *, check_kind: SafetyCheck, in_order: bool, found: str, by: str, now: datetime
) -> SafetyRound:
    """Keep what was found, dated. What was not in order must be said in words."""
    if not in_order and not found:
        raise Refusal("Say what was not in order, so that the next person knows what to put right.")
    kept = SafetyRound(check_kind=check_kind, in_order=in_order, found=found, done_at=now, done_by=by)
    session.add(kept)
    return kept
