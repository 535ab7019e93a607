"""What each student did, from plans, calls and runs."""

from collections import Counter
from datetime import timedelta

from server.callings.queries import get_to_call, list_exposed
from server.core.calling import EventKind
from server.core.deeds import OnTime, held_by, never_held
from server.core.roles import Role
from server.core.standing import pending
from server.data.session import LabSession
from server.marks.queries import ClassDone, list_classes_done
from server.people.queries import list_codes
from server.students.models import Absence, Consent, Signing
from tests.callings.calls import at, called, said, stands
from tests.casts import MORNING, Cast
from tests.marks.marking import Held, class_held, students_of


def _done(session: LabSession, held: Held, *, minutes: float = 60, within_s: int = 1800) -> ClassDone:
    (found,) = list_classes_done(session, held.section_id, notes_within_s=within_s, now=at(minutes))
    return found


def test_roles_are_held_for_plates_that_were_made(session: LabSession, cast: Cast) -> None:
    """G1 is to make two plates and makes one: whoever had the shutter of the second has not exposed."""
    held = class_held(session, cast.section_id)
    held.run(session, 15)
    ada = list_codes(session, cast.section_id)[students_of(session, cast.section_id)[0]]

    done = held_by(ada, _done(session, held).duties)
    assert [(one.plate, one.roles) for one in done] == [(1, (Role.LOADER, Role.PROCESSOR))]
    assert never_held(done) == (Role.SHUTTER,)

    held.run(session, 21)
    assert never_held(held_by(ada, _done(session, held).duties)) == ()


def test_a_plate_whose_note_is_missing_is_passed_over_and_whoever_filed_was_the_recorder(
    session: LabSession, cast: Cast
) -> None:
    """The one note says that it is of the second plate, whose shutter closed at 09:19:15, and that b filed it."""
    held = class_held(session, cast.section_id)
    held.run(session, 21, plate_no=2, filed_by="b")
    ada, bo, *_others = students_of(session, cast.section_id)
    codes = list_codes(session, cast.section_id)

    done = _done(session, held)
    (one,) = done.runs["G1"]
    assert one.note is not None
    assert (one.plate, one.note.after_s) == (2, 105)
    assert [(each.plate, each.roles) for each in held_by(codes[ada], done.duties)] == [
        (2, (Role.SHUTTER, Role.CALLER))
    ]
    assert [(each.plate, each.roles) for each in held_by(codes[bo], done.duties)] == [
        (2, (Role.LOADER, Role.PROCESSOR, Role.RECORDER))
    ]


def test_who_was_away_held_nothing_and_the_others_of_the_group_did(session: LabSession, cast: Cast) -> None:
    held = class_held(session, cast.section_id)
    held.run(session, 15)
    ada, bo, *_others = students_of(session, cast.section_id)
    session.add(Absence(student_id=ada, day=MORNING.date()))
    session.flush()
    codes = list_codes(session, cast.section_id)

    done = _done(session, held)
    assert done.away == {ada}
    assert held_by(codes[ada], done.duties) == ()
    assert never_held(held_by(codes[bo], done.duties)) == ()


def test_who_has_not_signed_keeps_to_the_light_and_has_everything_to_make_up(
    session: LabSession, cast: Cast
) -> None:
    held = class_held(session, cast.section_id)
    held.run(session, 15)
    held.run(session, 21)
    ada, bo, *_others = students_of(session, cast.section_id)
    session.add(
        Consent(
            student_id=ada, signing=Signing.SAFETY, given=False, on_day=MORNING.date(), kept_by="Mira", kept_at=MORNING
        )
    )  # fmt: skip
    session.flush()
    codes = list_codes(session, cast.section_id)

    duties = _done(session, held).duties
    assert never_held(held_by(codes[ada], duties)) == (Role.LOADER, Role.SHUTTER, Role.PROCESSOR)
    assert never_held(held_by(codes[bo], duties)) == ()


def test_a_note_counts_by_when_it_was_written_though_the_network_was_down(
    session: LabSession, cast: Cast
) -> None:
    """Planned to close at 09:13:15: written at 09:20 and heard of at 11:00 is in time within ten minutes, at 09:24 it is not."""
    held = class_held(session, cast.section_id)
    held.run(session, 20, arrived=120)
    held.run(session, 24, group=1)

    runs = _done(session, held, minutes=180, within_s=600).runs
    assert [(one.note.judged, one.note.after_s) for one in runs["G1"] if one.note] == [(OnTime.YES, 405)]
    assert [(one.note.judged, one.note.after_s) for one in runs["G2"] if one.note] == [(OnTime.LATE, 645)]


def test_notes_are_held_against_what_was_called_and_not_planned(session: LabSession, cast: Cast) -> None:
    """The first shutters were called at 09:30 and stay open for 45 s, so a note at 09:35 is in time."""
    held = class_held(session, cast.section_id)
    for minutes in (25, 27, 30):
        called(session, held.rotation_id, minutes)
    held.run(session, 35)

    (one,) = _done(session, held, within_s=600).runs["G1"]
    assert one.note is not None
    assert (one.note.judged, one.note.after_s) == (OnTime.YES, 255)


def test_a_rehearsal_the_day_before_exposes_nothing(session: LabSession, cast: Cast) -> None:
    held = class_held(session, cast.section_id)
    for minutes in (-1002, -1000, -997):
        called(session, held.rotation_id, minutes)

    closed = list_exposed(session, get_to_call(session, held.rotation_id))
    assert closed[0].closed_at == at(8) + timedelta(seconds=315)
    assert len(closed) == 6


def test_a_plate_made_again_is_its_group_s_exposure(session: LabSession, cast: Cast) -> None:
    held = class_held(session, cast.section_id)
    for minutes in (8, 9.5, 12.5):
        called(session, held.rotation_id, minutes)
    said(session, held.rotation_id, EventKind.REPEAT, 13.5, repeats=["1 0 G1"])
    minutes = 14.0
    while pending(stands(session, held.rotation_id, at(minutes)).replayed.standing):
        called(session, held.rotation_id, minutes)
        minutes += 4

    closed = list_exposed(session, get_to_call(session, held.rotation_id))
    assert Counter(one.group for one in closed) == {"G1": 3, "G2": 2, "G3": 2}


def test_more_plates_than_were_planned_and_those_outside_a_class_have_no_roles(
    session: LabSession, cast: Cast
) -> None:
    held = class_held(session, cast.section_id, rounds=1)
    held.run(session, 15)
    held.run(session, 22)
    held.run(session, 40, outside=True)

    done = _done(session, held)
    assert [(one.plate, one.pass_no) for one in done.runs["G1"]] == [(1, 1), (2, None)]
    assert [one.note.judged for one in done.runs["G1"] if one.note] == [OnTime.YES, OnTime.UNKNOWN]


def test_a_class_that_has_not_begun_is_no_evidence(session: LabSession, cast: Cast) -> None:
    held = class_held(session, cast.section_id)

    assert list_classes_done(session, held.section_id, notes_within_s=60, now=at(-1)) == []
