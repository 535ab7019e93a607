"""Reads of batches, of what they can be mixed from, and of the lab's usual quantities."""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction

from sqlmodel import col, func, select

from server.chemistry.models import (
    Batch,
    BatchCheck,
    BatchEntry,
    BatchEntryKind,
    BatchOverride,
    UsualQuantities,
)
from server.core.mixing import Supply
from server.core.moments import day_at, day_begins
from server.core.recipe import Component, Measure, concentrations, strength_words
from server.core.recipe import Recipe as Formula
from server.core.shelf import OnShelf, held_words, stands_for
from server.core.units import volume_words
from server.data.session import LabSession
from server.kits.models import Bottle, Kit
from server.kits.queries import (
    get_bottle,
    get_kit,
    list_entries_into_batch,
    list_mixed_by_batch,
    list_mixed_entries,
    list_usable_bottles,
    on_shelf,
)
from server.people.queries import get_lab
from server.recipes.models import PLANNED_WITH, Recipe, RecipeEdition, Solution
from server.recipes.queries import (
    UsualFormula,
    find_latest_edition,
    find_recipe_by_name,
    formula_from,
    formula_of,
    formula_without_recipe,
    get_edition,
    get_recipe,
    list_components,
    list_latest_editions,
    list_recipes,
    usual_formula,
)
from server.refusal import NotFound

# No database column holds a greater id.
LAST_ROW = 2_147_483_647
# What the form and an address call the usual developer and bleach, and the same made of a kit's bottles without a recipe.
_USUAL = {"developer": Solution.DEVELOPER, "bleach": Solution.BLEACH}
_OF_A_KIT = {"kit-developer": Solution.DEVELOPER, "kit-bleach": Solution.BLEACH}


def get_usual_quantities(session: LabSession) -> UsualQuantities:
    """The lab's own figures, or the assumed ones (not saved) until it has set them."""
    return session.exec(select(UsualQuantities)).first() or UsualQuantities()


def usable_until(batch: Batch) -> datetime:
    """What an instructor decided, or else its failed check, or else the end of its life.

    Only what may be used fails, so a check ends a batch before its life does, or before the end that an instructor had decided on.
    """
    return batch.overridden_until or batch.failed_at or batch.ends_at


def list_batches(session: LabSession) -> Sequence[Batch]:
    """Every batch, newest first."""
    return session.exec(select(Batch).order_by(col(Batch.number).desc())).all()


def _holding(session: LabSession) -> Sequence[Batch]:
    """Batches that still hold something, first-ending first."""
    held = session.exec(select(Batch).where(col(Batch.left_ul) > 0)).all()
    return sorted(held, key=lambda batch: (usable_until(batch), batch.number))


def list_live_batches(session: LabSession, now: datetime) -> Sequence[Batch]:
    """Batches that have not ended and still hold something, first-ending first."""
    return [batch for batch in _holding(session) if usable_until(batch) > now]


def list_rests(session: LabSession, now: datetime) -> Sequence[Batch]:
    """Batches that have ended and still hold something, which is to be discarded, oldest first."""
    return [batch for batch in _holding(session) if usable_until(batch) <= now]


def get_batch(session: LabSession, batch_id: int) -> Batch:
    batch = session.get(Batch, batch_id)
    if batch is None:
        raise NotFound("There is no such batch in this lab. Choose one from Chemistry.")
    return batch


def list_batch_entries(session: LabSession, batch_id: int) -> Sequence[BatchEntry]:
    """A batch's ledger, oldest first."""
    return session.exec(
        select(BatchEntry).where(BatchEntry.batch_id == batch_id).order_by(col(BatchEntry.id))
    ).all()


def list_checks(session: LabSession, batch_id: int) -> Sequence[BatchCheck]:
    """A batch's checks, oldest first."""
    return session.exec(
        select(BatchCheck).where(BatchCheck.batch_id == batch_id).order_by(col(BatchCheck.id))
    ).all()


def list_overrides(session: LabSession, batch_id: int) -> Sequence[BatchOverride]:
    """What instructors decided about a batch's end, oldest first."""
    return session.exec(
        select(BatchOverride).where(BatchOverride.batch_id == batch_id).order_by(col(BatchOverride.id))
    ).all()


@dataclass(frozen=True)
class Making:
    """A solution that can be mixed now. `key` names it in a form or an address: its recipe's id, or a word for what a kit makes.

    `edition` is None without a recipe; `life_s` is None where the lab's usual quantities say it.
    """

    key: str
    name: str
    solution: Solution
    edition: RecipeEdition | None
    formula: Formula
    life_s: int | None
    stand_s: int


