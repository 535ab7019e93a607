"""What stands in the trays."""

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant


class Charge(LabOwned, table=True):
    """What is in a tray now, until it is emptied. `plates` counts the plates that went through it."""

    __table_args__ = (
        CheckConstraint("volume_ul > 0", name="has_a_volume"),
        CheckConstraint("plates >= 0", name="plates_not_negative"),
    )

    id: int = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    place_id: int = Field(foreign_key="place.id", index=True)
    volume_ul: int
    plates: int = 0
    plates_at_most: int
    poured_at: datetime = instant()
    emptied_at: datetime | None = instant(default=None)
