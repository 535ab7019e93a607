"""What to do where a stream of waste will not hold. Each way out is worked out by running the forecast again with it.

A way out carries the forecast that it brings, so that what is said of it was computed and not guessed. Volumes are microlitres.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction

from server.core.fill_forecast import Container, Feed, PickupAhead, Step, StreamFill, forecast
from server.core.headspace import USUAL_FILL_PERCENT
from server.core.moments import NoSuchTime, day_at, day_begins, instant_of
from server.core.rinse_history import RinsePerPlate
from server.core.waste_forecast import (
    Addition,
    InTray,
    PlatesAhead,
    charges_for,
    rinse_additions,
)

# Assumed: a still bath of rinse, and after how many plates it is changed, the most water first.
BATH_UL = 1_000_000
PLATES_PER_BATH = (6, 8, 10, 12)
# Assumed: by how much sizes of containers differ.
SIZE_STEP_UL = 500_000
# Assumed: nobody collects, or takes a request, on a Saturday or a Sunday.
_WEEKEND = (5, 6)
# A container that nobody has set out yet, large enough for any lab.
_NOT_THERE, _ENDLESS_UL = 0, 10**12
_JUST_BEFORE = timedelta(microseconds=1)


@dataclass(frozen=True)
class Shelf:
    """All streams of a lab with their pickups at `now`; a way out is computed for the stream at `number` of `feeds`.

    `fill_percent` is where the fill line of a container lies that is yet to be set out.
    """

    feeds: tuple[Feed, ...]
    pickups: tuple[PickupAhead, ...]
    now: datetime
    fill_percent: Decimal = USUAL_FILL_PERCENT

    def fill(self, number: int) -> StreamFill:
        return forecast(self.feeds, self.pickups, now=self.now)[number]

    def with_feed(self, number: int, feed: Feed) -> "Shelf":
        return replace(self, feeds=(*self.feeds[:number], feed, *self.feeds[number + 1 :]))

    def with_additions(self, number: int, additions: Iterable[Addition]) -> "Shelf":
        return self.with_feed(number, replace(self.feeds[number], additions=tuple(additions)))

    def with_pickups(self, pickups: Iterable[PickupAhead]) -> "Shelf":
        return replace(self, pickups=tuple(pickups))


@dataclass(frozen=True)
class RequestPickup:
    """A booked pickup that is still to be requested. `without` is the forecast if it is not."""

    pickup: PickupAhead
    without: StreamFill


@dataclass(frozen=True)
class AskForMore:
    """A requested pickup that leaves containers of the stream behind because they are not on its request. `fill` is with those on it that can be
    spared.
    """

    pickup: PickupAhead
    fill: StreamFill


@dataclass(frozen=True)
class BookEarlier:
    """A pickup before `before`. It comes on `on_day` at the latest, the last full working day, and by the lab's usual notice is asked for by
    `request_by`.

    `on_day` is None where no full day is left, `request_by` where the lab has had no pickup yet. `is_too_late` says that the usual notice
    has run out.
    """

    before: datetime
    on_day: date | None
    request_by: datetime | None
    is_too_late: bool
    fill: StreamFill


@dataclass(frozen=True)
class SetOut:
    """Another container: its room below the fill line as expected and at worst, the size for the latter, and when it must stand there."""

    room_ul: int
    room_at_worst_ul: int
    size_ul: int
    fill_percent: Decimal
    before: datetime
    before_at_worst: datetime
    fill: StreamFill


@dataclass(frozen=True)
class StillBaths:
    """Rinsing in still baths of `bath_ul`, changed after so many plates: what a plate then leaves, and what that saves in all."""

    bath_ul: int
    plates: int
    rinse_ul_per_plate: int
    saves_ul: int
    fill: StreamFill


@dataclass(frozen=True)
class KeepCharge:
    """A charge in a tray that lives through the next class and has capacity for plates of it, so that fewer fresh ones are poured."""

    tray: InTray
    plates: int
    until: PlatesAhead
    saves_ul: int
    fill: StreamFill


@dataclass(frozen=True)
class EmptyEarlier:
    """What serves no class any more is poured out before the pickup that comes first, and goes with it."""

    additions: tuple[Addition, ...]
    pickup: PickupAhead
    fill: StreamFill


@dataclass(frozen=True)
class UsualNotice:
    """How long before a pickup the lab's cut-offs were, as the last booked one had it: so many days before, at `clock`."""

    days: int
    clock: time


WayOut = RequestPickup | AskForMore | BookEarlier | SetOut | StillBaths | KeepCharge | EmptyEarlier


def _lasts_longer(one: StreamFill, other: StreamFill) -> bool:
    """Whether the first forecast holds longer than the second, as expected or, where both hold, at worst."""
    return _over_key(one) > _over_key(other)


