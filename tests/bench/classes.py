"""The classes the planner is measured with: an invented lab of several sizes, and a published job shop."""

from collections.abc import Sequence

from server.core.planning import Group, Place, Problem, Step
from tests.core.planning.labs import instance

HOURS_6 = 21_600


def classroom(
    name: str, *, plates: Sequence[int], stations: int, trays: int, rooms: int = 1, realign_s: int = 300
) -> Problem:
    """Groups that make so many plates each; a later plate of a group takes ``realign_s`` to align.

    With one room the stations, the trays and the bench share its light; with two the stations have a room of
    their own, the trays another, and the bench stands in neither.
    """
    places = stations_and_trays(stations, trays, rooms)
    at = tuple(place.name for place in places[:stations])
    first, later = (steps(at, align_s, rooms) for align_s in (300, realign_s))
    groups = tuple(
        Group(f"G{number}", count, pass_steps=(first, *[later] * (count - 1)))
        for number, count in enumerate(plates, 1)
    )
    return Problem(name, ((0, HOURS_6),), places, first, groups)


def stations_and_trays(stations: int, trays: int, rooms: int) -> tuple[Place, ...]:
    tables, sinks = ("room", "room") if rooms == 1 else ("laser room", "tray room")
    return (
        *(Place(f"S{number}", 1, tables, "table") for number in range(1, stations + 1)),
        *(Place(name, trays, sinks) for name in ("developer", "rinse", "bleach", "wash")),
        Place("dryer", 2 * trays),
        Place("bench", 2 + 2 * trays, "room" if rooms == 1 else None),
    )


def steps(stations: tuple[str, ...], align_s: int, rooms: int) -> tuple[Step, ...]:
    return (
        Step("align", stations, align_s, "lit", "moves", 1200),
        Step("load", "same", 60, "dark", "moves", 0),
        Step("settle", "same", 60, "dark", "still", 0),
        Step("expose", "same", 10, "dark", "still", 0),
        Step("carry", "same", 20, "any", "moves", 1800),
        Step("develop", ("developer",), 20, "dark", max_wait_s=0),
        Step("rinse", ("rinse",), 30, "dark", max_wait_s=0),
        Step("bleach", ("bleach",), 90, "dark", max_wait_s=0),
        Step("wash", ("wash",), 60, max_wait_s=3600),
        Step("dry", ("dryer",), 240),
        Step("view", ("bench",), 300, "lit" if rooms == 1 else "any"),
    )


MIXED = (1, 2, 3, 4, 2, 1, 3, 2, 1)

# Each with the seconds its planner is given.
CLASSES: tuple[tuple[Problem, float], ...] = (
    (classroom("8 groups, 2 stations", plates=[1] * 8, stations=2, trays=1), 5.0),
    (classroom("16 groups, 4 stations", plates=[1] * 16, stations=4, trays=2), 10.0),
    (
        classroom("10 groups, 3 stations, 2 plates, 2 rooms", plates=[2] * 10, stations=3, trays=1, rooms=2),
        10.0,
    ),
    (classroom("20 groups, 4 stations, 2 plates", plates=[2] * 20, stations=4, trays=2, realign_s=60), 20.0),
    (classroom("9 groups, 1 to 4 plates", plates=MIXED, stations=2, trays=1, realign_s=60), 20.0),
    (
        classroom(
            "9 groups, 1 to 4 plates, 2 rooms", plates=MIXED, stations=2, trays=1, rooms=2, realign_s=60
        ),
        20.0,
    ),
    (instance("shop-ft10-optimum-930"), 60.0),
)
