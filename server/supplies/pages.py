"""What the supplies page shows."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from fractions import Fraction

from server.core.moments import day_at, day_words
from server.core.recipe import Measure
from server.core.reserve import CONFIDENCES, fewest_plates, success_words
from server.core.supply import Order
from server.core.supply_drawing import SupplyDrawing, draw_supply
from server.core.units import mass_words, plates_words, volume_words
from server.data.session import LabSession
from server.people.queries import list_sections
from server.supplies.forms import NewClasses, NewOrder, NewReserveChoice
from server.supplies.queries import (
    ClassOfDay,
    SolutionAhead,
    Stored,
    Supplies,
    Supply,
    find_supplies,
    list_classes_ahead,
    list_open_orders,
)
from server.web.submitted import Submitted

# Assumed: an order deserves a word on the first page this long before its last day.
ORDER_SOON = timedelta(days=7)


@dataclass(frozen=True)
class OrderNote:
    """What to order by when. `kind` is well, watch or stop; `to_do` is what helps where a delivery comes too late."""

    kind: str
    state: str
    sentence: str
    to_do: str
    reasons: Sequence[str]


@dataclass(frozen=True)
class SupplyLine:
    """One thing the term takes: on the shelf, planned, in reserve, and what is then free or short."""

    what: str
    there: str
    planned: str
    reserve: str
    outcome: str
    kind: str
    order_by: str


@dataclass(frozen=True)
class PlateDay:
    """A day with classes: what it takes, what must have been there until then, and what is then left."""

    day: str
    classes: Sequence[ClassOfDay]
    good: int
    tests: int
    repeats: int
    needed: int
    held: int
    left: int
    short: int


@dataclass(frozen=True)
class SubstanceTable:
    """What one substance comes to: each day with what it takes and what is then left or short."""

    what: str
    shelf: Sequence[tuple[Stored, str]]
    lines: Sequence[tuple[str, str, str, bool]]
    reasons: Sequence[str]


@dataclass(frozen=True)
class ClassesLine:
    id: int
    name: str
    days: str
    plates: str
    section: str


@dataclass(frozen=True)
class OrderLine:
    id: int
    what: str
    amount: str
    expected: str
    is_late: bool


@dataclass(frozen=True)
class SupplyForms:
    """The page's forms as they were sent, each blank where it was not."""

    classes: Submitted[NewClasses] = field(default_factory=Submitted)
    order: Submitted[NewOrder] = field(default_factory=Submitted)
    choice: Submitted[NewReserveChoice] = field(default_factory=Submitted)


@dataclass(frozen=True)
class SuppliesPage:
    """`figure` and `figure_words` are what it comes to for plates; `until` is the last day with a class."""

    figure: str
    figure_words: str
    until: str
    notes: Sequence[OrderNote]
    lines: Sequence[SupplyLine]
    plates_why: Sequence[str]
    boxes: Sequence[tuple[Stored, str]]
    drawing: SupplyDrawing | None
    days: Sequence[PlateDay]
    substances: Sequence[SubstanceTable]
    classes: Sequence[ClassesLine]
    orders: Sequence[OrderLine]
    sections: Sequence[tuple[int, str]]
    kinds: Sequence[tuple[str, str]]
    percents: Sequence[tuple[int, str]]
    percent: int
    today: str
    proposed: str
    expected_on: str
    forms: SupplyForms


def amount_words(supply: Supply, amount: int) -> str:
    """Plates, or a mass or a volume, as people write them."""
    if supply.measure is None:
        return plates_words(amount)
    return mass_words(amount) if supply.measure is Measure.MASS else volume_words(amount)


def begun(words: str) -> str:
    """The words with which a sentence begins: stock A is “Stock A”."""
    return words[:1].upper() + words[1:]


def _bare(supply: Supply, amount: int) -> str:
    return str(amount) if supply.measure is None else amount_words(supply, amount)


def _packs_words(supply: Supply, order: Order) -> str:
    if order.pack == 1:
        return amount_words(supply, order.missing)
    if supply.measure is None:
        return f"{'1 box' if order.packs == 1 else f'{order.packs} boxes'} of {order.pack}"
    packs = "1 pack" if order.packs == 1 else f"{order.packs} packs"
    return f"{packs} of {amount_words(supply, order.pack)}"


def _lead_words(supply: Supply) -> str:
    return f"{supply.lead_days} days" if supply.lead_days != 1 else "1 day"


