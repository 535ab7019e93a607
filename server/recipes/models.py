"""Recipes and their editions. An edition never changes; a changed recipe is a new one, and batches keep theirs."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlmodel import Field

from server.core.recipe import Basis, Measure
from server.data.columns import LabOwned, instant, one_of


class Solution(StrEnum):
    """What a recipe makes, by the part it plays in processing."""

    DEVELOPER = "working developer"
    BLEACH = "bleach"
    STOCK = "stock solution"
    OTHER = "other bath"


# The solutions that plans and the mixing form begin with.
PLANNED_WITH = (Solution.DEVELOPER, Solution.BLEACH)


class Water(StrEnum):
    """The least that the water must be."""

    TAP = "tap"
    DEIONISED = "deionised"
    DISTILLED = "distilled"


class Recipe(LabOwned, table=True):
    """A solution that the lab makes, by the name on its bottle.

    `usual` marks the recipe that plans and the mixing form begin with: at most one for each solution of `PLANNED_WITH`.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        one_of("solution", Solution),
        Index(
            "ix_recipe_usual",
            "lab_id",
            "solution",
            unique=True,
            sqlite_where=text("usual"),
            postgresql_where=text("usual"),
        ),
    )

    id: int = Field(default=None, primary_key=True)
    name: str
    solution: str = Solution.OTHER
    usual: bool = False


class RecipeEdition(LabOwned, table=True):
    """How the solution was made from `made_at` on.

    `stand_s` is how long it stands after mixing before it is used, `life_s` how long it keeps; None leaves that to the lab's usual
    quantities.
    """

    __tablename__ = "recipe_edition"
    __table_args__ = (
        UniqueConstraint("recipe_id", "number"),
        one_of("basis", Basis),
        one_of("water", Water),
        CheckConstraint("volume_ul > 0", name="has_a_volume"),
        CheckConstraint("start_ul >= 0", name="start_not_negative"),
        CheckConstraint("life_s > 0", name="has_a_life"),
    )

    id: int = Field(default=None, primary_key=True)
    recipe_id: int = Field(foreign_key="recipe.id", index=True)
    number: int
    volume_ul: int
    start_ul: int
    basis: str = Basis.MADE_UP_TO
    water: str = Water.TAP
    temperature_decicelsius: int | None = None
    stand_s: int = 0
    life_s: int | None = None
    note: str = ""
    made_at: datetime = instant()
    made_by: str


class RecipeComponent(LabOwned, table=True):
    """One line of an edition: milligrams, microlitres or parts in the edition's volume, in the order of dissolving.

    `purity_ppm` is the purity called for, a million being pure. `density_ug_per_ul` is a liquid's, a thousand being a gram per
    millilitre; None where nobody said.
    """

    __tablename__ = "recipe_component"
    __table_args__ = (
        UniqueConstraint("edition_id", "position"),
        one_of("measure", Measure),
        CheckConstraint("amount > 0", name="has_an_amount"),
        CheckConstraint("purity_ppm BETWEEN 1 AND 1000000", name="purity_is_a_share"),
        CheckConstraint("density_ug_per_ul > 0", name="has_a_density"),
    )

    id: int = Field(default=None, primary_key=True)
    edition_id: int = Field(foreign_key="recipe_edition.id", index=True)
    position: int
    name: str
    amount: int
    measure: str
    formula: str = ""
    purity_ppm: int = 1_000_000
    density_ug_per_ul: int | None = None
    hazards: str = ""
