"""What the pages of kits show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from server.core.good_until import GoodUntil, good_until
from server.core.ledger import LedgerLine, ledger_lines
from server.core.moments import day_at, day_words
from server.core.shelf import held_words
from server.data.session import LabSession
from server.kits.forms import DiscardedVolume, MeasuredVolume, NewKit
from server.kits.models import Bottle, Kit
from server.kits.queries import (
    get_kit,
    list_bottle_entries,
    list_bottles_of_kit,
    list_every_bottle,
    list_kits,
)
from server.web.submitted import Submitted


@dataclass(frozen=True)
class KitLine:
    id: int
    name: str
    storage: str
    bottles: Sequence[tuple[str, str]]
    is_empty: bool
    good_until: GoodUntil


@dataclass(frozen=True)
class BottleLedger:
    id: int
    substance: str
    left: str
    total: str
    agrees: bool
    lines: Sequence[LedgerLine]


@dataclass(frozen=True)
class KitShelf:
    """The kits of the lab; `used` are the empty ones."""

    full: Sequence[KitLine]
    used: Sequence[KitLine]


@dataclass(frozen=True)
class KitsPage:
    kits: KitShelf
    today: str
    kit_form: Submitted[NewKit]


@dataclass(frozen=True)
class KitPage:
    kit: KitLine
    arrived: str
    bottles: Sequence[BottleLedger]
    options: Sequence[tuple[int, str]]
    discard_form: Submitted[DiscardedVolume]
    measure_form: Submitted[MeasuredVolume]


def _kit_line(kit: Kit, bottles: Sequence[Bottle], day: date) -> KitLine:
    return KitLine(
        id=kit.id,
        name=kit.name,
        storage=kit.storage or "not said",
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
    session: LabSession, now: datetime, zone: str, kit_form: Submitted[NewKit] | None = None
) -> KitsPage:
    day = day_at(now, zone)
    return KitsPage(kit_shelf(session, day), day.isoformat(), kit_form or Submitted())


def _bottle_ledger(session: LabSession, bottle: Bottle, zone: str) -> BottleLedger:
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
        bottle.id, bottle.substance, words(bottle.left), words(total), total == bottle.left, lines
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
            (bottle.id, f"{bottle.substance}, {held_words(bottle.left, bottle.measure)} left")
            for bottle in bottles
        ],
        discard_form=discard_form or Submitted(),
        measure_form=measure_form or Submitted(),
    )