def _order_reasons(supply: Supply, order: Order) -> list[str]:
    packs = (
        "Nothing of it was ever taken in, so nobody knows in what packs it comes."
        if order.pack == 1
        else f"The last delivery brought {amount_words(supply, order.pack)} at once: "
        f"{amount_words(supply, order.missing)} ÷ {amount_words(supply, order.pack)}, rounded up, is {order.packs}."
    )
    return [
        f"Most is missing: {amount_words(supply, order.missing)}; the first day that is short is {day_words(order.first_short)}.",
        packs,
        f"Last day to order = {day_words(order.first_short)} − 1 day in hand − {_lead_words(supply)} of delivery, counted by the calendar.",
        (
            f"That a delivery takes {_lead_words(supply)} is assumed."
            if supply.lead_is_assumed
            else f"What came last says that its order took {_lead_words(supply)}."
        ),
        "What is ordered is taken to keep until the last class.",
    ]


def _to_do(supply: Supply, order: Order) -> str:
    missing = amount_words(supply, order.short_until_then)
    before = day_words(order.first_short)
    if supply.measure is None:
        return (
            f"For the classes up to {day_words(order.arrives_on)}, {missing} have to come from elsewhere or not be made: plan fewer plates, "
            "let pairs share a plate where each student was to make one, keep fewer rounds for repeats, borrow from another lab, or find a "
            f"delivery that comes before {before}."
        )
    return (
        f"For the classes up to {day_words(order.arrives_on)}, {missing} of it are missing: plan fewer plates, borrow from another lab, or "
        f"find a delivery that comes before {before}."
    )


def order_note(supply: Supply, today: date) -> OrderNote | None:
    """What to order of a supply and by when; None where the shelf holds the term."""
    order = supply.order
    if order is None:
        return None
    what = begun(supply.what)
    reasons = _order_reasons(supply, order)
    packs = _packs_words(supply, order)
    fails_on = supply.first_day_the_plan_fails
    lacking = (
        "The plans are covered; what lacks is reserve for plates that fail."
        if fails_on is None
        else f"What is planned is short from {day_words(fails_on)} on."
    )
    if order.is_too_late:
        is_plan_at_risk = fails_on is not None and fails_on <= order.arrives_on
        sentence = (
            f"{what}: the last day to order was {day_words(order.order_by)}. Ordered today, {packs} would come on "
            f"{day_words(order.arrives_on)}, too late for {day_words(order.first_short)}. {lacking}"
        )
        kind = "stop" if is_plan_at_risk else "watch"
        return OrderNote(
            kind, f"{_bare(supply, order.short_until_then)} short", sentence, _to_do(supply, order), reasons
        )
    soon = order.order_by - today <= ORDER_SOON
    sentence = f"{what}: order by {day_words(order.order_by)}: {packs}. {lacking}"
    return OrderNote(
        "watch" if soon else "well",
        f"order by {order.order_by.day} {order.order_by:%b}",
        sentence,
        "",
        reasons,
    )


def _order_by(order: Order | None) -> str:
    if order is None:
        return "nothing to order"
    return f"{day_words(order.order_by)}{', too late' if order.is_too_late else ''}"


def _line(supply: Supply) -> SupplyLine:
    last = supply.days[-1] if supply.days else None
    need = supply.needs[-1] if supply.needs else None
    short, fails = supply.short, supply.first_day_the_plan_fails is not None
    left = supply.there if last is None else last.left
    return SupplyLine(
        what=begun(supply.what),
        there=amount_words(supply, supply.there),
        planned=amount_words(supply, need.planned if need else 0),
        reserve=amount_words(supply, need.reserve) if need and supply.measure is None else "none",
        outcome=f"{amount_words(supply, short)} short" if short else f"{amount_words(supply, left)} free",
        kind="stop" if fails else "watch" if short else "well",
        order_by=_order_by(supply.order),
    )


def _made_line(ahead: SolutionAhead) -> SupplyLine:
    """A solution that the lab mixes from what it buys: what stands ready, what the classes take, and what is still to be mixed."""
    to_mix = sum(use.amount for use in ahead.to_mix)
    return SupplyLine(
        what=begun(ahead.name),
        there=volume_words(sum(one.lot.amount for one in ahead.standing)),
        planned=volume_words(sum(use.amount for use in ahead.uses)),
        reserve="none",
        outcome=f"{volume_words(to_mix)} to be mixed" if to_mix else "ready for all",
        kind="well",
        order_by="mixed here",
    )


