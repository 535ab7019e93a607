"""What the recipes pages show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TypeVar
from urllib.parse import urlencode

from server.core.concentration import (
    Facts,
    Unit,
    in_unit,
)
from server.core.molar_mass import molar_mass
from server.core.moments import moment_words
from server.core.recipe import (
    MG_PER_GRAM,
    PURE_PPM,
    UL_PER_LITRE,
    UL_PER_ML,
    Basis,
    Component,
    Dissolved,
    Measure,
    WeighedLine,
    amount_words,
    concentrations,
    largest_volume_ul,
    opened,
    parts_words,
    strength_words,
    taken_per_unit,
    weigh_out,
)
from server.core.recipe import Form as ShelfForm
from server.core.recipe import Recipe as Formula
from server.core.shelf import held_words, stands_for
from server.core.units import celsius_words, digits, duration_words, life_words, near_volume_words, plain
from server.data.session import LabSession
from server.kits.models import Bottle, Kit
from server.kits.queries import list_usable_bottles, on_shelf
from server.recipes.forms import (
    ComponentRow,
    MadeSolution,
    NewEdition,
    NewRecipe,
    ShelfRow,
    Wanted,
)
from server.recipes.models import PLANNED_WITH, Recipe, RecipeComponent, RecipeEdition, Solution, Water
from server.recipes.queries import (
    find_latest_edition,
    formula_from,
    get_recipe,
    list_components,
    list_editions,
    list_formulas,
    list_latest_editions,
    list_recipes,
)
from server.refusal import NotFound
from server.web.submitted import Form, Submitted

Shape = TypeVar("Shape", bound=Form)

EMPTY_LINES = 3
BASES = (
    (Basis.MADE_UP_TO, "made up to the volume"),
    (Basis.ADDED_TO, "added to the volume of water"),
)
WATERS = (
    (Water.TAP, "tap water"),
    (Water.DEIONISED, "deionised water"),
    (Water.DISTILLED, "distilled water"),
)
SOLUTIONS = tuple((solution, str(solution)) for solution in Solution)
# A line that rounding changes by more than this is worth another look.
WORTH_A_LOOK = Fraction(2, 100)


@dataclass(frozen=True)
class RecipeLine:
    id: int
    name: str
    solution: str
    usual: bool
    edition: str
    made: str
    lines: str


@dataclass(frozen=True)
class RecipesPage:
    recipes: Sequence[RecipeLine]
    solutions: Sequence[tuple[str, str]]
    form: Submitted[NewRecipe]


@dataclass(frozen=True)
class ComponentLine:
    """`strength` is that of the finished solution."""

    name: str
    amount: str
    formula: str
    quality: str
    strength: str
    hazards: str


@dataclass(frozen=True)
class MixtureView:
    """What a mixture holds by its parts; `closed` are the solutions in it that have no recipe."""

    name: str
    parts: str
    holds: Sequence[tuple[str, str]]
    closed: Sequence[str]


@dataclass(frozen=True)
class EditionLine:
    number: int
    made: str
    note: str
    shown: bool


@dataclass(frozen=True)
class Changes:
    """What differs from another edition, in sentences; none where they say the same."""

    since: int
    sentences: Sequence[str]


@dataclass(frozen=True)
class EditionView:
    """What an edition says. `mixtures` are itself, where it is one, and those of the lab's recipes that it is a part of."""

    number: int
    parts: str
    volume: str
    basis: str
    start: str
    water: str
    temperature: str
    stand: str
    life: str
    note: str
    components: Sequence[ComponentLine]
    mixtures: Sequence[MixtureView]
    changes: Changes | None


@dataclass(frozen=True)
class RecipePage:
    """A recipe with one of its editions, which is None before the first; `may_be_usual` where plans could begin with it and do not."""

    id: int
    name: str
    solution: str
    solutions: Sequence[tuple[str, str]]
    usual: bool
    may_be_usual: bool
    made: Submitted[MadeSolution]
    edition: EditionView | None
    is_latest: bool
    editions: Sequence[EditionLine]


@dataclass(frozen=True)
class There:
    """What stands on the shelf for a component, how much of it where that is known, and what it is in words."""

    form: ShelfForm
    amount: int | None
    words: str


@dataclass(frozen=True)
class ShelfLine:
    """A component of the recipe with what stands on the shelf for it; `there` is None where that can't be read or taken."""

    number: int
    name: str
    called_for: str
    bottles: Sequence[tuple[str, str]]
    form: Submitted[ShelfRow]
    there: There | None


