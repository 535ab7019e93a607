"""What a class asks of its rooms: places, steps, groups and periods, as plain frozen values.

All times are whole seconds from the first period's start.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Light = Literal["dark", "lit", "any"]
Stillness = Literal["still", "moves", "any"]
At = tuple[str, ...] | Literal["same"]


@dataclass(frozen=True)
class Charge:
    """What is in a tray from one second to another; it serves ``plates`` plates, or any number with None."""

    from_s: int
    until_s: int
    plates: int | None = None


@dataclass(frozen=True)
class Place:
    """Anything with a capacity: a station, a tray, a dryer, a bench.

    ``capacity`` counts plates at once. Places that name the same light zone share their white light;
    places that name the same still zone share their vibration. Nothing is at the place while it is ``closed``,
    from one second to another. Where there are ``charges``, a plate is served by one of them all the time it is there.
    """

    name: str
    capacity: int
    light_zone: str | None = None
    still_zone: str | None = None
    closed: tuple[tuple[int, int], ...] = ()
    charges: tuple[Charge, ...] = ()


@dataclass(frozen=True)
class LightZone:
    """What is known of the light zone that some places name.

    Its lights glow on for ``afterglow_s``: a dark step there starts no sooner after a lit step in the zone has ended,
    nor after a period has opened, for until then the lights are on.
    """

    name: str
    afterglow_s: int = 0


@dataclass(frozen=True)
class Step:
    """One thing a group does with one plate.

    ``at`` lists the places to choose from, or is ``"same"`` for the place of the step before.
    ``seconds`` is one number or a number per place; a mapping is kept as pairs sorted by place.
    ``max_wait_s`` is the longest wait after this step before the next one of the same pass.
    A step with ``attended=False`` leaves its group free.
    """

    name: str
    at: At
    seconds: int | Mapping[str, int] | tuple[tuple[str, int], ...]
    light: Light = "any"
    still: Stillness = "any"
    max_wait_s: int | None = None
    attended: bool = True

    def __post_init__(self) -> None:
        """Freeze a mapping of seconds so that equal steps are equal and hashable."""
        if isinstance(self.seconds, Mapping):
            object.__setattr__(self, "seconds", tuple(sorted(self.seconds.items())))

    def seconds_at(self, place: str) -> int:
        """Return how many seconds the step takes at the named place; KeyError if it has no time there."""
        if isinstance(self.seconds, int):
            return self.seconds
        return dict(self.seconds)[place]


@dataclass(frozen=True)
class Group:
    """People who make ``passes`` plates, in one place at a time.

    ``steps`` are the group's own steps for every pass; ``pass_steps`` gives each pass its own list instead.
    With neither, the problem's steps hold. ``any_order`` lets the passes come in any order.
    The passes of a ``reserve`` group are kept free for repeats: unless it has begun, none of them starts before every
    pass of the other groups has left its first place, and where not all passes fit the others come first.
    """

    name: str
    passes: int
    steps: tuple[Step, ...] | None = None
    any_order: bool = False
    pass_steps: tuple[tuple[Step, ...], ...] | None = None
    reserve: bool = False


@dataclass(frozen=True)
class Fixed:
    """A step that has begun, or must begin, at this place and second. Passes count from 1."""

    group: str
    pass_no: int
    step: str
    place: str
    start_s: int


@dataclass(frozen=True)
class Problem:
    """A whole class. ``periods`` are (start, end) in seconds, in order and without overlap."""

    name: str
    periods: tuple[tuple[int, int], ...]
    places: tuple[Place, ...]
    steps: tuple[Step, ...]
    groups: tuple[Group, ...]
    fixed: tuple[Fixed, ...] = ()
    light_zones: tuple[LightZone, ...] = ()

    def steps_of(self, group: Group, pass_no: int) -> tuple[Step, ...]:
        """Return the steps of one pass (counted from 1) of one group."""
        if group.pass_steps is not None:
            return group.pass_steps[pass_no - 1]
        return self.steps if group.steps is None else group.steps

    def afterglow_s(self, light_zone: str | None) -> int:
        """Return how long the lights of a zone glow on; 0 for no zone or one of which nothing is said."""
        return next((zone.afterglow_s for zone in self.light_zones if zone.name == light_zone), 0)


def places_of_steps(steps: tuple[Step, ...]) -> tuple[tuple[str, ...], ...]:
    """Return for each step the places to choose from, with ``"same"`` looked up in the steps before it."""
    found: list[tuple[str, ...]] = []
    for step in steps:
        found.append(found[-1] if step.at == "same" else step.at)
    return tuple(found)
