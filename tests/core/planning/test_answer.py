"""The plan as JSON and on paper."""

import json

from server.core.planning import (
    Group,
    Place,
    Plan,
    Problem,
    Step,
    Unplaced,
    Visit,
    answer_json,
    wall_sheet,
    whiteboard,
)
from tests.core.planning.labs import lab

PLAN = Plan(
    "partial",
    700,
    700,
    (Visit("G1", 1, "align", "S1", 0, 700),),
    (Unplaced("G2", 1),),
    ("Only 1 of the 2 plates fit into the period.",),
    900,
)


def test_the_answer_has_exactly_the_published_fields() -> None:
    assert json.loads(answer_json(PLAN)) == {
        "status": "partial",
        "makespan_s": 700,
        "bound_s": 700,
        "visits": [{"group": "G1", "pass": 1, "step": "align", "place": "S1", "start_s": 0, "end_s": 700}],
        "unplaced": [{"group": "G2", "pass": 1}],
        "reasons": ["Only 1 of the 2 plates fit into the period."],
        "whiteboard_s": 900,
    }


def test_the_wall_sheet_shows_the_plan_by_time_and_by_group() -> None:
    problem = lab(groups=1, stations=1)
    sheet = wall_sheet(problem, whiteboard(problem))
    assert sheet.splitlines()[:2] == ["Tuesday", "======="]
    by_time, by_group = sheet.split("By time")[1].split("By group")
    assert "0:05:00  0:06:00  G1     1      load     S1" in by_time
    assert "G1, plate 1" in by_group
    assert "0:05:00  0:06:00  load     S1" in by_group


def test_the_wall_sheet_shows_the_finish_its_bound_and_what_is_left_out() -> None:
    aligning = (Step("align", ("S1",), 700),)
    problem = Problem("Tuesday", ((0, 700),), (Place("S1", 1),), aligning, (Group("G1", 1), Group("G2", 1)))
    sheet = wall_sheet(problem, PLAN)
    assert "Finish: 0:11:40" in sheet
    assert "No plan with as many plates ends before 0:11:40 (gap 0:00:00)." in sheet
    assert "Rounds on a whiteboard: 0:15:00" in sheet
    assert "Left out: G2 plate 1" in sheet
    assert "- Only 1 of the 2 plates fit into the period." in sheet


def test_a_sheet_without_a_plan_says_so() -> None:
    sheet = wall_sheet(
        lab(groups=1, stations=1), Plan("impossible", 0, 0, (), (Unplaced("G1", 1),), ("No room.",))
    )
    assert "Plan: no plan is possible." in sheet
    assert "Rounds on a whiteboard: do not fit." in sheet
    assert "By time" not in sheet
