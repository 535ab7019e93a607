"""Classes to plan in tests: an invented lab of any size, and random small ones."""

from dataclasses import replace
from pathlib import Path

from hypothesis import strategies as st

from server.core.planning import Charge, Group, LightZone, Place, Plan, Problem, Step, read_class_file
from server.core.planning.problem import Light, Stillness

INSTANCES = Path(__file__).parent / "instances"


def instance(name: str) -> Problem:
    return read_class_file((INSTANCES / f"{name}.json").read_text(encoding="utf-8"))


def lab(
    *, groups: int, stations: int, passes: int = 1, period_s: int = 10800, tray_capacity: int = 1
) -> Problem:
    """One room: every station on one table, one tray line, a dryer next door and a bench in the room's light."""
    names = tuple(f"S{number}" for number in range(1, stations + 1))
    trays = tuple(Place(name, tray_capacity, "room") for name in ("developer", "bleach"))
    return Problem(
        name="Tuesday",
        periods=((0, period_s),),
        places=(*(Place(name, 1, "room", "table") for name in names), *trays, Place("bench", groups, "room")),
        steps=(
            Step("align", names, 300, "lit", "moves", 1200),
            Step("load", "same", 60, "dark", "moves", 0),
            Step("expose", "same", 70, "dark", "still", 1800),
            Step("develop", ("developer",), 60, "dark", max_wait_s=0),
            Step("clear", ("bleach",), 90, "dark", max_wait_s=3600),
            Step("view", ("bench",), 120, "lit"),
        ),
        groups=tuple(Group(f"G{number}", passes) for number in range(1, groups + 1)),
    )


def only_step(problem: Problem, name: str) -> Step:
    return next(step for step in problem.steps if step.name == name)


def with_step(problem: Problem, name: str, **changes: object) -> Problem:
    """Return the problem with one of its steps changed."""
    steps = tuple(replace(step, **changes) if step.name == name else step for step in problem.steps)  # type: ignore[arg-type]
    return replace(problem, steps=steps)


def shop(*jobs: tuple[tuple[str, int], ...]) -> Problem:
    """A job shop: each job visits its machines in the order given."""
    machines = sorted({machine for job in jobs for machine, _ in job})
    groups = tuple(
        Group(
            f"J{number}",
            1,
            tuple(Step(f"op{index}", (machine,), seconds) for index, (machine, seconds) in enumerate(job, 1)),
        )
        for number, job in enumerate(jobs, 1)
    )
    return Problem("shop", ((0, 100_000),), tuple(Place(machine, 1) for machine in machines), (), groups)


def open_shop(*jobs: tuple[int, ...]) -> Problem:
    """An open shop: every job has one pass of one step on every machine, in any order."""
    machines = tuple(f"M{number}" for number in range(1, len(jobs[0]) + 1))
    groups = tuple(
        Group(
            f"J{number}",
            len(machines),
            any_order=True,
            pass_steps=tuple(
                (Step("work", (machine,), s),) for machine, s in zip(machines, job, strict=True)
            ),
        )
        for number, job in enumerate(jobs, 1)
    )
    return Problem("open shop", ((0, 100_000),), tuple(Place(machine, 1) for machine in machines), (), groups)


ZONES = st.sampled_from([None, "room", "next room"])
LIGHTS: st.SearchStrategy[Light] = st.sampled_from(["dark", "lit", "any"])
STILLS: st.SearchStrategy[Stillness] = st.sampled_from(["still", "moves", "any"])


@st.composite
def step_lists(draw: st.DrawFn, places: tuple[str, ...]) -> tuple[Step, ...]:
    """Between one and four steps at some of the places; seconds may differ from place to place."""
    steps: list[Step] = []
    offered: tuple[str, ...] = ()
    for number in range(draw(st.integers(1, 4))):
        stays = number > 0 and draw(st.booleans())
        if not stays:
            offered = tuple(draw(st.lists(st.sampled_from(places), min_size=1, unique=True)))
        timed: int | dict[str, int] = draw(st.integers(1, 6))
        if draw(st.integers(0, 3)) == 0:
            timed = {place: draw(st.integers(1, 6)) for place in offered}
        steps.append(
            Step(
                name=f"step {number}",
                at="same" if stays else offered,
                seconds=timed,
                light=draw(LIGHTS),
                still=draw(STILLS),
                max_wait_s=draw(st.sampled_from([None, 0, 0, 3, 10])),
                attended=draw(st.integers(0, 4)) > 0,
            )
        )
    return tuple(steps)


def missing(problem: Problem, plan: Plan) -> tuple[int, int]:
    """How many passes are left out: those that count first, then those kept free for repeats."""
    kept_free = {group.name for group in problem.groups if group.reserve}
    repeats = sum(one.group in kept_free for one in plan.unplaced)
    return len(plan.unplaced) - repeats, repeats


@st.composite
def spans(draw: st.DrawFn, longest: int) -> tuple[int, int]:
    start = draw(st.integers(0, 60))
    return start, start + draw(st.integers(1, longest))


@st.composite
def any_places(draw: st.DrawFn) -> tuple[Place, ...]:
    """Up to three places, some of them closed at times, some with charges."""
    found: list[Place] = []
    for number in range(draw(st.integers(1, 3))):
        closed = draw(st.lists(spans(10), max_size=2)) if draw(st.integers(0, 2)) == 0 else []
        charges = draw(st.lists(spans(60), min_size=1, max_size=3)) if draw(st.integers(0, 2)) == 0 else []
        found.append(
            Place(
                f"place {number}",
                draw(st.integers(1, 2)),
                draw(ZONES),
                draw(ZONES),
                tuple(closed),
                tuple(Charge(*span, draw(st.sampled_from([None, 1, 2, 3]))) for span in charges),
            )
        )
    return tuple(found)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Small classes of every shape the class file allows, without fixed steps."""
    places = draw(any_places())
    names = tuple(place.name for place in places)
    periods: list[tuple[int, int]] = []
    opens = draw(st.integers(0, 3))
    for _ in range(draw(st.integers(1, 3))):
        closes = opens + draw(st.integers(1, 40))
        periods.append((opens, closes))
        opens = closes + draw(st.sampled_from([0, 0, 5]))
    groups: list[Group] = []
    for number in range(draw(st.integers(1, 3))):
        passes = draw(st.integers(1, 2))
        shape = draw(st.sampled_from(["shared", "shared", "own", "each"]))
        own = draw(step_lists(names)) if shape == "own" else None
        each = tuple(draw(step_lists(names)) for _ in range(passes)) if shape == "each" else None
        reserve = draw(st.integers(0, 3)) == 0
        groups.append(Group(f"group {number}", passes, own, draw(st.booleans()), each, reserve))
    named = sorted({place.light_zone for place in places if place.light_zone is not None})
    zones = tuple(LightZone(name, draw(st.integers(0, 8))) for name in named if draw(st.booleans()))
    return Problem(
        "a class", tuple(periods), places, draw(step_lists(names)), tuple(groups), light_zones=zones
    )
