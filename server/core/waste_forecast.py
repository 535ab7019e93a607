"""How full waste containers get: what rotations add to a stream, and where it goes.

A plate costs its share of the rinse; a charge of developer or bleach becomes waste when it is emptied. Additions fill the open containers
of a stream in the order of their opening, each up to its fill line. Volumes are microlitres.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True)
class PlatesAhead:
    """Plates that a rotation, or the tests before a day's first rotation, will put through the trays."""

    name: str
    day: date
    starts_at: datetime
    ends_at: datetime
    plates: int
    stations: int = 0


@dataclass(frozen=True)
class Addition:
    """What comes into a stream, and why: so many plates, or so many charges for those plates."""

    name: str
    starts_at: datetime
    volume_ul: int
    plates: int = 0
    charges: int = 0


@dataclass(frozen=True)
class Vessel:
    """An open container as the forecast sees it: what it holds and where its fill line is."""

    held_ul: int
    line_ul: int

    @property
    def room_ul(self) -> int:
        """The room below the fill line; none when it stands over the line already."""
        return max(0, self.line_ul - self.held_ul)


@dataclass(frozen=True)
class Moment:
    """After one addition: what each container then holds, and what has found no room so far."""

    addition: Addition
    levels_ul: tuple[int, ...]
    over_ul: int


@dataclass(frozen=True)
class Fill:
    """The whole forecast of one stream."""

    vessels: tuple[Vessel, ...]
    moments: tuple[Moment, ...]

    @property
    def added_ul(self) -> int:
        return sum(moment.addition.volume_ul for moment in self.moments)

    @property
    def levels_ul(self) -> tuple[int, ...]:
        """What each container holds in the end."""
        return (
            self.moments[-1].levels_ul if self.moments else tuple(vessel.held_ul for vessel in self.vessels)
        )

    @property
    def over_ul(self) -> int:
        """What finds no room below any fill line."""
        return self.moments[-1].over_ul if self.moments else 0

    @property
    def first_over(self) -> Addition | None:
        """The first addition that does not fit, if one does not."""
        return next((moment.addition for moment in self.moments if moment.over_ul > 0), None)

    def full_during(self, index: int) -> Addition | None:
        """The addition during which the container at `index` comes to its fill line, if it does."""
        line = self.vessels[index].line_ul
        return next((moment.addition for moment in self.moments if moment.levels_ul[index] >= line), None)


def with_tests(rotations: Iterable[PlatesAhead], *, test_plates_per_station: int) -> tuple[PlatesAhead, ...]:
    """The rotations in order of time, and before the first of each day its test plates.

    Every station that any rotation of the day uses is tested once, so the day's largest number of stations counts. Tests are over when
    the first rotation begins.
    """
    in_order = sorted(rotations, key=lambda rotation: (rotation.starts_at, rotation.ends_at, rotation.name))
    stations: dict[date, int] = {}
    for rotation in in_order:
        stations[rotation.day] = max(stations.get(rotation.day, 0), rotation.stations)

    def each() -> Iterator[PlatesAhead]:
        for rotation in in_order:
            plates = stations.pop(rotation.day, 0) * test_plates_per_station
            if plates > 0:
                yield PlatesAhead("test plates", rotation.day, rotation.starts_at, rotation.starts_at, plates)
            yield rotation

    return tuple(each())


def rinse_ul(*, plates: int, rinse_ul_per_plate: int) -> int:
    """Rinse collected from so many plates, rounded to the nearest millilitre (half to even).

    A graduate is not read finer, and one litre for six plates, kept as 166 667 µL a plate, comes out as one litre again.
    """
    exact = plates * rinse_ul_per_plate
    return round(exact, -3)


def charges_for(*, plates: int, plates_per_charge: int) -> int:
    """Charges that so many plates need when the first one is fresh."""
    return -(-plates // plates_per_charge)


def plates_that_fit(*, room_ul: int, rinse_ul_per_plate: int) -> int:
    """Plates whose rinse still fits in `room_ul`."""
    return room_ul // rinse_ul_per_plate if rinse_ul_per_plate > 0 else 0


def rinse_additions(
    ahead: Iterable[PlatesAhead], *, rinse_ul_per_plate: int, now: datetime
) -> tuple[Addition, ...]:
    """Rinse from everything that has not ended at `now`; what has begun counts in full, which errs on the full side."""
    return tuple(
        Addition(
            one.name,
            one.starts_at,
            rinse_ul(plates=one.plates, rinse_ul_per_plate=rinse_ul_per_plate),
            plates=one.plates,
        )
        for one in ahead
        if one.ends_at > now and one.plates > 0
    )


def charge_additions(
    ahead: Iterable[PlatesAhead], *, charge_ul: int, plates_per_charge: int, now: datetime
) -> tuple[Addition, ...]:
    """Emptied charges from everything that has not ended at `now`, each rotation beginning with a fresh charge."""
    return tuple(
        Addition(
            one.name,
            one.starts_at,
            charges_for(plates=one.plates, plates_per_charge=plates_per_charge) * charge_ul,
            plates=one.plates,
            charges=charges_for(plates=one.plates, plates_per_charge=plates_per_charge),
        )
        for one in ahead
        if one.ends_at > now and one.plates > 0
    )


def _poured(levels: Sequence[int], vessels: Sequence[Vessel], volume: int) -> tuple[tuple[int, ...], int]:
    """The levels after `volume` was divided among the vessels in their order, and what is left over."""
    after = []
    for level, vessel in zip(levels, vessels, strict=True):
        taken = min(volume, max(0, vessel.line_ul - level))
        after.append(level + taken)
        volume -= taken
    return tuple(after), volume


def fill(vessels: Iterable[Vessel], additions: Iterable[Addition]) -> Fill:
    """Pour the additions, in order of time, into the vessels, in order of opening."""
    kept = tuple(vessels)
    levels, over = tuple(vessel.held_ul for vessel in kept), 0
    moments = []
    for addition in sorted(additions, key=lambda addition: addition.starts_at):
        levels, left = _poured(levels, kept, addition.volume_ul)
        over += left
        moments.append(Moment(addition, levels, over))
    return Fill(kept, tuple(moments))
