"""Rotations for a class: who is where and when, with a proof of how good that is."""

from server.core.planning.answer import Plan, Progress, Status, Unplaced, Visit, answer_json, read_answer
from server.core.planning.changes import Change, changes_of, pairs_of
from server.core.planning.checking import check
from server.core.planning.class_file import ClassFileFault, read_class_file, write_class_file
from server.core.planning.planner import load_solver, plan, plan_aloud
from server.core.planning.problem import Charge, Fixed, Group, LightZone, Place, Problem, Step
from server.core.planning.rounds import whiteboard
from server.core.planning.sheet import wall_sheet
from server.core.planning.telling import Telling, tell
from server.core.planning.what_if import (
    Gain,
    Outlook,
    WhatIf,
    compare,
    outlook_of,
    pairs_to_try,
    unchanged,
    what_if,
)

__all__ = [
    "Change",
    "Charge",
    "ClassFileFault",
    "Fixed",
    "Gain",
    "Group",
    "LightZone",
    "Outlook",
    "Place",
    "Plan",
    "Problem",
    "Progress",
    "Status",
    "Step",
    "Telling",
    "Unplaced",
    "Visit",
    "WhatIf",
    "answer_json",
    "changes_of",
    "check",
    "compare",
    "load_solver",
    "outlook_of",
    "pairs_of",
    "pairs_to_try",
    "plan",
    "plan_aloud",
    "read_answer",
    "read_class_file",
    "tell",
    "unchanged",
    "wall_sheet",
    "what_if",
    "whiteboard",
    "write_class_file",
]
