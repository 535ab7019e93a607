"""The pages of plates left to dry, over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest

from server.data.session import LabSession
from server.people.queries import list_students
from server.runs.actions import leave_to_dry
from server.runs.queries import list_slips_left
from tests.casts import MORNING, Cast
from tests.conftest import Running, Visitor
from tests.reading import text_of
from tests.runs.room import AT_THE_BELL, Room, add_rack, fill_room, make_plates

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def room(in_lab: InLab) -> Room:
    with in_lab() as session:
        return fill_room(session)


@pytest.fixture
def rack_id(in_lab: InLab, room: Room, cast: Cast) -> int:
    """A rack with three plates of a class at the bell in R1 to R3."""
    with in_lab() as session:
        rack = add_rack(session)
        runs = make_plates(
            session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=AT_THE_BELL
        )
        for slot, run in enumerate(runs[6:], start=1):
            leave_to_dry(session, run.id, place_id=rack, slot=slot, by="G1", now=MORNING)
        return rack


def test_who_left_plates_is_listed_until_they_are_handed_out(
    tomas: Visitor, rack_id: int, in_lab: InLab
) -> None:
    page = tomas.page("/claims")
    rows = [text_of(row) for row in page.select("tbody tr")]
    assert len(rows) == 3
    assert "R1 Tue-G1 run 7 verdict waits" in rows[0]

    with in_lab() as session:
        first = list_slips_left(session)[0].id
    page = tomas.submit("/claims/hand-out", slip_ids=[first])
    assert "R1" not in text_of(page.select("table")[0])
    assert "Tomas" in text_of(page.select("table")[1])
    page = tomas.submit(f"/claims/{first}/put-back")
    assert "R1 Tue-G1 run 7" in text_of(page.select("table")[0])


def test_slips_say_slot_run_and_day_by_code_and_no_name(
    mira: Visitor, rack_id: int, in_lab: InLab, cast: Cast
) -> None:
    text = text_of(mira.page("/claims/slips"))

    assert "R3 Tue-G1, run 9 left Tue 16 Feb 2027" in text
    with in_lab() as session:
        assert not [one.name for one in list_students(session, cast.section_id) if one.name in text]


def test_staff_leave_a_plate_for_a_group(tomas: Visitor, room: Room, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        rack = add_rack(session)
        run = make_plates(
            session, room, section_id=cast.section_id, group_id=cast.group_ids[1], verdicts=[None]
        )[0]
        run_id = run.id
    page = tomas.submit("/claims", run_id=run_id, slot_id=f"{rack}-4")
    assert "R4 Tue-G2 run 1" in text_of(page)
    assert "run 1, Tue-G2, now in R4 of drying rack" in text_of(page)
    page = tomas.submit("/claims", run_id=run_id, slot_id=f"{rack}-5")
    assert "R5 Tue-G2 run 1" in text_of(page)

    page = tomas.submit("/claims", 422, run_id=run_id, slot_id="somewhere")
    assert "choose one of the free slots" in text_of(page)


def test_the_day_after_a_plate_in_the_rack_is_due(server: Running, tomas: Visitor, rack_id: int) -> None:
    server.clock.instant = MORNING + timedelta(days=1)

    assert "R1 Tue-G1 run 7 verdict due" in text_of(tomas.page("/claims"))
    assert "Good so far: 5 of 6 rated, 3 waiting (in R1–R3)." in text_of(tomas.page("/runs"))


def test_nobody_hands_out_what_was_not_ticked(tomas: Visitor, rack_id: int) -> None:
    page = tomas.submit("/claims/hand-out", 409)

    assert "No plate was ticked" in text_of(page)


def test_a_lab_without_a_rack_is_told_where_to_add_one(tomas: Visitor, room: Room) -> None:
    assert "There is no rack yet." in text_of(tomas.page("/claims"))
