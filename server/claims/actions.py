"""Handing out plates that were left to dry, and taking that back."""

from collections.abc import Collection
from datetime import datetime

from sqlmodel import col, select

from server.core.rack import slot_name
from server.data.session import LabSession
from server.refusal import NotFound, Refusal
from server.runs.models import ClaimSlip
from server.runs.queries import list_slips_left


def _locked(session: LabSession, slip_ids: Collection[int]) -> list[ClaimSlip]:
    """The slips by id; another hand at the same rack waits until the transaction ends."""
    wanted = select(ClaimSlip).where(col(ClaimSlip.id).in_(slip_ids))
    slips = list(session.exec(wanted.order_by(col(ClaimSlip.id)).with_for_update()).all())
    if len(slips) != len(set(slip_ids)):
        raise NotFound("There is no such slip in this lab. Choose one of the list.")
    return slips


def hand_out(session: LabSession, slip_ids: Collection[int], *, by: str, now: datetime) -> int:
    """Give plates to those who came with their slips. Returns how many; one that is gone already stays as it was noted."""
    if not slip_ids:
        raise Refusal("No plate was ticked. Tick those that you handed out.")
    given = [slip for slip in _locked(session, slip_ids) if slip.handed_out_at is None]
    for slip in given:
        slip.handed_out_at, slip.handed_out_by = now, by
    return len(given)


def put_back(session: LabSession, slip_id: int) -> ClaimSlip:
    """Take back a tick: the plate stands in its slot after all."""
    slip = _locked(session, [slip_id])[0]
    if slip.handed_out_at is None:
        return slip
    if any((one.place_id, one.slot) == (slip.place_id, slip.slot) for one in list_slips_left(session)):
        raise Refusal(
            f"Slot {slot_name(slip.slot)} holds another plate meanwhile. Hand that one out first, or leave this tick."
        )
    slip.handed_out_at, slip.handed_out_by = None, ""
    return slip
