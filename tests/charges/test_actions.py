"""Pouring, counting plates, emptying; and that nothing appears or vanishes on the way from bottle to tray."""

from datetime import datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.charges.actions import (
    allow_early_pouring,
    allow_more_plates,
    count_plate_through,
    empty_charge,
    pour_charge,
    put_back_charge,
    top_up_charge,
)
from server.charges.models import Charge
from server.charges.queries import (
    Override,
    find_area_until,
    get_tray_charge,
    list_charges,
    list_parts_of_batch,
)
from server.charges.queries import list_unbalanced as list_unbalanced_charges
from server.chemistry.actions import check_batch, correct_batch, discard_batch, override_end
from server.chemistry.models import Batch, BatchEntryKind
from server.chemistry.queries import list_batch_entries, list_batches, list_unbalanced
from server.data.session import Database, LabSession
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


def _through(
    session: LabSession,
    charge: Charge,
    at: datetime = MORNING,
    plate_mm2: int | None = None,
    by: datetime = MORNING,
) -> None:
    """A plate that was in the charge at a moment, noted then or later."""
    count_plate_through(session, charge.id, plate_mm2=plate_mm2, through_at=at, now=max(at, by))


def _top_up(
    session: LabSession, charge: Charge, batch: Batch, volume_ul: int = 50_000, now: datetime = MORNING
) -> Charge:
    parts = len(get_tray_charge(session, charge.id).parts)
    return top_up_charge(
        session, charge.id, batch_id=batch.id, volume_ul=volume_ul, after_parts=parts, by="Tomas", now=now
    )


# A plate of the usual 63.5 × 63.5 mm, and one of 4 × 5 inches.
USUAL_MM2, FOUR_BY_FIVE_MM2 = 4032, 12_903


@pytest.fixture(autouse=True)
def shelf_and_trays(request: pytest.FixtureRequest) -> None:
    if "session" in request.fixturenames:
        session = request.getfixturevalue("session")
        shelf.kit(session)
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)


