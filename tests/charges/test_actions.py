"""Pouring, counting plates, emptying; and that nothing appears or vanishes on the way from bottle to tray."""

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.charges.actions import count_plate_through, empty_charge, pour_charge
from server.charges.models import Charge
from server.charges.queries import list_charges, list_charges_of_batch
from server.charges.queries import list_unbalanced as list_unbalanced_charges
from server.chemistry.actions import correct_batch, discard_batch
from server.chemistry.models import Batch, BatchEntryKind
from server.chemistry.queries import list_batch_entries, list_batches, list_unbalanced
from server.data.session import Database, LabSession
from server.kits.models import BLEACH, PROPOSED, STOCK_A
from server.kits.queries import list_bottles
from server.kits.queries import list_unbalanced as list_unbalanced_stock
from server.recipes.models import Solution
from server.refusal import NotFound, Refusal
from server.stations.actions import add_tray_line
from server.stations.models import Bath
from server.stations.queries import list_trays
from tests.casts import MORNING, Cast
from tests.chemistry import mixing
from tests.kits import shelf


def _tray(session: LabSession, bath: Bath) -> int:
    return list_trays(session, bath)[0].id


def _pour(session: LabSession, batch: Batch, bath: Bath = Bath.DEVELOPER, volume_ul: int = 200_000) -> Charge:
    place_id = _tray(session, bath)
    return pour_charge(
        session, batch_id=batch.id, place_id=place_id, volume_ul=volume_ul, by="Tomas", now=MORNING
    )


@pytest.fixture(autouse=True)
def shelf_and_trays(request: pytest.FixtureRequest) -> None:
    if "session" in request.fixturenames:
        session = request.getfixturevalue("session")
        shelf.kit(session)
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)


def test_a_charge_takes_plates_in_proportion_and_ends_with_its_batch(session: LabSession) -> None:
    batch = mixing.developer(session)
    charge = _pour(session, batch, volume_ul=150_000)

    assert charge.plates_at_most == 9
    assert batch.left_ul == 450_000
    entry = list_batch_entries(session, batch.id)[-1]
    assert (entry.kind, entry.change_ul, entry.charge_id) == ("charged", -150_000, charge.id)


def test_an_ended_batch_is_not_poured(session: LabSession) -> None:
    batch = mixing.developer(session)

    with pytest.raises(Refusal, match="Batch 1 ended Tue 16 Feb 2027, 14:00"):
        pour_charge(
            session, batch_id=batch.id, place_id=_tray(session, Bath.DEVELOPER), volume_ul=200_000, by="Tomas",
            now=batch.ends_at,
        )  # fmt: skip


def test_a_tray_takes_its_own_solution_only(session: LabSession) -> None:
    developer, bleach = mixing.developer(session), mixing.bleach(session)

    for batch, bath in [
        (developer, Bath.BLEACH),
        (developer, Bath.RINSE),
        (bleach, Bath.DEVELOPER),
        (bleach, Bath.WASH),
    ]:
        with pytest.raises(Refusal, match="Choose a tray that is"):
            _pour(session, batch, bath)
    assert _pour(session, bleach, Bath.BLEACH).place_id == _tray(session, Bath.BLEACH)


def test_a_tray_is_filled_once_and_again_when_it_was_emptied(session: LabSession) -> None:
    """Topping up would hide the age of what stands in the tray."""
    batch = mixing.developer(session)
    first = _pour(session, batch)
    with pytest.raises(Refusal, match="still holds a charge of batch 1"):
        _pour(session, batch)
    empty_charge(session, first.id, now=MORNING)

    assert _pour(session, batch).id != first.id
    with pytest.raises(Refusal, match="emptied already"):
        empty_charge(session, first.id, now=MORNING)


def test_a_late_note_counts_a_plate_through_a_charge_that_was_emptied_since(session: LabSession) -> None:
    charge = _pour(session, mixing.developer(session))
    empty_charge(session, charge.id, now=MORNING + timedelta(minutes=30))
    count_plate_through(session, charge.id, now=MORNING + timedelta(minutes=20))

    assert charge.plates == 1
    with pytest.raises(Refusal, match="emptied already"):
        count_plate_through(session, charge.id, now=MORNING + timedelta(minutes=40))


def test_more_than_is_left_and_too_little_for_a_plate_are_refused(session: LabSession) -> None:
    batch = mixing.developer(session, 100_000)

    with pytest.raises(Refusal, match="has 100 mL left, not 200 mL"):
        _pour(session, batch)
    with pytest.raises(Refusal, match="serve no plate"):
        _pour(session, batch, volume_ul=16_000)


