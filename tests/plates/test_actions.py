"""Taking in plate boxes, drawing plates and counting them."""

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.data.session import Database, LabSession
from server.plates.actions import correct_plates, draw_plates, open_plate_box
from server.plates.models import PlateEntryKind
from server.plates.queries import get_plate_box, list_plate_entries, list_unbalanced
from server.refusal import NotFound, Refusal
from tests.casts import MORNING, Cast
from tests.plates import shelf


def _draw(session: LabSession, box_id: int, plates: int, kind: PlateEntryKind = PlateEntryKind.TEST) -> None:
    draw_plates(session, box_id, plates=plates, kind=kind, by="Tomas", now=MORNING)


def test_plates_that_see_no_light_are_refused(session: LabSession) -> None:
    with pytest.raises(Refusal, match="at least one colour"):
        shelf.box(session, sees_red=False, sees_green=False, sees_blue=False)


def test_plates_go_out_of_a_box_to_the_last_and_no_further(session: LabSession) -> None:
    box = shelf.box(session, plates=3)
    _draw(session, box.id, 2)
    with pytest.raises(Refusal, match="holds 1 plate, not 2"):
        _draw(session, box.id, 2)
    _draw(session, box.id, 1)

    assert box.plates_left == 0
    with pytest.raises(Refusal, match="No plate would be taken"):
        _draw(session, box.id, 0)


def test_a_box_is_opened_once(session: LabSession) -> None:
    box = shelf.box(session)
    open_plate_box(session, box.id, now=MORNING)

    assert box.opened_at == MORNING
    with pytest.raises(Refusal, match="open already"):
        open_plate_box(session, box.id, now=MORNING)


def test_the_first_plate_taken_opens_a_sealed_box_and_a_dropped_box_stays_sealed(session: LabSession) -> None:
    dropped, used = shelf.box(session, "box 7"), shelf.box(session, "box 8")
    _draw(session, dropped.id, 2, PlateEntryKind.LOST)
    _draw(session, used.id, 1, PlateEntryKind.RUN)

    assert dropped.opened_at is None
    assert used.opened_at == MORNING


def test_a_count_becomes_an_entry_of_the_difference(session: LabSession) -> None:
    box = shelf.box(session)
    correct_plates(
        session, box.id, counted=28, reason="two missing at the end of term", by="Tomas", now=MORNING
    )

    assert [(entry.kind, entry.change) for entry in list_plate_entries(session, box.id)] == [
        ("arrived", 30),
        ("correction", -2),
    ]
    with pytest.raises(Refusal, match="already says 28 plates"):
        correct_plates(session, box.id, counted=28, reason="again", by="Tomas", now=MORNING)


STEP = st.tuples(st.sampled_from(["draw", "lose", "count"]), st.integers(0, 40))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, max_size=20))
def test_whatever_is_done_a_boxs_ledger_adds_up_to_its_balance(
    database: Database, cast: Cast, steps: list[tuple[str, int]]
) -> None:
    with database.writing(cast.lab_id) as session:
        box = shelf.box(session)
        plates = 30
        for step, size in steps:
            try:
                match step:
                    case "draw":
                        _draw(session, box.id, size)
                        plates -= size
                    case "lose":
                        _draw(session, box.id, size, PlateEntryKind.LOST)
                        plates -= size
                    case "count":
                        correct_plates(
                            session, box.id, counted=size, reason="counted", by="Tomas", now=MORNING
                        )
                        plates = size
            except Refusal:
                # A refused step changes nothing, which the sums below show.
                pass
        assert (
            box.plates_left
            == plates
            == sum(entry.change for entry in list_plate_entries(session, box.id))
            >= 0
        )
        assert list_unbalanced(session) == []
        session.rollback()


def test_a_second_box_of_the_same_name_is_refused(session: LabSession) -> None:
    shelf.box(session, "box 7")

    with pytest.raises(Refusal, match="already a plate box “box 7”"):
        shelf.box(session, "box 7")


def test_a_box_that_has_not_arrived_yet_is_not_taken_in(session: LabSession) -> None:
    """The cast's morning is 16 February 2027."""
    shelf.box(session, "box 7", arrived_on=date(2027, 2, 16))

    with pytest.raises(Refusal, match="Wed 17 Feb 2027 is still to come"):
        shelf.box(session, "box 8", arrived_on=date(2027, 2, 17))


def test_the_other_labs_box_cannot_be_drawn_from(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        box_id = shelf.box(session).id
    with database.writing(cast.other_lab_id) as session:
        with pytest.raises(NotFound):
            _draw(session, box_id, 1)
        with pytest.raises(NotFound):
            get_plate_box(session, box_id)
