"""A lab that makes its developer from powders, by a published recipe: two stock solutions and their mixture in equal parts."""

from datetime import date

from server.core.recipe import Basis, Measure
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import Kit
from server.recipes.actions import add_recipe, write_edition
from server.recipes.forms import NewComponent
from server.recipes.models import RecipeEdition, Solution, Water
from tests.casts import MORNING

DAY_S = 86_400


def write(
    session: LabSession,
    name: str,
    solution: Solution,
    *components: NewComponent,
    life_s: int | None = None,
    stand_s: int = 0,
    basis: Basis = Basis.MADE_UP_TO,
) -> RecipeEdition:
    """The first edition of a recipe, for a litre."""
    recipe = add_recipe(session, name=name, solution=solution)
    return write_edition(
        session, recipe.id, components, volume_ul=1_000_000, start_ul=0, basis=basis, water=Water.DISTILLED,
        temperature_decicelsius=None, stand_s=stand_s, life_s=life_s, note="", by="Tomas", now=MORNING,
    )  # fmt: skip


def recipes(session: LabSession) -> RecipeEdition:
    """Metol 4, ascorbic acid 25 | sodium carbonate 70, sodium hydroxide 15 g/L, mixed 1+1: a Stony Brook student report of 2003."""
    write(
        session, "stock A", Solution.STOCK,
        NewComponent("metol", 4_000, Measure.MASS, hazards="skin allergy"),
        NewComponent("ascorbic acid", 25_000, Measure.MASS), life_s=30 * DAY_S,
    )  # fmt: skip
    write(
        session, "stock B", Solution.STOCK,
        NewComponent("sodium carbonate", 70_000, Measure.MASS, "Na2CO3", hazards="irritates eyes"),
        NewComponent("sodium hydroxide", 15_000, Measure.MASS, "NaOH", hazards="burns skin and eyes"),
    )  # fmt: skip
    return write(
        session, "working developer", Solution.DEVELOPER,
        NewComponent("stock A", 1, Measure.PART), NewComponent("stock B", 1, Measure.PART), stand_s=300,
    )  # fmt: skip


def powders(session: LabSession, name: str = "powders", expires_on: date | None = None) -> Kit:
    """A hundred grams of each, the carbonate as its monohydrate."""
    contents = [
        NewBottle("metol", 100_000, Measure.MASS, lot="M-17"),
        NewBottle("ascorbic acid", 100_000, Measure.MASS),
        NewBottle("soda", 100_000, Measure.MASS, formula="Na2CO3·H2O", hazards="dust irritates"),
        NewBottle("sodium hydroxide", 100_000, Measure.MASS),
    ]
    return take_in_kit(
        session,
        name=name,
        arrived_on=MORNING.date(),
        expires_on=expires_on,
        contents=contents,
        by="Tomas",
        now=MORNING,
    )