def _made_by(session: LabSession, recipe: Recipe, edition: RecipeEdition) -> Making:
    return Making(
        str(recipe.id),
        recipe.name,
        Solution(recipe.solution),
        edition,
        formula_of(session, edition),
        edition.life_s,
        edition.stand_s,
    )


def usual_making(session: LabSession, solution: Solution) -> Making:
    """How working developer or bleach is usually mixed."""
    return _made_as(usual_formula(session, solution), solution)


def _made_as(usual: UsualFormula, solution: Solution) -> Making:
    of_a_kit = next(key for key, makes in _OF_A_KIT.items() if makes == solution)
    key = of_a_kit if usual.edition is None else str(usual.edition.recipe_id)
    return Making(key, usual.name, solution, usual.edition, usual.formula, usual.life_s, usual.stand_s)


def get_making(session: LabSession, key: str) -> Making:
    """What a key names; the usual developer where it names nothing yet."""
    if key in _OF_A_KIT:
        return _made_as(formula_without_recipe(_OF_A_KIT[key]), _OF_A_KIT[key])
    if not key or key in _USUAL:
        return usual_making(session, _USUAL.get(key, Solution.DEVELOPER))
    if re.fullmatch(r"[0-9]{1,10}", key) is None or int(key) > LAST_ROW:
        raise NotFound("There is no such recipe in this lab. Choose one from the list.")
    recipe = get_recipe(session, int(key))
    edition = find_latest_edition(session, recipe.id)
    if edition is None:
        raise NotFound(
            f"Nobody has written down yet how {recipe.name} is made. Write its first edition under Recipes."
        )
    return _made_by(session, recipe, edition)


def list_makings(session: LabSession) -> Sequence[tuple[str, str]]:
    """The keys and names of all that can be mixed: the usual developer and bleach, the lab's other recipes, and what kits make."""
    usual = [usual_making(session, solution) for solution in PLANNED_WITH]
    first = {making.key: making.name for making in usual}
    written = list_latest_editions(session)
    others = {str(recipe.id): recipe.name for recipe in list_recipes(session) if recipe.id in written}
    of_a_kit = {key: f"{solution}, of a kit's bottles" for key, solution in _OF_A_KIT.items()}
    return list((first | others | {key: name for key, name in of_a_kit.items() if key not in first}).items())


def find_key(session: LabSession, name: str) -> str:
    """The key of the recipe that makes what is called so; empty where there is none with an edition."""
    recipe = find_recipe_by_name(session, name)
    if recipe is None or find_latest_edition(session, recipe.id) is None:
        return ""
    return str(recipe.id)


def life_of(making: Making, usual: UsualQuantities) -> int:
    """The seconds that it keeps after mixing: what its recipe says, else the lab's usual quantities."""
    if making.life_s is not None:
        return making.life_s
    return {
        Solution.DEVELOPER: usual.developer_life_s,
        Solution.BLEACH: usual.bleach_life_s,
        Solution.STOCK: usual.stock_life_s,
        Solution.OTHER: usual.other_life_s,
    }[making.solution]


@dataclass(frozen=True)
class Source:
    """A bottle or a batch that stands for a component: the one or the other id is None. `ends_at` is None where a pack has no date."""

    name: str
    supply: Supply
    ends_at: datetime | None
    bottle_id: int | None = None
    batch_id: int | None = None

    @property
    def key(self) -> str:
        return source_key(bottle_id=self.bottle_id, batch_id=self.batch_id)


def source_key(*, bottle_id: int | None, batch_id: int | None) -> str:
    """How the mixing form names a bottle or a batch."""
    return f"batch-{batch_id}" if bottle_id is None else f"bottle-{bottle_id}"


def _last_moment(session: LabSession, kit: Kit) -> datetime | None:
    """The end of the last good day that stands on a kit's pack."""
    if kit.expires_on is None:
        return None
    return day_begins(kit.expires_on + timedelta(days=1), get_lab(session).time_zone)


def _bottle_source(session: LabSession, component: Component, bottle: Bottle, kit: Kit) -> Source | None:
    factor = stands_for(component, on_shelf(bottle))
    if factor is None:
        return None
    supply = Supply(bottle.left, Measure(bottle.measure), factor)
    differs = bottle.substance.casefold() != component.name.casefold() or bottle.formula not in {
        "",
        component.formula,
    }
    form = f", {bottle.substance} {bottle.formula}".rstrip() * differs
    return Source(f"{kit.name}{form}", supply, _last_moment(session, kit), bottle_id=bottle.id)