def _over_key(fill: StreamFill) -> tuple[tuple[bool, float], tuple[bool, float]]:
    def moment(step: Step | None) -> tuple[bool, float]:
        return (True, 0.0) if step is None else (False, step.at.timestamp())

    return moment(fill.first_over), moment(fill.first_over_at_worst)


def is_enough(fill: StreamFill, base: StreamFill) -> bool:
    """Whether a forecast holds: as expected where the first one did not, and even at worst where the first one failed only then."""
    return (fill.first_over if base.first_over else fill.first_over_at_worst) is None


def requests(shelf: Shelf, number: int) -> tuple[RequestPickup, ...]:
    """The pickups that are still to be requested and without which the stream holds less long."""
    base = shelf.fill(number)
    found = []
    for pickup in shelf.pickups:
        if pickup.is_requested or not pickup.comes(shelf.now):
            continue
        others = (one for one in shelf.pickups if one.key != pickup.key)
        without = shelf.with_pickups(others).fill(number)
        if _lasts_longer(base, without):
            found.append(RequestPickup(pickup, without))
    return tuple(found)


def more_on_request(shelf: Shelf, number: int) -> tuple[AskForMore, ...]:
    """The requested pickups that would help more with every container on the request that can be spared, while its cut-off has not passed."""
    base, keys = shelf.fill(number), {one.key for one in shelf.feeds[number].containers}
    found = []
    for pickup in shelf.pickups:
        if pickup.only is None or keys <= pickup.only or shelf.now > pickup.request_by:
            continue
        with_all = replace(pickup, is_requested=False, only=None)
        fill = shelf.with_pickups(with_all if one.key == pickup.key else one for one in shelf.pickups).fill(
            number
        )
        if _lasts_longer(fill, base):
            found.append(AskForMore(pickup, fill))
    return tuple(found)


def _first_over(fill: StreamFill) -> Step | None:
    return fill.first_over or fill.first_over_at_worst


def _working_day(day: date) -> date:
    """The day itself, or the Friday before a weekend."""
    return next(
        one for one in (day - timedelta(days=number) for number in range(3)) if one.weekday() not in _WEEKEND
    )


def _last_working_day_before(day: date, *, first: date) -> date | None:
    """The last day from Monday to Friday that ends before `day`; None where it lies before `first`."""
    last = _working_day(day - timedelta(days=1))
    return last if last >= first else None


def book_earlier(shelf: Shelf, number: int, *, notice: UsualNotice | None, zone: str) -> BookEarlier | None:
    """A pickup before the first addition that finds no room, which takes everything that stands there: at the end of the last full day, or
    just before it where no full day is left. None where that is now, or where it would not help.
    """
    base = shelf.fill(number)
    over = _first_over(base)
    if over is None or over.at <= shelf.now:
        return None
    on_day = _last_working_day_before(day_at(over.at, zone), first=day_at(shelf.now, zone))
    at = over.at - _JUST_BEFORE if on_day is None else day_begins(on_day + timedelta(days=1), zone)
    extra = PickupAhead(_NOT_THERE, day_at(over.at, zone), at, at, is_requested=True)
    fill = shelf.with_pickups((*shelf.pickups, extra)).fill(number)
    if not _lasts_longer(fill, base):
        return None
    request_by = None
    if notice is not None and on_day is not None:
        day = _working_day(on_day - timedelta(days=notice.days))
        found = instant_of(day=day, clock=notice.clock, zone=zone)
        request_by = None if isinstance(found, NoSuchTime) else found
    too_late = request_by is not None and request_by < shelf.now
    return BookEarlier(over.at, on_day, request_by, too_late, fill)


