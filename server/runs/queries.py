"""Reads of runs and of what became of them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import case, col, func, select

from server.charges.queries import get_charge
from server.core.plate_box import may_have_been_out, reaches
from server.core.reserve import Success, success
from server.data.session import LabSession
from server.people.queries import list_section_names
from server.plates.models import LightIncident
from server.plates.queries import list_light_incidents, list_plate_boxes, list_run_entries
from server.refusal import NotFound
from server.rotations.queries import list_published
from server.runs.models import Run
from server.stations.queries import get_place

# Assumed: a plate counts as good from "clear in ordinary spot light" on.
GOOD_FROM = 3
# Assumed: how long after its planned finish a rotation still takes run notes.
RUNS_LATE = timedelta(hours=2)


@dataclass(frozen=True)
class Verdicts:
    """`good` of `rated` runs came out well; `waiting` have no verdict yet."""

    good: int = 0
    rated: int = 0
    waiting: int = 0


def find_run_by_tablet_id(session: LabSession, tablet_id: str) -> Run | None:
    return session.exec(select(Run).where(Run.tablet_id == tablet_id)).first()


def get_run(session: LabSession, run_id: int) -> Run:
    run = session.get(Run, run_id)
    if run is None:
        raise NotFound("There is no such run in this lab. Choose one from Runs.")
    return run


def get_run_of_group(session: LabSession, run_id: int, group_id: int) -> Run:
    """The run, for a tablet that joined the group; another group's run is none of its business."""
    run = session.get(Run, run_id)
    if run is None or run.group_id != group_id:
        raise NotFound("This is no run of your group. Go back to your run notes and choose one of the list.")
    return run


def list_runs(session: LabSession, section_id: int, *, at_most: int | None = None) -> Sequence[Run]:
    """A section's runs, newest first."""
    runs = select(Run).where(Run.section_id == section_id).order_by(col(Run.number).desc())
    return session.exec(runs if at_most is None else runs.limit(at_most)).all()


def list_runs_of_group(session: LabSession, group_id: int) -> Sequence[Run]:
    """A group's runs, newest first."""
    return session.exec(select(Run).where(Run.group_id == group_id).order_by(col(Run.number).desc())).all()


def list_rated_runs_of_box(session: LabSession, plate_box_id: int) -> Sequence[Run]:
    """The runs with plates of one box that have their verdict, oldest first."""
    runs = select(Run).where(Run.plate_box_id == plate_box_id, col(Run.verdict).is_not(None))
    return session.exec(runs.order_by(col(Run.exposed_at), col(Run.id))).all()


def list_runs_of_rotations(session: LabSession) -> Sequence[Run]:
    """The runs that belong to a rotation, in the order of exposure."""
    runs = select(Run).where(col(Run.rotation_id).is_not(None))
    return session.exec(runs.order_by(col(Run.exposed_at), col(Run.id))).all()


def find_last_number(session: LabSession, section_id: int) -> int:
    """The highest run number of the section, 0 before its first run."""
    return session.exec(select(func.max(Run.number)).where(Run.section_id == section_id)).one() or 0


def count_verdicts(session: LabSession) -> Mapping[int, Verdicts]:
    """How the runs of each section that has any came out, by the section's id."""
    good = func.sum(case((col(Run.verdict) >= GOOD_FROM, 1), else_=0))
    counted = session.exec(
        select(Run.section_id, good, func.count(col(Run.verdict)), func.count()).group_by(col(Run.section_id))
    ).all()
    return {
        section_id: Verdicts(int(good_), rated, runs - rated) for section_id, good_, rated, runs in counted
    }


def find_success(session: LabSession) -> Success:
    """How often a plate comes out well in this lab, from every rated run."""
    found = count_verdicts(session).values()
    return success(good=sum(one.good for one in found), rated=sum(one.rated for one in found))


def find_rotation_at(session: LabSession, section_id: int, instant: datetime) -> int | None:
    """The section's published rotation that was going on at `instant`, or should have ended shortly before: notes are
    written while the last plates dry, and classes run late.
    """
    begun = list_published(session, after=instant - RUNS_LATE, before=instant + timedelta(microseconds=1))
    own = [rotation.rotation_id for rotation in begun if rotation.section_id == section_id]
    return own[-1] if own else None


def list_light_over_runs(session: LabSession, runs: Iterable[Run]) -> Mapping[int, Sequence[LightIncident]]:
    """The light incidents that may have reached the plates of these runs between loading and developing, by the run's id.

    Light reaches a plate in the light zone of its station or of its developer. Runs that no light reached are left out.
    """
    incidents = list_light_incidents(session)
    if not incidents:
        return {}
    found = {run.id: [one for one in incidents if _may_have_reached(session, one, run)] for run in runs}
    return {run_id: reached for run_id, reached in found.items() if reached}


def _may_have_reached(session: LabSession, incident: LightIncident, run: Run) -> bool:
    if not may_have_been_out(
        noted_at=run.exposed_at,
        settle_s=run.settle_s,
        exposure_s=run.exposure_s,
        develop_s=run.develop_s,
        minute=incident.lit_at,
    ):
        return False
    places = [run.place_id]
    if run.charge_id is not None:
        places.append(get_charge(session, run.charge_id).place_id)
    zones = {get_place(session, place_id).light_zone_id for place_id in places}
    return any(reaches(incident.light_zone_id, zone_id) for zone_id in zones)


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each run that did not take exactly one plate from its box, and for each plate that went to no run."""
    runs = {run.id: run for run in session.exec(select(Run).order_by(col(Run.id))).all()}
    sections, boxes = list_section_names(session), {box.id: box.name for box in list_plate_boxes(session)}
    taken: dict[int, int] = dict.fromkeys(runs, 0)
    strays = []
    for entry in list_run_entries(session):
        run = runs.get(entry.run_id or 0)
        if run is None or run.plate_box_id != entry.plate_box_id:
            strays.append(
                f"A plate of plate box “{boxes[entry.plate_box_id]}” went to a run that did not take it."
            )
        else:
            taken[run.id] -= entry.change
    return [
        f"Run {run.number} of “{sections[run.section_id]}” took {taken[run.id]} plates from "
        f"plate box “{boxes[run.plate_box_id]}”, not 1."
        for run in runs.values()
        if taken[run.id] != 1
    ] + strays