def test_plates_are_counted_through_developer_and_the_bleach_beside_it(session: LabSession) -> None:
    developer = _pour(session, mixing.developer(session))
    bleach = _pour(session, mixing.bleach(session), Bath.BLEACH)
    count_plate_through(session, developer.id, now=MORNING)
    count_plate_through(session, developer.id, now=MORNING)

    assert (developer.plates, bleach.plates) == (2, 2)


def test_the_bleach_of_another_tray_line_is_not_counted(session: LabSession) -> None:
    add_tray_line(session, name="line 2", capacity=3, light_zone_id=None, still_zone_id=None)
    developer = _pour(session, mixing.developer(session))
    other = list_trays(session, Bath.BLEACH)[1]
    bleach = pour_charge(
        session,
        batch_id=mixing.bleach(session).id,
        place_id=other.id,
        volume_ul=200_000,
        by="Tomas",
        now=MORNING,
    )
    count_plate_through(session, developer.id, now=MORNING)

    assert bleach.plates == 0


def test_a_used_up_ended_or_emptied_charge_takes_no_plate(session: LabSession) -> None:
    charge = _pour(session, mixing.developer(session), volume_ul=50_000)
    for _plate in range(3):
        count_plate_through(session, charge.id, now=MORNING)

    with pytest.raises(Refusal, match="has had its 3 plates"):
        count_plate_through(session, charge.id, now=MORNING)
    with pytest.raises(Refusal, match="Batch 1 ended Tue 16 Feb 2027, 14:00"):
        count_plate_through(session, charge.id, now=MORNING + timedelta(hours=6))
    empty_charge(session, charge.id, now=MORNING)
    with pytest.raises(Refusal, match="emptied already"):
        count_plate_through(session, charge.id, now=MORNING)
    assert charge.plates == 3


def test_the_other_labs_charge_is_not_here(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        shelf.kit(session)
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
        batch = mixing.developer(session)
        charge = _pour(session, batch)
    with database.writing(cast.other_lab_id) as session:
        with pytest.raises(NotFound):
            empty_charge(session, charge.id, now=MORNING)
        with pytest.raises(NotFound):
            count_plate_through(session, charge.id, now=MORNING)


STEP = st.tuples(
    st.sampled_from(["mix", "bleach", "charge", "empty", "plate", "discard", "measure"]),
    st.integers(0, 500_000),
)


def _do(session: LabSession, step: str, size: int) -> None:
    batches, charges = list_batches(session), list_charges(session)
    batch = batches[size % len(batches)] if batches else None
    charge = charges[size % len(charges)][0] if charges else None
    if step == "mix" and list_bottles(session, STOCK_A):
        mixing.developer(session, size)
    elif step == "bleach" and list_bottles(session, BLEACH):
        mixing.bleach(session, size)
    elif step == "charge" and batch:
        _pour(session, batch, Bath.DEVELOPER if batch.solution == Solution.DEVELOPER else Bath.BLEACH, size)
    elif step == "empty" and charge:
        empty_charge(session, charge.id, now=MORNING)
    elif step == "plate" and charge:
        count_plate_through(session, charge.id, now=MORNING)
    elif step == "discard" and batch:
        discard_batch(session, batch.id, by="Tomas", now=MORNING)
    elif step == "measure" and batch:
        correct_batch(session, batch.id, measured_ul=size, reason="measured", by="Tomas", now=MORNING)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, max_size=16))
def test_what_was_mixed_is_in_charges_left_discarded_or_corrected(
    database: Database, cast: Cast, steps: list[tuple[str, int]]
) -> None:
    with database.writing(cast.lab_id) as session:
        shelf.kit(session)
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
        for step, size in steps:
            savepoint = session.begin_nested()
            try:
                _do(session, step, size)
                savepoint.commit()
            except Refusal:
                savepoint.rollback()

        drawn = 2_500_000 - sum(
            bottle.left for substance in PROPOSED for bottle in list_bottles(session, substance)
        )
        assert drawn == sum(batch.volume_ul for batch in list_batches(session))
        for batch in list_batches(session):
            changes = dict.fromkeys(BatchEntryKind, 0)
            for entry in list_batch_entries(session, batch.id):
                changes[BatchEntryKind(entry.kind)] += entry.change_ul
            in_charges = sum(charge.volume_ul for charge, _tray in list_charges_of_batch(session, batch.id))
            discarded, corrected = -changes[BatchEntryKind.DISCARDED], -changes[BatchEntryKind.CORRECTION]

            assert batch.volume_ul == in_charges + batch.left_ul + discarded + corrected
            assert batch.left_ul >= 0
        assert all(
            charge.plates <= charge.plates_at_most
            for charge, batch, _tray in list_charges(session)
            if batch.solution == Solution.DEVELOPER
        )
        assert (
            list_unbalanced(session)
            == list_unbalanced_stock(session)
            == list_unbalanced_charges(session)
            == []
        )
        session.rollback()
