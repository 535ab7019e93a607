"""What the recipes pages show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from server.core.concentration import (
    mass_by_weight_percent,
    mass_for_molarity,
    molarity_by_weight_percent,
    molarity_of,
    stock_needed,
    volume_by_weight_percent,
    volume_of_molarity,
)
from server.core.molar_mass import hydrate_factor, molar_mass
from server.core.moments import moment_words
from server.core.recipe import (
    PURE_PPM,
    UL_PER_LITRE,
    Basis,
    Component,
    Measure,
    WeighedLine,
    amount_words,
    concentrations,
    mixed,
    plain,
    strength_words,
    weigh_out,
)
from server.core.recipe import Recipe as Formula
from server.core.units import duration_words, life_words, mass_words, volume_words
from server.data.session import LabSession
from server.recipes.forms import (
    ComponentRow,
    Dilution,
    HydrateSwap,
    MadeSolution,
    MolarSolution,
    NewEdition,
    NewRecipe,
    PercentSolution,
    Wanted,
)
from server.recipes.models import PLANNED_WITH, Recipe, RecipeComponent, RecipeEdition, Solution, Water
from server.recipes.queries import (
    find_latest_edition,
    find_recipe_by_name,
    formula_of,
    get_recipe,
    list_components,
    list_editions,
    list_latest_editions,
    list_recipes,
)
from server.refusal import NotFound
from server.web.submitted import Form, Submitted, read

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
class MeasuredLine:
    """One thing to measure; `why` says how it comes about, `watch` that rounding changes it by more than a little."""

    name: str
    measured: str
    exact: str
    error: str
    watch: bool


@dataclass(frozen=True)
class Measured:
    """A weigh-out list: `first` is the water to begin with and `last` what fills up, where there is such."""

    volume: str
    first: str
    lines: Sequence[MeasuredLine]
    last: str


@dataclass(frozen=True)
class EditionLine:
    number: int
    made: str
    note: str
    shown: bool


@dataclass(frozen=True)
class EditionView:
    """What an edition says, and how much a volume of it takes once one was asked for."""

    number: int
    in_parts: bool
    volume: str
    basis: str
    water: str
    temperature: str
    stand: str
    life: str
    note: str
    components: Sequence[ComponentLine]
    in_the_mixture: Sequence[tuple[str, str]]
    measured: Measured | None


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
    form: Submitted[Wanted]


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


@dataclass(frozen=True)
class Answer:
    """What a computation says, and how it comes about; both empty before it was asked."""

    sentence: str = ""
    why: str = ""


@dataclass(frozen=True)
class StrengthsPage:
    swap_form: Submitted[HydrateSwap]
    swap: Answer
    dilution_form: Submitted[Dilution]
    dilution: Answer
    molar_form: Submitted[MolarSolution]
    molar: Answer
    percent_form: Submitted[PercentSolution]
    percent: Answer


def recipes_page(session: LabSession, zone: str, form: Submitted[NewRecipe] | None = None) -> RecipesPage:
    latest = list_latest_editions(session)
    return RecipesPage(
        recipes=[
            _recipe_line(session, recipe, latest.get(recipe.id), zone) for recipe in list_recipes(session)
        ],
        solutions=SOLUTIONS,
        form=form or Submitted(),
    )


def _recipe_line(session: LabSession, recipe: Recipe, edition: RecipeEdition | None, zone: str) -> RecipeLine:
    if edition is None:
        return RecipeLine(recipe.id, recipe.name, recipe.solution, recipe.usual, "none yet", "", "")
    names = ", ".join(line.name for line in list_components(session, edition.id))
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
    form: Submitted[Wanted] | None = None,
    made: Submitted[MadeSolution] | None = None,
) -> RecipePage:
    recipe = get_recipe(session, recipe_id)
    editions = list_editions(session, recipe_id)
    edition = next((each for each in editions if number is None or each.number == number), None)
    if edition is None and number is not None:
        raise NotFound(f"{recipe.name} has no edition {number}. Choose one from its page.")
    return RecipePage(
        id=recipe.id,
        name=recipe.name,
        solution=recipe.solution,
        solutions=SOLUTIONS,
        usual=recipe.usual,
        may_be_usual=recipe.solution in PLANNED_WITH and not recipe.usual and edition is not None,
        made=made or Submitted(),
        edition=None if edition is None else _edition_view(session, edition, form),
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
        form=form or Submitted(),
    )


def _edition_view(session: LabSession, edition: RecipeEdition, form: Submitted[Wanted] | None) -> EditionView:
    formula = formula_of(session, edition)
    return EditionView(
        number=edition.number,
        in_parts=formula.parts > 0,
        volume=amount_words(edition.volume_ul, Measure.VOLUME),
        basis=dict(BASES)[Basis(edition.basis)],
        water=dict(WATERS)[Water(edition.water)],
        temperature=_celsius(edition.temperature_decicelsius),
        stand=duration_words(edition.stand_s) if edition.stand_s else "",
        life="" if edition.life_s is None else life_words(edition.life_s),
        note=edition.note,
        components=_component_lines(session, edition, formula),
        in_the_mixture=_in_the_mixture(session, formula),
        measured=None if form is None or form.clean is None else _measured(formula, form.clean),
    )


def _celsius(temperature_decicelsius: int | None) -> str:
    if temperature_decicelsius is None:
        return ""
    return f"{plain(Fraction(temperature_decicelsius, 10))} °C"


def _component_lines(
    session: LabSession, edition: RecipeEdition, formula: Formula
) -> Sequence[ComponentLine]:
    return [
        ComponentLine(
            line.name,
            amount_words(line.amount, Measure(line.measure)),
            line.formula,
            _quality(line),
            _strength(formula, component),
            line.hazards,
        )
        for line, component in zip(list_components(session, edition.id), formula.components, strict=True)
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


def _strength(formula: Formula, component: Component) -> str:
    share = formula.share(component) * UL_PER_LITRE
    if component.measure != Measure.MASS:
        return f"{volume_words(round(share))}/L"
    if not component.formula:
        return strength_words(share)
    molarity = molarity_of(mass_mg=share, volume_ul=UL_PER_LITRE, molar_mass=molar_mass(component.formula))
    return f"{strength_words(share)}, {_digits(molarity)} mol/L"


def _in_the_mixture(session: LabSession, formula: Formula) -> Sequence[tuple[str, str]]:
    """The strengths after mixing, where every part is a recipe of the lab."""
    if not formula.parts:
        return ()
    solutions: list[tuple[Mapping[str, Fraction], int]] = []
    solids: set[str] = set()
    for part in formula.components:
        recipe = find_recipe_by_name(session, part.name)
        edition = None if recipe is None else find_latest_edition(session, recipe.id)
        if edition is None:
            return ()
        made_of = formula_of(session, edition)
        solids |= {one.name for one in made_of.components if one.measure == Measure.MASS}
        solutions.append((concentrations(made_of), part.amount))
    return [
        (name, strength_words(strength) if name in solids else f"{volume_words(round(strength))}/L")
        for name, strength in mixed(solutions).items()
    ]


def _measured(formula: Formula, wanted: Wanted) -> Measured:
    made = weigh_out(
        formula, volume_ul=wanted.volume, balance_step_mg=wanted.balance, graduate_step_ul=wanted.graduate
    )
    water = "" if not made.start_ul else f"{volume_words(made.start_ul)} of water"
    last = "" if made.make_up_to_ul is None else f"Make up to {volume_words(made.make_up_to_ul)} with water."
    return Measured(volume_words(wanted.volume), water, [_measured_line(line) for line in made.lines], last)


def _measured_line(line: WeighedLine) -> MeasuredLine:
    words = mass_words if line.measure == Measure.MASS else volume_words
    exact = Decimal(line.exact.numerator) / line.exact.denominator / 1000
    unit = "g" if line.measure == Measure.MASS else "mL"
    return MeasuredLine(
        line.name,
        words(line.rounded),
        f"{exact:.4f}".rstrip("0").rstrip(".") + f" {unit}",
        f"{float(line.error):+.1%}".replace("%", " %").replace("-", "−"),
        abs(line.error) > WORTH_A_LOOK,
    )


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
        volume=amount_words(UL_PER_LITRE if latest is None else latest.volume_ul, Measure.VOLUME),
        start=amount_words(0 if latest is None else latest.start_ul, Measure.VOLUME),
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


def strengths_page(typed: Mapping[str, str]) -> StrengthsPage:
    """The computations that were asked for in an address; each form is read only when something of it was typed."""
    swap, swapped = _swapped(_read(HydrateSwap, "swap_mass", typed))
    dilution, diluted = _diluted(_read(Dilution, "strong", typed))
    molar, percent = _read(MolarSolution, "molarity", typed), _read(PercentSolution, "percent", typed)
    return StrengthsPage(
        swap, swapped, dilution, diluted, molar, _molar(molar.clean), percent, _percent(percent.clean)
    )


def _read(shape: type[Shape], first: str, typed: Mapping[str, str]) -> Submitted[Shape]:
    return read(shape, typed) if first in typed else Submitted()


def _grams(mass: Fraction) -> str:
    return f"{_digits(mass / 1000)} g"


def _millilitres(volume: Fraction) -> str:
    return f"{_digits(volume / 1000)} mL"


def _digits(number: Fraction) -> str:
    """Four digits, which is finer than a teaching lab measures."""
    exact = Decimal(number.numerator) / number.denominator
    plain = f"{Decimal(f'{exact:.4g}'):f}"
    return plain.rstrip("0").rstrip(".") if "." in plain else plain


def _swapped(form: Submitted[HydrateSwap]) -> tuple[Submitted[HydrateSwap], Answer]:
    asked = form.clean
    if asked is None:
        return form, Answer()
    try:
        factor = hydrate_factor(called_for=asked.called_for, on_the_shelf=asked.on_the_shelf)
    except ValueError as fault:
        return form.refused("on_the_shelf", str(fault)), Answer()
    weighed = asked.swap_mass * Fraction(factor) * 100 / Fraction(asked.swap_purity)
    return form, Answer(
        f"Weigh {_grams(weighed)} of {asked.on_the_shelf}.",
        f"{mass_words(asked.swap_mass)} × {molar_mass(asked.on_the_shelf)} g/mol ÷ {molar_mass(asked.called_for)} g/mol"
        f" ÷ {asked.swap_purity} %; molar masses from IUPAC's abridged standard atomic weights.",
    )


def _diluted(form: Submitted[Dilution]) -> tuple[Submitted[Dilution], Answer]:
    asked = form.clean
    if asked is None:
        return form, Answer()
    try:
        taken = stock_needed(
            strong=asked.strong,
            wanted=asked.wanted,
            with_strength=asked.with_strength,
            volume_ul=asked.diluted_volume,
        )
    except ValueError as fault:
        return form.refused("wanted", str(fault)), Answer()
    filled = "the weaker one" if asked.with_strength else "water"
    return form, Answer(
        f"Take {_millilitres(taken)} and make it up to {volume_words(asked.diluted_volume)} with {filled}.",
        f"({asked.wanted} − {asked.with_strength}) ÷ ({asked.strong} − {asked.with_strength}) × {volume_words(asked.diluted_volume)}: "
        "what is dissolved stays the same.",
    )


def _molar(asked: MolarSolution | None) -> Answer:
    if asked is None:
        return Answer()
    mass, (amount, measure) = molar_mass(asked.molar_formula), asked.molar_amount
    if measure == Measure.VOLUME:
        needed = mass_for_molarity(molarity=asked.molarity, volume_ul=amount, molar_mass=mass)
        return Answer(
            f"Weigh {_grams(needed)} and make it up to {volume_words(amount)}.",
            f"{asked.molarity} mol/L × {volume_words(amount)} × {mass} g/mol.",
        )
    holds = volume_of_molarity(mass_mg=amount, molarity=asked.molarity, molar_mass=mass)
    return Answer(
        f"{_millilitres(holds)} of it hold {mass_words(amount)}.",
        f"{mass_words(amount)} ÷ {mass} g/mol ÷ {asked.molarity} mol/L.",
    )


def _percent(asked: PercentSolution | None) -> Answer:
    if asked is None:
        return Answer()
    amount, measure = asked.percent_amount
    strength = ""
    if asked.percent_formula is not None:
        molarity = molarity_by_weight_percent(
            percent=asked.percent, density=asked.density, molar_mass=molar_mass(asked.percent_formula)
        )
        strength = f" It is {_digits(molarity)} mol/L strong."
    if measure == Measure.VOLUME:
        needed = mass_by_weight_percent(
            percent=asked.percent, volume_ul=amount, density=asked.density, purity=asked.percent_purity / 100
        )
        return Answer(
            f"Weigh {_grams(needed)} and make it up to {volume_words(amount)}.{strength}",
            f"{asked.percent} % × {volume_words(amount)} × {asked.density} g/mL ÷ {asked.percent_purity} % purity.",
        )
    holds = volume_by_weight_percent(mass_mg=amount, percent=asked.percent, density=asked.density)
    return Answer(
        f"{_millilitres(holds)} of it hold {mass_words(amount)}.{strength}",
        f"{mass_words(amount)} ÷ ({asked.percent} % × {asked.density} g/mL).",
    )
