"""What the chemistry pages show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from server.chemistry.forms import BleachMix, DeveloperMix, DiscardedRest, MeasuredRest, Quantities
from server.chemistry.models import Batch, UsualQuantities
from server.chemistry.queries import (
    get_batch,
    get_usual_quantities,
    list_batch_entries,
    list_batches,
    list_live_batches,
    list_rests,
)
from server.core.ledger import LedgerLine, volume_ledger
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.recipe import Component, Measure
from server.core.units import MICROLITRES, duration_words, volume_words
from server.core.working_solution import equal_parts, largest_mix_ul
from server.data.session import LabSession
from server.kits.models import BLEACH, PROPOSED, STOCK_A, STOCK_B, Bottle, Kit
from server.kits.queries import list_entries_into_batch, list_usable_bottles
from server.recipes.models import Solution
from server.web.submitted import Submitted

Options = Sequence[tuple[int, str]]

# A life that ends later than this is told by its day; nobody counts the minutes of a bleach.
COUNTED_DOWN = timedelta(hours=48)


@dataclass(frozen=True)
class Ending:
    """The end of a life. `until` and `now` are for the page's script, `left` and `ends` for people."""

    until: str
    now: str
    left: str
    ends: str
    over: bool
    counted_down: bool


@dataclass(frozen=True)
class BatchLine:
    id: int
    number: int
    solution: str
    volume: str
    left: str
    mixed: str
    ending: Ending
    why: Sequence[str]


@dataclass(frozen=True)
class ChemistryPage:
    next_ending: BatchLine | None
    live: Sequence[BatchLine]
    over: Sequence[BatchLine]
    earlier: Sequence[BatchLine]
    bottles_a: Options
    bottles_b: Options
    bleach_bottles: Options
    largest_mix: str
    developer_charge: str
    plates_per_charge: int
    developer_life: str
    assumed: bool
    clock: str
    developer_form: Submitted[DeveloperMix]
    bleach_form: Submitted[BleachMix]


@dataclass(frozen=True)
class Ingredient:
    substance: str
    volume: str
    kit_id: int
    kit: str


@dataclass(frozen=True)
class BatchPage:
    batch: BatchLine
    ingredients: Sequence[Ingredient]
    lines: Sequence[LedgerLine]
    total: str
    agrees: bool
    has_rest: bool
    discard_form: Submitted[DiscardedRest]
    measure_form: Submitted[MeasuredRest]


@dataclass(frozen=True)
class QuantitiesPage:
    assumed: bool
    developer_life_h: str
    bleach_life_days: str
    developer_charge: str
    bleach_charge: str
    plates_per_charge: int
    plate_width_mm: str
    plate_height_mm: str
    rinse_per_plate: str
    test_plates_per_station: int
    form: Submitted[Quantities]


