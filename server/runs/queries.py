"""Reads of runs and of what became of them."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import case, col, func, select

from server.charges.queries import list_tray_charges, list_trays_of_charges
from server.core.diagnosis import Darkening, Diagnosis, Sign, diagnose, signs_of
from server.core.moments import day_at
from server.core.plate_box import may_have_been_out, reaches
from server.core.rack import Slot
from server.core.reserve import Success, success
from server.data.session import LabSession
from server.people.queries import get_group, list_codes, list_section_names, list_students
from server.photos.models import Photo
from server.plates.models import LightIncident
from server.plates.queries import list_light_incidents, list_plate_boxes, list_run_entries
from server.refusal import NotFound
from server.rotations.models import StepPlace, StepTime
from server.rotations.queries import get_plan, list_published, list_steps, list_visits
from server.runs.models import NOBODY, ClaimSlip, Incident, ObjectTone, Run, RunMember
from server.stations.models import Place, PlaceKind
from server.stations.queries import list_places
from server.students.queries import list_photo_withdrawals

# Assumed: a plate counts as good from "clear in ordinary spot light" on.
GOOD_FROM = 3
# Assumed: how long after its planned finish a rotation still takes run notes.
RUNS_LATE = timedelta(hours=2)


@dataclass(frozen=True)
class Verdicts:
    """`good` of `rated` runs came out well; `waiting` have no verdict yet; `dropped` wait for none."""

    good: int = 0
    rated: int = 0
    waiting: int = 0
    dropped: int = 0

    @property
    def runs(self) -> int:
        return self.rated + self.waiting + self.dropped


@dataclass(frozen=True)
class NextPlate:
    """The plate of a group that its next note is about. `of` plates are planned for it; without a plan it has no number.

    A repeat is not planned. `station` is the planned one's name, `exposure_s` and `develop_s` are the planned times in seconds, none where nothing is planned.
    """

    number: int | None
    of: int
    station: str | None = None
    exposure_s: int | None = None
    develop_s: int | None = None


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


def get_run_of_note(session: LabSession, tablet_id: str, group_id: int) -> Run:
    """The run whose note was given that id on a tablet of the group."""
    run = find_run_by_tablet_id(session, tablet_id)
    if run is None or run.group_id != group_id:
        raise NotFound(
            "The run note that this belongs to has not arrived. Send the note first; if it was thrown away, throw this away too."
        )
    return run


def list_runs(session: LabSession, section_id: int, *, at_most: int | None = None) -> Sequence[Run]:
    """A section's runs, newest first."""
    runs = select(Run).where(Run.section_id == section_id).order_by(col(Run.number).desc())
    return session.exec(runs if at_most is None else runs.limit(at_most)).all()


def list_runs_left(session: LabSession) -> Sequence[tuple[ClaimSlip, Run]]:
    """The plates that stand in a rack, by rack and slot."""
    here = select(ClaimSlip, Run).join(Run, col(Run.id) == col(ClaimSlip.run_id))
    here = here.where(col(ClaimSlip.handed_out_at).is_(None))
    return session.exec(here.order_by(col(ClaimSlip.place_id), col(ClaimSlip.slot))).all()


def list_handed_out(session: LabSession, most: int) -> Sequence[tuple[ClaimSlip, Run]]:
    """The plates that were handed out last, at most so many, the latest first."""
    gone = select(ClaimSlip, Run).join(Run, col(Run.id) == col(ClaimSlip.run_id))
    gone = gone.where(col(ClaimSlip.handed_out_at).is_not(None))
    latest = gone.order_by(col(ClaimSlip.handed_out_at).desc(), col(ClaimSlip.id).desc())
    return session.exec(latest.limit(most)).all()


def list_members(session: LabSession, section_id: int) -> Mapping[int, Sequence[RunMember]]:
    """Who was in the group of each of a section's runs, by the run's id and in the order of their letters."""
    found: dict[int, list[RunMember]] = {}
    for member in session.exec(
        select(RunMember)
        .join(Run, col(Run.id) == col(RunMember.run_id))
        .where(Run.section_id == section_id)
        .order_by(col(RunMember.letter), col(RunMember.id))
    ).all():
        found.setdefault(member.run_id, []).append(member)
    return found


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
    lost = select(Run.section_id, func.count()).where(
        col(Run.verdict).is_(None), Run.incident == Incident.DROPPED
    )
    dropped = dict(session.exec(lost.group_by(col(Run.section_id))).all())
    return {
        section_id: Verdicts(
            int(good_), rated, runs - rated - dropped.get(section_id, 0), dropped.get(section_id, 0)
        )
        for section_id, good_, rated, runs in counted
    }


