"""Visits of a class as plain values, and the rounds in which its plates are exposed."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

Item = TypeVar("Item")


@dataclass(frozen=True)
class Piece:
    """One visit: who does which step where, in seconds from the first period's start. A zone may be none."""

    row: str
    pass_no: int
    step: str
    place: str
    start_s: int
    end_s: int
    light: str = "any"
    still: str = "any"
    light_zone: str | None = None
    still_zone: str | None = None


@dataclass(frozen=True)
class Round:
    """Plates that are exposed together, numbered from 1 in the order of time; from the first hold-still to the end of the last."""

    number: int
    start_s: int
    end_s: int
    places: tuple[str, ...]


def union(stretches: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """The stretches (start, end) put together wherever they overlap or touch, in order.

    >>> union([(60, 90), (0, 30), (30, 40), (80, 120)])
    ((0, 40), (60, 120))
    """
    found: list[tuple[int, int]] = []
    for start, end in sorted(stretches):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return tuple(found)


def stacked(items: Iterable[Item], stretch: Callable[[Item], tuple[int, int]]) -> list[list[Item]]:
    """The items in as few lanes as do, so that those of a lane never overlap; each in the order of time.

    >>> stacked([(0, 30), (10, 20), (20, 40), (30, 50)], lambda one: one)
    [[(0, 30), (30, 50)], [(10, 20), (20, 40)]]
    """
    lanes: list[list[Item]] = []
    for item in sorted(items, key=stretch):
        lane = next((lane for lane in lanes if stretch(lane[-1])[1] <= stretch(item)[0]), None)
        if lane is None:
            lanes.append(lane := [])
        lane.append(item)
    return lanes


def rounds_of(pieces: Sequence[Piece]) -> tuple[Round, ...]:
    """The rounds of a class: a visit that is dark and still is part of an exposure, and exposures belong together that share a
    hold-still of their still zone or a dark window of their light zone.

    A window is a stretch in which somebody in the zone needs it dark (or still), without a second between. A place without a
    zone is a zone of its own.

    >>> def one(group, place, start, end):
    ...     return Piece(group, 1, "expose", place, start, end, "dark", "still", "room", "table")
    >>> [(r.number, r.start_s, r.end_s, r.places) for r in rounds_of([
    ...     one("G1", "S1", 60, 130), one("G2", "S2", 70, 140), one("G3", "S1", 500, 570)])]
    [(1, 60, 140, ('S1', 'S2')), (2, 500, 570, ('S1',))]
    """
    exposures = sorted(
        (piece for piece in pieces if (piece.light, piece.still) == ("dark", "still")),
        key=lambda piece: (piece.start_s, piece.end_s),
    )
    dark = _windows((_light(piece), piece) for piece in pieces if piece.light == "dark")
    still = _windows((_stillness(piece), piece) for piece in pieces if piece.still == "still")
    together: list[tuple[set[tuple[str, str, int]], list[Piece]]] = []
    for piece in exposures:
        shared = {
            (*zone, _begins(windows[zone], piece))
            for zone, windows in ((_light(piece), dark), (_stillness(piece), still))
        }
        joined = [one for one in together if one[0] & shared]
        together = [one for one in together if not one[0] & shared]
        together.append(
            (
                shared.union(*(windows for windows, _own in joined)),
                [*(other for _windows_, own in joined for other in own), piece],
            )
        )
    found = sorted((own for _shared, own in together), key=lambda own: min(one.start_s for one in own))
    return tuple(
        Round(
            number,
            min(piece.start_s for piece in own),
            max(piece.end_s for piece in own),
            tuple(sorted({piece.place for piece in own})),
        )
        for number, own in enumerate(found, start=1)
    )


def _light(piece: Piece) -> tuple[str, str]:
    return ("dark at", piece.place) if piece.light_zone is None else ("dark in", piece.light_zone)


def _stillness(piece: Piece) -> tuple[str, str]:
    return ("still at", piece.place) if piece.still_zone is None else ("still in", piece.still_zone)


def _windows(zoned: Iterable[tuple[tuple[str, str], Piece]]) -> dict[tuple[str, str], list[int]]:
    """When the windows of each zone begin, in order."""
    stretches: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for zone, piece in zoned:
        stretches.setdefault(zone, []).append((piece.start_s, piece.end_s))
    return {zone: [start for start, _end in union(own)] for zone, own in stretches.items()}


def _begins(windows: Sequence[int], piece: Piece) -> int:
    return max(start for start in windows if start <= piece.start_s)
