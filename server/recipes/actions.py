"""Naming a recipe and writing its editions."""

from collections.abc import Sequence
from datetime import datetime

from server.core.recipe import Basis, Measure
from server.data.session import LabSession
from server.recipes.forms import NewComponent, line_faults
from server.recipes.models import PLANNED_WITH, Recipe, RecipeComponent, RecipeEdition, Solution, Water
from server.recipes.queries import (
    find_latest_edition,
    find_recipe_by_name,
    find_usual_recipe,
    get_recipe,
    list_components,
    list_recipes,
)
from server.refusal import Refusal


def add_recipe(session: LabSession, *, name: str, solution: Solution) -> Recipe:
    """A recipe without an edition yet; the first of its solution becomes the usual one.

    Two recipes of a lab never share a name, whatever its capitals.
    """
    if find_recipe_by_name(session, name) is not None:
        raise Refusal(f"There is a recipe called {name} already. Open it and write a new edition.")
    recipe = Recipe(name=name, solution=solution)
    session.add(recipe)
    session.flush()  # its editions name its id
    _choose_a_usual_one(session, solution)
    return recipe


def set_solution(session: LabSession, recipe_id: int, solution: Solution) -> None:
    """Say what a recipe makes. Where it was the usual one, the oldest that is left of its solution takes its place."""
    recipe = get_recipe(session, recipe_id)
    if recipe.solution == solution:
        return
    before = Solution(recipe.solution)
    recipe.solution, recipe.usual = solution, False
    session.flush()  # the next two look for what is left
    _choose_a_usual_one(session, before)
    _choose_a_usual_one(session, solution)


def make_usual(session: LabSession, recipe_id: int) -> None:
    """Let plans and the mixing form begin with this recipe."""
    recipe = get_recipe(session, recipe_id)
    solution = Solution(recipe.solution)
    if solution not in PLANNED_WITH:
        raise Refusal(f"Nothing is planned with a recipe for {solution}. Say first what else it makes.")
    if find_latest_edition(session, recipe.id) is None:
        raise Refusal(f"{recipe.name} has no edition yet. Write what goes into it first.")
    before = find_usual_recipe(session, solution)
    if before is not None:
        before.usual = False
        session.flush()  # two at once would be one too many
    recipe.usual = True


def _choose_a_usual_one(session: LabSession, solution: Solution) -> None:
    if solution not in PLANNED_WITH or find_usual_recipe(session, solution) is not None:
        return
    candidates = [recipe for recipe in list_recipes(session) if recipe.solution == solution]
    if candidates:
        min(candidates, key=lambda recipe: recipe.id).usual = True
        session.flush()  # others look for it in the same request


def write_edition(
    session: LabSession,
    recipe_id: int,
    components: Sequence[NewComponent],
    *,
    volume_ul: int,
    start_ul: int,
    basis: Basis,
    water: Water,
    temperature_decicelsius: int | None,
    stand_s: int,
    life_s: int | None,
    note: str,
    by: str,
    now: datetime,
) -> RecipeEdition:
    """Add the next edition; earlier ones stay as they are. From the second on it says why."""
    recipe = get_recipe(session, recipe_id)
    session.hold(Recipe, recipe.id)
    if not components:
        raise Refusal("A recipe needs at least one line. Write its name and its amount.")
    faults = line_faults(components)
    if faults:
        raise Refusal(faults[0].sentence)
    liquids_ul = sum(line.amount for line in components if line.measure == Measure.VOLUME)
    if basis == Basis.MADE_UP_TO and start_ul + liquids_ul > volume_ul:
        raise Refusal("The water to begin with and the liquids are more than the whole volume. Check them.")
    latest = find_latest_edition(session, recipe.id)
    if latest is not None and not note:
        raise Refusal(
            "Say in a few words why the recipe changes, so that others know which edition to trust."
        )
    edition = RecipeEdition(
        recipe_id=recipe.id,
        number=1 if latest is None else latest.number + 1,
        volume_ul=volume_ul,
        start_ul=start_ul,
        basis=basis,
        water=water,
        temperature_decicelsius=temperature_decicelsius,
        stand_s=stand_s,
        life_s=life_s,
        note=note,
        made_at=now,
        made_by=by,
    )
    if latest is not None and _says_the_same(session, latest, edition, components):
        raise Refusal(f"This is edition {latest.number} unchanged. Change something, or go back.")
    session.add(edition)
    session.flush()  # its lines name its id
    session.add_all(
        RecipeComponent(
            edition_id=edition.id,
            position=position,
            name=line.name,
            amount=line.amount,
            measure=line.measure,
            formula=line.formula,
            hazards=line.hazards,
            purity_ppm=line.purity_ppm,
            density_ug_per_ul=line.density_ug_per_ul,
        )
        for position, line in enumerate(components)
    )
    return edition


def _says_the_same(
    session: LabSession, latest: RecipeEdition, new: RecipeEdition, components: Sequence[NewComponent]
) -> bool:
    told = {"volume_ul", "start_ul", "basis", "water", "temperature_decicelsius", "stand_s", "life_s"}
    lines = [
        NewComponent(
            name=line.name,
            amount=line.amount,
            measure=Measure(line.measure),
            formula=line.formula,
            hazards=line.hazards,
            purity_ppm=line.purity_ppm,
            density_ug_per_ul=line.density_ug_per_ul,
        )
        for line in list_components(session, latest.id)
    ]
    return latest.model_dump(include=told) == new.model_dump(include=told) and lines == list(components)
