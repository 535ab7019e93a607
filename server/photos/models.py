"""Photos of developed plates, each of one run."""

from datetime import datetime

from sqlalchemy import CheckConstraint, LargeBinary, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant

# Assumed: the plate from the front, from the side, and a defect or two.
MOST_PHOTOS = 4


class Photo(LabOwned, table=True):
    """A JPEG that was drawn anew here: upright, without metadata. `tablet_id` was made on the tablet: the same id twice is one photo.

    `sha256` is of `jpeg`, in hexadecimal. A removed one stays as a row without its picture, so that a tablet which sends it once
    more does not bring it back.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        CheckConstraint("(removed_at IS NULL) = (jpeg IS NOT NULL)", name="is_there_or_removed"),
        CheckConstraint("width_px > 0 AND height_px > 0", name="has_a_size"),
    )

    id: int = Field(default=None, primary_key=True)
    tablet_id: str
    run_id: int = Field(foreign_key="run.id", index=True)
    jpeg: bytes | None = Field(sa_type=LargeBinary)
    width_px: int
    height_px: int
    sha256: str
    taken_at: datetime = instant()
    kept_at: datetime = instant()
    kept_by: str
    removed_at: datetime | None = instant(default=None)
    removed_by: str = ""