def may_be_mixed_from(batch: Batch) -> bool:
    """Stock solutions and other baths are mixed into others; working developer and bleach are not."""
    return batch.solution not in PLANNED_WITH


def _batch_source(component: Component, batch: Batch) -> Source | None:
    factor = stands_for(component, OnShelf(batch.name, Measure.VOLUME, batch.left_ul))
    if factor is None or not may_be_mixed_from(batch):
        return None
    supply = Supply(batch.left_ul, Measure.VOLUME, factor)
    return Source(f"batch {batch.number}", supply, usable_until(batch), batch_id=batch.id)


def find_source(session: LabSession, component: Component, key: str) -> Source | None:
    """The bottle or batch of a key as a source of the component, whether it may still be used or not; None where it isn't one."""
    what, _hyphen, number = key.partition("-")
    if what == "bottle":
        bottle = get_bottle(session, int(number))
        return _bottle_source(session, component, bottle, get_kit(session, bottle.kit_id))
    return _batch_source(component, get_batch(session, int(number)))


def propose(sources: Sequence[Source], needed: Fraction | None) -> Sequence[Source]:
    """The first-ending source, and the next beside it where the first is short of what is needed."""
    first = sources[:1]
    enough = needed is None or all(source.supply.left >= needed * source.supply.factor for source in first)
    return first if enough else sources[:2]


def list_sources(session: LabSession, component: Component, now: datetime) -> Sequence[Source]:
    """What the component may be taken from now: good bottles and live batches, first-ending first."""
    day = day_at(now, get_lab(session).time_zone)
    bottles = [
        _bottle_source(session, component, bottle, kit)
        for bottle, kit in list_usable_bottles(session, day, standing_for=component)
    ]
    batches = [
        _batch_source(component, batch) for batch in list_live_batches(session, now) if batch.ready_at <= now
    ]
    found = [source for source in (*bottles, *batches) if source is not None]
    return sorted(found, key=lambda source: source.ends_at or datetime.max.replace(tzinfo=UTC))


@dataclass(frozen=True)
class Ingredient:
    """What went into a batch, milligrams or microlitres: out of a bottle of a kit, or out of another batch.

    `source` is the kit's or the batch's name, and `ends_at` how long it could be used.
    """

    name: str
    amount: int
    measure: Measure
    source: str
    ends_at: datetime | None
    hazards: str = ""
    lot: str = ""
    bottle_id: int | None = None
    kit_id: int | None = None
    batch_id: int | None = None

    @property
    def key(self) -> str:
        return source_key(bottle_id=self.bottle_id, batch_id=self.batch_id)


def list_ingredients(session: LabSession, number: int) -> Sequence[Ingredient]:
    """What went into batch `number`."""
    bottles = [
        Ingredient(
            bottle.substance,
            -entry.change,
            Measure(bottle.measure),
            kit.name,
            _last_moment(session, kit),
            hazards=bottle.hazards,
            lot=bottle.lot,
            bottle_id=bottle.id,
            kit_id=kit.id,
        )
        for entry, bottle, kit in list_entries_into_batch(session, number)
    ]
    drawn = session.exec(
        select(BatchEntry, Batch)
        .join(Batch, col(Batch.id) == col(BatchEntry.batch_id))
        .where(BatchEntry.into_batch_number == number)
        .order_by(col(BatchEntry.id))
    ).all()
    return bottles + [
        Ingredient(
            batch.name,
            -entry.change_ul,
            Measure.VOLUME,
            f"batch {batch.number}",
            usable_until(batch),
            batch_id=batch.id,
        )
        for entry, batch in drawn
    ]


@dataclass(frozen=True)
class Constituent:
    """What is in a solution after mixing: `strength` in mg/L or µL/L, hazards in the lab's own words, both texts empty if nobody said."""

    name: str
    strength: Fraction
    measure: Measure
    hazards: str
    formula: str = ""

    @property
    def strength_said(self) -> str:
        """Such as 12.5 g/L or 500 mL/L."""
        if self.measure == Measure.MASS:
            return strength_words(self.strength)
        return f"{volume_words(round(self.strength))}/L"


def composition_of(session: LabSession, batch: Batch) -> Sequence[Constituent]:
    """What a batch is made of, through all batches and editions that it was mixed from.

    A component is told as its recipe calls it, whichever hydrate or purity was weighed for it; what came from a bottle without a
    recipe, by the name on the bottle.
    """
    called_for = _components_of(session, batch)
    found: dict[tuple[str, Measure], Constituent] = {}
    for ingredient in list_ingredients(session, batch.number):
        for part in _constituents(session, batch, ingredient, called_for):
            known = found.get((part.name.casefold(), part.measure))
            found[part.name.casefold(), part.measure] = part if known is None else _together(known, part)
    return list(found.values())


