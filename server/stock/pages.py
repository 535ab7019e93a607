"""What the overview of stock shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from server.core.moments import day_at, day_words
from server.core.reconciling import POUR_TOLERANCE, Account, count_question, percent_words
from server.core.shelf import held_words
from server.core.table_file import write_table
from server.core.units import plates_words, volume_words
from server.data.session import LabSession
from server.kits.models import BottleEntryKind
from server.kits.pages import KitShelf, kit_shelf
from server.kits.queries import sum_amounts_by_kind
from server.plates.models import PlateBox, PlateBoxEvent, PlateEntryKind
from server.plates.pages import PlateShelf, plate_shelf
from server.plates.queries import (
    count_plates_left,
    get_plate_box,
    list_last_counts,
    list_plate_boxes,
    sum_plates_by_kind,
    sum_plates_by_use,
)
from server.stock.forms import CountedBox
from server.stock.queries import (
    Expiring,
    KitPromise,
    Short,
    StillMade,
    list_expiring,
    list_kit_promises,
    list_short,
    list_still_made,
)
from server.web.submitted import Submitted


@dataclass(frozen=True)
class MakesLine:
    """A recipe with the most that the shelf makes of it, what limits it, and why."""

    name: str
    address: str
    volume: str
    nothing: bool
    runs_out: str
    taken: Sequence[tuple[str, str, str]]
    made_first: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class PromiseLine:
    """A kit: what its pack says it makes, and what the lab's usual recipe makes of it."""

    name: str
    address: str
    says: str
    makes: str
    falls_short: bool
    runs_out: str


@dataclass(frozen=True)
class StockPage:
    plates_left: int
    plates_usable: int
    plate_sums: Sequence[str]
    usual: Sequence[tuple[str, str]]
    makes: Sequence[MakesLine]
    promises: Sequence[PromiseLine]
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
    counted: str = ""
    counted_on: str = ""
    lot: str = ""


@dataclass(frozen=True)
class CountLine:
    """A box to count: `left` is what its ledger says."""

    number: int
    id: int
    name: str
    left: int
    form: Submitted[CountedBox]


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
    uses: Sequence[tuple[str, int]]
    counts: Sequence[CountLine]
    amounts: Sequence[AmountAccount]
    tolerance: str


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if names[1:] else "".join(names)


def _makes_line(one: StillMade) -> MakesLine:
    return MakesLine(
        name=one.name,
        address="" if one.recipe_id is None else f"/recipes/{one.recipe_id}",
        volume=volume_words(one.made.volume_ul),
        nothing=one.made.volume_ul == 0,
        runs_out=_listed(one.made.runs_out),
        taken=[
            (held_words(round(amount), source.on_shelf.measure), source.words, source.address)
            for source, amount in one.taken
        ],
        made_first=[(volume_words(round(volume_ul)), name) for name, volume_ul in one.made.made_first],
    )


def _promise_line(one: KitPromise) -> PromiseLine:
    return PromiseLine(
        name=one.kit.name,
        address=f"/stock/kits/{one.kit.id}",
        says=volume_words(one.says_ul),
        makes=volume_words(one.makes.volume_ul),
        falls_short=one.makes.volume_ul < one.says_ul,
        runs_out=_listed(one.makes.runs_out),
    )


def stock_page(session: LabSession, now: datetime, zone: str) -> StockPage:
    day = day_at(now, zone)
    boxes = plate_shelf(session, now, zone)
    makes = list_still_made(session, now, zone)
    return StockPage(
        plates_left=count_plates_left(session),
        plates_usable=count_plates_left(session, usable_on=day),
        plate_sums=[
            f"{box.name}: {plates_words(box.plates_left)}, {box.good_until.state}" for box in boxes.full
        ],
        usual=[(one.name, volume_words(one.made.volume_ul)) for one in makes if one.usual],
        makes=[_makes_line(one) for one in makes],
        promises=[_promise_line(one) for one in list_kit_promises(session)],
        expiring=[(found, day_words(found.expires_on)) for found in list_expiring(session, day)],
        short=list_short(session, day),
        boxes=boxes,
        kits=kit_shelf(session, day),
    )


