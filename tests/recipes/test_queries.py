"""How a lab usually makes its solutions."""

from datetime import UTC, datetime

from server.core.recipe import Basis, Measure
from server.data.session import LabSession
from server.recipes.actions import add_recipe, write_edition
from server.recipes.forms import NewComponent
from server.recipes.models import Recipe, Solution, Water
from server.recipes.queries import usual_formula

NOW = datetime(2027, 2, 16, 9, 0, tzinfo=UTC)


def _working_developer(session: LabSession) -> Recipe:
    recipe = add_recipe(session, name="weak developer", solution=Solution.DEVELOPER)
    write_edition(
        session,
        recipe.id,
        (NewComponent("stock A", 1, Measure.PART), NewComponent("stock B", 2, Measure.PART)),
        volume_ul=1_000_000,
        start_ul=0,
        basis=Basis.MADE_UP_TO,
        water=Water.TAP,
        temperature_decicelsius=None,
        stand_s=600,
        life_s=4 * 3600,
        note="",
        by="Tomas",
        now=NOW,
    )
    return recipe


def test_without_a_recipe_the_developer_is_equal_parts_of_a_and_b(session: LabSession) -> None:
    """Source: a student report of Stony Brook's laser teaching center (2003) mixes them 1+1; the five minutes are common practice."""
    usual = usual_formula(session, Solution.DEVELOPER)

    assert usual.edition is None
    assert [(part.name, part.amount) for part in usual.formula.components] == [("stock A", 1), ("stock B", 1)]
    assert (usual.formula.parts, usual.life_s, usual.stand_s) == (2, None, 300)


def test_without_a_recipe_the_bleach_is_used_as_it_stands(session: LabSession) -> None:
    usual = usual_formula(session, Solution.BLEACH)

    assert [(part.name, part.amount) for part in usual.formula.components] == [("bleach", 1)]
    assert usual.stand_s == 0


def test_the_lab_s_own_recipe_takes_its_place(session: LabSession) -> None:
    recipe = _working_developer(session)
    usual = usual_formula(session, Solution.DEVELOPER)

    assert usual.name == recipe.name
    assert usual.edition is not None
    assert usual.formula.parts == 3
    assert (usual.life_s, usual.stand_s) == (4 * 3600, 600)


def test_a_recipe_that_nothing_is_written_in_yet_takes_no_place(session: LabSession) -> None:
    add_recipe(session, name="some day", solution=Solution.DEVELOPER)

    assert usual_formula(session, Solution.DEVELOPER).edition is None
