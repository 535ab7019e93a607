"""What comes into a stream of waste: from classes and their tests, from charges in trays, and from what is left of batches.

A plate costs its share of the rinse; a charge of developer or bleach becomes waste when it is emptied. Volumes are microlitres.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from math import isqrt

from server.core.rinse_history import RinsePerPlate

# Assumed: how much a charge that is emptied differs from the charge that was poured, and a class's charges from those planned for it.
ASSUMED_CHARGE_SPREAD_PERCENT = 10


@dataclass(frozen=True)
class PlatesAhead:
    """Plates that a rotation, or the tests before a day's first rotation, will put through the trays.

    `repeats` of the plates are made in rounds kept for repeats, if at all. `poured_ul` of its rinse is in a container already. `served` of
    the plates go through a charge that stands in a tray now.
    """

    name: str
    day: date
    starts_at: datetime
    ends_at: datetime
    plates: int
    stations: frozenset[str] = frozenset()
    repeats: int = 0
    poured_ul: int = 0
    served: int = 0


@dataclass(frozen=True)
class Addition:
    """What comes into a stream, and why: so many plates, or so many charges for those plates.

    `maybe_ul` of the volume comes only if every round kept for repeats is used. `spread_ul` is by how much the volume differs from class to
    class, `shared_ul` by how much all classes together may be off, both as standard deviations. What is `spare` serves no class any more
    and may be poured out sooner.
    """

    name: str
    starts_at: datetime
    volume_ul: int
    plates: int = 0
    charges: int = 0
    maybe_ul: int = 0
    spread_ul: int = 0
    shared_ul: int = 0
    is_spare: bool = False


def with_tests(rotations: Iterable[PlatesAhead], *, test_plates_per_station: int) -> tuple[PlatesAhead, ...]:
    """The rotations in order of time, and before the first of each day its test plates.

    Every station that any rotation of the day uses is tested once. Tests are over when the first rotation begins.
    """
    in_order = sorted(rotations, key=lambda rotation: (rotation.starts_at, rotation.ends_at, rotation.name))
    stations: dict[date, frozenset[str]] = {}
    for rotation in in_order:
        stations[rotation.day] = stations.get(rotation.day, frozenset()) | rotation.stations

    def each() -> Iterator[PlatesAhead]:
        for rotation in in_order:
            plates = len(stations.pop(rotation.day, ())) * test_plates_per_station
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
    ahead: Iterable[PlatesAhead], *, rinse: RinsePerPlate, now: datetime
) -> tuple[Addition, ...]:
    """Rinse from everything that has not ended at `now`; what has begun counts in full, less what is poured out of it already."""
    return tuple(_rinse_of(one, rinse) for one in ahead if one.ends_at > now and one.plates > 0)


def _rinse_of(one: PlatesAhead, rinse: RinsePerPlate) -> Addition:
    volume, sure = (
        max(0, rinse_ul(plates=plates, rinse_ul_per_plate=rinse.mean_ul) - one.poured_ul)
        for plates in (one.plates, one.plates - one.repeats)
    )
    spread_ul = one.plates * rinse.spread_ul
    return Addition(
        one.name,
        one.starts_at,
        volume,
        plates=one.plates,
        maybe_ul=volume - sure,
        spread_ul=spread_ul,
        # The mean of n classes is itself off by the spread over the root of n, and for all classes ahead alike.
        shared_ul=isqrt(spread_ul**2 // rinse.behind),
    )


def charge_additions(
    ahead: Iterable[PlatesAhead], *, charge_ul: int, plates_per_charge: int, now: datetime
) -> tuple[Addition, ...]:
    """Emptied charges from everything that has not ended at `now`, each rotation beginning with a fresh charge."""

    def of(one: PlatesAhead) -> Addition:
        charges, sure = (
            charges_for(plates=max(0, plates - one.served), plates_per_charge=plates_per_charge)
            for plates in (one.plates, one.plates - one.repeats)
        )
        return Addition(
            one.name,
            one.starts_at,
            charges * charge_ul,
            plates=one.plates,
            charges=charges,
            maybe_ul=(charges - sure) * charge_ul,
            spread_ul=charges * charge_ul * ASSUMED_CHARGE_SPREAD_PERCENT // 100,
        )

    return tuple(of(one) for one in ahead if one.ends_at > now and one.plates > 0)


@dataclass(frozen=True)
class InTray:
    """A charge that stands in a tray: it may be used until `ends_at`, for so many plates more."""

    name: str
    volume_ul: int
    ends_at: datetime
    room_plates: int


def tray_additions(
    trays: Iterable[InTray], ahead: Iterable[PlatesAhead], *, now: datetime
) -> tuple[Addition, ...]:
    """Charges in trays: each is emptied when its life ends or the next rotation begins, which takes a fresh one, and now if neither is ahead."""
    starts = [one.starts_at for one in ahead if one.ends_at > now and one.plates > 0]

    def emptied_at(tray: InTray) -> datetime:
        return max(now, min([tray.ends_at, *starts])) if starts else now

    return tuple(Addition(tray.name, emptied_at(tray), tray.volume_ul, charges=1) for tray in trays)


@dataclass(frozen=True)
class InBottle:
    """What stands in a batch's bottle until its life ends."""

    name: str
    left_ul: int
    ends_at: datetime


def rest_additions(
    bottles: Iterable[InBottle], taken: Iterable[Addition], *, now: datetime
) -> tuple[Addition, ...]:
    """What is left of each batch when its life ends, after the classes before that have taken their charges; nothing of it is waste sooner.

    A class takes of the batch that ends first and still lives when it begins.
    """
    in_order = sorted(bottles, key=lambda bottle: (bottle.ends_at, bottle.name))
    left = [bottle.left_ul for bottle in in_order]
    for one in sorted(taken, key=lambda addition: addition.starts_at):
        wanted = one.volume_ul
        for number, bottle in enumerate(in_order):
            drawn = min(wanted, left[number]) if bottle.ends_at > max(now, one.starts_at) else 0
            left[number] -= drawn
            wanted -= drawn
    return tuple(
        Addition(bottle.name, max(now, bottle.ends_at), rest_ul, is_spare=True)
        for bottle, rest_ul in zip(in_order, left, strict=True)
        if rest_ul
    )
