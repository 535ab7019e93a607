"""What the pages of kits show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from server.core.good_until import GoodUntil, good_until
from server.core.ledger import LedgerLine, ledger_lines
from server.core.moments import day_at, day_words, moment_words
from server.core.recipe import PURE_PPM, Measure
from server.core.shelf import held_words
from server.core.units import celsius_words, volume_words
from server.data.session import LabSession
from server.kits.forms import (
    EVERY_BOTTLE,
    BottleDescription,
    BottleRow,
    DiscardedAmount,
    MeasuredAmount,
    NewKit,
    NewSheet,
    OpenedBottle,
    UsedUpBottle,
)
from server.kits.models import PROPOSED, Bottle, BottleEntryKind, Kit
from server.kits.queries import (
    find_lead_days,
    get_kit,
    list_bottle_entries,
    list_bottles_of_kit,
    list_every_bottle,
    list_kits,
    list_sheet_names,
)
from server.web.submitted import Submitted

Options = Sequence[tuple[int, str]]

EMPTY_LINES = 5
RESTS = (
    (BottleEntryKind.DISCARDED, "went into a waste container"),
    (BottleEntryKind.CORRECTION, "was never there: the ledger was wrong"),
)


@dataclass(frozen=True)
class KitLine:
    id: int
    name: str
    storage: str
    bottles: Sequence[tuple[str, str]]
    is_empty: bool
    good_until: GoodUntil


@dataclass(frozen=True)
class KitShelf:
    """The kits of the lab; `used` are the empty ones."""

    full: Sequence[KitLine]
    used: Sequence[KitLine]


@dataclass(frozen=True)
class NewBottleRow:
    """A line of the form; `substance` is what it proposes."""

    number: int
    form: Submitted[BottleRow]
    substance: str


@dataclass(frozen=True)
class KitsPage:
    kits: KitShelf
    today: str
    lead_days: int
    rows: Sequence[NewBottleRow]
    faults: int
    kit_form: Submitted[NewKit]


@dataclass(frozen=True)
class BottleLedger:
    """A bottle with what stands on it, and its ledger."""

    id: int
    substance: str
    left: str
    total: str
    agrees: bool
    lines: Sequence[LedgerLine]
    quality: str
    lot: str
    hazards: str
    opened: str
    used_up: str
    sds_link: str
    sheet_id: int | None
    sheet: str
    can_be_poured: bool


@dataclass(frozen=True)
class KitPage:
    kit: KitLine
    arrived: str
    lead_days: int
    makes: str
    bottles: Sequence[BottleLedger]
    options: Options
    sealed: Options
    filled: Options
    sheet_options: Options
    rests: Sequence[tuple[str, str]]
    discard_form: Submitted[DiscardedAmount]
    measure_form: Submitted[MeasuredAmount]
    opening_form: Submitted[OpenedBottle]
    used_up_form: Submitted[UsedUpBottle]
    sheet_form: Submitted[NewSheet]
    description_form: Submitted[BottleDescription]


def _storage(kit: Kit) -> str:
    """Where it stands, and between which temperatures."""
    coldest, warmest = kit.store_from_decicelsius, kit.store_to_decicelsius
    if coldest is not None and warmest is not None:
        degrees = f"{celsius_words(coldest)} to {celsius_words(warmest)}"
    elif warmest is not None:
        degrees = f"at most {celsius_words(warmest)}"
    else:
        degrees = "" if coldest is None else f"at least {celsius_words(coldest)}"
    return ", ".join(part for part in (kit.storage, degrees) if part) or "not said"


def _kit_line(kit: Kit, bottles: Sequence[Bottle], day: date) -> KitLine:
    return KitLine(
        id=kit.id,
        name=kit.name,
        storage=_storage(kit),
        bottles=[(bottle.substance, held_words(bottle.left, bottle.measure)) for bottle in bottles],
        is_empty=not any(bottle.left for bottle in bottles),
        good_until=good_until(kit.expires_on, day),
    )


def kit_shelf(session: LabSession, day: date) -> KitShelf:
    bottles: dict[int, list[Bottle]] = {}
    for bottle, kit in list_every_bottle(session):
        bottles.setdefault(kit.id, []).append(bottle)
    kits = [_kit_line(kit, bottles.get(kit.id, []), day) for kit in list_kits(session)]
    return KitShelf([kit for kit in kits if not kit.is_empty], [kit for kit in kits if kit.is_empty])


def kits_page(
    session: LabSession,
    now: datetime,
    zone: str,
    kit_form: Submitted[NewKit] | None = None,
    typed: Sequence[Submitted[BottleRow]] | None = None,
) -> KitsPage:
    day = day_at(now, zone)
    form = kit_form or Submitted()
    rows: list[tuple[Submitted[BottleRow], str]] = [(row, "") for row in typed or ()]
    rows += [(Submitted(), "" if typed else substance) for substance in PROPOSED]
    rows += [(Submitted(), "")] * EMPTY_LINES
    return KitsPage(
        kits=kit_shelf(session, day),
        today=day.isoformat(),
        lead_days=find_lead_days(session),
        rows=[NewBottleRow(number, row, substance) for number, (row, substance) in enumerate(rows, start=1)],
        faults=len(form.errors) + sum(len(row.errors) for row, _substance in rows),
        kit_form=form,
    )


def _quality(bottle: Bottle) -> str:
    """Formula, purity and density, as far as anybody wrote them down."""
    parts = [bottle.formula] if bottle.formula else []
    if bottle.purity_ppm != PURE_PPM:
        parts.append(f"{(Decimal(bottle.purity_ppm) * 100 / PURE_PPM).normalize():f} %")
    if bottle.density_ug_per_ul is not None:
        parts.append(f"{(Decimal(bottle.density_ug_per_ul) / 1000).normalize():f} g/mL")
    return ", ".join(parts)


def _bottle_ledger(session: LabSession, bottle: Bottle, zone: str, sheets: dict[int, str]) -> BottleLedger:
    def words(amount: int) -> str:
        return held_words(amount, bottle.measure)

    lines, total = ledger_lines(
        (
            (
                entry,
                entry.change,
                f"{entry.kind} into batch {entry.batch_number}" if entry.batch_number else entry.kind,
            )
            for entry in list_bottle_entries(session, bottle.id)
        ),
        zone,
        words,
    )
    return BottleLedger(
        id=bottle.id,
        substance=bottle.substance,
        left=words(bottle.left),
        total=words(total),
        agrees=total == bottle.left,
        lines=lines,
        quality=_quality(bottle),
        lot=bottle.lot,
        hazards=bottle.hazards,
        opened=f"opened {moment_words(bottle.opened_at, zone)}" if bottle.opened_at else "not opened yet",
        used_up=f"used up {moment_words(bottle.used_up_at, zone)}" if bottle.used_up_at else "",
        sds_link=bottle.sds_link,
        sheet_id=bottle.sheet_id,
        sheet=sheets.get(bottle.sheet_id or 0, ""),
        can_be_poured=bottle.measure == Measure.VOLUME and bottle.left > 0,
    )


def _options(bottles: Sequence[Bottle]) -> Options:
    """The bottles to choose from; the lot and the number tell two of one substance apart."""
    return [
        (
            bottle.id,
            ", ".join(
                (
                    bottle.substance,
                    *([f"lot {bottle.lot}"] if bottle.lot else []),
                    f"{held_words(bottle.left, bottle.measure)} left",
                    f"bottle {bottle.id}",
                )
            ),
        )
        for bottle in bottles
    ]


def kit_page(
    session: LabSession,
    kit_id: int,
    now: datetime,
    zone: str,
    discard_form: Submitted[DiscardedAmount] | None = None,
    measure_form: Submitted[MeasuredAmount] | None = None,
    opening_form: Submitted[OpenedBottle] | None = None,
    used_up_form: Submitted[UsedUpBottle] | None = None,
    sheet_form: Submitted[NewSheet] | None = None,
    description_form: Submitted[BottleDescription] | None = None,
) -> KitPage:
    kit = get_kit(session, kit_id)
    bottles = list_bottles_of_kit(session, kit_id)
    sheets = list_sheet_names(session)
    return KitPage(
        kit=_kit_line(kit, bottles, day_at(now, zone)),
        arrived=day_words(kit.arrived_on),
        lead_days=kit.lead_days,
        makes="" if kit.makes_ul is None else volume_words(kit.makes_ul),
        bottles=[_bottle_ledger(session, bottle, zone, sheets) for bottle in bottles],
        options=_options(bottles),
        sealed=_options([bottle for bottle in bottles if bottle.opened_at is None]),
        filled=_options([bottle for bottle in bottles if bottle.left]),
        sheet_options=[(EVERY_BOTTLE, "every bottle of this kit"), *_options(bottles)],
        rests=RESTS,
        discard_form=discard_form or Submitted(),
        measure_form=measure_form or Submitted(),
        opening_form=opening_form or Submitted(),
        used_up_form=used_up_form or Submitted(),
        sheet_form=sheet_form or Submitted(),
        description_form=description_form or Submitted(),
    )
