"""Taking in kits, drawing from bottles and correcting them."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.data.session import Database, LabSession
from server.kits.actions import correct_bottle, discard_from_bottle, draw_from_bottle, use_up_bottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B, BottleEntryKind
from server.kits.queries import get_bottle, list_bottle_entries, list_unbalanced
from server.refusal import NotFound, Refusal
from tests.casts import MORNING, Cast
from tests.kits import shelf


def test_a_kit_brings_a_bottle_for_each_volume(session: LabSession) -> None:
    kit = shelf.kit(session, bleach_ul=0)

    assert shelf.bottle(session, kit, STOCK_A).left == 1_000_000
    assert shelf.bottle(session, kit, STOCK_B).left == 1_000_000
    with pytest.raises(StopIteration):
        shelf.bottle(session, kit, BLEACH)


def test_a_kit_without_a_bottle_is_refused(session: LabSession) -> None:
    with pytest.raises(Refusal, match="at least one bottle"):
        shelf.kit(session, stock_a_ul=0, stock_b_ul=0, bleach_ul=0)


def test_drawing_from_a_bottle_is_an_entry_with_its_batch(session: LabSession) -> None:
    bottle = shelf.bottle(session, shelf.kit(session), STOCK_A)
    draw_from_bottle(session, bottle.id, amount=300_000, batch_number=1, by="Tomas", now=MORNING)

    assert bottle.left == 700_000
    assert [(entry.kind, entry.change, entry.batch_number) for entry in list_bottle_entries(session, bottle.id)] == [
        ("arrived", 1_000_000, None),
        ("mixed", -300_000, 1),
    ]  # fmt: skip


def test_more_than_a_bottle_holds_is_refused_and_to_the_last_drop_is_not(session: LabSession) -> None:
    bottle = shelf.bottle(session, shelf.kit(session), BLEACH)

    with pytest.raises(Refusal, match=r"holds 500 mL, not 500\.1 mL"):
        draw_from_bottle(session, bottle.id, amount=500_100, batch_number=1, by="Tomas", now=MORNING)
    draw_from_bottle(session, bottle.id, amount=500_000, batch_number=1, by="Tomas", now=MORNING)

    assert bottle.left == 0
    with pytest.raises(Refusal, match="Nothing would be taken"):
        draw_from_bottle(session, bottle.id, amount=0, batch_number=2, by="Tomas", now=MORNING)


def test_a_bottle_is_good_through_its_last_day_on_the_labs_calendar_and_refused_after(
    session: LabSession,
) -> None:
    """08:00 in Berlin is the morning of the 16th; 22:59 UTC is still the 16th there, 23:00 UTC is the 17th."""
    bottle = shelf.bottle(session, shelf.kit(session, expires_on=date(2027, 2, 16)), STOCK_A)
    last = MORNING.replace(hour=22, minute=59)
    draw_from_bottle(session, bottle.id, amount=1_000, batch_number=1, by="Tomas", now=last)

    with pytest.raises(Refusal, match="expired on Tue 16 Feb 2027"):
        draw_from_bottle(
            session, bottle.id, amount=1_000, batch_number=2, by="Tomas", now=last + timedelta(minutes=1)
        )


def test_an_expired_bottle_can_still_be_discarded(session: LabSession) -> None:
    bottle = shelf.bottle(session, shelf.kit(session, expires_on=date(2027, 2, 2)), STOCK_B)
    discard_from_bottle(session, bottle.id, amount=1_000_000, note="expired", by="Tomas", now=MORNING)

    assert bottle.left == 0
    with pytest.raises(Refusal, match="holds 0 mL"):
        discard_from_bottle(session, bottle.id, amount=1, note="", by="Tomas", now=MORNING)


def test_a_measured_volume_becomes_an_entry_of_the_difference(session: LabSession) -> None:
    bottle = shelf.bottle(session, shelf.kit(session), STOCK_A)
    correct_bottle(session, bottle.id, measured=950_000, reason="measured", by="Tomas", now=MORNING)

    entry = list_bottle_entries(session, bottle.id)[-1]
    assert (entry.kind, entry.change, entry.note) == ("correction", -50_000, "measured")
    with pytest.raises(Refusal, match="already says 950 mL"):
        correct_bottle(session, bottle.id, measured=950_000, reason="again", by="Tomas", now=MORNING)


STEP = st.tuples(st.sampled_from(["mix", "discard", "measure"]), st.integers(0, 40))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, max_size=20))
def test_whatever_is_done_a_bottles_ledger_adds_up_to_its_balance(
    database: Database, cast: Cast, steps: list[tuple[str, int]]
) -> None:
    with database.writing(cast.lab_id) as session:
        bottle = shelf.bottle(session, shelf.kit(session), STOCK_A)
        volume_ul = 1_000_000
        for step, size in steps:
            size_ul = size * 30_000
            try:
                match step:
                    case "mix":
                        draw_from_bottle(
                            session, bottle.id, amount=size_ul, batch_number=1, by="T", now=MORNING
                        )
                        volume_ul -= size_ul
                    case "discard":
                        discard_from_bottle(session, bottle.id, amount=size_ul, note="", by="T", now=MORNING)
                        volume_ul -= size_ul
                    case "measure":
                        correct_bottle(session, bottle.id, measured=size_ul, reason="m", by="T", now=MORNING)
                        volume_ul = size_ul
            except Refusal:
                # A refused step changes nothing, which the sums below show.
                pass
        assert bottle.left == volume_ul == sum(e.change for e in list_bottle_entries(session, bottle.id)) >= 0
        assert list_unbalanced(session) == []
        session.rollback()


def test_a_second_kit_of_the_same_name_is_refused(session: LabSession) -> None:
    shelf.kit(session, "kit 4")

    with pytest.raises(Refusal, match="already a kit “kit 4”"):
        shelf.kit(session, "kit 4")


def test_a_kit_that_has_not_arrived_yet_is_not_taken_in(session: LabSession) -> None:
    """The cast's morning is 16 February 2027."""
    shelf.kit(session, "kit 4", arrived_on=date(2027, 2, 16))

    with pytest.raises(Refusal, match="Wed 17 Feb 2027 is still to come"):
        shelf.kit(session, "kit 5", arrived_on=date(2027, 2, 17))


