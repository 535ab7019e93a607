"""What is in the trays, which of it to use, and what does not add up."""

from datetime import timedelta

import pytest
from sqlmodel import col, update

from server.charges.actions import count_plate_through, empty_charge, pour_charge
from server.charges.models import Charge
from server.charges.queries import find_developer_charge, get_charge, list_charges, list_unbalanced
from server.chemistry.models import Batch
from server.data.session import LabSession
from server.refusal import NotFound
from server.stations.actions import add_tray_line
from server.stations.models import Bath
from server.stations.queries import list_trays
from tests.casts import MORNING
from tests.chemistry import mixing
from tests.kits import shelf


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


def test_charges_in_trays_are_listed_until_they_are_emptied(session: LabSession) -> None:
    batch = _mix(session)
    first, second = _pour(session, batch, 0), _pour(session, batch, 1)
    empty_charge(session, first.id, now=MORNING)

    assert [(charge.id, of.number, tray.name) for charge, of, tray in list_charges(session)] == [
        (second.id, batch.number, "developer, line 2")
    ]


def test_the_developer_to_use_is_alive_has_plates_left_and_ends_first(session: LabSession) -> None:
    assert find_developer_charge(session, MORNING) is None
    fresh = _pour(session, _mix(session), 0)
    older = _pour(session, _mix(session, 3), 1, 20_000)
    assert find_developer_charge(session, MORNING) == older

    count_plate_through(session, older.id, now=MORNING)
    assert find_developer_charge(session, MORNING) == fresh
    assert find_developer_charge(session, MORNING + timedelta(hours=6)) is None


def test_an_unknown_charge_is_not_found(session: LabSession) -> None:
    with pytest.raises(NotFound):
        get_charge(session, 4711)


def test_a_planted_error_is_found_with_its_sentence(session: LabSession) -> None:
    charge = _pour(session, _mix(session), 0)
    assert list_unbalanced(session) == []
    session.execute(update(Charge).where(col(Charge.id) == charge.id).values(volume_ul=201_000))
    session.expire_all()

    assert list_unbalanced(session) == [
        "Batch 1 (working developer) gave 200000 µL to charges, its charges hold 201000 µL."
    ]
