"""Which labels were printed."""

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant


class PrintedLabel(LabOwned, table=True):
    """A label for one bottle of a batch, one tray, one bottle of a kit or one waste container. `place` is its number on the sheet, from 1."""

    __tablename__ = "printed_label"
    __table_args__ = (
        CheckConstraint(
            "CASE WHEN batch_id IS NULL THEN 0 ELSE 1 END + CASE WHEN charge_id IS NULL THEN 0 ELSE 1 END"
            " + CASE WHEN bottle_id IS NULL THEN 0 ELSE 1 END + CASE WHEN container_id IS NULL THEN 0 ELSE 1 END = 1",
            name="is_of_one_thing",
        ),
        CheckConstraint("place >= 1", name="has_a_place"),
    )

    id: int = Field(default=None, primary_key=True)
    batch_id: int | None = Field(default=None, foreign_key="batch.id", index=True)
    charge_id: int | None = Field(default=None, foreign_key="charge.id", index=True)
    bottle_id: int | None = Field(default=None, foreign_key="bottle.id", index=True)
    container_id: int | None = Field(default=None, foreign_key="waste_container.id", index=True)
    format: str
    place: int
    printed_at: datetime = instant()
    printed_by: str
