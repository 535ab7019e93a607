"""Reading what is typed about a rotation."""

import pytest

from server.rotations.forms import NewPeriod, StepTable, read_steps
from server.rotations.models import StepPlace, StepTime
from server.web.submitted import read

ALIGN = {
    "name": "align",
    "position": "10",
    "at": "station",
    "time_from": "own",
    "seconds": "300",
    "light": "lit",
    "still": "moves",
    "max_wait_s": "1200",
    "attended": "true",
}
EXPOSE = {
    **ALIGN,
    "name": "expose",
    "position": "20",
    "at": "same",
    "time_from": "exposure",
    "seconds": "",
    "max_wait_s": "",
    "attended": "false",
}
EMPTY = dict.fromkeys(ALIGN, "") | {"at": "same"}


def _table(*lines: dict[str, str]) -> StepTable:
    return StepTable(**{field: tuple(line[field] for line in lines) for field in ALIGN})


def test_lines_become_steps_in_the_order_of_their_numbers() -> None:
    lines, steps = read_steps(_table({**EXPOSE, "position": "20"}, EMPTY, ALIGN))

    assert not any(line.errors for line in lines)
    assert [step.name for step in steps] == ["align", "expose"]
    assert (steps[0].at, steps[0].seconds, steps[0].max_wait_s) == (StepPlace.STATION, 300, 1200)
    assert (steps[1].time_from, steps[1].seconds, steps[1].max_wait_s) == (StepTime.EXPOSURE, None, None)
    assert [step.attended for step in steps] == [True, False]


def test_a_fault_stands_beside_its_field_and_what_was_typed_stays() -> None:
    lines, steps = read_steps(_table(ALIGN, {**EXPOSE, "max_wait_s": "a while"}))

    assert lines[1].error("max_wait_s") == "Please write a whole number, such as 12."
    assert lines[1].value("max_wait_s") == "a while"
    assert steps == []


def test_a_line_that_cannot_be_read_is_the_only_one_blamed() -> None:
    """Without its station the line below would seem to have no station to take its time from."""
    lines, steps = read_steps(_table({**ALIGN, "seconds": "a while"}, EXPOSE))

    assert [set(line.errors) for line in lines] == [{"seconds"}, set()]
    assert steps == []


def test_a_step_too_many_is_said_and_not_dropped() -> None:
    lines, steps = read_steps(_table(*({**ALIGN, "name": f"step {number}"} for number in range(41))))

    assert [index for index, line in enumerate(lines) if line.errors] == [40]
    assert lines[40].error("name") == "A pass has at most 40 steps. Take this one out."
    assert steps == []


def test_what_steps_may_not_be_beside_one_another_is_said_at_the_line() -> None:
    """The lines are typed in another order than their numbers say."""
    lines, steps = read_steps(_table({**EXPOSE, "name": "align"}, ALIGN))

    assert "Two steps are called “align”" in lines[0].error("name")
    assert lines[1].errors == {}
    assert steps == []


def test_a_tray_has_no_exposure_time() -> None:
    lines, _steps = read_steps(_table(ALIGN, {**EXPOSE, "at": "rinse"}))

    assert lines[1].error("time_from") == "Only a step at a station can take the station's time."


def test_a_period_ends_after_it_starts() -> None:
    typed = read(NewPeriod, {"day": "2027-02-16", "starts": "12:00", "ends": "11:00"})

    assert typed.errors == {"ends": "The period must end after it starts."}


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("ends", "12:00Z", "Please write a time such as 09:40."),
        ("starts", "09:00:00.5", "Please write a time such as 09:40."),
        ("day", "0001-01-01", "Please write a day between the years 2000 and 2199."),
        ("day", "9999-12-31", "Please write a day between the years 2000 and 2199."),
        ("day", "0", "Please write a date such as 2027-02-16."),
    ],
)
def test_a_period_is_on_the_labs_clock_and_calendar(field: str, typed: str, sentence: str) -> None:
    found = read(NewPeriod, {"day": "2027-02-16", "starts": "09:00", "ends": "11:00", field: typed})

    assert found.errors == {field: sentence}


def test_a_name_that_cannot_be_printed_is_refused() -> None:
    """A zero-width space comes along with pasted text, and no sheet could show it."""
    lines, _steps = read_steps(_table({**ALIGN, "name": "ali\u200bgn"}))

    assert "can't be printed" in lines[0].error("name")
