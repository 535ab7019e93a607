"""What stands in the trays, the plates that went through it, and what an instructor allowed in spite of a limit."""

from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, not_negative, one_of
from server.recipes.models import Solution
from server.stations.models import Bath

# The solution that a tray takes, by its bath; a rinse or a wash is no charge.
SOLUTION_IN = {Bath.DEVELOPER: Solution.DEVELOPER, Bath.BLEACH: Solution.BLEACH}


class Charge(LabOwned, table=True):
    """What is in a tray until it is emptied. Its parts are the batches' entries that name it.

    `volume_ul` is everything that was poured. `plates` and `area_mm2` count the plates that went through it and their area;
    `area_at_most_mm2` is the capacity of what was poured, `allowed_mm2` what an instructor allowed beyond it.
    """

    __table_args__ = (
        one_of("solution", SOLUTION_IN.values()),
        CheckConstraint("volume_ul > 0", name="has_a_volume"),
        CheckConstraint("plates >= 0", name="plates_not_negative"),
        not_negative("area_mm2"),
        not_negative("allowed_mm2"),
    )

    id: int = Field(default=None, primary_key=True)
    place_id: int = Field(foreign_key="place.id", index=True)
    solution: str
    volume_ul: int
    plates: int = 0
    area_mm2: int = Field(default=0, sa_type=BigInteger)
    area_at_most_mm2: int = Field(sa_type=BigInteger)
    allowed_mm2: int = Field(default=0, sa_type=BigInteger)
    poured_at: datetime = instant()
    emptied_at: datetime | None = instant(default=None)

    @property
    def room_mm2(self) -> int:
        """What is left of its capacity; less than nothing where more went through, which a late note can tell."""
        return self.area_at_most_mm2 + self.allowed_mm2 - self.area_mm2


class PlateThrough(LabOwned, table=True):
    """One plate that went through a charge: when it was in it, and when that was entered."""

    __tablename__ = "plate_through"
    __table_args__ = (not_negative("area_mm2"),)

    id: int = Field(default=None, primary_key=True)
    charge_id: int = Field(foreign_key="charge.id", index=True)
    area_mm2: int = Field(sa_type=BigInteger)
    through_at: datetime = instant()
    entered_at: datetime = instant()


class MorePlates(LabOwned, table=True):
    """An instructor's override: so many plates of one size through a charge beyond its capacity, and why."""

    __tablename__ = "more_plates"
    __table_args__ = (
        CheckConstraint("plates > 0", name="some_plates"),
        CheckConstraint("area_mm2 > 0", name="adds_area"),
    )

    id: int = Field(default=None, primary_key=True)
    charge_id: int = Field(foreign_key="charge.id", index=True)
    plates: int
    area_mm2: int = Field(sa_type=BigInteger)
    reason: str
    allowed_at: datetime = instant()
    allowed_by: str


class EarlyPouring(LabOwned, table=True):
    """An instructor's override of a batch's standing: it may be poured before it has stood as long as its recipe says, and why."""

    __tablename__ = "early_pouring"

    id: int = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", unique=True)
    reason: str
    allowed_at: datetime = instant()
    allowed_by: str