def _left(seconds: int) -> str:
    minutes, rest = divmod(abs(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    size = f"{hours} h {minutes} min" if hours else f"{minutes} min {rest} s" if minutes else f"{rest} s"
    return f"{size} left" if seconds >= 0 else f"ended {size} ago"


def ending_of(ends_at: datetime, now: datetime, zone: str) -> Ending:
    same_day = day_at(ends_at, zone) == day_at(now, zone)
    over = now >= ends_at
    shown = clock_at(ends_at, zone) if same_day else moment_words(ends_at, zone)
    return Ending(
        until=ends_at.isoformat(),
        now=now.isoformat(),
        left=_left(round((ends_at - now).total_seconds())),
        ends=f"{'ended' if over else 'ends'} {shown}",
        over=over,
        counted_down=abs(ends_at - now) < COUNTED_DOWN,
    )


def _why_batch(batch: Batch, usual: UsualQuantities, zone: str) -> Sequence[str]:
    life = duration_words(int((batch.ends_at - batch.mixed_at).total_seconds()))
    parts = equal_parts(volume_ul=batch.volume_ul)
    is_developer = batch.solution == Solution.DEVELOPER
    made = (
        f"{volume_words(batch.volume_ul)} = {volume_words(parts.stock_a_ul)} A + "
        f"{volume_words(parts.stock_b_ul)} B, equal parts."
        if is_developer
        else f"{volume_words(batch.volume_ul)} from its bottle, as it is."
    )
    end = f"It lives {life} from {moment_words(batch.mixed_at, zone)}, so it ends {moment_words(batch.ends_at, zone)}."
    if not usual.assumed:
        source = "The life comes from the lab's usual quantities at the time of mixing."
    elif is_developer:
        source = (
            "The life is assumed: common practice is 6 to 8 hours after mixing, and the shorter is taken."
        )
    else:
        source = "The life is assumed: there is no source for it."
    return [made, end, source]


def _batch_line(batch: Batch, usual: UsualQuantities, now: datetime, zone: str) -> BatchLine:
    return BatchLine(
        id=batch.id,
        number=batch.number,
        solution=batch.solution,
        volume=volume_words(batch.volume_ul),
        left=volume_words(batch.left_ul),
        mixed=f"{moment_words(batch.mixed_at, zone)} by {batch.mixed_by}",
        ending=ending_of(batch.ends_at, now, zone),
        why=_why_batch(batch, usual, zone),
    )


def _bottle_options(bottles: Sequence[tuple[Bottle, Kit]]) -> Options:
    return [
        (
            bottle.id,
            f"{kit.name}, {volume_words(bottle.left)} left"
            + (f", good until {day_words(kit.expires_on)}" if kit.expires_on else ""),
        )
        for bottle, kit in bottles
    ]


def chemistry_page(
    session: LabSession,
    now: datetime,
    zone: str,
    developer_form: Submitted[DeveloperMix] | None = None,
    bleach_form: Submitted[BleachMix] | None = None,
) -> ChemistryPage:
    usual = get_usual_quantities(session)
    day = day_at(now, zone)
    bottles = {
        substance: list_usable_bottles(session, day, standing_for=Component(substance, 1, Measure.PART))
        for substance in PROPOSED
    }
    live = list_live_batches(session, now)
    first = next((batch for batch in live if batch.solution == Solution.DEVELOPER), None)
    largest_a, largest_b = (
        max((bottle.left for bottle, _kit in bottles[substance]), default=0)
        for substance in (STOCK_A, STOCK_B)
    )
    return ChemistryPage(
        next_ending=_batch_line(first, usual, now, zone) if first else None,
        live=[_batch_line(batch, usual, now, zone) for batch in live],
        over=[_batch_line(batch, usual, now, zone) for batch in list_rests(session, now)],
        earlier=[
            _batch_line(batch, usual, now, zone) for batch in list_batches(session) if not batch.left_ul
        ],
        bottles_a=_bottle_options(bottles[STOCK_A]),
        bottles_b=_bottle_options(bottles[STOCK_B]),
        bleach_bottles=_bottle_options(bottles[BLEACH]),
        largest_mix=volume_words(largest_mix_ul(stock_a_ul=largest_a, stock_b_ul=largest_b)),
        developer_charge=volume_words(usual.developer_charge_ul),
        plates_per_charge=usual.plates_per_charge,
        developer_life=duration_words(usual.developer_life_s),
        assumed=usual.assumed,
        clock=clock_at(now, zone),
        developer_form=developer_form or Submitted(),
        bleach_form=bleach_form or Submitted(),
    )


def batch_page(
    session: LabSession,
    batch_id: int,
    now: datetime,
    zone: str,
    discard_form: Submitted[DiscardedRest] | None = None,
    measure_form: Submitted[MeasuredRest] | None = None,
) -> BatchPage:
    batch = get_batch(session, batch_id)
    lines, total_ul = volume_ledger(
        ((entry, entry.kind) for entry in list_batch_entries(session, batch_id)), zone
    )
    return BatchPage(
        batch=_batch_line(batch, get_usual_quantities(session), now, zone),
        ingredients=[
            Ingredient(bottle.substance, volume_words(-entry.change), kit.id, kit.name)
            for entry, bottle, kit in list_entries_into_batch(session, batch.number)
        ],
        lines=lines,
        total=volume_words(total_ul),
        agrees=total_ul == batch.left_ul,
        has_rest=batch.left_ul > 0,
        discard_form=discard_form or Submitted(),
        measure_form=measure_form or Submitted(),
    )


def _number(amount: int, per: int) -> str:
    """`amount` in the unit of `per` smaller ones, fine enough that saving what stands in the field changes nothing."""
    return f"{Decimal(amount) / per:.6f}".rstrip("0").rstrip(".")


def _millilitres(volume_ul: int) -> str:
    return f"{_number(volume_ul, MICROLITRES['ml'])} mL"


def quantities_page(session: LabSession, form: Submitted[Quantities] | None = None) -> QuantitiesPage:
    usual = get_usual_quantities(session)
    return QuantitiesPage(
        assumed=usual.assumed,
        developer_life_h=_number(usual.developer_life_s, 3600),
        bleach_life_days=_number(usual.bleach_life_s, 86_400),
        developer_charge=_millilitres(usual.developer_charge_ul),
        bleach_charge=_millilitres(usual.bleach_charge_ul),
        plates_per_charge=usual.plates_per_charge,
        plate_width_mm=_number(usual.plate_width_um, 1000),
        plate_height_mm=_number(usual.plate_height_um, 1000),
        rinse_per_plate=_millilitres(usual.rinse_ul_per_plate),
        test_plates_per_station=usual.test_plates_per_station,
        form=form or Submitted(),
    )
