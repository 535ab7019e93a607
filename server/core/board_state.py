"""What a screen near open plates says of the room, and the one colour it may say it in."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class RoomState(StrEnum):
    """The state in the words of the board. Stillness is said before darkness, because it also forbids walking."""

    LIGHTS = "Lights allowed"
    DARK = "Dark"
    STILL = "Hold still"


Colour = Literal["green", "red", "none"]


@dataclass(frozen=True)
class BoxSight:
    """Which light exposes the plates of a box."""

    sees_red: bool
    sees_green: bool


def screen_colour(boxes: Iterable[BoxSight]) -> Colour:
    """The one channel a screen may emit near open plates of `boxes`: green, where none sees green; else red, where none
    sees red; else nothing at all.

    >>> screen_colour([BoxSight(sees_red=True, sees_green=False)])
    'green'
    >>> screen_colour([BoxSight(sees_red=True, sees_green=False), BoxSight(sees_red=False, sees_green=True)])
    'none'
    """
    sights = list(boxes)
    if not any(box.sees_green for box in sights):
        return "green"
    return "none" if any(box.sees_red for box in sights) else "red"
