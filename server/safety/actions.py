"""Recording safety rounds, and that what they found was put right."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from server.containers.queries import get_container
from server.data.session import LabSession
from server.refusal import Refusal
from server.safety.models import SafetyCheck, SafetyRound, ShelfFinding, ShelfPoint, WaterFelt
from server.safety.queries import find_round, hold_finding, list_on_shelf

SAY_WHAT = "Say what was not in order, so that the next person knows what to put right."


def record_round(
    session: LabSession, *, check_kind: SafetyCheck, in_order: bool, found: str, by: str, now: datetime
) -> SafetyRound:
    """Keep what was found, dated. What was not in order must be said in words."""
    if not in_order and not found:
        raise Refusal(SAY_WHAT)
    kept = SafetyRound(check_kind=check_kind, in_order=in_order, found=found, done_at=now, done_by=by)
    session.add(kept)
    return kept


def record_eyewash(
    session: LabSession,
    *,
    ran_s: int,
    water_felt: WaterFelt,
    in_order: bool,
    found: str,
    tablet_id: str,
    by: str,
    now: datetime,
) -> SafetyRound:
    """Keep that the eyewash ran, for how many seconds and how warm. The same `tablet_id` again is the same round."""
    entered = find_round(session, tablet_id)
    if entered is not None:
        return entered
    if not in_order and not found:
        raise Refusal(SAY_WHAT)
    if in_order and water_felt is not WaterFelt.TEPID:
        raise Refusal(
            f"{water_felt.capitalize()} water is not in order: nobody holds an eye in it for fifteen minutes. Say so, and have it put right."
        )
    kept = SafetyRound(
        tablet_id=tablet_id, check_kind=SafetyCheck.EYEWASH, in_order=in_order, found=found, ran_s=ran_s,
        water_felt=water_felt, done_at=now, done_by=by,
    )  # fmt: skip
    session.add(kept)
    return kept


def record_shelf_round(
    session: LabSession,
    *,
    looks: Sequence[tuple[int, Mapping[ShelfPoint, str]]],
    note: str,
    tablet_id: str,
    by: str,
    now: datetime,
) -> SafetyRound:
    """Keep a round of the waste shelf: each container with what was found of it, by point; a point without words is in order.

    Every container that stands in the lab must have been looked at. The same `tablet_id` again is the same round.
    """
    entered = find_round(session, tablet_id)
    if entered is not None:
        return entered
    seen = {get_container(session, container_id).id: found for container_id, found in looks}
    missed = [f"“{container.name}”" for container in list_on_shelf(session) if container.id not in seen]
    if missed:
        raise Refusal(
            f"Not looked at: {', '.join(missed)}. It was set out after this page was opened. Load the page again and look at it too."
        )
    in_order = not any(words for found in seen.values() for words in found.values())
    kept = SafetyRound(
        tablet_id=tablet_id, check_kind=SafetyCheck.WASTE_SHELF, in_order=in_order, found=note, done_at=now, done_by=by
    )  # fmt: skip
    session.add(kept)
    session.flush()  # its findings name its id
    session.add_all(
        ShelfFinding(
            safety_round_id=kept.id, container_id=container_id, point=point, found=found.get(point, "")
        )
        for container_id, found in seen.items()
        for point in ShelfPoint
    )
    return kept


def put_right(session: LabSession, finding_id: int, *, how: str, by: str, now: datetime) -> None:
    """Say what was done about a finding. It stays in the records with both."""
    finding = hold_finding(session, finding_id)
    if not finding.found:
        raise Refusal("Nothing was found there, so there is nothing to put right. Choose one of the list.")
    if finding.put_right_at is not None:
        raise Refusal(
            f"{finding.put_right_by} put this right already: {finding.put_right_how}. Nothing was changed."
        )
    finding.put_right_at, finding.put_right_by, finding.put_right_how = now, by, how
