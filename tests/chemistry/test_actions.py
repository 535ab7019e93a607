"""Mixing, discarding, correcting."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from server.chemistry.actions import correct_batch, discard_batch, set_usual_quantities
from server.chemistry.forms import Chosen
from server.chemistry.queries import get_usual_quantities, list_batch_entries, list_ingredients
from server.data.session import Database, LabSession
from server.kits.models import STOCK_A, STOCK_B, Kit
from server.kits.queries import list_bottles
from server.recipes.models import Solution
from server.refusal import NotFound, Refusal
from tests.casts import MORNING, Cast
from tests.chemistry import mixing
from tests.kits import shelf

USUAL = {
    "developer_life_s": 8 * 3600,
    "bleach_life_s": 30 * 86_400,
    "stock_life_s": 45 * 86_400,
    "other_life_s": 12 * 3600,
    "developer_charge_ul": 250_000,
    "bleach_charge_ul": 300_000,
    "plates_per_charge": 10,
    "plate_width_um": 63_500,
    "plate_height_um": 63_500,
    "rinse_ul_per_plate": 200_000,
    "test_plates_per_station": 2,
}


@pytest.fixture(autouse=True)
def a_kit_on_the_shelf(request: pytest.FixtureRequest) -> None:
    if "session" in request.fixturenames:
        shelf.kit(request.getfixturevalue("session"))


def test_developer_takes_equal_parts_and_ends_six_hours_after_mixing(session: LabSession) -> None:
    """House example, computed by hand: 600 mL are 300 mL of A and 300 mL of B; mixed at 08:00 it ends at 14:00."""
    batch = mixing.developer(session, 600_000)

    assert [list_bottles(session, substance)[0].left for substance in (STOCK_A, STOCK_B)] == [
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
    batch = mixing.developer(session, mixed_at=MORNING - timedelta(hours=2))

    assert batch.ends_at == MORNING + timedelta(hours=4)


def test_a_lab_that_set_its_own_life_gets_it(session: LabSession) -> None:
    set_usual_quantities(session, **USUAL)

    assert mixing.developer(session).ends_at == MORNING + timedelta(hours=8)
    assert mixing.bleach(session).ends_at == MORNING + timedelta(days=30)


def test_batches_are_numbered_in_the_order_of_mixing(session: LabSession) -> None:
    mixed = [mixing.developer(session), mixing.bleach(session), mixing.developer(session, 100_000)]

    assert [batch.number for batch in mixed] == [1, 2, 3]


def test_a_time_to_come_and_a_time_long_past_are_refused(session: LabSession) -> None:
    with pytest.raises(Refusal, match="Tue 16 Feb 2027, 08:01 is still to come"):
        mixing.developer(session, mixed_at=MORNING + timedelta(minutes=1))
    with pytest.raises(Refusal, match="more than 24 hours ago"):
        mixing.developer(session, mixed_at=MORNING - timedelta(hours=24, seconds=1))

    assert mixing.developer(session, mixed_at=MORNING - timedelta(hours=24)).number == 1


def _from(session: LabSession, kit: Kit) -> list[Chosen]:
    return [
        Chosen(substance, f"bottle-{shelf.bottle(session, kit, substance).id}")
        for substance in (STOCK_A, STOCK_B)
    ]


def test_bottles_that_were_mixed_up_are_refused(session: LabSession) -> None:
    a, b = _from(session, shelf.kit(session, "another"))
    swapped = [replace(a, source=b.source), replace(b, source=a.source)]

    with pytest.raises(Refusal, match="chosen for stock A is something else"):
        mixing.developer(session, chosen=swapped)
    with pytest.raises(Refusal, match="Nothing is chosen for stock B"):
        mixing.developer(session, chosen=[a])
    with pytest.raises(Refusal, match="chosen twice for stock A"):
        mixing.developer(session, chosen=[a, a, b])


def test_an_expired_bottle_is_not_mixed_from(session: LabSession) -> None:
    old = shelf.kit(session, "old", expires_on=date(2027, 2, 15))

    with pytest.raises(Refusal, match="expired on Mon 15 Feb 2027"):
        mixing.developer(session, chosen=_from(session, old))


def test_a_bottle_that_is_short_is_asked_back_and_a_second_one_fills_up(session: LabSession) -> None:
    """House example, computed by hand: 2.4 L take 1.2 L of A; the first bottle of a litre is short by 200 mL."""
    first = _from(session, shelf.kit(session, "first"))

    with pytest.raises(Refusal, match=r"stock A would be 1 L, which is 17% less than the 1\.2 L called for"):
        mixing.developer(session, 2_400_000, chosen=first)
    second = _from(session, shelf.kit(session, "second"))
    batch = mixing.developer(session, 2_400_000, chosen=[*first, *second])

    assert [(part.source, part.name, part.amount) for part in list_ingredients(session, batch.number)] == [
        ("first", "stock A", 1_000_000),
        ("second", "stock A", 200_000),
        ("first", "stock B", 1_000_000),
        ("second", "stock B", 200_000),
    ]
    assert batch.volume_ul == 2_400_000


def test_the_rest_of_a_batch_is_discarded_once(session: LabSession) -> None:
    batch = mixing.developer(session)
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
    batch = mixing.developer(session)
    correct_batch(session, batch.id, measured_ul=590_000, reason="spilled", by="Tomas", now=MORNING)

    assert [entry.change_ul for entry in list_batch_entries(session, batch.id)] == [600_000, -10_000]
    with pytest.raises(Refusal, match="already says 590 mL"):
        correct_batch(session, batch.id, measured_ul=590_000, reason="again", by="Tomas", now=MORNING)


def test_no_more_can_be_left_than_was_made(session: LabSession) -> None:
    batch = mixing.developer(session)

    with pytest.raises(Refusal, match="made as 600 mL, so 590 L can't be left of it"):
        correct_batch(session, batch.id, measured_ul=590_000_000, reason="measured", by="Tomas", now=MORNING)
    assert batch.left_ul == 600_000


def test_usual_quantities_are_assumed_until_they_are_set_and_set_once(session: LabSession) -> None:
    assumed = get_usual_quantities(session)
    assert (assumed.assumed, assumed.developer_life_s, assumed.plates_per_charge) == (True, 6 * 3600, 12)

    set_usual_quantities(session, **USUAL)
    set_usual_quantities(session, **(USUAL | {"plates_per_charge": 11}))

    usual = get_usual_quantities(session)
    assert (usual.assumed, usual.plates_per_charge, usual.developer_charge_ul) == (False, 11, 250_000)


def test_the_other_labs_batch_is_not_here(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        shelf.kit(session)
        batch = mixing.developer(session)
    with database.writing(cast.other_lab_id) as session:
        with pytest.raises(NotFound):
            discard_batch(session, batch.id, by="Petra", now=MORNING)
        shelf.kit(session)
        assert mixing.developer(session).number == 1
