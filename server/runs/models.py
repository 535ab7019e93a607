"""Runs: one plate each, from the box to its verdict, with the run note that students file."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class Incident(StrEnum):
    NONE = "none"
    MOVED = "moved"
    LIGHT = "light"
    DROPPED = "dropped"


INCIDENT_WORDS = {
    Incident.NONE: "none",
    Incident.MOVED: "something moved",
    Incident.LIGHT: "stray light",
    Incident.DROPPED: "plate dropped",
}

# Given when the plate is dry, under the same lamp and at the angle of the exposure. Teaching labs rate in four or five steps; the words are ours.
VERDICT_WORDS = {
    0: "no image",
    1: "only under a laser or at one angle",
    2: "dim but recognisable",
    3: "clear in ordinary spot light",
    4: "bright, deep and clean",
}


class Run(LabOwned, table=True):
    """One plate. `tablet_id` was made on the tablet: the same id twice is one run.

    `verdict` is 0 to 4 as in `VERDICT_WORDS`.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        UniqueConstraint("section_id", "number"),
        one_of("incident", Incident),
        CheckConstraint("verdict IS NULL OR verdict BETWEEN 0 AND 4", name="verdict_from_0_to_4"),
    )

    id: int = Field(default=None, primary_key=True)
    tablet_id: str
    section_id: int = Field(foreign_key="section.id", index=True)
    group_id: int = Field(foreign_key="student_group.id", index=True)
    number: int
    rotation_id: int | None = Field(default=None, foreign_key="rotation.id", index=True)
    plate_box_id: int = Field(foreign_key="plate_box.id", index=True)
    place_id: int = Field(foreign_key="place.id", index=True)
    charge_id: int | None = Field(default=None, foreign_key="charge.id", index=True)
    settle_s: int
    exposure_s: int
    develop_s: int | None = None
    incident: str = Incident.NONE
    comment: str = ""
    exposed_at: datetime = instant()
    filed_at: datetime = instant()
    verdict: int | None = None
    verdict_comment: str = ""
    verdict_at: datetime | None = instant(default=None)