def count_verdicts_of(runs: Sequence[Run]) -> Verdicts:
    """How these runs came out."""
    rated = [run for run in runs if run.verdict is not None]
    waiting = sum(run.awaits_verdict for run in runs)
    good = sum((run.verdict or 0) >= GOOD_FROM for run in rated)
    return Verdicts(good, len(rated), waiting, len(runs) - len(rated) - waiting)


def list_veiled(session: LabSession) -> Sequence[Run]:
    """The runs with photos that are shown to nobody, because somebody of the group took the consent back."""
    groups = list_photo_withdrawals(session)
    if not groups:
        return ()
    pictured = select(Photo.run_id).where(col(Photo.removed_at).is_(None))
    return session.exec(
        select(Run)
        .where(col(Run.group_id).in_(groups), col(Run.id).in_(pictured))
        .order_by(col(Run.section_id), col(Run.number))
    ).all()


def list_waiting(session: LabSession) -> Sequence[Run]:
    """The lab's runs that wait for their verdict, by section and number."""
    waiting = select(Run).where(col(Run.verdict).is_(None), Run.incident != Incident.DROPPED)
    return session.exec(waiting.order_by(col(Run.section_id), col(Run.number))).all()


def is_verdict_due(run: Run, now: datetime, zone: str) -> bool:
    """A plate is dry overnight: its verdict is due from the day after its exposure on, by the lab's clock."""
    return run.awaits_verdict and day_at(run.exposed_at, zone) < day_at(now, zone)


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


def find_next_plate(session: LabSession, group_id: int, rotation_id: int | None) -> NextPlate:
    """The first plate of the group's plan that no note is about yet; after them all, one more."""
    if rotation_id is None:
        return NextPlate(None, 0)
    noted = {run.plate_no for run in list_runs_of_group(session, group_id) if run.rotation_id == rotation_id}
    plan, steps = get_plan(session, rotation_id), list_steps(session, rotation_id)
    exposing = {step.name for step in steps if step.time_from == StepTime.EXPOSURE}
    developing = {step.name for step in steps if step.at == StepPlace.DEVELOPER}
    visits = [] if plan is None else list_visits(session, plan.id, group_id)
    exposures = {visit.pass_no: visit for visit in visits if visit.step in exposing}
    number = next((number for number in sorted(exposures) if number not in noted), None)
    if number is None:
        return NextPlate(max([len(exposures), *(one for one in noted if one)], default=0) + 1, len(exposures))
    exposure = exposures[number]
    developed = [visit for visit in visits if visit.pass_no == number and visit.step in developing]
    return NextPlate(
        number,
        len(exposures),
        exposure.place,
        round((exposure.ends_at - exposure.starts_at).total_seconds()),
        round(sum((visit.ends_at - visit.starts_at).total_seconds() for visit in developed)) or None,
    )


def list_letters(session: LabSession, group_id: int) -> Mapping[str, str]:
    """The codes of a group's students by their letters, in order."""
    section_id = get_group(session, group_id).section_id
    codes = list_codes(session, section_id)
    own = [student for student in list_students(session, section_id) if student.group_id == group_id]
    return {student.letter: codes[student.id] for student in sorted(own, key=lambda one: one.letter)}


def list_light_over_runs(session: LabSession, runs: Iterable[Run]) -> Mapping[int, Sequence[LightIncident]]:
    """The light incidents that may have reached the plates of these runs between loading and developing, by the run's id.

    Light reaches a plate in the light zone of its station or of its developer. Runs that no light reached are left out.
    """
    incidents = list_light_incidents(session)
    if not incidents:
        return {}
    zones = {place.id: place.light_zone_id for place in list_places(session)}
    trays = list_trays_of_charges(session)
    found = {}
    for run in runs:
        own = {zones[run.place_id]} | ({zones[trays[run.charge_id]]} if run.charge_id is not None else set())
        found[run.id] = [one for one in incidents if _may_have_reached(one, run, own)]
    return {run_id: reached for run_id, reached in found.items() if reached}