def size_for(room_ul: int, *, percent: Decimal = USUAL_FILL_PERCENT) -> int:
    """The size, in half litres, of a container whose fill line leaves so much room.

    >>> size_for(1_700_000)
    2000000
    """
    return -(-Fraction(room_ul) * 100 / Fraction(percent) // SIZE_STEP_UL) * SIZE_STEP_UL


def set_out(shelf: Shelf, number: int) -> SetOut | None:
    """Another container for what finds no room, as expected and at worst, until the end of the forecast or its pickups."""
    feed, base = shelf.feeds[number], shelf.fill(number)
    worst = base.first_over_at_worst
    if worst is None:
        return None

    def with_one(line_ul: int) -> StreamFill:
        another = Container(_NOT_THERE, "", 0, line_ul, shelf.now)
        return shelf.with_feed(number, replace(feed, containers=(*feed.containers, another))).fill(number)

    def most(steps: Sequence[Step]) -> tuple[int, int]:
        """The most that stands in it, as expected and at worst."""
        return max(step.likely.levels_ul[-1] for step in steps), max(
            step.high.levels_ul[-1] for step in steps
        )

    endless = with_one(_ENDLESS_UL)
    # Where pickups take it in its turn, what stands in it before the first one is enough for all that follows; if not, the most that ever does,
    # or in the end everything, for a smaller one may be asked for when a larger one could stay.
    until = next(
        (number for number, step in enumerate(endless.steps) if step.pickup and step.at > worst.at), None
    )
    everything = sum(step.moved.high for step in endless.steps if step.addition)
    largest = everything + max((one.line_ul for one in feed.containers), default=0)
    sizes = [most(endless.steps[:until]), most(endless.steps), (largest, largest)]
    at_worst = next(size for _likely, size in sizes if with_one(size).first_over_at_worst is None)
    room = next(
        (size for size, _worst in sizes[:2] if size <= at_worst and with_one(size).first_over is None),
        at_worst,
    )
    likely = base.first_over or worst
    size = size_for(at_worst, percent=shelf.fill_percent)
    return SetOut(room, at_worst, size, shelf.fill_percent, likely.at, worst.at, with_one(at_worst))


def still_baths(
    shelf: Shelf, number: int, *, ahead: Sequence[PlatesAhead], rinse: RinsePerPlate
) -> StillBaths | None:
    """The least sparing still baths with which the stream holds as expected; the most sparing ones where none of them is enough.

    A class then differs from another by the same share as before. None where the lab rinses as sparingly already.
    """
    base = shelf.fill(number)
    if _first_over(base) is None:
        return None
    found = None
    for plates in PLATES_PER_BATH:
        per_plate = round(Fraction(BATH_UL, plates))
        if per_plate >= rinse.mean_ul:
            continue
        spread = rinse.spread_ul * per_plate // rinse.mean_ul
        sparing = replace(rinse, mean_ul=per_plate, spread_ul=spread)
        additions = rinse_additions(ahead, rinse=sparing, now=shelf.now)
        fill = shelf.with_additions(number, additions).fill(number)
        saves = sum(one.volume_ul for one in shelf.feeds[number].additions) - sum(
            one.volume_ul for one in additions
        )
        found = StillBaths(BATH_UL, plates, per_plate, saves, fill)
        if is_enough(fill, base):
            break
    return found


def keep_charge(
    shelf: Shelf,
    number: int,
    *,
    ahead: Sequence[PlatesAhead],
    trays: Sequence[InTray],
    plates_per_charge: int,
    additions: Callable[[Sequence[PlatesAhead], Sequence[InTray]], Sequence[Addition]],
) -> KeepCharge | None:
    """A charge in a tray for the next class: only one whose life lasts to the end of that class and whose room saves a fresh charge.

    `additions` gives what comes into the stream from such classes and trays.
    """
    base = shelf.fill(number)
    classes = sorted(
        (one for one in ahead if one.starts_at >= shelf.now and one.plates > 0),
        key=lambda one: (one.starts_at, one.ends_at),
    )
    if not classes or _first_over(base) is None:
        return None
    following = classes[0]
    found = None
    for tray in trays:
        served = min(tray.room_plates, following.plates)
        fewer = charges_for(plates=following.plates - served, plates_per_charge=plates_per_charge)
        if (
            tray.ends_at < following.ends_at
            or charges_for(plates=following.plates, plates_per_charge=plates_per_charge) == fewer
        ):
            continue
        kept = tuple(replace(one, served=served) if one is following else one for one in ahead)
        others = tuple(one for one in trays if one is not tray)
        coming = [*additions(kept, others), Addition(tray.name, following.ends_at, tray.volume_ul, charges=1)]
        saves = sum(one.volume_ul for one in shelf.feeds[number].additions) - sum(
            one.volume_ul for one in coming
        )
        option = KeepCharge(tray, served, following, saves, shelf.with_additions(number, coming).fill(number))
        if saves > 0 and (found is None or saves > found.saves_ul):
            found = option
    return found


def empty_earlier(shelf: Shelf, number: int) -> EmptyEarlier | None:
    """Pour out now what serves no class any more and would come after the next pickup, if the stream then holds longer."""
    base, feed = shelf.fill(number), shelf.feeds[number]
    pickup = base.next_pickup
    if pickup is None or _first_over(base) is None:
        return None
    early = tuple(one for one in feed.additions if one.is_spare and one.starts_at > pickup.at)
    moved = [replace(one, starts_at=shelf.now) if one in early else one for one in feed.additions]
    fill = shelf.with_additions(number, moved).fill(number)
    return EmptyEarlier(early, pickup, fill) if early and _lasts_longer(fill, base) else None
