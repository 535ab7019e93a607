"""What the overview of stock shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from server.core.moments import day_at, day_words
from server.core.recipe import Measure
from server.core.reconciling import POUR_TOLERANCE, Account
from server.core.shelf import held_words
from server.core.units import plates_words, volume_words
from server.core.working_solution import largest_mix_ul
from server.data.session import LabSession
from server.kits.models import BLEACH, PROPOSED, STOCK_A, STOCK_B, BottleEntryKind
from server.kits.pages import KitShelf, kit_shelf
from server.kits.queries import count_left, sum_amounts_by_kind
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
class AmountAccount:
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
    amounts: Sequence[AmountAccount]
    tolerance: str


def stock_page(session: LabSession, now: datetime, zone: str) -> StockPage:
    day = day_at(now, zone)
    boxes = plate_shelf(session, now, zone)
    left = {substance: count_left(session, substance, Measure.VOLUME, day) for substance in PROPOSED}
    return StockPage(
        plates_left=count_plates_left(session),
        plates_usable=count_plates_left(session, usable_on=day),
        plate_sums=[
            f"{box.name}: {plates_words(box.plates_left)}, {box.good_until.state}" for box in boxes.full
        ],
        largest_mix=volume_words(largest_mix_ul(stock_a_ul=left[STOCK_A], stock_b_ul=left[STOCK_B])),
        stock_a=volume_words(left[STOCK_A]),
        stock_b=volume_words(left[STOCK_B]),
        bleach=volume_words(left[BLEACH]),
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


def _amount_account(substance: str, measure: str, sums: Mapping[str, int]) -> AmountAccount:
    came_in = sums.get(BottleEntryKind.ARRIVED, 0)
    mixed, discarded = (-sums.get(kind, 0) for kind in (BottleEntryKind.MIXED, BottleEntryKind.DISCARDED))
    account = Account(came_in, mixed + discarded, sum(sums.values()))
    return AmountAccount(
        substance,
        held_words(came_in, measure),
        held_words(mixed, measure),
        held_words(discarded, measure),
        held_words(account.on_hand, measure),
        held_words(account.missing, measure),
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
    plates, amounts = sum_plates_by_kind(session), sum_amounts_by_kind(session)
    boxes = [_plate_account(box, plates.get(box.id, {})) for box in list_plate_boxes(session)]
    return AccountPage(
        boxes=boxes,
        all_boxes=_all_boxes(boxes) if boxes else None,
        amounts=[
            _amount_account(substance, measure, sums)
            for (substance, measure), sums in sorted(amounts.items())
        ],
        tolerance=f"{float(POUR_TOLERANCE):.0%}".replace("%", " %"),
    )