def _together(one: Constituent, other: Constituent) -> Constituent:
    hazards = dict.fromkeys(text for text in (one.hazards, other.hazards) if text)
    return replace(one, strength=one.strength + other.strength, hazards="; ".join(hazards))


def _components_of(session: LabSession, batch: Batch) -> Sequence[tuple[Component, str]]:
    """What the batch's recipe calls for, with the hazards that stand there."""
    if batch.edition_id is None:
        return ()
    lines = list_components(session, batch.edition_id)
    formula = formula_from(get_edition(session, batch.edition_id), lines)
    return [(component, line.hazards) for component, line in zip(formula.components, lines, strict=True)]


def _constituents(
    session: LabSession, batch: Batch, ingredient: Ingredient, called_for: Sequence[tuple[Component, str]]
) -> Sequence[Constituent]:
    if ingredient.batch_id is not None:
        inside = composition_of(session, get_batch(session, ingredient.batch_id))
        share = Fraction(ingredient.amount, batch.volume_ul)
        return [replace(part, strength=part.strength * share) for part in inside]
    component, written = Component(ingredient.name, ingredient.amount, ingredient.measure), ""
    bottle = on_shelf(get_bottle(session, ingredient.bottle_id or 0))
    for each, hazards in called_for:
        factor = stands_for(each, bottle)
        if factor is not None:
            measure = Measure.VOLUME if each.measure == Measure.PART else each.measure
            component = replace(each, amount=round(ingredient.amount / factor), measure=measure)
            written = hazards
    [dissolved] = concentrations(Formula((component,), batch.volume_ul, 0))
    said = dict.fromkeys(text for text in (written, ingredient.hazards) if text)
    return [
        Constituent(
            dissolved.name, dissolved.per_litre, dissolved.measure, "; ".join(said), component.formula
        )
    ]


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each batch whose balance or ingredients do not agree with its ledger, and for what went into no batch."""
    sums = {
        (batch_id, kind): int(total)
        for batch_id, kind, total in session.exec(
            select(BatchEntry.batch_id, BatchEntry.kind, func.sum(BatchEntry.change_ul)).group_by(
                col(BatchEntry.batch_id), col(BatchEntry.kind)
            )
        ).all()
    }
    bottles, others = list_mixed_by_batch(session), _drawn_by_batch(session)
    batches = list_batches(session)
    sentences = []
    for batch in batches:
        name = f"Batch {batch.number} ({batch.name})"
        total = sum(sums.get((batch.id, kind), 0) for kind in BatchEntryKind)
        if batch.left_ul != total:
            sentences.append(f"{name} says {batch.left_ul} µL are left, its ledger adds up to {total} µL.")
        mixed = sums.get((batch.id, BatchEntryKind.MIXED), 0)
        drawn = bottles.get(batch.number, 0) + others.get(batch.number, 0)
        if not batch.volume_ul == mixed == drawn + batch.water_ul:
            sentences.append(
                f"{name} was mixed as {batch.volume_ul} µL, its ledger says {mixed} µL, "
                f"and {drawn} µL were drawn for it beside {batch.water_ul} µL of water."
            )
    return [*sentences, *_strays(session, {batch.number for batch in batches})]


def _strays(session: LabSession, numbers: Collection[int]) -> Iterator[str]:
    """A sentence for everything that went into a batch that is none of the numbers."""
    for entry, bottle, kit in list_mixed_entries(session):
        if entry.batch_number not in numbers:
            yield (
                f"{held_words(-entry.change, bottle.measure)} of the {bottle.substance} of kit “{kit.name}” went into "
                f"batch {entry.batch_number}, which does not exist."
            )
    into = select(BatchEntry.into_batch_number).where(BatchEntry.kind == BatchEntryKind.DRAWN).distinct()
    for number in session.exec(into.order_by(col(BatchEntry.into_batch_number))).all():
        if number not in numbers:
            yield f"Something was drawn into batch {number}, which does not exist."


def _drawn_by_batch(session: LabSession) -> dict[int, int]:
    """Microlitres drawn from batches, by the number of the batch they went into."""
    rows = session.exec(
        select(BatchEntry.into_batch_number, func.sum(BatchEntry.change_ul))
        .where(BatchEntry.kind == BatchEntryKind.DRAWN)
        .group_by(col(BatchEntry.into_batch_number))
    ).all()
    return {number: -int(total) for number, total in rows if number is not None}