@dataclass(frozen=True)
class MeasuredLine:
    """One thing to measure. `aside` says what stands there and what rounding costs, `why` how it comes about.

    `watch` is what rounding spoils and what to do about it.

    `recipe_id` is that of the solution itself, where the lab makes it by a recipe.
    """

    name: str
    measured: str
    aside: str
    hazards: str
    why: str
    watch: str
    recipe_id: int | None


@dataclass(frozen=True)
class Measured:
    """A weigh-out list: `first` is the water to begin with and `last` what fills up, where there is such."""

    volume: str
    first: str
    lines: Sequence[MeasuredLine]
    last: str
    limit: str
    short: bool


@dataclass(frozen=True)
class WeighOutPage:
    """`measured` is None until a volume or what is there was typed, and where something typed can't be read."""

    id: int
    name: str
    number: int
    is_latest: bool
    in_parts: bool
    volume: str
    form: Submitted[Wanted]
    rows: Sequence[ShelfLine]
    kits: Sequence[tuple[str, str]]
    faults: int
    water: str
    temperature: str
    stand: str
    life: str
    measured: Measured | None


@dataclass(frozen=True)
class EditionRow:
    """A line of the edition's form; `line` is what the latest edition says, which stands where nothing was typed."""

    number: int
    form: Submitted[ComponentRow]
    amount: str
    purity: str
    density: str
    line: RecipeComponent | None


@dataclass(frozen=True)
class EditionPage:
    id: int
    name: str
    number: int
    latest: RecipeEdition | None
    volume: str
    start: str
    temperature: str
    life: str
    rows: Sequence[EditionRow]
    faults: int
    form: Submitted[NewEdition]
    bases: Sequence[tuple[str, str]]
    waters: Sequence[tuple[str, str]]


def recipes_page(session: LabSession, zone: str, form: Submitted[NewRecipe] | None = None) -> RecipesPage:
    latest, formulas = list_latest_editions(session), list_formulas(session)
    return RecipesPage(
        recipes=[
            _recipe_line(recipe, latest.get(recipe.id), formulas.get(recipe.name.lower()), zone)
            for recipe in list_recipes(session)
        ],
        solutions=SOLUTIONS,
        form=form or Submitted(),
    )


def _recipe_line(
    recipe: Recipe, edition: RecipeEdition | None, formula: Formula | None, zone: str
) -> RecipeLine:
    if edition is None or formula is None:
        return RecipeLine(recipe.id, recipe.name, recipe.solution, recipe.usual, "none yet", "", "")
    names = ", ".join(line.name for line in formula.components)
    return RecipeLine(
        recipe.id,
        recipe.name,
        recipe.solution,
        recipe.usual,
        str(edition.number),
        moment_words(edition.made_at, zone),
        names,
    )


def recipe_page(
    session: LabSession,
    recipe_id: int,
    zone: str,
    *,
    number: int | None = None,
    since: int | None = None,
    made: Submitted[MadeSolution] | None = None,
) -> RecipePage:
    """The latest edition or that of a `number`, compared with the one before it or with that of `since`."""
    recipe = get_recipe(session, recipe_id)
    editions = list_editions(session, recipe_id)
    edition = _edition_of(recipe, editions, number) if editions else None
    return RecipePage(
        id=recipe.id,
        name=recipe.name,
        solution=recipe.solution,
        solutions=SOLUTIONS,
        usual=recipe.usual,
        may_be_usual=recipe.solution in PLANNED_WITH and not recipe.usual and edition is not None,
        made=made or Submitted(),
        edition=None if edition is None else _edition_view(session, recipe, editions, edition, since),
        is_latest=edition is None or edition is editions[0],
        editions=[
            EditionLine(
                each.number,
                f"{moment_words(each.made_at, zone)} by {each.made_by}",
                each.note,
                each is edition,
            )
            for each in editions
        ],
    )


def _edition_of(recipe: Recipe, editions: Sequence[RecipeEdition], number: int | None) -> RecipeEdition:
    found = next((each for each in editions if number is None or each.number == number), None)
    if found is None:
        raise NotFound(f"{recipe.name} has no edition {number}. Choose one from its page.")
    return found


