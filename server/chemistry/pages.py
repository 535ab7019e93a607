"""What the chemistry pages show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from server.chemistry.forms import (
    Asked,
    DiscardedRest,
    MeasuredRest,
    NewCheck,
    NewEnd,
    NewMix,
    Quantities,
    SourceRow,
)
from server.chemistry.models import Batch, BatchCheck, UsualQuantities
from server.chemistry.queries import (
    Constituent,
    Ingredient,
    Making,
    Source,
    composition_of,
    find_key,
    get_batch,
    get_making,
    get_usual_quantities,
    life_of,
    list_batch_entries,
    list_batches,
    list_checks,
    list_ingredients,
    list_live_batches,
    list_makings,
    list_overrides,
    list_rests,
    list_sources,
    propose,
    usable_until,
)
from server.core.label_sizes import counts_as_corrosive
from server.core.ledger import LedgerLine, volume_ledger
from server.core.mixing import Steps
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.recipe import Basis, Component, Measure, amount_words, to_step, weigh_out
from server.core.units import MICROLITRES, celsius_words, duration_words, life_words, ph_words, volume_words
from server.data.session import LabSession
from server.recipes.models import RecipeEdition, Solution, Water
from server.recipes.pages import WATERS
from server.recipes.queries import get_edition
from server.web.submitted import Submitted

Choices = Sequence[tuple[str, str]]

# A life that ends later than this is told by its day; nobody counts the minutes of a bleach.
STEPS = Steps()
COUNTED_DOWN = timedelta(hours=48)
HAZARDS = {
    Solution.DEVELOPER: "Caustic: burns skin and eyes. See the SDS of everything it was mixed from.",
    Solution.BLEACH: "May be acid, stains and irritates; keep away from developer. See the SDS of everything it was mixed from.",
    Solution.STOCK: "Stronger than what is made of it: treat as hazardous. See the SDS of everything it was mixed from.",
    Solution.OTHER: "Treat as hazardous. See the SDS of everything it was mixed from.",
}
NOT_SAID = "nobody has written its hazards down: see its SDS"


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
    """`waits` says until when it stands before it may be used, where it still does; `state` why it has ended, where it has."""

    id: int
    number: int
    name: str
    volume: str
    left: str
    made: str
    mixed: str
    labelled: str
    waits: str
    state: str
    ending: Ending


@dataclass(frozen=True)
class MixLine:
    """A component with what it may be taken from. `source` and `also` are proposed; `also` is empty where one is enough."""

    number: int
    component: str
    called_for: str
    options: Choices
    also_options: Choices
    source: str
    also: str
    form: Submitted[SourceRow]


@dataclass(frozen=True)
class MixPage:
    """The mixing form for one solution. `missing` are components of which nothing usable is on the shelf, with the key of the recipe that makes them or ""."""

    key: str
    name: str
    edition: int
    recipes: Choices
    days: Choices
    turns: Choices
    volume: str
    notes: Sequence[str]
    lines: Sequence[MixLine]
    missing: Sequence[tuple[str, str]]
    clock: str
    balance: str
    graduate: str
    asked: Submitted[Asked]
    form: Submitted[NewMix]
    faults: int


@dataclass(frozen=True)
class ChemistryPage:
    next_ending: BatchLine | None
    why: Sequence[str]
    live: Sequence[BatchLine]
    over: Sequence[BatchLine]
    earlier: Sequence[tuple[int, str]]
    mix: MixPage


@dataclass(frozen=True)
class IngredientLine:
    """`address` is the page of the kit or the batch that it came from."""

    name: str
    amount: str
    source: str
    address: str
    lot: str


@dataclass(frozen=True)
class ConstituentLine:
    name: str
    strength: str
    hazards: str


@dataclass(frozen=True)
class CheckLine:
    when: str
    found: str
    passed: bool
    note: str
    by: str


@dataclass(frozen=True)
class BatchPage:
    """`decides` is whether the reader may set another end; `corrosive` says which measured pH makes it corrosive, where one does."""

    batch: BatchLine
    why: Sequence[str]
    edition: tuple[str, str] | None
    temperature: str
    water: str
    ingredients: Sequence[IngredientLine]
    constituents: Sequence[ConstituentLine]
    caution: str
    corrosive: str
    warnings: Sequence[str]
    checks: Sequence[CheckLine]
    lines: Sequence[LedgerLine]
    total: str
    agrees: bool
    has_rest: bool
    decides: bool
    today: str
    check_form: Submitted[NewCheck]
    end_form: Submitted[NewEnd]
    discard_form: Submitted[DiscardedRest]
    measure_form: Submitted[MeasuredRest]


@dataclass(frozen=True)
class QuantitiesPage:
    assumed: bool
    developer_life_h: str
    bleach_life_days: str
    stock_life_days: str
    other_life_h: str
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


def _made_words(session: LabSession, batch: Batch) -> str:
    """What a batch was poured together from: 600 mL = 300 mL stock A + 300 mL stock B."""
    parts = [
        f"{amount_words(part.amount, part.measure)} {part.name}"
        for part in list_ingredients(session, batch.number)
    ]
    water = [f"{volume_words(batch.water_ul)} water"] * bool(batch.water_ul)
    return f"{volume_words(batch.volume_ul)} = {' + '.join([*parts, *water])}"


def _batch_line(session: LabSession, batch: Batch, now: datetime, zone: str) -> BatchLine:
    end = usable_until(batch)
    failed = batch.failed_at is not None and batch.overridden_until is None
    return BatchLine(
        id=batch.id,
        number=batch.number,
        name=batch.name,
        volume=volume_words(batch.volume_ul),
        left=volume_words(batch.left_ul),
        made=_made_words(session, batch),
        mixed=f"{moment_words(batch.mixed_at, zone)} by {batch.mixed_by}",
        labelled=moment_words(batch.labelled_at, zone) if batch.labelled_at else "",
        waits=f"stands until {clock_at(batch.ready_at, zone)}" if now < batch.ready_at else "",
        state="" if now < end else "failed a check" if failed else "past its life",
        ending=ending_of(end, now, zone),
    )


def _edition_of(session: LabSession, batch: Batch) -> RecipeEdition | None:
    return None if batch.edition_id is None else get_edition(session, batch.edition_id)


def _why_batch(session: LabSession, batch: Batch, zone: str) -> Sequence[str]:
    life = life_words(int((batch.ends_at - batch.mixed_at).total_seconds()))
    end = f"It lives {life} from {moment_words(batch.mixed_at, zone)}, so it ends {moment_words(batch.ends_at, zone)}."
    why = [f"{_made_words(session, batch)}.", end, _life_source(session, batch, _edition_of(session, batch))]
    if batch.failed_at is not None:
        why.append(f"A check failed {moment_words(batch.failed_at, zone)}, and a failed check ends a batch.")
    why += [
        f"{each.decided_by} decided {moment_words(each.decided_at, zone)} that it may be used until "
        f"{moment_words(each.until, zone)}: {each.reason}"
        for each in list_overrides(session, batch.id)
    ]
    return why


def _life_source(session: LabSession, batch: Batch, edition: RecipeEdition | None) -> str:
    life_s = int((batch.ends_at - batch.mixed_at).total_seconds())
    outlived = [
        part.source for part in list_ingredients(session, batch.number) if part.ends_at == batch.ends_at
    ]
    if outlived:
        return f"That is the end of {outlived[0]}: a batch never outlives what it was mixed from."
    if edition is not None and edition.life_s == life_s:
        return f"The life is what edition {edition.number} of its recipe says."
    if not get_usual_quantities(session).assumed:
        return "The life comes from the lab's usual quantities at the time of mixing."
    if batch.solution == Solution.DEVELOPER:
        return "The life is assumed: common practice is 6 to 8 hours after mixing, and the shorter is taken."
    return "The life is assumed: there is no source for it."


def _earlier_words(batch: Batch, zone: str) -> str:
    mixed = f"mixed {moment_words(batch.mixed_at, zone)} by {batch.mixed_by}"
    return f"batch {batch.number}, {volume_words(batch.volume_ul)} of {batch.name}, {mixed}"


def chemistry_page(session: LabSession, now: datetime, zone: str) -> ChemistryPage:
    live = list_live_batches(session, now)
    first = next((batch for batch in live if batch.solution == Solution.DEVELOPER), None)
    return ChemistryPage(
        next_ending=_batch_line(session, first, now, zone) if first else None,
        why=_why_batch(session, first, zone) if first else (),
        live=[_batch_line(session, batch, now, zone) for batch in live],
        over=[_batch_line(session, batch, now, zone) for batch in list_rests(session, now)],
        earlier=[
            (batch.id, _earlier_words(batch, zone)) for batch in list_batches(session) if not batch.left_ul
        ],
        mix=mix_page(session, now, zone),
    )


def mix_page(
    session: LabSession,
    now: datetime,
    zone: str,
    asked: Submitted[Asked] | None = None,
    form: Submitted[NewMix] | None = None,
    typed: Sequence[Submitted[SourceRow]] = (),
) -> MixPage:
    """The form for what is `asked`; without that for the usual developer, of which no volume is said yet."""
    asked, form = asked or Submitted(), form or Submitted()
    making = get_making(session, str(asked.value("recipe")).strip())
    volume_ul = None if asked.clean is None else asked.clean.volume
    lines = _mix_lines(session, making, volume_ul, now, zone, typed)
    day = day_at(now, zone)
    return MixPage(
        key=making.key,
        name=making.name,
        edition=0 if making.edition is None else making.edition.number,
        recipes=list_makings(session),
        days=[
            ("today", f"today, {day_words(day)}"),
            ("yesterday", f"yesterday, {day_words(day - timedelta(days=1))}"),
        ],
        turns=[("before", "before the clocks went back"), ("after", "after the clocks went back")],
        volume=str(asked.value("volume")),
        notes=_mix_notes(making, get_usual_quantities(session), volume_ul),
        lines=lines,
        missing=[(line.component, find_key(session, line.component)) for line in lines if not line.options],
        clock=clock_at(now, zone),
        balance=amount_words(STEPS.balance_mg, Measure.MASS),
        graduate=volume_words(STEPS.graduate_ul),
        asked=asked,
        form=form,
        faults=len(form.errors) + sum(len(row.errors) for row in typed),
    )


def _mix_lines(
    session: LabSession,
    making: Making,
    volume_ul: int | None,
    now: datetime,
    zone: str,
    typed: Sequence[Submitted[SourceRow]],
) -> Sequence[MixLine]:
    by_name = {row.value("component"): row for row in typed}
    lines = []
    for number, component in enumerate(making.formula.components, start=1):
        sources = list_sources(session, component, now)
        needed = None if volume_ul is None else making.formula.share(component) * volume_ul
        proposed = [source.key for source in propose(sources, needed)]
        lines.append(
            MixLine(
                number=number,
                component=component.name,
                called_for=_called_for(component, needed),
                options=[(source.key, _source_words(source, needed, zone)) for source in sources],
                also_options=[(source.key, _source_words(source, None, zone)) for source in sources],
                source=proposed[0] if proposed else "",
                also=proposed[1] if len(proposed) > 1 else "",
                form=by_name.get(component.name, Submitted()),
            )
        )
    return lines


def _called_for(component: Component, needed: Fraction | None) -> str:
    if needed is None:
        return amount_words(component.amount, component.measure) * (component.measure == Measure.PART)
    measure = Measure.MASS if component.measure == Measure.MASS else Measure.VOLUME
    return amount_words(round(needed), measure)


def _source_words(source: Source, needed: Fraction | None, zone: str) -> str:
    words = [source.name, f"{amount_words(source.supply.left, source.supply.measure)} left"]
    if source.ends_at is not None and source.bottle_id is not None:
        words.append(f"good until {day_words(day_at(source.ends_at - timedelta(seconds=1), zone))}")
    elif source.ends_at is not None:
        words.append(f"ends {moment_words(source.ends_at, zone)}")
    taken = ""
    if needed is not None:
        measure = source.supply.measure
        amount = to_step(needed * source.supply.factor, STEPS.of(measure))
        short = needed * source.supply.factor > source.supply.left
        taken = f"{'short, it takes' if short else 'take'} {amount_words(amount, measure)}: "
    return taken + ", ".join(words)


def _mix_notes(making: Making, usual: UsualQuantities, volume_ul: int | None) -> Sequence[str]:
    """What the recipe says beside its components: water, temperature, standing, life."""
    notes = []
    edition = making.edition
    if edition is not None and not making.formula.parts:
        notes.append(_water_words(making, edition, volume_ul))
    if edition is not None and edition.temperature_decicelsius is not None:
        notes.append(f"At {celsius_words(edition.temperature_decicelsius)}.")
    if making.stand_s:
        notes.append(f"It stands {duration_words(making.stand_s)} after mixing, before it is used.")
    life = life_words(life_of(making, usual))
    said = (
        "says its recipe" if making.life_s is not None else "assumed" if usual.assumed else "set by the lab"
    )
    notes.append(
        f"Its life is {life} from mixing ({said}), and never longer than that of what it is mixed from."
    )
    return notes


def _water_words(making: Making, edition: RecipeEdition, volume_ul: int | None) -> str:
    water = dict(WATERS)[Water(edition.water)]
    if making.formula.basis == Basis.ADDED_TO:
        much = "the volume that you write" if volume_ul is None else volume_words(volume_ul)
        return f"Into {much} of {water}, in this order; the volume is that of the water."
    if volume_ul is None:
        return f"In this order, made up to the volume with {water}."
    made = weigh_out(
        making.formula,
        volume_ul=volume_ul,
        balance_step_mg=STEPS.balance_mg,
        graduate_step_ul=STEPS.graduate_ul,
    )
    first = f"Begin with {volume_words(made.start_ul)} of {water}; in" if made.start_ul else "In"
    return f"{first} this order, then made up to {volume_words(volume_ul)} with {water}."


def batch_page(
    session: LabSession,
    batch_id: int,
    now: datetime,
    zone: str,
    *,
    decides: bool,
    check_form: Submitted[NewCheck] | None = None,
    end_form: Submitted[NewEnd] | None = None,
    discard_form: Submitted[DiscardedRest] | None = None,
    measure_form: Submitted[MeasuredRest] | None = None,
) -> BatchPage:
    """`decides`: an instructor reads it, who may set another end."""
    batch = get_batch(session, batch_id)
    edition = _edition_of(session, batch)
    ingredients = list_ingredients(session, batch.number)
    checks = list_checks(session, batch_id)
    lines, total_ul = volume_ledger(
        (
            (entry, f"drawn into batch {entry.into_batch_number}" if entry.into_batch_number else entry.kind)
            for entry in list_batch_entries(session, batch_id)
        ),
        zone,
    )
    return BatchPage(
        batch=_batch_line(session, batch, now, zone),
        why=_why_batch(session, batch, zone),
        edition=None
        if edition is None
        else (f"edition {edition.number}", f"/recipes/{edition.recipe_id}/editions/{edition.number}"),
        temperature=""
        if batch.temperature_decicelsius is None
        else celsius_words(batch.temperature_decicelsius),
        water=volume_words(batch.water_ul) if batch.water_ul else "",
        ingredients=[_ingredient_line(part) for part in ingredients],
        constituents=[_constituent_line(part) for part in composition_of(session, batch)],
        caution=HAZARDS[Solution(batch.solution)],
        corrosive=_corrosive(checks),
        warnings=_warnings(session, ingredients, zone),
        checks=[_check_line(check, zone) for check in checks],
        lines=lines,
        total=volume_words(total_ul),
        agrees=total_ul == batch.left_ul,
        has_rest=batch.left_ul > 0,
        decides=decides,
        today=day_at(now, zone).isoformat(),
        check_form=check_form or Submitted(),
        end_form=end_form or Submitted(),
        discard_form=discard_form or Submitted(),
        measure_form=measure_form or Submitted(),
    )


def _ingredient_line(part: Ingredient) -> IngredientLine:
    address = f"/stock/kits/{part.kit_id}" if part.batch_id is None else f"/chemistry/batches/{part.batch_id}"
    return IngredientLine(part.name, amount_words(part.amount, part.measure), part.source, address, part.lot)


def _constituent_line(part: Constituent) -> ConstituentLine:
    return ConstituentLine(part.name, part.strength_said, part.hazards or NOT_SAID)


def _corrosive(checks: Sequence[BatchCheck]) -> str:
    measured = [check.ph_hundredths for check in checks if check.ph_hundredths is not None]
    return next((ph_words(ph) for ph in reversed(measured) if counts_as_corrosive(ph)), "")


def _warnings(session: LabSession, ingredients: Sequence[Ingredient], zone: str) -> Sequence[str]:
    """Batches among the ingredients of which a check failed, before or since."""
    batches = [get_batch(session, part.batch_id) for part in ingredients if part.batch_id is not None]
    return [
        f"Batch {batch.number} ({batch.name}), which this was mixed from, failed a check {moment_words(batch.failed_at, zone)}. "
        "Check this one too."
        for batch in batches
        if batch.failed_at is not None
    ]


def _check_line(check: BatchCheck, zone: str) -> CheckLine:
    found = [check.look] * bool(check.look)
    if check.ph_hundredths is not None and check.temperature_decicelsius is not None:
        found.insert(0, f"{ph_words(check.ph_hundredths)} at {celsius_words(check.temperature_decicelsius)}")
    when = moment_words(check.checked_at, zone)
    return CheckLine(when, "; ".join(found), check.passed, check.note, check.checked_by)


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
        stock_life_days=_number(usual.stock_life_s, 86_400),
        other_life_h=_number(usual.other_life_s, 3600),
        developer_charge=_millilitres(usual.developer_charge_ul),
        bleach_charge=_millilitres(usual.bleach_charge_ul),
        plates_per_charge=usual.plates_per_charge,
        plate_width_mm=_number(usual.plate_width_um, 1000),
        plate_height_mm=_number(usual.plate_height_um, 1000),
        rinse_per_plate=_millilitres(usual.rinse_ul_per_plate),
        test_plates_per_station=usual.test_plates_per_station,
        form=form or Submitted(),
    )
