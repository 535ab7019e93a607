"""Naming a recipe and writing its editions."""

from collections.abc import Sequence
from datetime import datetime

from server.core.recipe import Basis, Measure
from server.data.session import LabSession
from server.recipes.forms import NewComponent, line_faults
from server.recipes.models import Recipe, RecipeComponent, RecipeEdition, Water
from server.recipes.queries import find_latest_edition, find_recipe_by_name, get_recipe, list_components
from server.refusal import Refusal


def add_recipe(session: LabSession, *, name: str) -> Recipe:
    """A recipe without an edition yet. Two recipes of a lab never share a name, whatever its capitals."""
    if find_recipe_by_name(session, name) is not None:
        raise Refusal(f"There is a recipe called {name} already. Open it and write a new edition.")
    recipe = Recipe(name=name)
    session.add(recipe)
    session.flush()  # its editions name its id
    return recipe


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
    if start_ul > volume_ul:
        raise Refusal("The water to begin with is more than the whole volume. Check both.")
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
        )
        for position, line in enumerate(components)
    )
    return edition


def _says_the_same(
    session: LabSession, latest: RecipeEdition, new: RecipeEdition, components: Sequence[NewComponent]
) -> bool:
    told = {"volume_ul", "start_ul", "basis", "water", "temperature_decicelsius", "stand_s"}
    lines = [
        NewComponent(line.name, line.amount, Measure(line.measure), line.formula, line.hazards)
        for line in list_components(session, latest.id)
    ]
    return latest.model_dump(include=told) == new.model_dump(include=told) and lines == list(components)
