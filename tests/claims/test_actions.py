"""Handing out plates that were left to dry."""

from datetime import timedelta

import pytest

from server.claims.actions import hand_out, put_back
from server.core.rack import Slot
from server.data.session import LabSession
from server.refusal import NotFound, Refusal
from server.runs.actions import leave_to_dry
from server.runs.models import ClaimSlip
from server.runs.queries import list_slips_left, list_slots
from tests.casts import MORNING, Cast
from tests.runs.room import add_rack, fill_room, make_plates


@pytest.fixture
def slips(session: LabSession, cast: Cast) -> list[ClaimSlip]:
    """Three plates in R1, R2 and R3."""
    room, rack = fill_room(session), add_rack(session)
    runs = make_plates(
        session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=[None] * 4
    )
    return [
        leave_to_dry(session, run.id, place_id=rack, slot=number, by="G1", now=MORNING)
        for number, run in enumerate(runs[:3], start=1)
    ]


def test_what_is_handed_out_frees_its_slot_and_keeps_who_did_it(
    session: LabSession, slips: list[ClaimSlip]
) -> None:
    later = MORNING + timedelta(days=1)
    assert hand_out(session, [slips[0].id, slips[2].id], by="Tomas", now=later) == 2

    assert [slip.slot for slip in list_slips_left(session)] == [2]
    assert (slips[0].handed_out_at, slips[0].handed_out_by) == (later, "Tomas")


def test_a_plate_is_handed_out_once(session: LabSession, slips: list[ClaimSlip]) -> None:
    hand_out(session, [slips[0].id], by="Tomas", now=MORNING)
    assert hand_out(session, [slips[0].id], by="Mira", now=MORNING + timedelta(hours=1)) == 0

    assert slips[0].handed_out_by == "Tomas"


def test_nothing_ticked_is_refused_and_a_slip_of_nowhere_too(
    session: LabSession, slips: list[ClaimSlip]
) -> None:
    with pytest.raises(Refusal, match="No plate was ticked"):
        hand_out(session, [], by="Tomas", now=MORNING)
    with pytest.raises(NotFound):
        hand_out(session, [slips[0].id, 999], by="Tomas", now=MORNING)


def test_a_wrong_tick_is_taken_back_while_the_slot_is_free(
    session: LabSession, slips: list[ClaimSlip]
) -> None:
    hand_out(session, [slips[0].id], by="Tomas", now=MORNING)
    put_back(session, slips[0].id)
    assert list_slots(session)[slips[0].run_id] == Slot(1)

    hand_out(session, [slips[0].id], by="Tomas", now=MORNING)
    leave_to_dry(session, slips[2].run_id + 1, place_id=slips[0].place_id, slot=1, by="G1", now=MORNING)
    with pytest.raises(Refusal, match="Slot R1 holds another plate meanwhile"):
        put_back(session, slips[0].id)
