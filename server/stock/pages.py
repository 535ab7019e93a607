"""What the overview of stock shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from server.core.moments import day_at, day_words
from server.core.reconciling import POUR_TOLERANCE, Account
from server.core.units import plates_words, volume_words
from server.core.working_solution import largest_mix_ul
from server.data.session import LabSession
from server.kits.models import BottleEntryKind, Substance
from server.kits.pages import KitShelf, kit_shelf
from server.kits.queries import count_left_ul, sum_volumes_by_kind
from server.plates.models import PlateBox, PlateEntryKind
from server.plates.pages import PlateShelf, plate_shelf
from server.plates.queries import count_plates_left, list_plate_boxes, sum_plates_by_kind
from server.stock.queries import Expiring, Short, list_expiring, list_short


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
    boxes: PlateShelf
    kits: KitShelf


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


def stock_page(session: LabSession, now: datetime, zone: str) -> StockPage:
    day = day_at(now, zone)
    boxes = plate_shelf(session, day, zone)
    left = {substance: count_left_ul(session, substance, day) for substance in Substance}
    return StockPage(
        plates_left=count_plates_left(session),
        plates_usable=count_plates_left(session, usable_on=day),
        plate_sums=[
            f"{box.name}: {plates_words(box.plates_left)}, {box.good_until.state}" for box in boxes.full
        ],
        largest_mix=volume_words(
            largest_mix_ul(stock_a_ul=left[Substance.STOCK_A], stock_b_ul=left[Substance.STOCK_B])
        ),
        stock_a=volume_words(left[Substance.STOCK_A]),
        stock_b=volume_words(left[Substance.STOCK_B]),
        bleach=volume_words(left[Substance.BLEACH]),
        expiring=[(found, day_words(found.expires_on)) for found in list_expiring(session, day)],
        short=list_short(session, day),
        boxes=boxes,
        kits=kit_shelf(session, day),
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
