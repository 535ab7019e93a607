"""What is in the trays, which of it to use, and what does not add up."""

from datetime import datetime, timedelta

import pytest
from sqlmodel import col, update

from server.charges.actions import (
    allow_more_plates,
    count_plate_through,
    empty_charge,
    pour_charge,
    top_up_charge,
)
from server.charges.models import Charge
from server.charges.queries import (
    find_developer_charge,
    find_size_at_hand,
    get_charge,
    get_tray_charge,
    list_charges,
    list_unbalanced,
)
from server.chemistry.models import Batch, BatchEntry
from server.data.session import LabSession
from server.plates.actions import open_plate_box
from server.refusal import NotFound
from server.stations.actions import add_tray_line
from server.stations.models import Bath
from server.stations.queries import list_trays
from tests.casts import MORNING
from tests.chemistry import mixing
from tests.kits import shelf
from tests.plates import shelf as boxes


@pytest.fixture(autouse=True)
def shelf_and_trays(session: LabSession) -> None:
    shelf.kit(session)
    for line in ("line 1", "line 2"):
        add_tray_line(session, name=line, capacity=3, light_zone_id=None, still_zone_id=None)


def _mix(session: LabSession, hours_ago: int = 0) -> Batch:
    return mixing.developer(session, 400_000, mixed_at=MORNING - timedelta(hours=hours_ago))


def _pour(session: LabSession, batch: Batch, line: int, volume_ul: int = 200_000) -> Charge:
    tray = list_trays(session, Bath.DEVELOPER)[line]
    return pour_charge(
        session, batch_id=batch.id, place_id=tray.id, volume_ul=volume_ul, by="Tomas", now=MORNING
    )


def _charge_to_use(session: LabSession, now: datetime) -> Charge | None:
    found = find_developer_charge(session, now)
    return None if found is None else found.charge


def test_charges_in_trays_are_listed_until_they_are_emptied(session: LabSession) -> None:
    batch = _mix(session)
    first, second = _pour(session, batch, 0), _pour(session, batch, 1)
    empty_charge(session, first.id, now=MORNING)

    assert [(found.charge.id, found.batches, found.tray.name) for found in list_charges(session)] == [
        (second.id, "batch 1", "developer, line 2")
    ]


def test_the_developer_to_use_is_alive_has_plates_left_and_ends_first(session: LabSession) -> None:
    assert find_developer_charge(session, MORNING) is None
    fresh = _pour(session, _mix(session), 0)
    older = _pour(session, _mix(session, 3), 1, 20_000)
    assert _charge_to_use(session, MORNING) == older

    count_plate_through(session, older.id, through_at=MORNING, now=MORNING)
    assert _charge_to_use(session, MORNING) == fresh
    assert find_developer_charge(session, MORNING + timedelta(hours=6)) is None


def test_an_unknown_charge_is_not_found(session: LabSession) -> None:
    with pytest.raises(NotFound):
        get_charge(session, 4711)


def test_planted_errors_are_found_each_with_its_sentence(session: LabSession) -> None:
    batch = _mix(session)
    charge = _pour(session, batch, 0, 100_000)
    top_up_charge(
        session, charge.id, batch_id=batch.id, volume_ul=100_000, after_parts=1, by="Tomas", now=MORNING
    )
    count_plate_through(session, charge.id, through_at=MORNING, now=MORNING)
    allow_more_plates(session, charge.id, plates=12, reason="a try", by="Mira", now=MORNING)
    assert list_unbalanced(session) == []
    session.execute(
        update(Charge).where(col(Charge.id) == charge.id).values(volume_ul=201_000, plates=2, allowed_mm2=1)
    )
    session.expire_all()

    assert list_unbalanced(session) == [
        "Charge 1 (working developer) says 201000 µL were poured, batches gave it 200000 µL.",
        "Charge 1 (working developer) says 2 plates of 4032 mm² went through, entered are 1 plates of 4032 mm².",
        "Charge 1 (working developer) says 1 mm² were allowed beyond its capacity, entered are 4032 mm².",
    ]


def test_a_volume_that_went_to_no_charge_is_found(session: LabSession) -> None:
    charge = _pour(session, _mix(session), 0)
    session.execute(update(BatchEntry).where(col(BatchEntry.charge_id) == charge.id).values(charge_id=None))
    session.expire_all()

    assert list_unbalanced(session) == [
        "Batch 1 gave 200000 µL to a charge that nobody named.",
        "Charge 1 (working developer) says 200000 µL were poured, batches gave it 0 µL.",
    ]


def test_a_charge_is_told_as_it_stood_at_a_moment(session: LabSession) -> None:
    """A run's developer is what was in the tray then, not what was poured to it later."""
    charge = _pour(session, _mix(session), 0)
    later = MORNING + timedelta(hours=1)
    fresh = mixing.developer(session, 100_000, mixed_at=later, now=later)
    top_up_charge(
        session, charge.id, batch_id=fresh.id, volume_ul=100_000, after_parts=1, by="Tomas", now=later
    )
    found = get_tray_charge(session, charge.id)

    assert found.batches == "batches 1 and 2"
    assert found.at(MORNING + timedelta(minutes=30)).batches == "batch 1"
    assert found.at(MORNING - timedelta(hours=1)).batches == "batch 1"


def test_room_is_told_for_the_plates_of_the_open_box(session: LabSession) -> None:
    assert find_size_at_hand(session).words == "63.5 × 63.5 mm"
    box = boxes.box(session, width_um=101_600, height_um=127_000)
    assert find_size_at_hand(session).whose == "of the usual size"
    open_plate_box(session, box.id, by="Tomas", now=MORNING)

    assert (find_size_at_hand(session).words, find_size_at_hand(session).area_mm2) == (
        "101.6 × 127 mm",
        12_903,
    )