def test_the_other_labs_bottle_cannot_be_drawn_from(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        bottle_id = shelf.bottle(session, shelf.kit(session), STOCK_A).id
    with database.writing(cast.other_lab_id) as session:
        with pytest.raises(NotFound):
            draw_from_bottle(session, bottle_id, amount=1, batch_number=1, by="Petra", now=MORNING)
        with pytest.raises(NotFound):
            get_bottle(session, bottle_id)


def test_the_first_draw_opens_a_bottle_and_the_last_one_uses_it_up(session: LabSession) -> None:
    bottle = shelf.bottle(session, shelf.kit(session), STOCK_A)
    assert (bottle.opened_at, bottle.used_up_at) == (None, None)
    draw_from_bottle(session, bottle.id, amount=400_000, batch_number=1, by="Tomas", now=MORNING)
    assert (bottle.opened_at, bottle.used_up_at) == (MORNING, None)
    later = MORNING + timedelta(hours=1)
    draw_from_bottle(session, bottle.id, amount=600_000, batch_number=2, by="Tomas", now=later)

    assert (bottle.opened_at, bottle.used_up_at) == (MORNING, later)


def test_a_bottle_that_was_not_empty_after_all_is_no_longer_used_up(session: LabSession) -> None:
    bottle = shelf.bottle(session, shelf.kit(session), STOCK_A)
    use_up_bottle(
        session, bottle.id, rest=BottleEntryKind.CORRECTION, note="never filled", by="Tomas", now=MORNING
    )
    assert bottle.used_up_at == MORNING
    correct_bottle(session, bottle.id, measured=20_000, reason="found some", by="Tomas", now=MORNING)

    assert bottle.left == 20_000
    assert get_bottle(session, bottle.id).used_up_at is None
