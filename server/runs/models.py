"""Runs: one plate each, from the box to its verdict, with the run note that students file, and the slip of one left to dry."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlmodel import Field

from server.core.diagnosis import Darkening, Defect
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


class ObjectKind(StrEnum):
    COIN = "coin"
    KEY = "key"
    FIGURE = "figure"
    OTHER = "other"


class ObjectTone(StrEnum):
    PALE = "pale"
    SHINY = "shiny"
    DARK = "dark"


class ReplayColour(StrEnum):
    """The colour of the image under the lamp, in the order of the rainbow."""

    RED = "red"
    ORANGE = "orange"
    YELLOW = "yellow"
    GREEN = "green"
    BLUE = "blue"
    SEVERAL = "several"


# Nobody looked which side the emulsion is on; otherwise the letter of who did.
NOBODY = "nobody"

DEFECT_WORDS = {
    Defect.FOG_VEIL: "fog veil",
    Defect.STAIN: "stain",
    Defect.SCRATCH: "scratch or fingerprint",
    Defect.DARK_BANDS: "dark bands",
    Defect.OBJECT_BLACK: "part of the object black",
    Defect.PEELED: "peeled emulsion",
    Defect.WRONG_COLOUR: "wrong colour or shrunk",
    Defect.EDGE_STRIPES: "edge stripes",
}
DARKENING_WORDS = {
    Darkening.CLEAR: "stayed clear",
    Darkening.PALE: "pale, thin",
    Darkening.NORMAL: "dark and even",
    Darkening.TOO_DARK: "too dark, or too quickly",
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

    `plate_no` counts the group's plates in its rotation, repeats too. `planned_settle_s` and `planned_exposure_s` are what the
    station was set to when the note was begun. `emulsion_by` and `filed_by` are letters of the group's codes, never names; nobody is
    `NOBODY`, not noted is none. `bleach_clear_s` is how long the plate took to clear. `defects` are those that
    were ticked, a line each. `verdict` is 0 to 4 as in `VERDICT_WORDS`.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        UniqueConstraint("section_id", "number"),
        one_of("incident", Incident),
        one_of("object_kind", ObjectKind),
        one_of("object_tone", ObjectTone),
        one_of("darkening", Darkening),
        one_of("replay_colour", ReplayColour),
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
    plate_no: int | None = None
    planned_settle_s: int | None = None
    planned_exposure_s: int | None = None
    emulsion_by: str | None = None
    filed_by: str | None = None
    object_kind: str | None = None
    object_tone: str | None = None
    bleach_clear_s: int | None = None
    incident: str = Incident.NONE
    comment: str = ""
    exposed_at: datetime = instant()
    filed_at: datetime = instant()
    verdict: int | None = None
    verdict_comment: str = ""
    verdict_at: datetime | None = instant(default=None)
    defects: str = Field(default="", sa_column_kwargs={"server_default": text("''")})
    darkening: str | None = None
    replay_colour: str | None = None

    @property
    def awaits_verdict(self) -> bool:
        """A dropped plate is used up and waits for nothing; whoever saved it may rate it all the same."""
        return self.verdict is None and self.incident != Incident.DROPPED

    @property
    def seen_defects(self) -> frozenset[Defect]:
        return frozenset(Defect(line) for line in self.defects.splitlines())


class RunMember(LabOwned, table=True):
    """Who was in the run's group when its note arrived, with which letter: a run stays theirs however groups change later.

    `code` and `was_unsigned`, whether papers were missing, speak for a student who has left the list; `was_lit_only` says that lit
    activities were arranged then.
    """

    __tablename__ = "run_member"
    __table_args__ = (UniqueConstraint("run_id", "letter"),)

    id: int = Field(default=None, primary_key=True)
    run_id: int = Field(foreign_key="run.id", index=True)
    student_id: int | None = Field(default=None, foreign_key="student.id", index=True, ondelete="SET NULL")
    code: str
    letter: str
    was_unsigned: bool
    was_lit_only: bool


class ClaimSlip(LabOwned, table=True):
    """The slip of a plate that was left to dry in a slot of a rack (`place_id`), until it is handed out. One plate a slot."""

    __tablename__ = "claim_slip"
    __table_args__ = (
        UniqueConstraint("run_id"),
        CheckConstraint("slot >= 1", name="slot_from_1"),
        Index(
            "ix_claim_slip_one_plate_a_slot",
            "place_id",
            "slot",
            unique=True,
            sqlite_where=text("handed_out_at IS NULL"),
            postgresql_where=text("handed_out_at IS NULL"),
        ),
    )

    id: int = Field(default=None, primary_key=True)
    run_id: int = Field(foreign_key="run.id")
    place_id: int = Field(foreign_key="place.id", index=True)
    slot: int
    left_at: datetime = instant()
    left_by: str
    handed_out_at: datetime | None = instant(default=None)
    handed_out_by: str = ""
