"""“Tuesday” marked by a small rubric, after a class at nine whose shutters were planned to close at 09:13:15 and 09:19:15."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from uuid import uuid4

from server.core.rubric import By, Criterion, Level
from server.data.session import LabSession
from server.marks.actions import add_rubric, give_level, mark_by, write_edition
from server.marks.forms import NewCriterion
from server.marks.queries import KeptCriterion, find_marking, list_criteria
from server.people.queries import list_groups, list_students
from server.runs.actions import file_run
from server.runs.models import Incident
from server.stations.queries import list_stations
from tests.callings.calls import NINE, at, published
from tests.casts import MORNING


def asked(name: str, weight: int, *points: int, by: By = By.STUDENT) -> NewCriterion:
    steps = tuple(Level(Fraction(each), f"{each} points’ worth") for each in points)
    return NewCriterion(Criterion(name, Fraction(weight), steps, by))


# Berkeley's weighting (experimentationlab.berkeley.edu/holography): 30 % theory, 60 % technique, 10 % analysis.
LAB = (
    asked("theory", 30, 0, 1, 2, 3, 4),
    asked("technique", 60, 0, 1, 2, by=By.GROUP),
    asked("analysis", 10, 0, 5),
)


def marked_by_a_rubric(
    session: LabSession, section_id: int, criteria: Sequence[NewCriterion] = LAB, *, name: str = "lab"
) -> int:
    """The rubric's id."""
    rubric = add_rubric(session, name=name)
    write_edition(session, rubric.id, criteria, note="", by="Mira", now=MORNING)
    mark_by(session, section_id, rubric_id=rubric.id, notes_within_s=1800, by="Mira", now=MORNING)
    return rubric.id


def criteria_of(session: LabSession, section_id: int) -> dict[str, KeptCriterion]:
    """What the section is marked by, by the criterion's name."""
    marking = find_marking(session, section_id)
    assert marking is not None
    return {kept.row.name: kept for kept in list_criteria(session, marking.edition_id)}


def tap(
    session: LabSession,
    section_id: int,
    student_id: int,
    name: str,
    points: int | None,
    *,
    now: datetime = NINE,
) -> int:
    """The level of so many points by the criterion of this name."""
    kept = criteria_of(session, section_id)[name]
    levels = {level.points_hundredths // 100: level.id for level in kept.levels}
    return give_level(
        session,
        section_id,
        student_id,
        criterion_id=kept.row.id,
        level_id=None if points is None else levels[points],
        by="Mira",
        now=now,
    )


def students_of(session: LabSession, section_id: int) -> list[int]:
    """Ada and Bo (G1), Cleo and Dov (G2), Edda and Finn (G3)."""
    return [student.id for student in list_students(session, section_id)]


@dataclass(frozen=True)
class Held:
    """A class that was held."""

    section_id: int
    rotation_id: int

    def run(
        self,
        session: LabSession,
        minutes: float,
        *,
        group: int = 0,
        arrived: float | None = None,
        outside: bool = False,
        plate_no: int | None = None,
        filed_by: str | None = None,
        emulsion_by: str | None = None,
    ) -> int:
        """A note written so many minutes after nine, which arrived then or later; returns the run's id."""
        return file_run(
            session,
            tablet_id=str(uuid4()),
            section_id=self.section_id,
            group_id=list_groups(session, self.section_id)[group].id,
            plate_box_id=1,
            place_id=list_stations(session)[0].id,
            charge_id=None,
            rotation_id=None if outside else self.rotation_id,
            settle_s=180,
            exposure_s=45,
            develop_s=None,
            plate_no=plate_no,
            filed_by=filed_by,
            emulsion_by=emulsion_by,
            incident=Incident.NONE,
            comment="",
            exposed_at=at(minutes),
            by="G1",
            now=at(minutes if arrived is None else arrived),
        ).id


def class_held(session: LabSession, section_id: int, *, rounds: int = 2) -> Held:
    """Each of the three pairs was to make one plate in each round."""
    return Held(section_id, published(session, section_id, rounds=rounds))