def _made_lines(found: Supplies) -> Sequence[SupplyLine]:
    """What is mixed here; what is only poured out of a kit's bottle stands among what is bought."""
    bought = {supply.what for supply in found.substances}
    return [_made_line(ahead) for ahead in found.solutions if ahead.name not in bought]


def _as_of(found: Supplies) -> str:
    return "as today began" if found.term.first == found.term.today else "now, with today's classes over"


def _plates_why(found: Supplies) -> Iterator[str]:
    plates = found.plates
    need = plates.needs[-1]
    uses = [day.plates for day in found.term.days]
    good, repeats = sum(use.good for use in uses), sum(use.repeats for use in uses)
    tests = sum(use.tests for use in uses)
    yield (
        f"Planned until {day_words(need.day)}: {good} for classes, {tests} for tests and trials, {repeats} in rounds kept for repeats; "
        f"{plates_words(need.planned)} together."
    )
    yield _reserve_why(found, good, repeats)
    yield from success_words(found.success)
    if need.spoiled:
        yield (
            f"{plates_words(need.spoiled)} expire before their turn comes, though what expires first is used first. A box counts for a day "
            "only up to the last day on its label."
        )
    last = plates.days[-1]
    coming = last.held - plates.there
    yield (
        f"On the shelf {_as_of(found)}: {plates.there}"
        + (f", on their way: {coming}" if coming else "")
        + "."
    )
    yield (
        f"{last.held} − {need.planned} planned − {need.spoiled} expired − {need.reserve} in reserve = "
        f"{last.held - last.needed if last.held >= last.needed else f'−{last.needed - last.held}'}."
    )
    yield "Plates of every size and sensitivity are counted together; look at the boxes if your classes use several."


def _reserve_why(found: Supplies, good: int, repeats: int) -> str:
    reserve = found.plates.needs[-1].reserve
    if not good:
        return f"In reserve: {reserve}. No plate of a class is wanted, and any plate will do for a test."
    ready = fewest_plates(good=good, share=found.success.share, confidence=Fraction(found.percent, 100))
    planned = (
        f"{good + repeats} of them are planned already, as first plates and as repeats."
        if good + repeats < ready
        else f"{good + repeats} are planned already, as first plates and as repeats, so no more are kept."
    )
    return (
        f"In reserve: {reserve}. Of {plates_words(ready)} at least {good} come out well with {found.percent} % or more, and of no fewer: "
        f"the binomial distribution, each plate by itself with a chance of {round(float(found.success.share) * 100)} %. {planned} "
        "All classes share the boxes; were each to keep its own reserve, it would take more."
    )


def _plate_days(found: Supplies) -> Iterator[PlateDay]:
    for day, need, standing in zip(found.term.days, found.plates.needs, found.plates.days, strict=True):
        use = day.plates
        yield PlateDay(
            day=day_words(day.day),
            classes=day.classes,
            good=use.good,
            tests=use.tests,
            repeats=use.repeats,
            needed=need.needed,
            held=standing.held,
            left=standing.left,
            short=standing.short,
        )


def _solution_words(ahead: SolutionAhead) -> str:
    parts = " + ".join(
        f"{component.amount} {'part' if component.amount == 1 else 'parts'} {component.name}"
        if component.measure is Measure.PART
        else component.name
        for component in ahead.formula.components
    )
    source = f"by the recipe “{ahead.recipe}”" if ahead.recipe else "as kits bring it"
    standing = sum(one.lot.amount for one in ahead.standing)
    ready = f"; {volume_words(standing)} of it stands ready and is used first" if standing else ""
    return f"{begun(ahead.name)}: {volume_words(sum(use.amount for use in ahead.uses))} in all, from {parts}, {source}{ready}."


def _substance_why(found: Supplies, supply: Supply) -> Iterator[str]:
    usual = found.usual
    for ahead in found.solutions:
        if any(component.name == supply.what for component in ahead.formula.components):
            yield _solution_words(ahead)
    yield (
        f"A charge of {volume_words(usual.developer_charge_ul)} of developer or {volume_words(usual.bleach_charge_ul)} of bleach serves "
        f"{plates_words(usual.plates_per_charge)}{' (assumed)' if usual.assumed else ''}. Developer is mixed as on the prep sheet, for each "
        "day anew; for classes whose times are not planned yet it is counted in whole charges. Repeats and tests count as plates."
    )
    yield f"On the shelf {_as_of(found)}: {amount_words(supply, supply.there)}. What is expired is not counted."