def _edition_view(
    session: LabSession,
    recipe: Recipe,
    editions: Sequence[RecipeEdition],
    edition: RecipeEdition,
    since: int | None,
) -> EditionView:
    lines = list_components(session, edition.id)
    formula = formula_from(edition, lines)
    compared = since or edition.number - 1
    return EditionView(
        number=edition.number,
        parts=parts_words([one.amount for one in formula.components]) if formula.parts else "",
        volume=_volume_words(edition.volume_ul),
        basis=dict(BASES)[Basis(edition.basis)],
        start=_volume_words(edition.start_ul) if edition.start_ul else "",
        water=dict(WATERS)[Water(edition.water)],
        temperature=_celsius(edition.temperature_decicelsius),
        stand=duration_words(edition.stand_s) if edition.stand_s else "",
        life="" if edition.life_s is None else life_words(edition.life_s),
        note=edition.note,
        components=_component_lines(lines, formula),
        mixtures=_mixtures(session, recipe, formula),
        changes=_changes(session, _edition_of(recipe, editions, compared), edition) if compared else None,
    )


def _volume_words(volume_ul: int) -> str:
    return amount_words(volume_ul, Measure.VOLUME)


def _celsius(temperature_decicelsius: int | None) -> str:
    if temperature_decicelsius is None:
        return ""
    return celsius_words(temperature_decicelsius)


def _component_lines(lines: Sequence[RecipeComponent], formula: Formula) -> Sequence[ComponentLine]:
    return [
        ComponentLine(
            line.name,
            amount_words(line.amount, Measure(line.measure)),
            line.formula,
            _quality(line),
            _strength(dissolved, line.formula),
            line.hazards,
        )
        for line, dissolved in zip(lines, concentrations(formula), strict=True)
    ]


def _quality(line: RecipeComponent) -> str:
    """The purity and the density that are called for, where they are said."""
    pure = line.purity_ppm == PURE_PPM
    said = [
        "" if pure else f"{_percent_of(line)} %",
        f"{_density_of(line)} g/mL" if line.density_ug_per_ul else "",
    ]
    return ", ".join(word for word in said if word)


