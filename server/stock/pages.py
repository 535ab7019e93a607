"""What the stock pages show."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Protocol

from server.core.moments import day_at, day_words, moment_words
from server.core.reconciling import POUR_TOLERANCE, Account
from server.core.units import duration_words, volume_words
from server.core.working_solution import largest_mix_ul
from server.data.session import LabSession
from server.stock.forms import (
    COLOURS,
    CountedPlates,
    DiscardedVolume,
    DrawnPlates,
    LostPlates,
    MeasuredVolume,
    NewKit,
    NewPlateBox,
    Opening,
)
from server.stock.models import Bottle, BottleEntryKind, Kit, PlateBox, PlateEntryKind, Substance
from server.stock.queries import (
    SOON_DAYS,
    Expiring,
    Short,
    count_left_ul,
    count_plates_left,
    find_safelight,
    get_kit,
    get_plate_box,
    is_expired,
    list_bottle_entries,
    list_bottles_of_kit,
    list_every_bottle,
    list_expiring,
    list_kits,
    list_plate_boxes,
    list_plate_entries,
    list_short,
    plates_words,
    sum_plates_by_kind,
    sum_volumes_by_kind,
)
from server.web.submitted import Submitted

SEES_OPTIONS = (
    ("red blue", "red and blue: green safelight"),
    ("green blue", "green and blue: red safelight"),
    ("blue", "blue only: red safelight"),
    ("red", "red only: green safelight"),
    ("red green blue", "every colour: no safelight at all"),
)


@dataclass(frozen=True)
class GoodUntil:
    """`kind` is the shape of the state: well, watch, stop, or plain where there is no date."""

    words: str
    kind: str
    state: str


@dataclass(frozen=True)
class BoxLine:
    id: int
    name: str
    plates_left: int
    size: str
    sees: str
    safelight: str
    dose: str
    warm_up: str
    opened: str
    good_until: GoodUntil


@dataclass(frozen=True)
class KitLine:
    id: int
    name: str
    storage: str
    bottles: Sequence[tuple[str, str]]
    is_empty: bool
    good_until: GoodUntil


@dataclass(frozen=True)
class StockPage:
    plates_left: int
    plates_usable: int
    plate_sums: Sequence[str]
    largest_mix: str
    stock_a: str
    stock_b: str
    bleach: str
    expiring: Sequence[tuple[Expiring, str]]
    short: Sequence[Short]
    boxes: Sequence[BoxLine]
    kits: Sequence[KitLine]
    used_boxes: Sequence[BoxLine]
    used_kits: Sequence[KitLine]
    sees_options: Sequence[tuple[str, str]]
    today: str
    kit_form: Submitted[NewKit]
    box_form: Submitted[NewPlateBox]


class VolumeEntry(Protocol):
    """An entry of a ledger of volumes, whatever it is a ledger of."""

    change_ul: int
    note: str
    entered_at: datetime
    entered_by: str


@dataclass(frozen=True)
class LedgerLine:
    when: str
    what: str
    change: str
    balance: str
    note: str
    by: str


@dataclass(frozen=True)
class PlateBoxPage:
    box: BoxLine
    arrived: str
    is_open: bool
    is_cold: bool
    lines: Sequence[LedgerLine]
    total: int
    opening_form: Submitted[Opening]
    test_form: Submitted[DrawnPlates]
    lost_form: Submitted[LostPlates]
    count_form: Submitted[CountedPlates]


@dataclass(frozen=True)
class BottleLedger:
    id: int
    substance: str
    left: str
    total: str
    agrees: bool
    lines: Sequence[LedgerLine]


@dataclass(frozen=True)
class KitPage:
    kit: KitLine
    arrived: str
    bottles: Sequence[BottleLedger]
    options: Sequence[tuple[int, str]]
    discard_form: Submitted[DiscardedVolume]
    measure_form: Submitted[MeasuredVolume]


@dataclass(frozen=True)
class PlateAccount:
    """A box, or all of them: what came in, where it went, and what nobody can say the whereabouts of."""

    name: str
    id: int | None
    came_in: int
    runs: int
    tests: int
    lost: int
    left: int
    missing: int


@dataclass(frozen=True)
class VolumeAccount:
    """`within`: the difference may come of measuring alone."""

    substance: str
    came_in: str
    mixed: str
    discarded: str
    left: str
    missing: str
    share: str
    within: bool


@dataclass(frozen=True)
class AccountPage:
    boxes: Sequence[PlateAccount]
    all_boxes: PlateAccount | None
    volumes: Sequence[VolumeAccount]
    tolerance: str


def _good_until(expires_on: date | None, day: date) -> GoodUntil:
    if expires_on is None:
        return GoodUntil("no date on the pack", "plain", "no date")
    if is_expired(expires_on, day):
        return GoodUntil(day_words(expires_on), "stop", "expired")
    days = (expires_on - day).days
    if days > SOON_DAYS:
        return GoodUntil(day_words(expires_on), "well", "good")
    left = {0: "last day", 1: "1 day left"}.get(days, f"{days} days left")
    return GoodUntil(day_words(expires_on), "watch", left)


def _millimetres(length_um: int) -> str:
    return f"{(Decimal(length_um) / 1000).normalize():f}"


def _sees(box: PlateBox) -> str:
    seen = [colour for colour in COLOURS if getattr(box, f"sees_{colour}")]
    return " and ".join([", ".join(seen[:-1]), seen[-1]]) if seen[1:] else seen[0]


def _box_line(box: PlateBox, day: date, zone: str) -> BoxLine:
    return BoxLine(
        id=box.id,
        name=box.name,
        plates_left=box.plates_left,
        size=f"{_millimetres(box.width_um)} × {_millimetres(box.height_um)} mm",
        sees=_sees(box),
        safelight=find_safelight(box) or "none, complete dark",
        dose=f"{box.dose_uj_per_cm2} µJ/cm²",
        warm_up=duration_words(box.warm_up_s) if box.warm_up_s else "none",
        opened=f"opened {moment_words(box.opened_at, zone)}" if box.opened_at else "sealed",
        good_until=_good_until(box.expires_on, day),
    )


def _kit_line(kit: Kit, bottles: Sequence[Bottle], day: date) -> KitLine:
    return KitLine(
        id=kit.id,
        name=kit.name,
        storage=kit.storage or "not said",
        bottles=[(bottle.substance, volume_words(bottle.left_ul)) for bottle in bottles],
        is_empty=not any(bottle.left_ul for bottle in bottles),
        good_until=_good_until(kit.expires_on, day),
    )


def stock_page(
    session: LabSession,
    now: datetime,
    zone: str,
    kit_form: Submitted[NewKit] | None = None,
    box_form: Submitted[NewPlateBox] | None = None,
) -> StockPage:
    day = day_at(now, zone)
    boxes = [_box_line(box, day, zone) for box in list_plate_boxes(session)]
    bottles: dict[int, list[Bottle]] = {}
    for bottle, kit in list_every_bottle(session):
        bottles.setdefault(kit.id, []).append(bottle)
    kits = [_kit_line(kit, bottles.get(kit.id, []), day) for kit in list_kits(session)]
    left = {substance: count_left_ul(session, substance, day) for substance in Substance}
    return StockPage(
        plates_left=count_plates_left(session),
        plates_usable=count_plates_left(session, usable_on=day),
        plate_sums=[
            f"{box.name}: {plates_words(box.plates_left)}, {box.good_until.state}"
            for box in boxes
            if box.plates_left
        ],
        largest_mix=volume_words(
            largest_mix_ul(stock_a_ul=left[Substance.STOCK_A], stock_b_ul=left[Substance.STOCK_B])
        ),
        stock_a=volume_words(left[Substance.STOCK_A]),
        stock_b=volume_words(left[Substance.STOCK_B]),
        bleach=volume_words(left[Substance.BLEACH]),
        expiring=[(found, day_words(found.expires_on)) for found in list_expiring(session, day)],
        short=list_short(session, day),
        boxes=[box for box in boxes if box.plates_left],
        kits=[kit for kit in kits if not kit.is_empty],
        used_boxes=[box for box in boxes if not box.plates_left],
        used_kits=[kit for kit in kits if kit.is_empty],
        sees_options=SEES_OPTIONS,
        today=day.isoformat(),
        kit_form=kit_form or Submitted(),
        box_form=box_form or Submitted(),
    )


def _signed_number(change: int) -> str:
    return f"+{change}" if change > 0 else f"−{-change}"


def signed_volume(change_ul: int) -> str:
    return f"+{volume_words(change_ul)}" if change_ul > 0 else volume_words(change_ul)


def plate_box_page(
    session: LabSession,
    plate_box_id: int,
    now: datetime,
    zone: str,
    opening_form: Submitted[Opening] | None = None,
    test_form: Submitted[DrawnPlates] | None = None,
    lost_form: Submitted[LostPlates] | None = None,
    count_form: Submitted[CountedPlates] | None = None,
) -> PlateBoxPage:
    box = get_plate_box(session, plate_box_id)
    lines, total = [], 0
    for entry in list_plate_entries(session, plate_box_id):
        total += entry.change
        lines.append(
            LedgerLine(
                moment_words(entry.entered_at, zone),
                entry.kind,
                _signed_number(entry.change),
                str(total),
                entry.note,
                entry.entered_by,
            )
        )
    return PlateBoxPage(
        box=_box_line(box, day_at(now, zone), zone),
        arrived=day_words(box.arrived_on),
        is_open=box.opened_at is not None,
        is_cold=box.warm_up_s > 0,
        lines=lines,
        total=total,
        opening_form=opening_form or Submitted(),
        test_form=test_form or Submitted(),
        lost_form=lost_form or Submitted(),
        count_form=count_form or Submitted(),
    )


def volume_ledger(entries: Iterable[tuple[VolumeEntry, str]], zone: str) -> tuple[Sequence[LedgerLine], int]:
    """The lines of a ledger of volumes, each entry with its words, and the total in microlitres."""
    lines, total_ul = [], 0
    for entry, what in entries:
        total_ul += entry.change_ul
        lines.append(
            LedgerLine(
                moment_words(entry.entered_at, zone),
                what,
                signed_volume(entry.change_ul),
                volume_words(total_ul),
                entry.note,
                entry.entered_by,
            )
        )
    return lines, total_ul


def _bottle_ledger(session: LabSession, bottle: Bottle, zone: str) -> BottleLedger:
    lines, total_ul = volume_ledger(
        (
            (entry, f"{entry.kind} into batch {entry.batch_number}" if entry.batch_number else entry.kind)
            for entry in list_bottle_entries(session, bottle.id)
        ),
        zone,
    )
    return BottleLedger(
        bottle.id,
        bottle.substance,
        volume_words(bottle.left_ul),
        volume_words(total_ul),
        total_ul == bottle.left_ul,
        lines,
    )


def kit_page(
    session: LabSession,
    kit_id: int,
    now: datetime,
    zone: str,
    discard_form: Submitted[DiscardedVolume] | None = None,
    measure_form: Submitted[MeasuredVolume] | None = None,
) -> KitPage:
    kit = get_kit(session, kit_id)
    bottles = list_bottles_of_kit(session, kit_id)
    return KitPage(
        kit=_kit_line(kit, bottles, day_at(now, zone)),
        arrived=day_words(kit.arrived_on),
        bottles=[_bottle_ledger(session, bottle, zone) for bottle in bottles],
        options=[
            (bottle.id, f"{bottle.substance}, {volume_words(bottle.left_ul)} left") for bottle in bottles
        ],
        discard_form=discard_form or Submitted(),
        measure_form=measure_form or Submitted(),
    )


def _plate_account(box: PlateBox, sums: Mapping[str, int]) -> PlateAccount:
    came_in = sums.get(PlateEntryKind.ARRIVED, 0)
    runs, tests, lost = (
        -sums.get(kind, 0) for kind in (PlateEntryKind.RUN, PlateEntryKind.TEST, PlateEntryKind.LOST)
    )
    account = Account(came_in, runs + tests + lost, box.plates_left)
    return PlateAccount(box.name, box.id, came_in, runs, tests, lost, box.plates_left, account.missing)


def _volume_account(substance: str, sums: Mapping[str, int]) -> VolumeAccount:
    came_in = sums.get(BottleEntryKind.ARRIVED, 0)
    mixed, discarded = (-sums.get(kind, 0) for kind in (BottleEntryKind.MIXED, BottleEntryKind.DISCARDED))
    account = Account(came_in, mixed + discarded, sum(sums.values()))
    return VolumeAccount(
        substance,
        volume_words(came_in),
        volume_words(mixed),
        volume_words(discarded),
        volume_words(account.on_hand),
        volume_words(account.missing),
        f"{float(account.share):.1%}".replace("%", " %").replace("-", "−"),
        account.is_within(POUR_TOLERANCE),
    )


def _all_boxes(boxes: Sequence[PlateAccount]) -> PlateAccount:
    def total(name: str) -> int:
        return sum(getattr(box, name) for box in boxes)

    return PlateAccount(
        "All boxes",
        None,
        total("came_in"),
        total("runs"),
        total("tests"),
        total("lost"),
        total("left"),
        total("missing"),
    )


def account_page(session: LabSession) -> AccountPage:
    """What came in, where it went and what is missing, by plate box and by substance, since the lab began."""
    plates, volumes = sum_plates_by_kind(session), sum_volumes_by_kind(session)
    boxes = [_plate_account(box, plates.get(box.id, {})) for box in list_plate_boxes(session)]
    return AccountPage(
        boxes=boxes,
        all_boxes=_all_boxes(boxes) if boxes else None,
        volumes=[_volume_account(kind, volumes[kind]) for kind in Substance if kind in volumes],
        tolerance=f"{float(POUR_TOLERANCE):.0%}".replace("%", " %"),
    )