def _substance(found: Supplies, supply: Supply) -> SubstanceTable:
    lines = [
        (
            day_words(standing.day),
            amount_words(supply, use.amount),
            f"{amount_words(supply, standing.short)} short"
            if standing.short
            else amount_words(supply, standing.left),
            standing.short > 0,
        )
        for use, standing in zip(supply.uses, supply.days, strict=True)
    ]
    return SubstanceTable(
        what=begun(supply.what),
        shelf=[(one, amount_words(supply, one.lot.amount)) for one in supply.shelf],
        lines=lines,
        reasons=[*_substance_why(found, supply)],
    )


def _figure(found: Supplies) -> tuple[str, str]:
    plates = found.plates
    if not plates.days:
        return str(plates.there), f"{'plate' if plates.there == 1 else 'plates'} on the shelf, no class ahead"
    if plates.order is not None:
        of = " of the reserve" if plates.first_day_the_plan_fails is None else ""
        return str(plates.short), (
            f"{'plate' if plates.short == 1 else 'plates'} short{of}, from {day_words(plates.order.first_short)} on"
        )
    last = plates.days[-1]
    return str(last.left), (
        f"{'plate' if last.left == 1 else 'plates'} free until {day_words(last.day)}: "
        f"{last.held} there, {plates.needs[-1].needed} needed"
    )


def _proposed(found: Supplies) -> Supply:
    """What is to be ordered first; plates where nothing is."""
    wanted = [(one.order.order_by, number, one) for number, one in enumerate(found.all) if one.order]
    return min(wanted)[2] if wanted else found.plates


def _classes(session: LabSession, sections: Sequence[tuple[int, str]]) -> Iterator[ClassesLine]:
    names = dict(sections)
    for one in list_classes_ahead(session):
        good = one.groups * one.plates_per_group
        others = f", {one.other_plates} for tests and trials" if one.other_plates else ""
        yield ClassesLine(
            one.id,
            one.name,
            day_words(one.first_day)
            if one.first_day == one.last_day
            else f"{day_words(one.first_day)} to {day_words(one.last_day)}, every {one.every_days} days",
            f"{one.groups} × {one.plates_per_group} = {good}{others}",
            names.get(one.section_id, "") if one.section_id is not None else "",
        )


def _orders(session: LabSession, found: Supplies, today: date) -> Iterator[OrderLine]:
    by_name = {supply.what: supply for supply in found.all}
    for one in list_open_orders(session):
        supply = by_name.get(one.what)
        amount = str(one.amount) if supply is None else amount_words(supply, one.amount)
        yield OrderLine(one.id, begun(one.what), amount, day_words(one.expected_on), one.expected_on < today)


def supplies_page(
    session: LabSession, now: datetime, zone: str, forms: SupplyForms | None = None
) -> SuppliesPage:
    found, today = find_supplies(session, now, zone), day_at(now, zone)
    figure, figure_words = _figure(found)
    plates, proposed = found.plates, _proposed(found)
    notes = [note for supply in found.all if (note := order_note(supply, today)) is not None]
    sections = [(section.id, section.name) for section in list_sections(session)]
    return SuppliesPage(
        figure=figure,
        figure_words=figure_words,
        until=day_words(found.term.days[-1].day) if found.term.days else "",
        notes=sorted(notes, key=lambda note: ("stop", "watch", "well").index(note.kind)),
        lines=[
            _line(plates),
            *_made_lines(found),
            *[_line(supply) for supply in found.substances],
        ],
        plates_why=[*_plates_why(found)] if plates.days else [],
        boxes=[(one, plates_words(one.lot.amount)) for one in plates.shelf],
        drawing=draw_supply(plates.needs, plates.days, plates.deliveries, there=plates.there, today=today),
        days=[*_plate_days(found)],
        substances=[
            _substance(found, supply) for supply in found.substances if any(use.amount for use in supply.uses)
        ],
        classes=[*_classes(session, sections)],
        orders=[*_orders(session, found, today)],
        sections=sections,
        kinds=[(supply.what, supply.what) for supply in found.all],
        percents=[(round(one * 100), f"{round(one * 100)}") for one in CONFIDENCES],
        percent=found.percent,
        today=today.isoformat(),
        proposed=proposed.what,
        expected_on=(today + timedelta(days=proposed.lead_days)).isoformat(),
        forms=forms or SupplyForms(),
    )
