"""What stands on the shelf, what of it stands for a component of a recipe, and how much of a recipe it still makes.

Masses are milligrams, volumes microlitres; everything is computed with fractions, and rounded down once, at the end.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import floor

from server.core.linear_program import maximise
from server.core.molar_mass import without_water
from server.core.recipe import Component, Form, Measure, Recipe, taken_per_unit
from server.core.units import mass_words, volume_words


@dataclass(frozen=True)
class OnShelf:
    """`amount` milligrams or microlitres of something that can be taken, by the name on it.

    `purity` is the share of the substance in it, `density_ug_per_ul` that of a liquid (1000 is a gram per millilitre).
    """

    name: str
    measure: Measure
    amount: int
    formula: str = ""
    purity: Fraction = Fraction(1)
    density_ug_per_ul: int | None = None

    @property
    def form(self) -> Form:
        """The form of a substance that it is, and how it is measured."""
        return Form(self.formula, self.purity, self.density_ug_per_ul, self.measure)


def held_words(amount: int, measure: str) -> str:
    """An amount on the shelf in words: grams, or millilitres."""
    return mass_words(amount) if measure == Measure.MASS else volume_words(amount)


def stands_for(component: Component, on_shelf: OnShelf) -> Fraction | None:
    """Return how much is taken from the shelf for one unit of the component, in the shelf's own unit; None if it is something else.

    The same substance is what bears the same name, whatever its capitals, or is another hydrate of the same salt by its formula. A
    solid called for by mass may stand there as a liquid of known density, and the other way round. What is called for in parts is a
    solution taken as it stands.

    >>> stands_for(Component("soda", 70_000, formula="Na2CO3"), OnShelf("washing soda", Measure.MASS, 500_000, "Na2CO3·10H2O"))
    Fraction(143069, 52994)
    """
    if not _is_the_same(component, on_shelf):
        return None
    if component.measure == Measure.PART:
        return Fraction(1) if on_shelf.measure == Measure.VOLUME else None
    try:
        return taken_per_unit(component, on_shelf.form)
    except ValueError:
        return None


def _is_the_same(component: Component, on_shelf: OnShelf) -> bool:
    if component.name.casefold() == on_shelf.name.casefold():
        return True
    formulas = component.formula and on_shelf.formula
    return bool(formulas) and without_water(component.formula) == without_water(on_shelf.formula)


@dataclass(frozen=True)
class Taken:
    """What is taken of the thing on the shelf with this `index`, in milligrams or microlitres."""

    index: int
    amount: Fraction


@dataclass(frozen=True)
class Makeable:
    """The largest volume of a recipe that the shelf makes, in whole microlitres.

    `runs_out` names what limits it: what runs out first, or what is missing where nothing can be made. `made_first` are the
    solutions to be mixed for it beforehand, by the recipe's name, in microlitres.
    """

    volume_ul: int
    runs_out: tuple[str, ...]
    taken: tuple[Taken, ...]
    made_first: tuple[tuple[str, Fraction], ...]


@dataclass(eq=False)
class _Node:
    """A recipe in the making of another; `parts` are the nodes that make its components, None where only the shelf can."""

    name: str
    recipe: Recipe
    parts: list["_Node | None"] = field(default_factory=list)


def largest_makeable(
    recipe: Recipe, *, shelf: Sequence[OnShelf], recipes: Mapping[str, Recipe] | None = None
) -> Makeable:
    """Return the largest volume of a recipe that the shelf makes, also through `recipes` of its components.

    `recipes` are found by a component's name in small letters. What is ready on the shelf is taken before anything is made for it, and
    of equal things the first on the shelf first. A recipe that stands in its own making is not made for it again. Water is not counted.
    """
    nodes = _nodes(recipe, recipes or {})
    groups = _groups(shelf)
    lines = [
        (node, component, part if part is not None and _can_be_made(part, shelf) else None)
        for node in nodes
        for component, part in _lines(node)
    ]
    volume_of = {id(node): place for place, node in enumerate(nodes)}
    takes: dict[int, tuple[int, Fraction]] = {}
    demands: list[dict[int, Fraction]] = []
    made: dict[int, dict[int, Fraction]] = {place: {} for place in range(len(nodes))}
    quantities = len(nodes)
    for node, component, part in lines:
        demand = {volume_of[id(node)]: node.recipe.share(component)}
        for group, first in enumerate(groups):
            per_unit = stands_for(component, shelf[first[0]])
            if per_unit is not None:
                takes[quantities] = (group, per_unit)
                demand[quantities] = -1 / per_unit
                quantities += 1
        if part is not None:
            demand[quantities] = Fraction(-1)
            made[volume_of[id(part)]][quantities] = Fraction(1)
            quantities += 1
        demands.append(demand)
    held = [
        (
            {place: Fraction(1) for place, (taken, _per_unit) in takes.items() if taken == group},
            Fraction(sum(shelf[index].amount for index in members)),
        )
        for group, members in enumerate(groups)
    ]
    flows = [({**used, place: Fraction(-1)}, Fraction(0)) for place, used in made.items() if place]
    best = maximise(
        [{0: Fraction(1)}, {place: Fraction(-1) for place in range(1, len(nodes))}],
        [*((demand, Fraction(0)) for demand in demands), *held, *flows],
        quantities,
    )
    if not best.largest:
        return Makeable(0, tuple(dict.fromkeys(_missing(nodes, shelf))), (), ())
    volume_ul = floor(best.largest)
    scale = volume_ul / best.largest
    used = [
        sum((best.values.get(place, Fraction(0)) for place in left), Fraction(0)) * scale
        for left, _most in held
    ]
    limiting = [
        component.name
        for (_node, component, part), price in zip(lines, best.prices, strict=False)
        if price > 0 and part is None
    ]
    return Makeable(
        volume_ul,
        tuple(dict.fromkeys(limiting)),
        tuple(_shared_out(shelf, groups, used)),
        tuple(
            (node.name, best.values[place] * scale)
            for place, node in enumerate(nodes)
            if place and place in best.values
        ),
    )


def _nodes(recipe: Recipe, recipes: Mapping[str, Recipe]) -> list[_Node]:
    """The recipe and every recipe that its making may need, each once, without circles."""
    found: dict[str, _Node] = {}
    root = _Node("", recipe)

    def follow(node: _Node, above: tuple[Recipe, ...]) -> None:
        for component in node.recipe.components:
            name = component.name.lower()
            other = recipes.get(name)
            if other is None or other in above or component.measure == Measure.MASS:
                node.parts.append(None)
                continue
            if name not in found:
                found[name] = _Node(component.name, other)
                follow(found[name], (*above, other))
            node.parts.append(found[name])

    follow(root, (recipe,))
    return [root, *found.values()]


def _lines(node: _Node) -> Iterator[tuple[Component, _Node | None]]:
    return zip(node.recipe.components, node.parts, strict=True)


def _can_be_made(node: _Node, shelf: Sequence[OnShelf]) -> bool:
    """Whether anything at all of it can be mixed: each component stands there, or can be made in its turn."""
    return all(
        any(one.amount and stands_for(component, one) is not None for one in shelf)
        or (part is not None and _can_be_made(part, shelf))
        for component, part in _lines(node)
    )


def _groups(shelf: Sequence[OnShelf]) -> list[list[int]]:
    """The places of things that are the same in all but their amount."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for index, one in enumerate(shelf):
        groups.setdefault((one.name.casefold(), one.form), []).append(index)
    return list(groups.values())


def _shared_out(
    shelf: Sequence[OnShelf], groups: Sequence[Sequence[int]], used: Sequence[Fraction]
) -> Iterator[Taken]:
    for members, amount in zip(groups, used, strict=True):
        left = amount
        for index in members:
            taken = min(left, Fraction(shelf[index].amount))
            if taken:
                yield Taken(index, taken)
            left -= taken


def _missing(nodes: Sequence[_Node], shelf: Sequence[OnShelf]) -> Iterator[str]:
    """What neither stands on the shelf nor can be made of anything on it."""
    wanted = [nodes[0]]
    for node in wanted:
        for component, part in _lines(node):
            if any(one.amount and stands_for(component, one) is not None for one in shelf):
                continue
            if part is None:
                yield component.name
            elif part not in wanted:
                wanted.append(part)
