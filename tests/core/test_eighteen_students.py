"""Story 10 of the lab's practice, worked by hand: 18 students in six groups of three, one plate each, three stations, one of them
a low bench that one group needs. Talk 8 min, two rounds of 6, tail 9, clean-up 5: 34 of 50 min; 16 are spare, two more rounds.
"""

from dataclasses import replace

import pytest

from server.core.filling import Activity, busy_of, fill
from server.core.filling_check import check_filling
from server.core.planning import Group, Place, Plan, Problem, Step, check, plan
from server.core.roles import ONCE_EACH, Members, Role, roles_of_steps, share_roles

MINUTE = 60
CLASS_S, TALK_S, CLEAN_UP_S = 50 * MINUTE, 8 * MINUTE, 5 * MINUTE
ROUND_S, TAIL_S = 6 * MINUTE, 9 * MINUTE
# One line of trays, each of which takes three plates; together they are the tail.
TRAYS = (("developer", 150), ("rinse", 60), ("bleach", 150), ("wash", 180))
STATIONS = ("S1", "S2", "S3")
GROUPS = tuple(f"G{number}" for number in range(1, 7))
LOW_BENCH, NEEDS_IT = "S2", "G3"


def _steps(*stations: str) -> tuple[Step, ...]:
    return (
        Step("load", stations, 90, "dark", "moves", 0),
        Step("hold still", "same", 225, "dark", "still", 0),
        Step("carry", "same", 45, "dark", "moves", 0),
        *(Step(name, (name,), seconds, "dark", max_wait_s=0) for name, seconds in TRAYS),
    )


def _class(*, repeat_rounds: int = 0) -> Problem:
    """Seconds count from the end of the talk to the beginning of the clean-up. G3's plates and repeats are tied to the low bench."""
    tied = _steps(LOW_BENCH)
    groups = [Group(name, 1, tied if name == NEEDS_IT else None) for name in GROUPS]
    for number in range(1, repeat_rounds + 1):
        groups.append(Group(f"repeat {number} of {NEEDS_IT}", 1, tied, reserve=True))
        groups.extend(Group(f"repeat {number} {letter}", 1, reserve=True) for letter in "ab")
    return Problem(
        "eighteen",
        ((0, CLASS_S - TALK_S - CLEAN_UP_S),),
        (
            *(Place(name, 1, "room", "table") for name in STATIONS),
            *(Place(name, 3, "tray room") for name, _seconds in TRAYS),
        ),
        _steps(*STATIONS),
        tuple(groups),
    )


@pytest.fixture(scope="module")
def planned() -> Plan:
    return plan(_class(repeat_rounds=2), seconds=5, seed=1)


def test_the_class_takes_34_of_50_minutes() -> None:
    answer = plan(_class(), seconds=5, seed=1)

    assert answer.status == "optimal"
    assert answer.makespan_s == 2 * ROUND_S + TAIL_S
    assert TALK_S + answer.makespan_s + CLEAN_UP_S == 34 * MINUTE


def test_the_spare_16_minutes_take_two_rounds_of_repeats(planned: Plan) -> None:
    assert check(_class(repeat_rounds=2), planned) == ()
    assert planned.unplaced == ()
    assert planned.makespan_s == 4 * ROUND_S + TAIL_S
    assert TALK_S + planned.makespan_s + CLEAN_UP_S <= CLASS_S < TALK_S + 5 * ROUND_S + TAIL_S + CLEAN_UP_S


def test_the_group_that_needs_the_low_bench_has_it_for_its_round_and_its_repeats(planned: Plan) -> None:
    stations = {
        visit.place for visit in planned.visits if NEEDS_IT in visit.group and visit.place in STATIONS
    }

    assert stations == {LOW_BENCH}


def test_each_student_holds_one_of_three_roles_and_the_list_says_who_missed_which() -> None:
    share = share_roles([Members(name, tuple(f"{name}-{one}" for one in "abc"), (1,)) for name in GROUPS])
    held = [[role for role in duty.roles_of(student) if role in ONCE_EACH] for duty in share.duties for student in
            [f"{duty.group}-{one}" for one in "abc"]]  # fmt: skip

    assert [len(roles) for roles in held] == [1] * 18
    assert [len(one.roles) for one in share.missed] == [2] * 18
    assert {one.why for one in share.missed} == {"plates"}


def test_whose_each_step_is_follows_from_its_light_and_its_stillness() -> None:
    asked = (
        Step("align", STATIONS, 60, "lit"),
        Step("wait", "same", 60),
        *_steps(*STATIONS),
        Step("view", STATIONS, 60, "lit"),
    )

    assert roles_of_steps(asked) == (
        None, None, Role.LOADER, Role.SHUTTER, Role.PROCESSOR, *[Role.PROCESSOR] * len(TRAYS), None
    )  # fmt: skip
    assert roles_of_steps([replace(step, still="any") for step in asked]) == (None,) * 10


def test_the_three_groups_that_wait_for_the_second_round_and_those_that_are_done_have_something_to_do(
    planned: Plan,
) -> None:
    """From the end of the talk to the last plate each group waits 6 of 21 min, before its round or after its tail."""
    problem = _class(repeat_rounds=2)
    spans = ((0, 2 * ROUND_S + TAIL_S),)
    offered = [
        Activity("viewing", 300, 600, at_once=2),
        Activity("worksheet", 360, 720),
        Activity("notes", 180, 900, True),
    ]
    busy = busy_of(problem, planned.visits)
    filling = fill(GROUPS, spans=spans, busy=busy, activities=offered)

    assert check_filling(filling, groups=GROUPS, spans=spans, busy=busy, activities=offered) == ()
    assert {(one.before_s, one.after_s) for one in filling.waiting} == {(ROUND_S, 0)}