def _percent_of(line: RecipeComponent) -> str:
    return plain(Fraction(line.purity_ppm, PURE_PPM // 100))


def _density_of(line: RecipeComponent) -> str:
    return "" if line.density_ug_per_ul is None else plain(Fraction(line.density_ug_per_ul, 1000))


def _strength(dissolved: Dissolved, formula: str = "") -> str:
    if dissolved.measure != Measure.MASS:
        return f"{digits(dissolved.per_litre / UL_PER_ML)} mL/L"
    grams = strength_words(dissolved.per_litre)
    if not formula:
        return grams
    molarity = in_unit(dissolved.per_litre / MG_PER_GRAM, Unit.MOLAR, Facts(molar_mass(formula)))
    assert isinstance(molarity, Fraction)
    return f"{grams}, {digits(molarity)} mol/L"


def _mixtures(session: LabSession, recipe: Recipe, formula: Formula) -> Sequence[MixtureView]:
    """What the recipe holds where it is mixed from solutions, and what those of the lab hold that are mixed from it."""
    formulas = list_formulas(session)
    found = [_mixture(recipe.name, formula, formulas)] if formula.parts else []
    for other in list_recipes(session):
        mixture = formulas.get(other.name.lower())
        if mixture is not None and recipe.name.lower() in [
            one.name.lower() for one in mixture.components if mixture.parts
        ]:
            found.append(_mixture(other.name, mixture, {**formulas, recipe.name.lower(): formula}))
    return found


def _mixture(name: str, formula: Formula, formulas: Mapping[str, Formula]) -> MixtureView:
    return MixtureView(
        name=name,
        parts=parts_words([one.amount for one in formula.components]),
        holds=[(one.name, _strength(one)) for one in opened(formula, formulas)],
        closed=[one.name for one in formula.components if one.name.lower() not in formulas],
    )


def _changes(session: LabSession, before: RecipeEdition, after: RecipeEdition) -> Changes:
    """What differs, in the words of the form: the head, then lines that went, came and changed, then their order."""
    heads = [_head_words(edition) for edition in (before, after)]
    sentences = [
        f"{label}: {heads[0][label]} → {words}"
        for label, words in heads[1].items()
        if heads[0][label] != words
    ]
    old = {line.name.lower(): line for line in list_components(session, before.id)}
    new = {line.name.lower(): line for line in list_components(session, after.id)}
    sentences += [f"{line.name} is no longer in it" for key, line in old.items() if key not in new]
    for key, line in new.items():
        words = _line_words(line)
        if key not in old:
            sentences.append(f"{line.name} is new: {words['amount']}")
            continue
        was = _line_words(old[key])
        sentences += [
            f"{line.name}, {label}: {was[label]} → {said}"
            for label, said in words.items()
            if was[label] != said
        ]
    if [key for key in old if key in new] != [key for key in new if key in old]:
        sentences.append(f"Order: {', '.join(line.name for line in new.values())}")
    return Changes(before.number, sentences)


def _head_words(edition: RecipeEdition) -> Mapping[str, str]:
    return {
        "Volume": _volume_words(edition.volume_ul),
        "Basis": dict(BASES)[Basis(edition.basis)],
        "Water to begin with": _volume_words(edition.start_ul),
        "Water": dict(WATERS)[Water(edition.water)],
        "Temperature": _celsius(edition.temperature_decicelsius) or "not said",
        "Stands after mixing": duration_words(edition.stand_s),
        "Keeps": "as usual quantities say" if edition.life_s is None else life_words(edition.life_s),
    }


def _line_words(line: RecipeComponent) -> Mapping[str, str]:
    return {
        "amount": amount_words(line.amount, Measure(line.measure)),
        "formula": line.formula or "not said",
        "purity": f"{_percent_of(line)} %",
        "density": f"{_density_of(line)} g/mL" if line.density_ug_per_ul else "not said",
        "hazards": line.hazards or "not written down",
    }


def weigh_out_page(
    session: LabSession,
    recipe_id: int,
    number: int,
    day: date,
    form: Submitted[Wanted],
    typed: Sequence[Submitted[ShelfRow]],
) -> WeighOutPage:
    """The weigh-out list of an edition for what was typed. Lines of the shelf that were not sent are as the recipe calls for."""
    recipe = get_recipe(session, recipe_id)
    editions = list_editions(session, recipe_id)
    edition = _edition_of(recipe, editions, number)
    lines = list_components(session, edition.id)
    formula = formula_from(edition, lines)
    bottles = list_usable_bottles(session, day)
    padded = [*typed, *[Submitted[ShelfRow](clean=ShelfRow())] * len(lines)][: len(lines)]
    rows = [
        _shelf_line(place, line, component, row, bottles)
        for place, (line, component, row) in enumerate(
            zip(lines, formula.components, padded, strict=True), start=1
        )
    ]
    there = [row.there for row in rows if row.there is not None]
    measured = None
    if form.clean is not None and len(there) == len(rows):
        shelf, wanted = _shelf(formula, there), form.clean
        volume_ul = _volume_to_make(wanted, shelf)
        if isinstance(volume_ul, str):
            form = form.refused("volume", volume_ul)
        else:
            ids = {each.name.lower(): each.id for each in list_recipes(session)}
            measured = _measured(wanted, volume_ul, shelf, lines, ids)
    return WeighOutPage(
        id=recipe.id,
        name=recipe.name,
        number=edition.number,
        is_latest=edition is editions[0],
        in_parts=formula.parts > 0,
        volume=_volume_words(edition.volume_ul),
        form=form,
        rows=rows,
        kits=_kits(formula, bottles),
        faults=len(form.errors) + sum(len(row.form.errors) for row in rows),
        water=dict(WATERS)[Water(edition.water)],
        temperature=_celsius(edition.temperature_decicelsius),
        stand=duration_words(edition.stand_s) if edition.stand_s else "",
        life="" if edition.life_s is None else life_words(edition.life_s),
        measured=measured,
    )


def _shelf_line(
    place: int,
    line: RecipeComponent,
    component: Component,
    row: Submitted[ShelfRow],
    bottles: Sequence[tuple[Bottle, Kit]],
) -> ShelfLine:
    """The line with what stands there, or refused where that is another substance or lacks a density."""
    offered = {
        bottle.id: (bottle, kit)
        for bottle, kit in bottles
        if stands_for(component, on_shelf(bottle)) is not None
    }
    there = None
    if row.clean is not None and row.clean.bottle_id is not None:
        if row.clean.bottle_id in offered:
            there = _in_bottle(*offered[row.clean.bottle_id])
        else:
            row = row.refused("bottle_id", "Please choose a bottle of the list.")
    elif row.clean is not None:
        there = _as_written(component, row.clean)
        row, there = _checked(component, row, there)
    said = (amount_words(line.amount, Measure(line.measure)), line.formula, _quality(line))
    return ShelfLine(
        number=place,
        name=line.name,
        called_for=", ".join(word for word in said if word),
        bottles=[
            (str(bottle.id), f"{kit.name}: {held_words(bottle.left, bottle.measure)} {bottle.substance}")
            for bottle, kit in offered.values()
        ],
        form=row,
        there=there,
    )


def _in_bottle(bottle: Bottle, kit: Kit) -> There:
    form = on_shelf(bottle).form
    purity = "" if form.purity == 1 else f"{plain(form.purity * 100)} %"
    words = (f"{bottle.substance} of {kit.name}", bottle.formula, purity)
    return There(form, bottle.left, ", ".join(word for word in words if word))


def _as_written(component: Component, row: ShelfRow) -> There:
    density = component.density_ug_per_ul if row.density is None else int(row.density * 1000)
    purity = component.purity if row.purity is None else Fraction(row.purity) / 100
    amount, measure = row.there or (None, None)
    words = (row.formula, "" if row.purity is None else f"{plain(purity * 100)} % pure")
    form = ShelfForm(row.formula or component.formula, purity, density, measure)
    return There(form, amount, ", ".join(word for word in words if word))


def _checked(
    component: Component, row: Submitted[ShelfRow], there: There
) -> tuple[Submitted[ShelfRow], There | None]:
    if component.measure == Measure.PART and there.form.measure == Measure.MASS:
        return row.refused("there", "Parts are measured by volume. Please write it like 250 mL."), None
    try:
        taken_per_unit(component, there.form)
    except ValueError as fault:
        other = there.form.formula != component.formula
        return row.refused("formula" if other else "density", str(fault)), None
    return row, there


def _kits(formula: Formula, bottles: Sequence[tuple[Bottle, Kit]]) -> Sequence[tuple[str, str]]:
    """Each kit that holds something for every component, with the address's question for all that it makes."""
    found = []
    for name in dict.fromkeys(kit.name for _bottle, kit in bottles):
        ids = [
            next(
                (
                    bottle.id
                    for bottle, kit in bottles
                    if kit.name == name and stands_for(component, on_shelf(bottle)) is not None
                ),
                None,
            )
            for component in formula.components
        ]
        if None not in ids:
            empty = [""] * len(ids)
            columns = {"bottle_id": ids, "formula": empty, "purity": empty, "density": empty, "there": empty}
            found.append((name, urlencode({"volume": "", **columns}, doseq=True)))
    return found


@dataclass(frozen=True)
class _Shelf:
    """What stands on the shelf for a formula, by its components' names; `largest` is the most that it makes where anything limits it."""

    formula: Formula
    there: Mapping[str, There]
    largest: tuple[int, str] | None

    @property
    def forms(self) -> Mapping[str, ShelfForm]:
        return {name: there.form for name, there in self.there.items()}


def _shelf(formula: Formula, rows: Sequence[There]) -> _Shelf:
    there = {component.name: row for component, row in zip(formula.components, rows, strict=True)}
    on_hand = {name: row.amount for name, row in there.items() if row.amount is not None}
    forms = {name: row.form for name, row in there.items()}
    return _Shelf(formula, there, largest_volume_ul(formula, on_hand, forms))


def _volume_to_make(wanted: Wanted, shelf: _Shelf) -> int | str:
    """The volume asked for, or as much as what is there makes, in whole steps of the graduate; a sentence where there is neither."""
    if wanted.volume is not None:
        return wanted.volume
    if shelf.largest is None:
        return "Please write a volume, or what is there of a component."
    volume_ul, first = shelf.largest
    steps = volume_ul // wanted.graduate
    return steps * wanted.graduate or f"What is there of {first} makes less than the graduate shows."


def _measured(
    wanted: Wanted, volume_ul: int, shelf: _Shelf, lines: Sequence[RecipeComponent], ids: Mapping[str, int]
) -> Measured:
    formula = shelf.formula
    made = weigh_out(
        formula,
        volume_ul=volume_ul,
        balance_step_mg=wanted.balance,
        graduate_step_ul=wanted.graduate,
        shelf=shelf.forms,
    )
    first = f"{_volume_words(made.start_ul)} of water" if made.start_ul else ""
    if not first and formula.start_ul and not formula.parts:
        first = "A little of the water, less than the graduate shows"
    last = "" if made.make_up_to_ul is None else f"Make up to {_volume_words(made.make_up_to_ul)} with water."
    if formula.parts:
        last = f"Together that is {_volume_words(sum(line.rounded for line in made.lines))}."
    limit, short = "", False
    if shelf.largest is not None:
        most_ul, runs_out = shelf.largest
        short = volume_ul > most_ul
        limit = f"What is there makes {near_volume_words(Fraction(most_ul))}; {runs_out} runs out first."
    return Measured(
        volume=_volume_words(volume_ul),
        first=first,
        lines=[
            _measured_line(formula, line, component, volume_ul, shelf, ids.get(line.name.lower()))
            for line, component in zip(made.lines, lines, strict=True)
        ],
        last=last,
        limit=limit,
        short=short,
    )


def _measured_line(
    formula: Formula,
    line: WeighedLine,
    component: RecipeComponent,
    volume_ul: int,
    shelf: _Shelf,
    recipe_id: int | None,
) -> MeasuredLine:
    there = shelf.there[line.name]
    unit, tool = ("g", "balance") if line.measure == Measure.MASS else ("mL", "graduate")
    exact = f"{digits(line.exact / 1000)} {unit}"
    error = f"{float(line.error):+.1%}".replace("%", " %").replace("-", "−")
    step = amount_words(line.step, line.measure)
    otherwise = ""
    if line.measure == Measure.MASS and there.form.density_ug_per_ul:
        otherwise = (
            f"or {near_volume_words(line.exact * 1000 / there.form.density_ug_per_ul)}, it is a liquid"
        )
    rounding = "" if not line.error or line.too_little else f"exactly {exact}, rounding {error}"
    whole = "of the parts" if formula.parts else f"for {_volume_words(formula.volume_ul)}"
    why = f"{amount_words(component.amount, Measure(component.measure))} {whole}, scaled to {_volume_words(volume_ul)}"
    if line.factor != 1:
        why += f", times {digits(line.factor)} {'mL for each g' if line.measure != component.measure and unit == 'mL' else 'for what stands on the shelf'}"
    why += f", is {exact}; in steps of {step} that is {error}."
    watch = ""
    if line.too_little:
        watch = (
            f"That is less than half a step of {step} and can't be measured here. Take a finer {tool}, make"
            f" {_at_least(line)} or more, or dissolve more of it and take a part of that."
        )
    elif abs(line.error) > WORTH_A_LOOK:
        watch = f"Rounding changes it by {error}. From {_at_least(line)} on it stays within 2 %."
    return MeasuredLine(
        name=line.name,
        measured=exact if line.too_little else amount_words(line.rounded, line.measure),
        aside="; ".join(word for word in (there.words and f"as {there.words}", otherwise, rounding) if word),
        hazards=component.hazards,
        why=why,
        watch=watch,
        recipe_id=recipe_id,
    )


def _at_least(line: WeighedLine) -> str:
    return near_volume_words(Fraction(line.least_volume_ul(error=WORTH_A_LOOK)))


def edition_page(
    session: LabSession,
    recipe_id: int,
    form: Submitted[NewEdition] | None = None,
    typed: Sequence[Submitted[ComponentRow]] | None = None,
) -> EditionPage:
    recipe = get_recipe(session, recipe_id)
    latest = find_latest_edition(session, recipe_id)
    lines = [] if latest is None or typed is not None else list_components(session, latest.id)
    rows: list[tuple[Submitted[ComponentRow], RecipeComponent | None]] = [
        (Submitted(), line) for line in lines
    ]
    rows += [(row, None) for row in typed or ()]
    rows += [(Submitted(), None)] * EMPTY_LINES
    form = form or Submitted()
    return EditionPage(
        id=recipe.id,
        name=recipe.name,
        number=1 if latest is None else latest.number + 1,
        latest=latest,
        volume=_volume_words(UL_PER_LITRE if latest is None else latest.volume_ul),
        start=_volume_words(0 if latest is None else latest.start_ul),
        temperature="" if latest is None else _celsius(latest.temperature_decicelsius).removesuffix(" °C"),
        life="" if latest is None or latest.life_s is None else life_words(latest.life_s),
        rows=[
            EditionRow(
                number,
                row,
                "" if line is None else amount_words(line.amount, Measure(line.measure)),
                "" if line is None or line.purity_ppm == PURE_PPM else _percent_of(line),
                "" if line is None else _density_of(line),
                line,
            )
            for number, (row, line) in enumerate(rows, start=1)
        ],
        faults=len(form.errors) + sum(len(row.errors) for row, _line in rows),
        form=form,
        bases=BASES,
        waters=WATERS,
    )
