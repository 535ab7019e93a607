"""What each student did, from plans, calls and runs."""

from collections import Counter
from datetime import timedelta

from server.callings.queries import get_to_call, list_exposed
from server.core.calling import EventKind
from server.core.deeds import OnTime, never_held
from server.core.roles import Role
from server.core.standing import pending
from server.data.session import LabSession
from server.marks.queries import ClassDone, find_done
from server.people.actions import form_section_groups, remove_student
from server.students.actions import arrange, erase_names, keep_consents, move_student
from server.students.models import Absence, Arrangement, Consent, Signing
from tests.callings.calls import at, called, said, stands
from tests.casts import MORNING, Cast
from tests.marks.marking import Held, class_held, students_of


def _done(session: LabSession, held: Held, *, minutes: float = 60, within_s: int = 1800) -> ClassDone:
    (found,) = find_done(session, held.section_id, notes_within_s=within_s, now=at(minutes)).classes
    return found


def test_roles_are_held_for_plates_that_were_made(session: LabSession, cast: Cast) -> None:
    """G1 is to make two plates and makes one: whoever had the shutter of the second has not exposed."""
    held = class_held(session, cast.section_id)
    held.run(session, 15)
    ada = students_of(session, cast.section_id)[0]

    done = _done(session, held).held_by(ada)
    assert [(one.plate, one.roles) for one in done] == [(1, (Role.LOADER, Role.PROCESSOR))]
    assert never_held(done) == (Role.SHUTTER,)

    held.run(session, 21)
    assert never_held(_done(session, held).held_by(ada)) == ()


def test_a_plate_whose_note_is_missing_is_passed_over_and_whoever_filed_was_the_recorder(
    session: LabSession, cast: Cast
) -> None:
    """The one note says that it is of the second plate, whose shutter closed at 09:19:15, and that b filed it."""
    held = class_held(session, cast.section_id)
    held.run(session, 21, plate_no=2, filed_by="b")
    ada, bo, *_others = students_of(session, cast.section_id)

    done = _done(session, held)
    (one,) = done.runs["G1"]
    assert one.note is not None
    assert (one.plate, one.note.after_s) == (2, 105)
    assert [(each.plate, each.roles) for each in done.held_by(ada)] == [(2, (Role.SHUTTER, Role.CALLER))]
    assert [(each.plate, each.roles) for each in done.held_by(bo)] == [
        (2, (Role.LOADER, Role.PROCESSOR, Role.RECORDER))
    ]


def test_who_was_away_held_nothing_and_the_others_of_the_group_did(session: LabSession, cast: Cast) -> None:
    held = class_held(session, cast.section_id)
    held.run(session, 15)
    ada, bo, *_others = students_of(session, cast.section_id)
    session.add(Absence(student_id=ada, day=MORNING.date()))
    session.flush()

    done = _done(session, held)
    assert done.away == {ada}
    assert done.held_by(ada) == ()
    assert never_held(done.held_by(bo)) == ()


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

    done = _done(session, held)
    assert never_held(done.held_by(ada)) == (Role.LOADER, Role.SHUTTER, Role.PROCESSOR)
    assert never_held(done.held_by(bo)) == ()


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

    assert find_done(session, held.section_id, notes_within_s=60, now=at(-1)).classes == []


Kept = dict[int, list[tuple[int, tuple[Role, ...]]]]


def _kept(session: LabSession, held: Held, students: list[int]) -> Kept:
    """What each student held, plate by plate."""
    session.flush()
    session.expire_all()
    done = _done(session, held)
    return {one: [(each.plate, each.roles) for each in done.held_by(one)] for one in students}


def _with_runs(session: LabSession, cast: Cast) -> Held:
    """G1 and G2 made two plates each."""
    held = class_held(session, cast.section_id)
    for group in (0, 1):
        held.run(session, 15, group=group, filed_by="b")
        held.run(session, 21, group=group)
    session.flush()
    return held


def test_what_was_done_stays_whose_it_was_when_groups_are_formed_anew(
    session: LabSession, cast: Cast
) -> None:
    held = _with_runs(session, cast)
    students = students_of(session, cast.section_id)
    ada, edda = students[0], students[4]
    before = _kept(session, held, students)
    assert before[ada]
    assert before[edda] == []

    form_section_groups(session, cast.section_id, size=3)
    session.flush()
    move_student(session, cast.section_id, ada, group_id=cast.group_ids[1])
    move_student(session, cast.section_id, edda, group_id=cast.group_ids[0])

    assert _kept(session, held, students) == before
    done = _done(session, held)
    assert [len(done.runs_of(one)) for one in (ada, edda)] == [2, 0]
    assert done.unnoted_of(edda, "G1") == []


def test_the_others_held_what_they_held_when_somebody_leaves_the_list(
    session: LabSession, cast: Cast
) -> None:
    held = _with_runs(session, cast)
    ada, bo, *_others = students_of(session, cast.section_id)
    before = _kept(session, held, [bo])
    remove_student(session, cast.section_id, ada)
    session.flush()
    move_student(session, cast.section_id, bo, group_id=cast.group_ids[1])

    assert _kept(session, held, [bo]) == before


def test_who_kept_to_the_light_did_so_whatever_is_signed_arranged_or_erased_later(
    session: LabSession, cast: Cast
) -> None:
    """Ada signed a week after the class, Cleo's lit activities began after it, and Dov's paper of its day was entered late."""
    students = students_of(session, cast.section_id)
    ada, bo, cleo, dov, *_others = students
    day = MORNING.date()
    for one in (ada, dov):
        session.add(
            Consent(student_id=one, signing=Signing.SAFETY, given=False, on_day=day, kept_by="Mira", kept_at=MORNING)
        )  # fmt: skip
    session.flush()
    held = _with_runs(session, cast)
    later = {"withdrawn": (), "by": "Mira", "now": MORNING + timedelta(days=8)}
    keep_consents(session, cast.section_id, given=[(dov, Signing.SAFETY)], on_day=day, **later)  # type: ignore[arg-type]
    before = _kept(session, held, students)
    assert {role for _plate, roles in before[ada] for role in roles} == {Role.RECORDER}
    assert all(before[one] for one in (bo, cleo, dov))

    keep_consents(
        session, cast.section_id, given=[(ada, Signing.SAFETY)], on_day=day + timedelta(days=7), **later,  # type: ignore[arg-type]
    )  # fmt: skip
    arrange(session, cast.section_id, cleo, arrangements=[Arrangement.LIT], words="")
    assert _kept(session, held, students) == before

    erase_names(session, [cast.section_id], now=MORNING + timedelta(days=60))
    assert _kept(session, held, students) == before
