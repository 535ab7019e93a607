"""Mixing, pouring, counting plates, discarding."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.chemistry.actions import (
    correct_batch,
    count_plate_through,
    discard_batch,
    empty_charge,
    mix_bleach,
    mix_developer,
    pour_charge,
    set_usual_quantities,
)
from server.chemistry.models import Batch, BatchEntryKind, Charge, Solution
from server.chemistry.queries import (
    get_usual_quantities,
    list_batch_entries,
    list_batches,
    list_charges,
    list_charges_of_batch,
    list_unbalanced,
)
from server.data.session import Database, LabSession
from server.refusal import NotFound, Refusal
from server.stations.actions import add_tray_line
from server.stations.models import Bath
from server.stations.queries import list_trays
from server.stock.models import Substance
from server.stock.queries import list_bottles
from server.stock.queries import list_unbalanced as list_unbalanced_stock
from tests.casts import MORNING, Cast
from tests.stock import shelf

USUAL = {
    "developer_life_s": 8 * 3600,
    "bleach_life_s": 30 * 86_400,
    "developer_charge_ul": 250_000,
    "bleach_charge_ul": 300_000,
    "plates_per_charge": 10,
    "rinse_ul_per_plate": 200_000,
    "test_plates_per_station": 2,
}


def _developer(session: LabSession, volume_ul: int = 600_000, **changed: Any) -> Batch:
    """Mixed from the first-expiring bottles, now, unless a test says otherwise."""
    given: dict[str, Any] = {
        "bottle_a_id": list_bottles(session, Substance.STOCK_A)[0].id,
        "bottle_b_id": list_bottles(session, Substance.STOCK_B)[0].id,
        "mixed_at": MORNING,
        "by": "Tomas",
        "now": MORNING,
    }
    return mix_developer(session, volume_ul=volume_ul, **(given | changed))


def _bleach(session: LabSession, volume_ul: int = 400_000) -> Batch:
    bottle = list_bottles(session, Substance.BLEACH)[0]
    return mix_bleach(
        session, bottle_id=bottle.id, volume_ul=volume_ul, mixed_at=MORNING, by="Tomas", now=MORNING
    )


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


def test_developer_takes_equal_parts_and_ends_six_hours_after_mixing(session: LabSession) -> None:
    """House example, computed by hand: 600 mL are 300 mL of A and 300 mL of B; mixed at 08:00 it ends at 14:00."""
    batch = _developer(session, 600_000)

    assert [
        list_bottles(session, substance)[0].left_ul for substance in (Substance.STOCK_A, Substance.STOCK_B)
    ] == [
        700_000,
        700_000,
    ]
    assert (batch.number, batch.solution, batch.volume_ul, batch.left_ul) == (
        1,
        Solution.DEVELOPER,
        600_000,
        600_000,
    )
    assert batch.ends_at == MORNING + timedelta(hours=6)


def test_the_life_counts_from_mixing_and_not_from_entering(session: LabSession) -> None:
    batch = _developer(session, mixed_at=MORNING - timedelta(hours=2))

    assert batch.ends_at == MORNING + timedelta(hours=4)


def test_a_lab_that_set_its_own_life_gets_it(session: LabSession) -> None:
    set_usual_quantities(session, **USUAL)

    assert _developer(session).ends_at == MORNING + timedelta(hours=8)
    assert _bleach(session).ends_at == MORNING + timedelta(days=30)


def test_batches_are_numbered_in_the_order_of_mixing(session: LabSession) -> None:
    mixed = [_developer(session), _bleach(session), _developer(session, 100_000)]

    assert [batch.number for batch in mixed] == [1, 2, 3]


def test_a_time_to_come_and_a_time_long_past_are_refused(session: LabSession) -> None:
    with pytest.raises(Refusal, match="Tue 16 Feb 2027, 08:01 is still to come"):
        _developer(session, mixed_at=MORNING + timedelta(minutes=1))
    with pytest.raises(Refusal, match="more than 24 hours ago"):
        _developer(session, mixed_at=MORNING - timedelta(hours=24, seconds=1))

    assert _developer(session, mixed_at=MORNING - timedelta(hours=24)).number == 1


def test_bottles_that_were_mixed_up_are_refused(session: LabSession) -> None:
    a, b = (list_bottles(session, substance)[0].id for substance in (Substance.STOCK_A, Substance.STOCK_B))

    with pytest.raises(Refusal, match="holds stock B, not stock A"):
        _developer(session, bottle_a_id=b, bottle_b_id=a)
    with pytest.raises(Refusal, match="holds stock A, not stock B"):
        _developer(session, bottle_a_id=a, bottle_b_id=a)
    with pytest.raises(Refusal, match="holds stock A, not bleach"):
        mix_bleach(session, bottle_id=a, volume_ul=1_000, mixed_at=MORNING, by="Tomas", now=MORNING)


def test_an_expired_or_short_bottle_is_not_mixed_from(session: LabSession) -> None:
    old = shelf.bottle(session, shelf.kit(session, "old", expires_on=date(2027, 2, 15)), Substance.STOCK_A)

    with pytest.raises(Refusal, match="expired on Mon 15 Feb 2027"):
        _developer(session, bottle_a_id=old.id)
    good_a = list_bottles(session, Substance.STOCK_A)[1].id
    good_b = list_bottles(session, Substance.STOCK_B)[1].id
    with pytest.raises(Refusal, match=r"holds 1 L, not 1\.001 L"):
        _developer(session, 2_002_000, bottle_a_id=good_a, bottle_b_id=good_b)


def test_a_charge_takes_plates_in_proportion_and_ends_with_its_batch(session: LabSession) -> None:
    batch = _developer(session)
    charge = _pour(session, batch, volume_ul=150_000)

    assert charge.plates_at_most == 9
    assert batch.left_ul == 450_000
    entry = list_batch_entries(session, batch.id)[-1]
    assert (entry.kind, entry.change_ul, entry.charge_id) == ("charged", -150_000, charge.id)


def test_an_ended_batch_is_not_poured(session: LabSession) -> None:
    batch = _developer(session)

    with pytest.raises(Refusal, match="Batch 1 ended Tue 16 Feb 2027, 14:00"):
        pour_charge(
            session, batch_id=batch.id, place_id=_tray(session, Bath.DEVELOPER), volume_ul=200_000, by="Tomas",
            now=batch.ends_at,
        )  # fmt: skip


def test_a_tray_takes_its_own_solution_only(session: LabSession) -> None:
    developer, bleach = _developer(session), _bleach(session)

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
    batch = _developer(session)
    first = _pour(session, batch)
    with pytest.raises(Refusal, match="still holds a charge of batch 1"):
        _pour(session, batch)
    empty_charge(session, first.id, now=MORNING)

    assert _pour(session, batch).id != first.id
    with pytest.raises(Refusal, match="emptied already"):
        empty_charge(session, first.id, now=MORNING)


def test_a_late_note_counts_a_plate_through_a_charge_that_was_emptied_since(session: LabSession) -> None:
    charge = _pour(session, _developer(session))
    empty_charge(session, charge.id, now=MORNING + timedelta(minutes=30))
    count_plate_through(session, charge.id, now=MORNING + timedelta(minutes=20))

    assert charge.plates == 1
    with pytest.raises(Refusal, match="emptied already"):
        count_plate_through(session, charge.id, now=MORNING + timedelta(minutes=40))


def test_more_than_is_left_and_too_little_for_a_plate_are_refused(session: LabSession) -> None:
    batch = _developer(session, 100_000)

    with pytest.raises(Refusal, match="has 100 mL left, not 200 mL"):
        _pour(session, batch)
    with pytest.raises(Refusal, match="serve no plate"):
        _pour(session, batch, volume_ul=16_000)


def test_plates_are_counted_through_developer_and_the_bleach_beside_it(session: LabSession) -> None:
    developer = _pour(session, _developer(session))
    bleach = _pour(session, _bleach(session), Bath.BLEACH)
    count_plate_through(session, developer.id, now=MORNING)
    count_plate_through(session, developer.id, now=MORNING)

    assert (developer.plates, bleach.plates) == (2, 2)


def test_the_bleach_of_another_tray_line_is_not_counted(session: LabSession) -> None:
    add_tray_line(session, name="line 2", capacity=3, light_zone_id=None, still_zone_id=None)
    developer = _pour(session, _developer(session))
    other = list_trays(session, Bath.BLEACH)[1]
    bleach = pour_charge(
        session, batch_id=_bleach(session).id, place_id=other.id, volume_ul=200_000, by="Tomas", now=MORNING
    )
    count_plate_through(session, developer.id, now=MORNING)

    assert bleach.plates == 0


def test_a_used_up_ended_or_emptied_charge_takes_no_plate(session: LabSession) -> None:
    charge = _pour(session, _developer(session), volume_ul=50_000)
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


def test_the_rest_of_a_batch_is_discarded_once(session: LabSession) -> None:
    batch = _developer(session)
    discard_batch(session, batch.id, by="Tomas", now=MORNING, note="end of day")

    entry = list_batch_entries(session, batch.id)[-1]
    assert (batch.left_ul, entry.kind, entry.change_ul, entry.note) == (
        0,
        "discarded",
        -600_000,
        "end of day",
    )
    with pytest.raises(Refusal, match="Nothing is left of batch 1"):
        discard_batch(session, batch.id, by="Tomas", now=MORNING)


def test_a_measured_rest_becomes_an_entry_of_the_difference(session: LabSession) -> None:
    batch = _developer(session)
    correct_batch(session, batch.id, measured_ul=590_000, reason="spilled", by="Tomas", now=MORNING)

    assert [entry.change_ul for entry in list_batch_entries(session, batch.id)] == [600_000, -10_000]
    with pytest.raises(Refusal, match="already says 590 mL"):
        correct_batch(session, batch.id, measured_ul=590_000, reason="again", by="Tomas", now=MORNING)


def test_usual_quantities_are_assumed_until_they_are_set_and_set_once(session: LabSession) -> None:
    assumed = get_usual_quantities(session)
    assert (assumed.assumed, assumed.developer_life_s, assumed.plates_per_charge) == (True, 6 * 3600, 12)

    set_usual_quantities(session, **USUAL)
    set_usual_quantities(session, **(USUAL | {"plates_per_charge": 11}))

    usual = get_usual_quantities(session)
    assert (usual.assumed, usual.plates_per_charge, usual.developer_charge_ul) == (False, 11, 250_000)


def test_the_other_labs_batch_and_charge_are_not_here(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        shelf.kit(session)
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
        batch = _developer(session)
        charge = _pour(session, batch)
    with database.writing(cast.other_lab_id) as session:
        with pytest.raises(NotFound):
            discard_batch(session, batch.id, by="Petra", now=MORNING)
        with pytest.raises(NotFound):
            empty_charge(session, charge.id, now=MORNING)
        with pytest.raises(NotFound):
            count_plate_through(session, charge.id, now=MORNING)
        shelf.kit(session)
        assert _developer(session).number == 1


STEP = st.tuples(
    st.sampled_from(["mix", "bleach", "charge", "empty", "plate", "discard", "measure"]),
    st.integers(0, 500_000),
)


def _do(session: LabSession, step: str, size: int) -> None:
    batches, charges = list_batches(session), list_charges(session)
    batch = batches[size % len(batches)] if batches else None
    charge = charges[size % len(charges)][0] if charges else None
    if step == "mix" and list_bottles(session, Substance.STOCK_A):
        _developer(session, size)
    elif step == "bleach" and list_bottles(session, Substance.BLEACH):
        _bleach(session, size)
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
            bottle.left_ul for substance in Substance for bottle in list_bottles(session, substance)
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
        assert list_unbalanced(session) == list_unbalanced_stock(session) == []
        session.rollback()
