"""What is alive, and what does not add up."""

from datetime import timedelta

import pytest
from sqlmodel import col, update

from server.chemistry.actions import discard_batch
from server.chemistry.models import Batch
from server.chemistry.queries import get_batch, list_live_batches, list_unbalanced
from server.data.session import LabSession
from server.kits.models import STOCK_A, BottleEntry
from server.kits.queries import list_bottles
from server.refusal import NotFound
from tests.casts import MORNING
from tests.chemistry import mixing
from tests.kits import shelf


@pytest.fixture(autouse=True)
def a_kit_on_the_shelf(session: LabSession) -> None:
    shelf.kit(session)


def _mix(session: LabSession, hours_ago: int = 0) -> Batch:
    return mixing.developer(session, 400_000, mixed_at=MORNING - timedelta(hours=hours_ago))


def test_live_batches_come_first_ending_first_without_ended_and_empty_ones(session: LabSession) -> None:
    _mix(session, 6)
    fresh, older = _mix(session), _mix(session, 3)
    discard_batch(session, _mix(session, 1).id, by="Tomas", now=MORNING)

    assert [batch.id for batch in list_live_batches(session, MORNING)] == [older.id, fresh.id]


def test_an_unknown_batch_is_not_found(session: LabSession) -> None:
    with pytest.raises(NotFound):
        get_batch(session, 4711)


def test_planted_errors_are_found_each_with_its_sentence(session: LabSession) -> None:
    batch = _mix(session)
    assert list_unbalanced(session) == []
    session.execute(update(Batch).where(col(Batch.id) == batch.id).values(left_ul=399_000))
    bottle = list_bottles(session, STOCK_A)[0]
    session.execute(
        update(BottleEntry)
        .where(col(BottleEntry.bottle_id) == bottle.id, col(BottleEntry.batch_number) == batch.number)
        .values(change=-190_000)
    )
    session.expire_all()

    assert list_unbalanced(session) == [
        "Batch 1 (working developer) says 399000 µL are left, its ledger adds up to 400000 µL.",
        (
            "Batch 1 (working developer) was mixed as 400000 µL, its ledger says 400000 µL, "
            "and 390000 µL were drawn for it beside 0 µL of water."
        ),
    ]