def _may_have_reached(incident: LightIncident, run: Run, zones: Collection[int | None]) -> bool:
    return may_have_been_out(
        noted_at=run.exposed_at,
        settle_s=run.settle_s,
        exposure_s=run.exposure_s,
        develop_s=run.develop_s,
        minute=incident.lit_at,
    ) and any(reaches(incident.light_zone_id, zone_id) for zone_id in zones)


def signs_seen(run: Run) -> frozenset[Sign]:
    """What the run's own note and verdict speak of."""
    found = set(
        signs_of(
            verdict=run.verdict,
            defects=run.seen_defects,
            darkening=None if run.darkening is None else Darkening(run.darkening),
            exposure_s=run.exposure_s,
            planned_exposure_s=run.planned_exposure_s,
            settle_s=run.settle_s,
            planned_settle_s=run.planned_settle_s,
        )
    )
    incidents = {
        Incident.MOVED: Sign.MOVED,
        Incident.LIGHT: Sign.LIGHT,
        Incident.DROPPED: Sign.DROPPED,
    }
    known = {
        incidents.get(Incident(run.incident)),
        Sign.SIDE_UNCHECKED if run.emulsion_by == NOBODY else None,
        Sign.OBJECT_DARK if run.object_tone == ObjectTone.DARK else None,
    }
    return frozenset(found | {sign for sign in known if sign is not None})


def find_diagnosis(session: LabSession, run: Run) -> Diagnosis | None:
    """Why the plate came out as it did; see `list_diagnoses`."""
    return list_diagnoses(session, [run], list_light_over_runs(session, [run])).get(run.id)


def list_diagnoses(session: LabSession, runs: Iterable[Run], lit: Collection[int]) -> Mapping[int, Diagnosis]:
    """Why plates came out as they did, by the run's id: from its note, the light in the room and its developer. There is none before
    a verdict, or where a plate came out well. `lit` are the ids of the runs that a light incident may have reached.
    """
    poor = [run for run in runs if _asks_why(run)]
    developers = list_tray_charges(session, {run.charge_id for run in poor if run.charge_id is not None})
    found = {}
    for run in poor:
        signs = set(signs_seen(run))
        if run.id in lit:
            signs.add(Sign.LIGHT_REACHED)
        if run.charge_id is not None:
            developer = developers[run.charge_id].at(run.exposed_at)
            if developer.ends_at <= run.exposed_at:
                signs.add(Sign.DEVELOPER_DEAD)
            if developer.overrides:
                signs.add(Sign.DEVELOPER_ALLOWED)
        found[run.id] = diagnose(signs, exposure_s=run.exposure_s, planned_exposure_s=run.planned_exposure_s)
    return found


def _asks_why(run: Run) -> bool:
    if run.verdict is None:
        return run.incident == Incident.DROPPED
    return run.verdict < GOOD_FROM or bool(run.defects)


def list_racks(session: LabSession) -> Sequence[Place]:
    """The drying racks in order."""
    return [
        place for place in list_places(session) if place.kind == PlaceKind.RACK and not place.out_of_order
    ]


def find_slip(session: LabSession, run_id: int) -> ClaimSlip | None:
    return session.exec(select(ClaimSlip).where(ClaimSlip.run_id == run_id)).first()


def list_slips(session: LabSession) -> Sequence[ClaimSlip]:
    """Every slip, those of plates that were handed out too, in the order of leaving."""
    return session.exec(select(ClaimSlip).order_by(col(ClaimSlip.id))).all()


def list_rack_names(session: LabSession) -> Mapping[int, str]:
    """What tells the slots of a rack from those of another, by the rack's id: its name, or nothing where there is one rack."""
    racks = [place for place in list_places(session) if place.kind == PlaceKind.RACK]
    return {rack.id: rack.name if len(racks) > 1 else "" for rack in racks}


def list_slots(session: LabSession) -> Mapping[int, Slot]:
    """The slots in which plates stand, by the run's id."""
    racks = list_rack_names(session)
    return {slip.run_id: Slot(slip.slot, racks[slip.place_id]) for slip in list_slips_left(session)}


def list_slips_left(session: LabSession) -> Sequence[ClaimSlip]:
    """The slips of the plates that stand in a rack, by rack and slot."""
    here = select(ClaimSlip).where(col(ClaimSlip.handed_out_at).is_(None))
    return session.exec(here.order_by(col(ClaimSlip.place_id), col(ClaimSlip.slot))).all()


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
