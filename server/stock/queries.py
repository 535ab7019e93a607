"""What on the shelf runs out: what expires, and what is short."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from fractions import Fraction

from server.chemistry.queries import list_live_batches, may_be_mixed_from
from server.core.good_until import SOON_DAYS, is_expired
from server.core.moments import day_at
from server.core.recipe import Measure
from server.core.recipe import Recipe as Formula
from server.core.shelf import Makeable, OnShelf, held_words, largest_makeable
from server.core.units import plates_words
from server.data.session import LabSession
from server.kits.models import Kit
from server.kits.queries import (
    list_arrived,
    list_every_bottle,
    list_kits,
    list_last_deliveries,
    list_usable_bottles,
    on_shelf,
    sum_left,
)
from server.plates.queries import count_plates_left, find_last_delivery, list_plate_boxes
from server.recipes.models import PLANNED_WITH, Solution
from server.recipes.queries import formula_without_recipe, list_formulas, list_recipes, usual_formula

# Assumed: stock is short when less than this part of the last delivery is left to use.
SHORT_BELOW = 4


@dataclass(frozen=True)
class Expiring:
    """Something that holds plates or a solution and is expired, or will be soon."""

    what: str
    left: str
    expires_on: date
    expired: bool
    address: str


def list_expiring(session: LabSession, day: date) -> Sequence[Expiring]:
    """What is expired on `day` or expires within thirty days after it, earliest first; empty boxes and bottles are left out."""
    last = day + timedelta(days=SOON_DAYS)
    boxes = [
        Expiring(
            f"plate box “{box.name}”",
            plates_words(box.plates_left),
            box.expires_on,
            is_expired(box.expires_on, day),
            f"/stock/plate-boxes/{box.id}",
        )
        for box in list_plate_boxes(session)
        if box.plates_left and box.expires_on is not None and box.expires_on <= last
    ]
    bottles = [
        Expiring(
            f"{bottle.substance} of kit “{kit.name}”",
            held_words(bottle.left, bottle.measure),
            kit.expires_on,
            is_expired(kit.expires_on, day),
            f"/stock/kits/{kit.id}",
        )
        for bottle, kit in list_every_bottle(session)
        if bottle.left and kit.expires_on is not None and kit.expires_on <= last
    ]
    return sorted(boxes + bottles, key=lambda found: (found.expires_on, found.what))


@dataclass(frozen=True)
class Short:
    """Something of which less than a quarter of the last delivery may still be used."""

    what: str
    left: str
    last_delivery: str


def list_short(session: LabSession, day: date) -> Sequence[Short]:
    """What is short on `day`, compared with the last delivery of the same."""
    found = []
    delivered = find_last_delivery(session)
    plates = count_plates_left(session, usable_on=day)
    if delivered is not None and plates * SHORT_BELOW < delivered:
        found.append(Short("plates", plates_words(plates), plates_words(delivered)))
    usable = sum_left(session, day)
    for (substance, measure), amount in list_last_deliveries(session).items():
        left = usable.get((substance.casefold(), measure), 0)
        if left * SHORT_BELOW < amount:
            found.append(Short(substance, held_words(left, measure), held_words(amount, measure)))
    return found


@dataclass(frozen=True)
class Source:
    """Something on the shelf that may be taken: a bottle or a batch, what it is called and where its page is."""

    on_shelf: OnShelf
    words: str
    address: str


@dataclass(frozen=True)
class StillMade:
    """The most that the shelf makes of a solution. `taken` is from the sources; `recipe_id` is None where it takes no recipe.

    `usual` are the developer and the bleach that plans count with, by their recipe and as a kit's bottles make them.
    """

    name: str
    recipe_id: int | None
    usual: bool
    made: Makeable
    taken: Sequence[tuple[Source, Fraction]]


@dataclass(frozen=True)
class KitPromise:
    """What a kit's pack says it makes of working developer, and what the lab's usual recipe makes of it new, in microlitres."""

    kit: Kit
    says_ul: int
    makes: Makeable


def _bottles(session: LabSession, day: date) -> Sequence[Source]:
    """Bottles that are good, first-expiring first."""
    return [
        Source(on_shelf(bottle), f"{bottle.substance} of kit “{kit.name}”", f"/stock/kits/{kit.id}")
        for bottle, kit in list_usable_bottles(session, day)
    ]


def _batches(session: LabSession, now: datetime) -> Sequence[Source]:
    """Live batches that others may be mixed from, first-ending first."""
    return [
        Source(
            OnShelf(batch.name, Measure.VOLUME, batch.left_ul),
            f"batch {batch.number} ({batch.name})",
            f"/chemistry/batches/{batch.id}",
        )
        for batch in list_live_batches(session, now)
        if may_be_mixed_from(batch)
    ]


def _made_of(
    sources: Sequence[Source], formula: Formula, formulas: Mapping[str, Formula]
) -> tuple[Makeable, Sequence[tuple[Source, Fraction]]]:
    made = largest_makeable(formula, shelf=[source.on_shelf for source in sources], recipes=formulas)
    return made, [(sources[one.index], one.amount) for one in made.taken]


def list_still_made(session: LabSession, now: datetime, zone: str) -> Sequence[StillMade]:
    """The most that the shelf makes of each recipe of the lab, the usual developer and the usual bleach before the others.

    Where the lab has a recipe, what a kit's bottles make without it comes last, if they make anything.
    """
    bottles, formulas = _bottles(session, day_at(now, zone)), list_formulas(session)
    sources = [*_batches(session, now), *bottles]
    usual = [usual_formula(session, solution) for solution in PLANNED_WITH]
    chosen = {one.edition.recipe_id for one in usual if one.edition is not None}
    found = [
        StillMade(
            one.name,
            None if one.edition is None else one.edition.recipe_id,
            True,
            *_made_of(sources, one.formula, formulas),
        )
        for one in usual
    ]
    found += [
        StillMade(recipe.name, recipe.id, False, *_made_of(sources, formulas[recipe.name.lower()], formulas))
        for recipe in list_recipes(session)
        if recipe.id not in chosen and recipe.name.lower() in formulas
    ]
    of_a_kit = [
        StillMade(
            f"{solution}, of a kit's bottles",
            None,
            True,
            *_made_of(bottles, formula_without_recipe(solution).formula, {}),
        )
        for solution, one in zip(PLANNED_WITH, usual, strict=True)
        if one.edition is not None
    ]
    return [*found, *(one for one in of_a_kit if one.made.volume_ul)]


def list_kit_promises(session: LabSession) -> Sequence[KitPromise]:
    """What packs say they make, beside what the lab's usual recipe for working developer makes of them."""
    kits = [(kit, kit.makes_ul) for kit in list_kits(session) if kit.makes_ul is not None]
    if not kits:
        return []
    arrived, formulas = list_arrived(session), list_formulas(session)
    developer = usual_formula(session, Solution.DEVELOPER).formula
    brought: dict[int, list[OnShelf]] = {}
    for bottle, kit in list_every_bottle(session):
        brought.setdefault(kit.id, []).append(replace(on_shelf(bottle), amount=arrived[bottle.id]))
    found = []
    for kit, says_ul in kits:
        shelf = brought.get(kit.id, [])
        found.append(KitPromise(kit, says_ul, largest_makeable(developer, shelf=shelf, recipes=formulas)))
    return found
