"""Waiting is filled with activities, and every rule of that is derived again."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.agenda import Doing, agenda, now_and_next
from server.core.filling import WORTH_S, Activity, Busy, Filled, Filling, Waiting, busy_of, fill
from server.core.filling_check import check_filling
from server.core.planning import whiteboard
from server.core.planning.problem import Light, Stillness
from tests.core.planning.labs import lab

ZONES = st.sampled_from([None, "room", "next room"])
LIGHTS: st.SearchStrategy[Light] = st.sampled_from(["dark", "lit", "any"])
STILLS: st.SearchStrategy[Stillness] = st.sampled_from(["still", "moves", "any"])
GROUPS = ("G1", "G2", "G3")


@st.composite
def activities(draw: st.DrawFn) -> tuple[Activity, ...]:
    return tuple(
        Activity(
            f"activity {number}",
            shortest := draw(st.integers(WORTH_S, 400)),
            shortest + draw(st.integers(0, 400)),
            draw(st.booleans()),
            draw(st.sampled_from([None, 1, 2])),
            draw(ZONES),
            draw(LIGHTS),
            draw(ZONES),
            draw(STILLS),
            draw(st.integers(0, 5)) == 0,
        )
        for number in range(draw(st.integers(0, 5)))
    )


@st.composite
def visits(draw: st.DrawFn) -> tuple[Busy, ...]:
    found = []
    for _ in range(draw(st.integers(0, 8))):
        start = draw(st.integers(0, 3000))
        found.append(
            Busy(
                draw(st.sampled_from([*GROUPS, "repeats"])),
                start,
                start + draw(st.integers(1, 600)),
                draw(LIGHTS),
                draw(STILLS),
                draw(ZONES),
                draw(ZONES),
                draw(st.booleans()),
            )
        )
    return tuple(found)


SPANS = st.sampled_from([((0, 3600),), ((0, 1500), (1800, 3300)), ((300, 400),)])
GLOWS = st.sampled_from([{}, {"room": 120}])


@given(SPANS, visits(), activities(), GLOWS)
def test_what_is_given_out_keeps_every_rule(
    spans: tuple[tuple[int, int], ...],
    busy: tuple[Busy, ...],
    offered: tuple[Activity, ...],
    glow: dict[str, int],
) -> None:
    filling = fill(GROUPS, spans=spans, busy=busy, activities=offered, afterglow_s=glow)

    assert (
        check_filling(filling, groups=GROUPS, spans=spans, busy=busy, activities=offered, afterglow_s=glow)
        == ()
    )
    assert fill(GROUPS, spans=spans, busy=busy, activities=offered, afterglow_s=glow) == filling


@given(SPANS, visits(), activities())
def test_nothing_more_fits_into_what_is_left(
    spans: tuple[tuple[int, int], ...], busy: tuple[Busy, ...], offered: tuple[Activity, ...]
) -> None:
    """Each activity is tried in what is left of each wait, as early and as late as it goes, without moving another."""
    offered = tuple(replace(one, opens=False) for one in offered)
    filling = fill(GROUPS, spans=spans, busy=busy, activities=offered)
    for group in GROUPS:
        doings = agenda(group, spans=spans, busy=busy, filled=filling.filled)
        for wait in (one for one in doings if one.kind == "waiting"):
            for activity in offered:
                for start in {wait.start_s, wait.end_s - activity.shortest_s}:
                    tried = Filled(group, activity.name, start, start + activity.shortest_s)
                    more = Filling((*filling.filled, tried), filling.waiting)
                    faults = check_filling(more, groups=GROUPS, spans=spans, busy=busy, activities=offered)
                    assert [fault for fault in faults if " waits " not in fault], f"{tried} fits"


@given(SPANS, visits(), activities())
def test_activities_never_add_waiting(
    spans: tuple[tuple[int, int], ...], busy: tuple[Busy, ...], offered: tuple[Activity, ...]
) -> None:
    filling = fill(GROUPS, spans=spans, busy=busy, activities=offered)

    assert (
        0
        <= filling.after_s
        <= filling.before_s
        == fill(GROUPS, spans=spans, busy=busy, activities=()).after_s
    )


ROOM = (Busy("G1", 600, 1200, "dark", "still", "room", "table"),)
SPAN = ((0, 1800),)


def _stretches(filling: Filling, group: str = "G2") -> list[tuple[int, int]]:
    return [(one.start_s, one.end_s) for one in filling.filled if one.group == group]


@pytest.mark.parametrize(
    ("activity", "stretches"),
    [
        (Activity("worksheet", 300, 1800, light_zone="room", light="lit"), [(0, 600)]),
        (Activity("worksheet", 300, 1800, light_zone="next room", light="lit"), [(0, 1800)]),
        (Activity("worksheet", 300, 1800, light="lit"), [(0, 1800)]),
        (Activity("talk", 300, 1800, light_zone="room", light="dark"), [(0, 1800)]),
        (Activity("dry run", 300, 1800, still_zone="table", still="moves"), [(0, 600)]),
        (Activity("watch", 300, 1800, still_zone="table", still="still"), [(0, 1800)]),
        (Activity("dry run", 300, 1800, True, still_zone="table", still="moves"), [(0, 600), (1200, 1800)]),
        (Activity("too long", 1801, 2000), []),
    ],
)
def test_it_waits_for_light_and_stillness(activity: Activity, stretches: list[tuple[int, int]]) -> None:
    filling = fill(["G2"], spans=SPAN, busy=ROOM, activities=[activity])

    assert _stretches(filling) == stretches


def test_the_lamps_glow_on_after_a_lit_activity() -> None:
    worksheet = Activity("worksheet", 300, 1800, light_zone="room", light="lit")

    assert _stretches(
        fill(["G2"], spans=SPAN, busy=ROOM, activities=[worksheet], afterglow_s={"room": 120})
    ) in ([(0, 480)], [(1200, 1800)])


def test_a_group_does_an_activity_once_and_as_many_different_ones_as_fit() -> None:
    offered = [
        Activity("notes", 180, 3600, True),
        Activity("quiz", 300, 480),
        Activity("worksheet", 360, 720),
    ]
    filling = fill(["G2"], spans=((0, 3000),), busy=ROOM, activities=offered)

    assert {one.activity for one in filling.filled} == {"notes", "quiz", "worksheet"}
    assert filling.after_s == 0


def test_two_short_ones_share_a_wait_that_one_leaves_open() -> None:
    """Twelve minutes of waiting, two activities of five to ten: the first one gets shorter."""
    offered = [Activity("quiz", 300, 600), Activity("viewing", 300, 600)]
    filling = fill(["G2"], spans=((0, 720),), busy=(), activities=offered)

    assert filling.after_s == 0
    assert len(filling.filled) == 2


def test_the_same_thing_is_not_done_twice_running() -> None:
    """Five minutes of rest lie between, or something else."""
    filling = fill(["G2"], spans=((0, 1800),), busy=(), activities=[Activity("notes", 180, 600, True)])

    assert _stretches(filling) == [(0, 600), (900, 1500)]
    assert filling.waiting == (Waiting("G2", 1800, 600),)


def test_the_talk_comes_before_everything_else() -> None:
    offered = [
        Activity("notes", 180, 900, True),
        Activity("talk", 480, 480, opens=True, light_zone="room", light="lit"),
    ]
    busy = (Busy("G1", 0, 600, "dark", light_zone="room"),)
    filling = fill(["G2"], spans=SPAN, busy=busy, activities=offered)

    assert [(one.activity, one.start_s) for one in filling.filled] == [("talk", 600), ("notes", 1080)]


def test_no_more_groups_than_there_is_room_for_do_it_at_once() -> None:
    watch = Activity("interferometer watch", 600, 600, at_once=1)
    filling = fill(GROUPS, spans=SPAN, busy=(), activities=[watch])

    assert sorted(one.start_s for one in filling.filled) == [0, 600, 1200]


def test_who_waits_longest_chooses_first() -> None:
    busy = (Busy("G1", 0, 900), Busy("G2", 0, 300))
    filling = fill(["G1", "G2"], spans=SPAN, busy=busy, activities=[Activity("watch", 900, 900, at_once=1)])

    assert next(one.group for one in filling.filled) == "G2"


def test_a_plate_that_dries_by_itself_leaves_its_group_free() -> None:
    drying = Busy("G2", 0, 1800, attended=False, step="dry", place="dryer", pass_no=1)
    filling = fill(["G2"], spans=SPAN, busy=(drying,), activities=[Activity("notes", 60, 600)])
    doings = agenda("G2", spans=SPAN, busy=(drying,), filled=filling.filled)

    assert doings == (
        Doing("activity", "notes", 0, 600),
        Doing("visit", "dry", 0, 1800, "dryer", 1),
        Doing("waiting", "", 600, 1800),
    )
    assert now_and_next(doings, 0).now == doings[:2]
    assert now_and_next(doings, 0).then == (doings[2],)
    assert now_and_next(doings, 600).now == doings[1:]
    assert now_and_next(doings, 600).then == ()


def test_two_activities_that_disturb_each_other_are_not_done_at_once() -> None:
    offered = [
        Activity("dry run", 900, 900, still_zone="floor", still="moves"),
        Activity("watch", 900, 900, still_zone="floor", still="still"),
    ]
    filling = fill(["G1", "G2"], spans=SPAN, busy=(), activities=offered)

    assert check_filling(filling, groups=["G1", "G2"], spans=SPAN, busy=(), activities=offered) == ()
    assert filling.after_s == 0


NOTES = Activity("notes", 300, 600, at_once=1)
VALID = Filling((Filled("G2", "notes", 0, 600),), (Waiting("G1", 1200, 1200), Waiting("G2", 1800, 1200)))


@pytest.mark.parametrize(
    ("filled", "activity", "sentence"),
    [
        (("G9", "notes", 0, 600), NOTES, "no such group"),
        (("G2", "chess", 0, 600), NOTES, "no such group or activity"),
        (("G2", "notes", 0, 299), NOTES, "too short"),
        (("G2", "notes", 0, 601), NOTES, "too short or too long"),
        (("G2", "notes", 1500, 2000), NOTES, "not at work"),
        (("G1", "notes", 900, 1300), NOTES, "G1, notes at 900 s: the group is at S1 then."),
        (("G2", "notes", 300, 700), replace(NOTES, light_zone="room", light="lit"), "G1 needs the dark"),
        (("G2", "notes", 300, 700), replace(NOTES, still_zone="table", still="moves"), "holds still"),
        (("G2", "notes", 300, 700), replace(NOTES, opens=True), "G2 waits 1800 s without and 1400 s"),
    ],
)
def test_a_broken_rule_is_named(filled: tuple[str, str, int, int], activity: Activity, sentence: str) -> None:
    busy = (replace(ROOM[0], place="S1"),)
    broken = replace(VALID, filled=(Filled(*filled),))
    arguments = {"groups": ("G1", "G2"), "spans": SPAN, "busy": busy}

    assert check_filling(VALID, **arguments, activities=[NOTES]) == ()  # type: ignore[arg-type]
    assert sentence in " ".join(check_filling(broken, **arguments, activities=[activity]))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (Filled("G2", "notes", 500, 900), "G2 does notes and notes at once"),
        (Filled("G2", "notes", 700, 1100), "G2 does notes more than once"),
        (Filled("G1", "notes", 300, 600), "2 groups do notes at 300 s"),
        (Filled("G2", "watch", 0, 600), "G2 does notes and watch at once"),
        (Filled("G2", "talk", 700, 1000), "G2 does something before what opens"),
        (Filled("G1", "walk", 100, 500), "notes of G2 disturbs walk of G1"),
        (Filled("G1", "lamp", 100, 500), "notes of G2 disturbs lamp of G1"),
    ],
)
def test_what_disturbs_another_is_named(more: Filled, sentence: str) -> None:
    offered = [
        replace(NOTES, light_zone="next room", light="dark", still_zone="floor", still="still"),
        Activity("talk", 300, 600, opens=True),
        Activity("watch", 300, 600, True),
        Activity("walk", 300, 600, still_zone="floor", still="moves"),
        Activity("lamp", 300, 600, light_zone="next room", light="lit"),
    ]
    broken = replace(VALID, filled=(*VALID.filled, more))
    found = check_filling(broken, groups=("G1", "G2"), spans=SPAN, busy=ROOM, activities=offered)

    assert sentence in " ".join(found)


def test_doing_the_same_again_at_once_is_named() -> None:
    notes = replace(NOTES, repeatable=True)
    twice = replace(VALID, filled=(*VALID.filled, Filled("G2", "notes", 800, 1100)))

    assert check_filling(twice, groups=("G1", "G2"), spans=SPAN, busy=ROOM, activities=[notes]) == (
        "G2 does notes twice running.",
        "G2 waits 1800 s without and 900 s with its activities.",
    )


# The worked rota of the lab's practice: nine pairs, three stations, one tray line next door, house figures, 09:00 to 09:50.
# Seconds count from 09:08, when the talk is over. Each round takes 6 min, of which 3 min 45 s are to be held still; the tray line 9 min.
ROUND_S, TRAYS_S = 360, 540
PAIRS = tuple(f"P{number}" for number in range(1, 10))


def _rota() -> tuple[Busy, ...]:
    found = []
    for number, pair in enumerate(PAIRS):
        begins = number // 3 * ROUND_S
        station, ends = f"S{number % 3 + 1}", begins + ROUND_S
        for step, start, end, still in (
            ("load", begins, begins + 90, "moves"),
            ("hold still", begins + 90, begins + 315, "still"),
            ("carry", begins + 315, ends, "moves"),
        ):
            found.append(Busy(pair, start, end, "dark", still, "room", "table", True, step, station, 1))  # type: ignore[arg-type]
        found.append(
            Busy(pair, ends, ends + TRAYS_S, "dark", "moves", "tray room", None, True, "trays", "line", 1)
        )
    return tuple(found)


OTHERS = (
    Activity("viewing", 360, 360, at_once=3, light_zone="next room", light="lit"),
    Activity("interferometer", 360, 360, at_once=3, light_zone="next room", light="lit"),
    Activity("ray diagram", 360, 360, at_once=3, light_zone="next room", light="lit"),
    Activity("notes", 120, 720, True, light_zone="next room", light="lit"),
)


def test_the_worked_rota_of_nine_pairs_leaves_nobody_waiting() -> None:
    """As in the worked rota: while one round is at the stations, the others are next door; each pair waits 12 of 27 minutes."""
    spans = ((0, 3 * ROUND_S + TRAYS_S),)
    filling = fill(PAIRS, spans=spans, busy=_rota(), activities=OTHERS)

    assert check_filling(filling, groups=PAIRS, spans=spans, busy=_rota(), activities=OTHERS) == ()
    assert {one.before_s for one in filling.waiting} == {720}
    assert (filling.before_s, filling.after_s) == (9 * 720, 0)


def test_the_worked_rota_in_the_same_dark_room_leaves_them_waiting() -> None:
    """Lit activities in the stations' own room have no place between 09:08 and 09:26; after it only those who are done have."""
    spans = ((0, 3 * ROUND_S + TRAYS_S),)
    inside = [replace(one, light_zone="room") for one in OTHERS]
    filling = fill(PAIRS, spans=spans, busy=_rota(), activities=inside)

    assert min(one.start_s for one in filling.filled) >= 3 * ROUND_S
    assert {one.group: one.after_s for one in filling.waiting} == {
        **dict.fromkeys(PAIRS[:3], 180), **dict.fromkeys(PAIRS[3:6], 360), **dict.fromkeys(PAIRS[6:], 720)
    }  # fmt: skip