def test_a_charge_takes_plates_in_proportion_and_ends_with_its_batch(session: LabSession) -> None:
    batch = mixing.developer(session)
    charge = _pour(session, batch, volume_ul=150_000)

    assert (charge.area_at_most_mm2, charge.area_at_most_mm2 // USUAL_MM2) == (36_288, 9)
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
    _through(session, charge, MORNING + timedelta(minutes=20))

    assert charge.plates == 1
    with pytest.raises(Refusal, match="emptied already"):
        _through(session, charge, MORNING + timedelta(minutes=40))


def test_more_than_is_left_and_too_little_for_a_plate_are_refused(session: LabSession) -> None:
    batch = mixing.developer(session, 100_000)

    with pytest.raises(Refusal, match="has 100 mL left, not 200 mL"):
        _pour(session, batch)
    with pytest.raises(Refusal, match="serve no plate"):
        _pour(session, batch, volume_ul=16_000)


def test_plates_are_counted_through_developer_and_the_bleach_beside_it(session: LabSession) -> None:
    developer = _pour(session, mixing.developer(session))
    bleach = _pour(session, mixing.bleach(session), Bath.BLEACH)
    _through(session, developer, MORNING)
    _through(session, developer, MORNING)

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
    _through(session, developer, MORNING)

    assert bleach.plates == 0


def test_a_used_up_ended_or_emptied_charge_takes_no_plate(session: LabSession) -> None:
    charge = _pour(session, mixing.developer(session), volume_ul=50_000)
    for _plate in range(3):
        _through(session, charge, MORNING)

    with pytest.raises(
        Refusal, match=r"serves 121 cm² of plates and has had 121 cm²: a plate of 40\.3 cm² is too much"
    ):
        _through(session, charge, MORNING)
    with pytest.raises(Refusal, match="Batch 1 ended Tue 16 Feb 2027, 14:00"):
        _through(session, charge, MORNING + timedelta(hours=6))
    empty_charge(session, charge.id, now=MORNING)
    with pytest.raises(Refusal, match="emptied already"):
        _through(session, charge, MORNING)
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
            _through(session, charge, MORNING)


def test_the_oldest_part_goes_on_ruling_the_life(session: LabSession) -> None:
    """House example, computed by hand: mixed at 05:00 and poured, it ends at 11:00, whatever fresh developer comes to it."""
    older = mixing.developer(session, 200_000, mixed_at=MORNING - timedelta(hours=3))
    charge = _pour(session, older, volume_ul=150_000)
    _top_up(session, charge, mixing.developer(session), 50_000)

    found = get_tray_charge(session, charge.id)
    assert found.ends_at == older.ends_at == MORNING + timedelta(hours=3)
    assert [(part.batch.number, part.volume_ul) for part in found.parts] == [(1, 150_000), (2, 50_000)]
    assert found.batches == "batches 1 and 2"


def test_an_older_batch_poured_to_a_fresh_charge_ends_it_sooner(session: LabSession) -> None:
    fresh, older = (
        mixing.developer(session),
        mixing.developer(session, mixed_at=MORNING - timedelta(hours=2)),
    )
    charge = _pour(session, fresh)
    _top_up(session, charge, older)

    assert get_tray_charge(session, charge.id).ends_at == older.ends_at


def test_topping_up_adds_capacity_and_forgets_no_plate(session: LabSession) -> None:
    """Computed by hand: 150 mL and 50 mL serve twelve plates as 200 mL do; nine went through, so three are left."""
    batch = mixing.developer(session)
    charge = _pour(session, batch, volume_ul=150_000)
    for _plate in range(8):
        _through(session, charge)
    _top_up(session, charge, batch, 50_000)

    assert (charge.volume_ul, charge.plates, charge.area_mm2) == (200_000, 8, 8 * USUAL_MM2)
    assert charge.area_at_most_mm2 == 12 * USUAL_MM2
    assert charge.room_mm2 == 4 * USUAL_MM2
    assert batch.left_ul == 400_000


def test_an_ended_or_used_up_charge_is_not_topped_up(session: LabSession) -> None:
    old = mixing.developer(session, 200_000, mixed_at=MORNING - timedelta(hours=5))
    charge = _pour(session, old, volume_ul=50_000)
    fresh = mixing.developer(session)

    with pytest.raises(
        Refusal, match="ended Tue 16 Feb 2027, 09:00 with batch 1, and topping up doesn't restart it"
    ):
        _top_up(session, charge, fresh, now=MORNING + timedelta(hours=1))
    for _plate in range(3):
        _through(session, charge)
    with pytest.raises(Refusal, match="is used up, and topping up doesn't restart it"):
        _top_up(session, charge, fresh)
    empty_charge(session, charge.id, now=MORNING)
    with pytest.raises(Refusal, match="emptied already"):
        _top_up(session, charge, fresh)
    assert charge.volume_ul == 50_000


def test_a_charge_is_topped_up_with_its_own_solution_and_never_with_an_ended_batch(
    session: LabSession,
) -> None:
    charge = _pour(session, mixing.developer(session))
    old = mixing.developer(session, mixed_at=MORNING - timedelta(hours=6))

    with pytest.raises(Refusal, match="holds working developer, and batch 3 is bleach"):
        _top_up(session, charge, mixing.bleach(session))
    with pytest.raises(Refusal, match="Batch 2 ended Tue 16 Feb 2027, 08:00"):
        _top_up(session, charge, old)
    with pytest.raises(Refusal, match="has 100 mL left, not 200 mL"):
        _top_up(session, charge, mixing.developer(session, 100_000), 200_000)


def test_a_topping_up_that_is_sent_twice_is_poured_once(session: LabSession) -> None:
    batch = mixing.developer(session)
    charge = _pour(session, batch)
    _top_up(session, charge, batch)

    with pytest.raises(Refusal, match="was topped up meanwhile, with 50 mL of batch 1"):
        top_up_charge(
            session, charge.id, batch_id=batch.id, volume_ul=50_000, after_parts=1, by="Tomas", now=MORNING
        )
    assert charge.volume_ul == 250_000


def test_a_plate_counts_with_its_area(session: LabSession) -> None:
    """A trap of the practice notes: a 4 × 5 inch plate is one plate and 3.2 usual ones, so a charge for twelve serves three."""
    charge = _pour(session, mixing.developer(session))
    for _plate in range(3):
        _through(session, charge, plate_mm2=FOUR_BY_FIVE_MM2)

    assert (charge.plates, charge.area_mm2) == (3, 38_709)
    with pytest.raises(
        Refusal, match=r"serves 483\.8 cm² of plates and has had 387\.1 cm²: a plate of 129 cm²"
    ):
        _through(session, charge, plate_mm2=FOUR_BY_FIVE_MM2)
    _through(session, charge)
    assert charge.plates == 4


def test_a_late_note_counts_by_what_the_charge_was_when_the_plate_was_in_it(session: LabSession) -> None:
    """Others' plates that came after it, though their notes came before it, do not shut it out."""
    charge = _pour(session, mixing.developer(session), volume_ul=50_000)
    for minutes in (30, 40, 50):
        _through(session, charge, MORNING + timedelta(minutes=minutes))
    late = MORNING + timedelta(hours=8)
    _through(session, charge, MORNING + timedelta(minutes=20), by=late)

    assert (charge.plates, charge.room_mm2) == (4, -USUAL_MM2)
    assert find_area_until(session, charge.id, MORNING + timedelta(minutes=30)) == 2 * USUAL_MM2
    with pytest.raises(Refusal, match="too much for it"):
        _through(session, charge, MORNING + timedelta(minutes=50), by=late)


def test_a_late_note_counts_through_the_bleach_of_that_moment(session: LabSession) -> None:
    developer = _pour(session, mixing.developer(session))
    bleach = mixing.bleach(session)
    first = _pour(session, bleach, Bath.BLEACH, 100_000)
    empty_charge(session, first.id, now=MORNING + timedelta(minutes=30))
    second = _pour(session, bleach, Bath.BLEACH, 100_000)
    _through(session, developer, MORNING + timedelta(minutes=20), by=MORNING + timedelta(hours=1))
    _through(session, developer, MORNING + timedelta(minutes=40))

    assert (first.plates, second.plates) == (1, 1)


def test_a_late_note_is_not_counted_through_bleach_that_was_poured_after_its_plate(
    session: LabSession,
) -> None:
    developer, bleach = _pour(session, mixing.developer(session)), mixing.bleach(session)
    noon = MORNING + timedelta(hours=4)
    poured = pour_charge(
        session,
        batch_id=bleach.id,
        place_id=_tray(session, Bath.BLEACH),
        volume_ul=100_000,
        by="Tomas",
        now=noon,
    )

    _through(session, developer, noon - timedelta(minutes=1), by=noon + timedelta(hours=1))
    assert (developer.plates, poured.plates) == (1, 0)

    _through(session, developer, noon + timedelta(minutes=1))
    assert (developer.plates, poured.plates) == (2, 1)


def test_a_plate_that_went_through_while_an_instructor_allowed_it_counts_after_a_check_failed(
    session: LabSession,
) -> None:
    batch = mixing.developer(session)
    charge, end = _pour(session, batch), batch.ends_at
    hour = timedelta(hours=1)
    override_end(session, batch.id, until=end + 2 * hour, reason="strip as before", by="Mira", now=end - hour)
    check_batch(session, batch.id, passed=False, look="brown", by="Tomas", now=end + hour)

    _through(session, charge, end + hour / 2, by=end + 2 * hour)
    with pytest.raises(Refusal, match="Batch 1 ended Tue 16 Feb 2027, 15:00"):
        _through(session, charge, end + hour, by=end + 2 * hour)


def test_an_instructor_s_override_lets_so_many_plates_more_through_and_is_kept_with_its_reason(
    session: LabSession,
) -> None:
    charge = _pour(session, mixing.developer(session), volume_ul=50_000)
    for _plate in range(3):
        _through(session, charge)
    allow_more_plates(session, charge.id, plates=2, reason="strip was as before", by="Mira", now=MORNING)
    for _plate in range(2):
        _through(session, charge)

    assert charge.plates == 5
    with pytest.raises(Refusal, match="too much for it"):
        _through(session, charge)
    assert list(get_tray_charge(session, charge.id).overrides) == [
        Override("strip was as before", "Mira", MORNING, plates=2)
    ]
    assert charge.allowed_mm2 == 2 * USUAL_MM2
    assert list_unbalanced_charges(session) == []


def test_more_plates_are_allowed_only_where_there_is_no_room_and_still_some_life(session: LabSession) -> None:
    charge = _pour(session, mixing.developer(session))

    with pytest.raises(Refusal, match=r"room for 12 more plates of 63\.5 × 63\.5 mm as it is"):
        allow_more_plates(session, charge.id, plates=12, reason="why not", by="Mira", now=MORNING)
    with pytest.raises(Refusal, match="has ended, and more plates don't change that"):
        allow_more_plates(
            session, charge.id, plates=20, reason="why not", by="Mira", now=MORNING + timedelta(hours=6)
        )
    empty_charge(session, charge.id, now=MORNING)
    with pytest.raises(Refusal, match="emptied already"):
        allow_more_plates(session, charge.id, plates=20, reason="why not", by="Mira", now=MORNING)


def test_a_batch_is_not_poured_before_it_has_stood(session: LabSession) -> None:
    """The usual developer stands five minutes after mixing (a holography course's tenth lesson, holography.ru/les10eng.htm)."""
    older, fresh = mixing.developer(session), mixing.developer(session, 100_000, stand_s=300)
    ready_at = MORNING + timedelta(minutes=5)
    words = "Batch 2 stands still until Tue 16 Feb 2027, 08:05: 5 min after mixing"
    with pytest.raises(Refusal, match=words):
        _pour(session, fresh)
    charge = _pour(session, older)
    with pytest.raises(Refusal, match=words):
        _top_up(session, charge, fresh, now=ready_at - timedelta(seconds=1))

    assert _top_up(session, charge, fresh, now=ready_at).volume_ul == 250_000
    assert get_tray_charge(session, charge.id).overrides == []


def test_an_instructor_lets_a_batch_be_poured_before_it_has_stood_once_and_with_a_reason(
    session: LabSession,
) -> None:
    batch = mixing.developer(session, stand_s=300)
    allow_early_pouring(session, batch.id, reason="the class waits", by="Mira", now=MORNING)
    charge = _pour(session, batch)

    assert get_tray_charge(session, charge.id).overrides == [
        Override("the class waits", "Mira", MORNING, batch_number=1)
    ]
    with pytest.raises(Refusal, match="may be poured already"):
        allow_early_pouring(session, batch.id, reason="again", by="Mira", now=MORNING)
    with pytest.raises(Refusal, match="has stood as long as its recipe says"):
        allow_early_pouring(session, batch.id, reason="late", by="Mira", now=MORNING + timedelta(minutes=5))


def test_what_is_poured_after_standing_carries_no_override(session: LabSession) -> None:
    batch = mixing.developer(session, stand_s=300)
    allow_early_pouring(session, batch.id, reason="the class waits", by="Mira", now=MORNING)
    charge = pour_charge(
        session, batch_id=batch.id, place_id=_tray(session, Bath.DEVELOPER), volume_ul=200_000, by="Tomas",
        now=MORNING + timedelta(minutes=5),
    )  # fmt: skip

    assert get_tray_charge(session, charge.id).overrides == []


def test_a_failed_check_ends_every_charge_the_batch_went_into(session: LabSession) -> None:
    """The earliest of life, capacity and failed check ends a charge; a plate that was in it before is still counted."""
    good, bad = mixing.developer(session), mixing.developer(session, 100_000)
    charge = _pour(session, good)
    _top_up(session, charge, bad)
    ten = MORNING + timedelta(hours=2)
    check_batch(session, bad.id, passed=False, look="brown", by="Tomas", now=ten)

    found = get_tray_charge(session, charge.id)
    assert (found.ends_at, found.ends_by_check) == (ten, True)
    with pytest.raises(Refusal, match="Batch 2 ended Tue 16 Feb 2027, 10:00"):
        _through(session, charge, ten)
    with pytest.raises(Refusal, match="ended Tue 16 Feb 2027, 10:00 with batch 2"):
        _top_up(session, charge, good, now=ten)
    _through(session, charge, ten - timedelta(minutes=1), by=ten)
    assert charge.plates == 1


def test_an_instructor_s_later_end_of_a_batch_is_its_charges_end_and_is_kept_with_them(
    session: LabSession,
) -> None:
    charge = _pour(session, mixing.developer(session))
    fourteen, fifteen = MORNING + timedelta(hours=6), MORNING + timedelta(hours=7)
    override_end(session, 1, until=fifteen, reason="strip is good", by="Mira", now=fourteen)
    _through(session, charge, fourteen)

    found = get_tray_charge(session, charge.id)
    assert found.ends_at == fifteen
    assert found.overrides == [Override("strip is good", "Mira", fourteen, batch_number=1, until=fifteen)]
    assert found.at(fourteen - timedelta(minutes=1)).overrides == []


def test_an_emptied_charge_is_put_back_while_its_tray_is_empty(session: LabSession) -> None:
    batch = mixing.developer(session)
    first = _pour(session, batch)
    empty_charge(session, first.id, now=MORNING)

    assert put_back_charge(session, first.id) == ""
    assert first.emptied_at is None
    empty_charge(session, first.id, now=MORNING)
    _pour(session, batch)
    assert put_back_charge(session, first.id) == "developer, line 1 holds a charge of batch 1 by now"
    assert first.emptied_at == MORNING


STEP = st.tuples(
    st.sampled_from(
        [
            "mix",
            "bleach",
            "charge",
            "top up",
            "empty",
            "put back",
            "plate",
            "large plate",
            "allow",
            "discard",
            "measure",
        ]
    ),
    st.integers(0, 500_000),
)


def _do(session: LabSession, step: str, size: int, now: datetime) -> None:
    batches, charges = list_batches(session), list_charges(session)
    batch = batches[size % len(batches)] if batches else None
    charge = charges[size % len(charges)].charge if charges else None
    if step == "mix":
        mixing.developer(session, size, mixed_at=now, now=now)
    elif step == "bleach":
        mixing.bleach(session, size)
    elif step == "charge" and batch:
        place_id = _tray(session, Bath.DEVELOPER if batch.solution == Solution.DEVELOPER else Bath.BLEACH)
        pour_charge(session, batch_id=batch.id, place_id=place_id, volume_ul=size, by="Tomas", now=now)
    elif step == "discard" and batch:
        discard_batch(session, batch.id, by="Tomas", now=now)
    elif step == "measure" and batch:
        correct_batch(session, batch.id, measured_ul=size, reason="measured", by="Tomas", now=now)
    elif charge:
        _do_to_charge(session, charge, batch, step, size, now)


def _do_to_charge(
    session: LabSession, charge: Charge, batch: Batch | None, step: str, size: int, now: datetime
) -> None:
    if step == "top up" and batch:
        _top_up(session, charge, batch, size, now)
    elif step == "empty":
        empty_charge(session, charge.id, now=now)
    elif step == "put back":
        empty_charge(session, charge.id, now=now)
        assert put_back_charge(session, charge.id) == ""
    elif step == "plate":
        _through(session, charge, now)
    elif step == "large plate":
        _through(session, charge, now, plate_mm2=FOUR_BY_FIVE_MM2)
    elif step == "allow":
        allow_more_plates(session, charge.id, plates=1 + size % 20, reason="tried", by="Mira", now=now)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, max_size=20))
