"""Reads of recipes and their editions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sqlmodel import col, func, select

from server.core.recipe import PURE_PPM, Basis, Component, Measure
from server.core.recipe import Recipe as Formula
from server.data.session import LabSession
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.recipes.models import Recipe, RecipeComponent, RecipeEdition, Solution
from server.refusal import NotFound

# How a solution is mixed where the lab has written no recipe for it. A ready bleach is used as it stands.
_WITHOUT_A_RECIPE = {
    Solution.DEVELOPER: (STOCK_A, STOCK_B),
    Solution.BLEACH: (BLEACH,),
}
# Freshly mixed working developer stands this long before plates go in.
_STAND_S = {Solution.DEVELOPER: 300, Solution.BLEACH: 0}


@dataclass(frozen=True)
class UsualFormula:
    """How a solution is usually made: by the lab's recipe, or, where `edition` is None, from the bottles of a kit.

    `life_s` is None where the lab's usual quantities say how long it keeps.
    """

    name: str
    edition: RecipeEdition | None
    formula: Formula
    life_s: int | None
    stand_s: int


def list_recipes(session: LabSession) -> Sequence[Recipe]:
    return session.exec(select(Recipe).order_by(col(Recipe.name))).all()


def get_recipe(session: LabSession, recipe_id: int) -> Recipe:
    recipe = session.get(Recipe, recipe_id)
    if recipe is None:
        raise NotFound("There is no such recipe in this lab. Choose one from Recipes.")
    return recipe


def find_recipe_by_name(session: LabSession, name: str) -> Recipe | None:
    """The recipe of that name, whatever its capitals; in Python, because not every database knows those beyond A to Z."""
    return next((each for each in list_recipes(session) if each.name.lower() == name.lower()), None)


def list_editions(session: LabSession, recipe_id: int) -> Sequence[RecipeEdition]:
    """The editions of a recipe, the latest first."""
    editions = select(RecipeEdition).where(RecipeEdition.recipe_id == recipe_id)
    return session.exec(editions.order_by(col(RecipeEdition.number).desc())).all()


def get_edition(session: LabSession, edition_id: int) -> RecipeEdition:
    edition = session.get(RecipeEdition, edition_id)
    if edition is None:
        raise NotFound("There is no such edition in this lab. Choose one from Recipes.")
    return edition


def find_latest_edition(session: LabSession, recipe_id: int) -> RecipeEdition | None:
    """The edition that is made now; None before the first."""
    return next(iter(list_editions(session, recipe_id)), None)


def list_latest_editions(session: LabSession) -> Mapping[int, RecipeEdition]:
    """The latest edition of each recipe that has one, by the recipe's id."""
    latest = select(func.max(RecipeEdition.id)).group_by(col(RecipeEdition.recipe_id))
    editions = session.exec(select(RecipeEdition).where(col(RecipeEdition.id).in_(latest))).all()
    return {edition.recipe_id: edition for edition in editions}


def list_components(session: LabSession, edition_id: int) -> Sequence[RecipeComponent]:
    """The lines of an edition in the order of dissolving."""
    components = select(RecipeComponent).where(RecipeComponent.edition_id == edition_id)
    return session.exec(components.order_by(col(RecipeComponent.position))).all()


def formula_of(session: LabSession, edition: RecipeEdition) -> Formula:
    """The edition as the computations take it."""
    return formula_from(edition, list_components(session, edition.id))


def list_formulas(session: LabSession) -> Mapping[str, Formula]:
    """What each recipe of the lab says now, by its name in small letters."""
    editions = list_latest_editions(session)
    lines: dict[int, list[RecipeComponent]] = {}
    components = select(RecipeComponent).where(
        col(RecipeComponent.edition_id).in_([edition.id for edition in editions.values()])
    )
    for line in session.exec(components.order_by(col(RecipeComponent.position))):
        lines.setdefault(line.edition_id, []).append(line)
    return {
        recipe.name.lower(): formula_from(editions[recipe.id], lines[editions[recipe.id].id])
        for recipe in list_recipes(session)
        if recipe.id in editions
    }


def formula_from(edition: RecipeEdition, lines: Sequence[RecipeComponent]) -> Formula:
    """An edition with its lines as the computations take it."""
    return Formula(
        components=tuple(
            Component(
                line.name,
                line.amount,
                Measure(line.measure),
                line.formula,
                Fraction(line.purity_ppm, PURE_PPM),
                line.density_ug_per_ul,
            )
            for line in lines
        ),
        volume_ul=edition.volume_ul,
        start_ul=edition.start_ul,
        basis=Basis(edition.basis),
    )


def find_usual_recipe(session: LabSession, solution: Solution) -> Recipe | None:
    """The recipe that plans and the mixing form begin with; None where the lab has none that makes this solution."""
    usual = select(Recipe).where(Recipe.solution == solution, col(Recipe.usual))
    return session.exec(usual).first()


def usual_formula(session: LabSession, solution: Solution) -> UsualFormula:
    """How working developer or bleach is usually made in this lab."""
    recipe = find_usual_recipe(session, solution)
    edition = None if recipe is None else find_latest_edition(session, recipe.id)
    if recipe is not None and edition is not None:
        return UsualFormula(
            recipe.name,
            edition,
            formula_of(session, edition),
            edition.life_s,
            edition.stand_s,
        )
    return formula_without_recipe(solution)


def formula_without_recipe(solution: Solution) -> UsualFormula:
    """How working developer or bleach is made of a kit's bottles, as the kit means it."""
    parts = tuple(Component(name, 1, Measure.PART) for name in _WITHOUT_A_RECIPE[solution])
    return UsualFormula(solution, None, Formula(parts, len(parts), 0), None, _STAND_S[solution])
