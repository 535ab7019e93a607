"""What a collector takes when what waits is more than the most of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Load:
    """A container on a pickup's sheet: what is in it, and since when."""

    name: str
    volume_ul: int
    since: datetime | None


@dataclass(frozen=True)
class Share:
    """What goes and what stays. `others_ul` of the most is taken by other courses."""

    goes: tuple[Load, ...]
    stays: tuple[Load, ...]
    others_ul: int

    @property
    def goes_ul(self) -> int:
        return sum(load.volume_ul for load in self.goes)


def share_of_pickup(
    loads: Sequence[Load], *, most_ul: int | None, most_containers: int | None, others_ul: int = 0
) -> Share:
    """Return which containers go: oldest start date first, until one is more than the collector takes; that one and all after it stay.

    Nothing younger goes in the place of one that doesn't fit, so that more waste never means that less of the old goes. `others_ul` stands
    on the same shelf and goes first, because it isn't this lab's to hold back. None is no limit.
    """
    room = None if most_ul is None else max(0, most_ul - others_ul)
    order = sorted(
        loads, key=lambda load: (load.since is None, load.since.timestamp() if load.since else 0, load.name)
    )
    volume = 0
    for number, load in enumerate(order):
        volume += load.volume_ul
        too_many = most_containers is not None and number >= most_containers
        if too_many or (room is not None and volume > room):
            return Share(tuple(order[:number]), tuple(order[number:]), others_ul)
    return Share(tuple(order), (), others_ul)