def test_whatever_is_poured_topped_up_emptied_and_corrected_trays_and_ledgers_agree(
    database: Database, cast: Cast, steps: list[tuple[str, int]]
) -> None:
    """An hour passes with each third step. No end moves to later, no area is forgotten."""
    with database.writing(cast.lab_id) as session:
        shelf.kit(session, stock_a_ul=10_000_000, stock_b_ul=10_000_000, bleach_ul=10_000_000)
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
        before: dict[int, tuple[datetime, int]] = {}
        for number, (step, size) in enumerate(steps):
            savepoint = session.begin_nested()
            try:
                _do(session, step, size, MORNING + timedelta(hours=number // 3))
                savepoint.commit()
            except Refusal:
                savepoint.rollback()
            for found in list_charges(session):
                ends_at, area_mm2 = before.get(found.charge.id, (found.ends_at, 0))
                assert found.ends_at <= ends_at
                assert found.charge.area_mm2 >= area_mm2
                before[found.charge.id] = (found.ends_at, found.charge.area_mm2)
                if found.charge.solution == Solution.DEVELOPER:
                    assert found.charge.room_mm2 >= 0

        for batch in list_batches(session):
            changes = dict.fromkeys(BatchEntryKind, 0)
            for entry in list_batch_entries(session, batch.id):
                changes[BatchEntryKind(entry.kind)] += entry.change_ul
            in_charges = sum(volume_ul for _charge, volume_ul in list_parts_of_batch(session, batch.id))
            discarded, corrected = -changes[BatchEntryKind.DISCARDED], -changes[BatchEntryKind.CORRECTION]

            assert batch.volume_ul == in_charges + batch.left_ul + discarded + corrected
            assert batch.left_ul >= 0
        assert (
            list_unbalanced(session)
            == list_unbalanced_stock(session)
            == list_unbalanced_charges(session)
            == []
        )
        session.rollback()