def _plate_account(
    box: PlateBox, sums: Mapping[str, int], counted: PlateBoxEvent | None, zone: str
) -> PlateAccount:
    came_in = sums.get(PlateEntryKind.ARRIVED, 0)
    runs, tests, lost = (
        -sums.get(kind, 0) for kind in (PlateEntryKind.RUN, PlateEntryKind.TEST, PlateEntryKind.LOST)
    )
    account = Account(came_in, runs + tests + lost, box.plates_left)
    return PlateAccount(
        box.name,
        box.id,
        came_in,
        runs,
        tests,
        lost,
        box.plates_left,
        account.missing,
        str(counted.plates) if counted else "",
        day_words(day_at(counted.happened_at, zone)) if counted else "",
        box.lot,
    )


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
        percent_words(account.share),
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


def _plate_accounts(session: LabSession, zone: str) -> Sequence[PlateAccount]:
    plates, counts = sum_plates_by_kind(session), list_last_counts(session)
    return [
        _plate_account(box, plates.get(box.id, {}), counts.get(box.id), zone)
        for box in list_plate_boxes(session)
    ]


def judged_counts(
    session: LabSession, lines: Sequence[Submitted[CountedBox]]
) -> Sequence[Submitted[CountedBox]]:
    """The lines, with a question beside each count that differs from the ledger and has no reason yet.

    A ledger that has moved since the page was opened is asked about too: the plate may have been counted or not.
    """
    return [_judged(session, line) for line in lines]


def _judged(session: LabSession, line: Submitted[CountedBox]) -> Submitted[CountedBox]:
    typed = line.clean
    if typed is None or typed.counted is None:
        return line
    left = get_plate_box(session, typed.plate_box_id).plates_left
    if typed.left not in {None, left}:
        return line.refused(
            "counted",
            f"The ledger went from {typed.left} to {left} since you opened this page. Count once more.",
        )
    if typed.counted != left and not typed.reason:
        return line.refused("reason", count_question(left, typed.counted))
    return line


def _count_lines(
    boxes: Sequence[PlateAccount], typed: Sequence[Submitted[CountedBox]]
) -> Sequence[CountLine]:
    forms = {str(form.value("plate_box_id")): form for form in typed}
    return [
        CountLine(number, box.id, box.name, box.left, forms.get(str(box.id), Submitted()))
        for number, box in enumerate((box for box in boxes if box.left), start=1)
        if box.id is not None
    ]


def account_page(session: LabSession, zone: str, typed: Sequence[Submitted[CountedBox]] = ()) -> AccountPage:
    """What came in, where it went and what is missing, by plate box and by substance, since the lab began."""
    amounts, boxes = sum_amounts_by_kind(session), _plate_accounts(session, zone)
    return AccountPage(
        boxes=boxes,
        all_boxes=_all_boxes(boxes) if boxes else None,
        uses=sorted(sum_plates_by_use(session).items()),
        counts=_count_lines(boxes, typed),
        amounts=[
            _amount_account(substance, measure, sums)
            for (substance, measure), sums in sorted(amounts.items())
        ],
        tolerance=f"{float(POUR_TOLERANCE):.0%}".replace("%", " %"),
    )


def account_file(session: LabSession, zone: str) -> str:
    """The account of plates by box as a table of comma-separated values."""
    head = (
        "Box",
        "Lot",
        "Bought",
        "Runs",
        "Tests",
        "Lost",
        "On the shelf",
        "Missing",
        "Counted",
        "Counted on",
    )
    return write_table(
        head,
        [
            (
                box.name,
                box.lot,
                *(str(n) for n in (box.came_in, box.runs, box.tests, box.lost, box.left, box.missing)),
                box.counted,
                box.counted_on,
            )
            for box in _plate_accounts(session, zone)
        ],
    )
