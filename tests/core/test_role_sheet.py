"""What one student does, on the clock."""

from server.core.agenda import Doing
from server.core.filling import Busy
from server.core.role_sheet import CALLS, NOTES, DutyLine, duty_lines
from server.core.roles import Duties, Role

PLATE = (
    Busy("G1", 0, 300, "lit", "moves", step="align", place="S1", pass_no=1),
    Busy("G1", 300, 360, "dark", "moves", step="load", place="S1", pass_no=1),
    Busy("G1", 360, 420, "dark", "still", step="settle", place="S1", pass_no=1),
    Busy("G1", 420, 430, "dark", "still", step="expose", place="S1", pass_no=1),
    Busy("G1", 500, 560, "dark", step="develop", place="developer", pass_no=1),
    Busy("G1", 560, 600, "dark", step="rinse", place="rinse", pass_no=1),
    Busy("G1", 600, 900, attended=False, step="dry", place="dryer", pass_no=1),
)
WHOSE = {
    (1, "align"): None,
    (1, "load"): Role.LOADER,
    (1, "settle"): Role.SHUTTER,
    (1, "expose"): Role.SHUTTER,
    (1, "develop"): Role.PROCESSOR,
    (1, "rinse"): Role.PROCESSOR,
    (1, "dry"): Role.PROCESSOR,
}
ALIGN = DutyLine(0, 300, "visit", None, "align", "S1", 1)


def _lines(*roles: Role, doings: tuple[Doing, ...] = (), lit: bool = False) -> tuple[DutyLine, ...]:
    duties = [Duties("G1", 1, tuple((role, "G1-a") for role in roles))]
    return duty_lines("G1-a", duties=duties, busy=PLATE, whose=WHOSE, doings=doings, keeps_to_the_light=lit)


def test_steps_of_one_role_at_one_place_are_one_line() -> None:
    assert _lines(Role.SHUTTER) == (
        ALIGN,
        DutyLine(360, 430, "visit", Role.SHUTTER, "settle, expose", "S1", 1),
    )


def test_a_step_that_nobody_attends_is_on_no_sheet() -> None:
    assert _lines(Role.PROCESSOR)[1:] == (
        DutyLine(500, 560, "visit", Role.PROCESSOR, "develop", "developer", 1),
        DutyLine(560, 600, "visit", Role.PROCESSOR, "rinse", "rinse", 1),
    )


def test_who_calls_begins_with_the_dark_and_ends_with_the_exposure() -> None:
    assert _lines(Role.CALLER, Role.LOADER)[1:] == (
        DutyLine(300, 360, "visit", Role.LOADER, "load", "S1", 1),
        DutyLine(300, 430, "visit", Role.CALLER, CALLS, "S1", 1),
    )


def test_who_writes_the_note_does_so_from_the_exposure_until_the_plate_is_done() -> None:
    assert _lines(Role.RECORDER)[1:] == (DutyLine(430, 600, "visit", Role.RECORDER, NOTES, "", 1),)


def test_activities_and_waiting_stand_between_the_plates() -> None:
    doings = (
        Doing("visit", "align", 0, 300, "S1", 1),
        Doing("activity", "quiz", 600, 900),
        Doing("waiting", "", 900, 960),
    )

    assert _lines(doings=doings) == (
        ALIGN,
        DutyLine(600, 900, "activity", None, "quiz"),
        DutyLine(900, 960, "waiting", None, ""),
    )


def test_who_keeps_to_the_light_is_not_there_in_the_dark() -> None:
    duties = [Duties("G1", 1, ())]
    dark = (Busy("G1", 0, 60, "dark", step="look", place="S1", pass_no=1), *PLATE[:1])
    whose = {(1, "look"): None, (1, "align"): None}

    assert duty_lines("G1-a", duties=duties, busy=dark, whose=whose, doings=(), keeps_to_the_light=True) == (
        ALIGN,
    )
    assert len(duty_lines("G1-a", duties=duties, busy=dark, whose=whose, doings=())) == 2
