"""Recipes and their editions. An edition never changes; a changed recipe is a new one, and batches keep theirs."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.core.recipe import Basis, Measure
from server.data.columns import LabOwned, instant, one_of


class Water(StrEnum):
    """The least that the water must be."""

    TAP = "tap"
    DEIONISED = "deionised"
    DISTILLED = "distilled"


class Recipe(LabOwned, table=True):
    """A solution that the lab makes, by the name on its bottle."""

    __table_args__ = (UniqueConstraint("lab_id", "name"),)

    id: int = Field(default=None, primary_key=True)
    name: str


class RecipeEdition(LabOwned, table=True):
    """How the solution was made from `made_at` on. `stand_s` is how long it stands after mixing before it is used."""

    __tablename__ = "recipe_edition"
    __table_args__ = (
        UniqueConstraint("recipe_id", "number"),
        one_of("basis", Basis),
        one_of("water", Water),
        CheckConstraint("volume_ul > 0", name="has_a_volume"),
        CheckConstraint("start_ul >= 0", name="start_not_negative"),
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
    note: str = ""
    made_at: datetime = instant()
    made_by: str


class RecipeComponent(LabOwned, table=True):
    """One line of an edition: milligrams, microlitres or parts in the edition's volume, in the order of dissolving."""

    __tablename__ = "recipe_component"
    __table_args__ = (
        UniqueConstraint("edition_id", "position"),
        one_of("measure", Measure),
        CheckConstraint("amount > 0", name="has_an_amount"),
    )

    id: int = Field(default=None, primary_key=True)
    edition_id: int = Field(foreign_key="recipe_edition.id", index=True)
    position: int
    name: str
    amount: int
    measure: str
    formula: str = ""
    hazards: str = ""
