"""Reads of recipes and their editions."""

from collections.abc import Mapping, Sequence

from sqlmodel import col, func, select

from server.core.recipe import Basis, Component, Measure
from server.core.recipe import Recipe as Formula
from server.data.session import LabSession
from server.recipes.models import Recipe, RecipeComponent, RecipeEdition
from server.refusal import NotFound


def list_recipes(session: LabSession) -> Sequence[Recipe]:
    return session.exec(select(Recipe).order_by(col(Recipe.name))).all()


def get_recipe(session: LabSession, recipe_id: int) -> Recipe:
    recipe = session.get(Recipe, recipe_id)
    if recipe is None:
        raise NotFound("There is no such recipe in this lab. Choose one from Recipes.")
    return recipe


def find_recipe_by_name(session: LabSession, name: str) -> Recipe | None:
    return session.exec(select(Recipe).where(func.lower(Recipe.name) == name.lower())).first()


def list_editions(session: LabSession, recipe_id: int) -> Sequence[RecipeEdition]:
    """The editions of a recipe, the latest first."""
    editions = select(RecipeEdition).where(RecipeEdition.recipe_id == recipe_id)
    return session.exec(editions.order_by(col(RecipeEdition.number).desc())).all()


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
    return Formula(
        components=tuple(
            Component(line.name, line.amount, Measure(line.measure), line.formula)
            for line in list_components(session, edition.id)
        ),
        volume_ul=edition.volume_ul,
        start_ul=edition.start_ul,
        basis=Basis(edition.basis),
    )