def test_what_a_pair_does_now_and_next_is_asked_of_its_agenda() -> None:
    spans = ((0, 3 * ROUND_S + TRAYS_S),)
    filling = fill(PAIRS, spans=spans, busy=_rota(), activities=OTHERS)
    doings = agenda("P4", spans=spans, busy=_rota(), filled=filling.filled)
    asked = now_and_next(doings, 450)

    assert [one.what for one in asked.now] == ["hold still"]
    assert [(one.what, one.start_s) for one in asked.then] == [("carry", 675)]
    assert sum(one.end_s - one.start_s for one in doings) == spans[0][1]


def test_a_plan_of_twenty_groups_with_two_plates_leaves_a_tenth_of_the_waiting() -> None:
    problem = lab(groups=20, stations=4, passes=2, period_s=20_000)
    plan = whiteboard(problem)
    groups = [group.name for group in problem.groups]
    offered = [
        Activity("watch", 300, 720, True, 1),
        Activity("viewing", 300, 600, at_once=2, light_zone="room", light="lit"),
        Activity("ray diagram", 360, 720),
        Activity("dry run", 300, 600, at_once=1, still_zone="table", still="moves"),
        Activity("calculation", 300, 600),
        Activity("notes", 180, 900, True),
        Activity("tidying", 300, 600, light_zone="room", light="lit"),
    ]
    busy, spans = busy_of(problem, plan.visits), ((0, plan.makespan_s),)
    filling = fill(groups, spans=spans, busy=busy, activities=offered)

    assert check_filling(filling, groups=groups, spans=spans, busy=busy, activities=offered) == ()
    assert filling.after_s < filling.before_s / 10
