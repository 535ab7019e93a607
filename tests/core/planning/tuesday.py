"""Tuesday's class of the first story, as this lab runs it: every number of it is the house's own, worked out by hand.

Three stations on one table, and a tray line on a bench of its own. A station pass of 6 min is load 1.5, settle 3, lift the card 0.5,
expose 0.25, cover and carry 0.75; a plate then needs 9 min in the trays: developer 2.5, rinse 0.5, bleach 2, rinse 3, wetting bath 1.
All of it is dark. The talk takes 8 min from nine on, cleaning up 5 min before the bell at ten to ten.
"""

from dataclasses import replace

from server.core.planning import Group, Place, Plan, Problem, Step

TALK_S, CLEAN_UP_S, SECTION_S = 480, 300, 3000
STATION_S, TAIL_S = 360, 540


def tuesday(
    *,
    plates: int = 18,
    stations: int = 3,
    developer: int = 3,
    settle_s: int = 180,
    section_s: int = SECTION_S,
    tray_bench: str = "wet bench",
) -> Problem:
    """The class as the planner is asked: second 0 is the end of the talk, the period ends when cleaning up begins."""
    named = tuple(f"S{number}" for number in range(1, stations + 1))
    baths = ("developer", "rinse", "bleach", "last rinse", "wetting bath")
    trays = tuple(Place(bath, 3, "room", tray_bench) for bath in baths)
    return Problem(
        "Tuesday",
        periods=((0, section_s - TALK_S - CLEAN_UP_S),),
        places=(
            *(Place(name, 1, "room", "table") for name in named),
            replace(trays[0], capacity=developer),
            *trays[1:],
        ),
        steps=(
            Step("load", named, 90, "dark", "moves", 0),
            Step("settle", "same", settle_s, "dark", "still", 0),
            Step("lift", "same", 30, "dark", "still", 0),
            Step("expose", "same", 15, "dark", "still", 0),
            Step("carry", "same", 45, "dark", "moves"),
            Step("develop", ("developer",), 150, "dark", "moves", 0),
            Step("rinse", ("rinse",), 30, "dark", "moves", 0),
            Step("bleach", ("bleach",), 120, "dark", "moves", 0),
            Step("rinse again", ("last rinse",), 180, "dark", "moves", 0),
            Step("wet", ("wetting bath",), 60, "dark", "moves"),
        ),
        groups=tuple(Group(f"P{number}", 1) for number in range(1, plates + 1)),
    )


def class_minutes(makespan_s: int, *, talk_s: int = TALK_S) -> float:
    """Talk, plan and cleaning up together, in minutes."""
    return (talk_s + makespan_s + CLEAN_UP_S) / 60


def leaves_developer(plan: Plan) -> float:
    """When the last plate leaves the developer, in minutes after the first round begins."""
    return max(visit.end_s for visit in plan.visits if visit.step == "develop") / 60
