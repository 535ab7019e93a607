"""The first story: can each of 18 students make a plate in 50 minutes? Checked with the house's own figures.

By rounds, as the story counts them: talk 8 + rounds × 6 + trays 9 + cleaning up 5, a round holding as many plates as there are stations.
The planner is given the same class and reaches the same minutes: all stations hold still on one table, so staggering them gains nothing.
The rounds of `whiteboard` are other rounds: by hand a round is processed before the next one loads, because in most labs the lights
go on for aligning in between; here that would take 8 + 6 × 15 + 5 = 103 min.
"""

import pytest

from server.core.planning import changes_of, check, compare, outlook_of, pairs_of, plan, what_if, whiteboard
from server.core.planning.changes import TALK_LEFT_S
from tests.core.planning.tuesday import (
    CLEAN_UP_S,
    SECTION_S,
    STATION_S,
    TAIL_S,
    TALK_S,
    class_minutes,
    leaves_developer,
    tuesday,
)

AMPLE_S = 3 * SECTION_S


def _by_rounds(*, plates: int, stations: int, talk_s: int = TALK_S, station_s: int = STATION_S) -> float:
    rounds = -(-plates // stations)
    return (talk_s + rounds * station_s + TAIL_S + CLEAN_UP_S) / 60


@pytest.mark.parametrize(
    ("plates", "stations", "settle_s", "talk_s", "minutes"),
    [
        (18, 3, 180, TALK_S, 58),
        (9, 3, 180, TALK_S, 40),
        (18, 4, 180, TALK_S, 52),
        (18, 3, 180, TALK_LEFT_S, 53),
        (18, 4, 180, TALK_LEFT_S, 47),
        (18, 3, 120, TALK_LEFT_S, 47),
    ],
)
def test_the_planner_needs_as_many_minutes_as_the_story_s_rounds(
    plates: int, stations: int, settle_s: int, talk_s: int, minutes: int
) -> None:
    """Each own plate 58, pairs 40, a fourth station 52, the talk in the pre-lab 53, both 47, pre-lab and a slot of 5 min 47; all proven."""
    station_s = STATION_S - 180 + settle_s
    problem = tuesday(plates=plates, stations=stations, settle_s=settle_s, section_s=AMPLE_S)
    answer = plan(problem, seconds=5, seed=1)

    assert _by_rounds(plates=plates, stations=stations, talk_s=talk_s, station_s=station_s) == minutes
    assert class_minutes(answer.makespan_s, talk_s=talk_s) == minutes
    assert answer.status == "optimal"


def test_eighteen_own_plates_do_not_fit_and_at_most_twelve_do() -> None:
    """The most rounds in 50 min are (50 − 8 − 9 − 5) ÷ 6 = 4 whole ones, that is 12 plates."""
    answer = plan(tuesday(), seconds=5, seed=1)

    assert (answer.status, len(answer.unplaced), answer.most) == ("partial", 6, True)
    assert "Only 12 of the 18 plates fit into the period." in answer.reasons
    assert "All 18 plates need 45 min, 8 min more than the period." in answer.reasons


def test_by_hand_a_round_is_processed_before_the_next() -> None:
    """The rounds by hand take 6 + 9 min each, and only two of them fit: 6 plates."""
    assert class_minutes(whiteboard(tuesday(section_s=3 * AMPLE_S)).makespan_s) == 8 + 6 * 15 + 5
    assert len(whiteboard(tuesday()).unplaced) == 18 - 2 * 3


def test_what_would_help_and_what_would_not() -> None:
    """A fourth station alone (52 min) and the talk in the pre-lab alone (53) leave somebody out."""
    problem = tuesday()
    before = plan(problem, seconds=5, seed=1)
    found = {
        change.key: what_if(problem, change, before, seconds=1, seed=1).outlook
        for change in changes_of(problem, talk_s=TALK_S)
        if not change.gives_up
    }

    assert {key: outlook.placed for key, outlook in found.items()} == {
        "talk": 15,
        "settle": 15,
        "station": 16,
        "tray-busiest": 12,
        "tray-every": 12,
        "minutes-1": 12,
        "minutes-10": 18,
    }
    assert all(outlook.proven for outlook in found.values())
    assert compare(outlook_of(problem, before), found["station"]).plates == 4


def test_two_changes_together_let_everybody_make_a_plate() -> None:
    """The talk in the pre-lab with a fourth station, or with a slot of 5 min, ends 47 min after it begins; the story names both."""
    problem = tuesday()
    before = plan(problem, seconds=5, seed=1)
    singles = [
        change
        for change in changes_of(problem, talk_s=TALK_S)
        if change.key in {"talk", "station", "settle", "tray-busiest"}
    ]
    outlooks = {
        pair.key: (what_if(problem, pair, before, seconds=1, seed=1).outlook, pair.earlier_s)
        for pair in pairs_of(problem, singles, talk_s=TALK_S)
    }
    everybody = {
        key: class_minutes(outlook.makespan_s + earlier_s, talk_s=TALK_S - earlier_s)
        for key, (outlook, earlier_s) in outlooks.items()
        if outlook.placed == 18
    }

    assert everybody == {"talk+settle": 47, "talk+station": 47, "settle+station": 47}
    assert outlooks["talk+tray-busiest"][0].placed == 15


def test_a_developer_for_one_plate_makes_a_backlog() -> None:
    """One at a time takes 3 × 2.5 = 7.5 min a round, 1.5 min more than the round: after four rounds the last is 6 min behind."""
    four_rounds = [tuesday(plates=12, developer=room, section_s=AMPLE_S) for room in (3, 1)]
    quick, slow = (plan(problem, seconds=5, seed=1) for problem in four_rounds)

    assert leaves_developer(quick) == 4 * 6 + 2.5 == 26.5
    assert leaves_developer(slow) == 4 * 6 + 7.5 + 3 * 1.5 == 36.0
    assert quick.status == slow.status == "optimal"


def test_more_room_in_the_developer_takes_the_backlog_away() -> None:
    problem = tuesday(plates=12, developer=1, section_s=AMPLE_S)
    before = plan(problem, seconds=5, seed=1)
    change = next(one for one in changes_of(problem, talk_s=0) if one.key == "tray-busiest")
    after = what_if(problem, change, before, seconds=3, seed=1)

    assert change.words == "One more place in developer"
    assert check(change.problem, after.plan) == ()
    assert leaves_developer(after.plan) < 36.0
