"""Roles rotate so that everybody loads, exposes and processes in turn."""

from collections import Counter
from itertools import pairwise
from string import ascii_lowercase

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.roles import ONCE_EACH, Duties, Members, Missed, Role, share_roles


def _group(students: int, plates: int, *, name: str = "G1", made_before: int = 0) -> Members:
    codes = tuple(f"{name}-{letter}" for letter in ascii_lowercase[:students])
    return Members(name, codes, tuple(range(1, plates + 1)), made_before)


GROUPS = st.builds(
    _group, st.integers(1, 9), st.integers(0, 12), name=st.just("G1"), made_before=st.integers(0, 20)
)


@given(GROUPS)
def test_within_a_group_each_role_is_held_equally_often_give_or_take_one(group: Members) -> None:
    duties = share_roles([group]).duties
    for role in Role:
        held = Counter(one.holder(role) for one in duties)
        times = [held[student] for student in group.students]

        assert max(times) - min(times) <= 1
        assert sum(times) == len(group.passes)


@given(GROUPS)
def test_with_as_many_plates_as_students_everybody_loads_exposes_and_processes(group: Members) -> None:
    missed = share_roles([group]).missed

    assert bool(missed) == (len(group.passes) < len(group.students))


@given(GROUPS)
def test_wet_gloves_never_load_the_next_plate_where_two_share_the_work(group: Members) -> None:
    wet = [
        second.pass_no
        for first, second in pairwise(share_roles([group]).duties)
        if first.holder(Role.PROCESSOR) == second.holder(Role.LOADER)
    ]

    assert wet == [] or len(group.students) == 1


@given(GROUPS)
def test_the_three_together_are_spread_evenly_too(group: Members) -> None:
    duties = share_roles([group]).duties
    done = Counter(one.holder(role) for one in duties for role in ONCE_EACH)
    times = [done[student] for student in group.students]

    assert max(times) - min(times) <= 1


@given(GROUPS)
def test_everything_that_was_not_held_is_listed_for_make_up(group: Members) -> None:
    share = share_roles([group])
    held = {(one.holder(role), role) for one in share.duties for role in ONCE_EACH}
    missing = {(one.student, role) for one in share.missed for role in one.roles}

    assert missing == {(student, role) for student in group.students for role in ONCE_EACH} - held
    assert {one.why for one in share.missed} <= {"plates"}


@given(GROUPS, st.data())
def test_who_keeps_to_the_light_only_writes_the_notes_and_who_is_away_nothing(
    group: Members, data: st.DataObject
) -> None:
    lit = data.draw(st.frozensets(st.sampled_from(group.students)))
    away = data.draw(st.frozensets(st.sampled_from(group.students)))
    share = share_roles([group], away=away, lit=lit)
    in_the_dark = set(group.students) - lit - away

    for one in share.duties:
        for role, student in one.holders:
            assert student not in away
            assert role is Role.RECORDER or student in in_the_dark
    for role in Role if in_the_dark else ():
        takes_turns = (lit - away) or in_the_dark if role is Role.RECORDER else in_the_dark
        held = Counter(one.holder(role) for one in share.duties)
        assert max(held[student] for student in takes_turns) - min(held[who] for who in takes_turns) <= 1
    assert (share.alone == ("G1",)) == (len(in_the_dark) < 2 and bool(group.passes))


@pytest.mark.parametrize("students", range(3, 10))
def test_from_three_students_on_nobody_holds_two_of_the_three_for_one_plate(students: int) -> None:
    for one in share_roles([_group(students, 9)]).duties:
        assert len({one.holder(role) for role in ONCE_EACH}) == 3


@pytest.mark.parametrize("students", range(5, 10))
def test_from_five_students_on_everybody_holds_one_role_at_most(students: int) -> None:
    for one in share_roles([_group(students, 9)]).duties:
        assert len({student for _role, student in one.holders}) == 5


def test_in_a_pair_one_handles_the_plate_and_the_other_the_shutter() -> None:
    """Who loads also processes: so the other one's hands are dry for the next plate."""
    first, second = share_roles([_group(2, 2)]).duties

    assert first.roles_of("G1-a") == (Role.LOADER, Role.PROCESSOR)
    assert first.roles_of("G1-b") == (Role.SHUTTER, Role.CALLER, Role.RECORDER)
    assert second.roles_of("G1-b") == first.roles_of("G1-a")


def test_the_turns_go_on_after_the_plates_made_before() -> None:
    first, second = share_roles([_group(3, 2)]).duties
    (later,) = share_roles([_group(3, 1, made_before=1)]).duties

    assert later.holders == second.holders != first.holders


def test_eighteen_students_in_six_groups_with_one_plate_each_hold_one_of_three_roles() -> None:
    """House example (story 10): each student holds 1 of 3 roles; the list says who missed which, for make-up."""
    share = share_roles([_group(3, 1, name=f"G{number}") for number in range(1, 7)])

    assert len(share.duties) == 6
    assert len(share.missed) == 18
    assert all(len(one.roles) == 2 and one.why == "plates" for one in share.missed)
    assert share.missed[6:9] == (
        Missed("G3", "G3-a", (Role.SHUTTER, Role.PROCESSOR), "plates"),
        Missed("G3", "G3-b", (Role.LOADER, Role.PROCESSOR), "plates"),
        Missed("G3", "G3-c", (Role.LOADER, Role.SHUTTER), "plates"),
    )
    assert share.alone == ()


def test_a_group_that_is_all_away_has_plates_without_roles() -> None:
    group = _group(2, 1)
    share = share_roles([group], away=frozenset(group.students))

    assert share.duties == (Duties("G1", 1, ()),)
    assert [one.why for one in share.missed] == ["away", "away"]
    assert share.alone == ("G1",)
