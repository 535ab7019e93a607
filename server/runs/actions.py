"""Filing a run note and giving its verdict."""

from collections.abc import Iterable
from datetime import datetime

from sqlmodel import select

from server.charges.actions import count_plate_through
from server.charges.queries import get_charge
from server.core.diagnosis import Darkening, Defect
from server.core.rack import slot_name
from server.core.working_solution import plate_area_mm2
from server.data.session import LabSession
from server.people.models import Section
from server.people.queries import day_in_lab, get_group, list_codes, list_students
from server.plates.actions import draw_plates
from server.plates.models import PlateBox, PlateEntryKind
from server.plates.queries import get_plate_box
from server.refusal import NotFound, Refusal
from server.runs.models import (
    NOBODY,
    ClaimSlip,
    Incident,
    ObjectKind,
    ObjectTone,
    ReplayColour,
    Run,
    RunMember,
)
from server.runs.queries import (
    find_last_number,
    find_run_by_tablet_id,
    find_slip,
    list_letters,
    list_slips_left,
)
from server.stations.models import Bath, Place, PlaceKind
from server.stations.queries import get_place
from server.students.queries import list_lit_only, list_unsigned


def _hold_section(session: LabSession, section_id: int) -> None:
    """Keep the section from others until the transaction ends: two notes at once must not get one number."""
    held = session.exec(select(Section.id).where(Section.id == section_id).with_for_update(key_share=True))
    if held.one_or_none() is None:
        raise NotFound("There is no such section in this lab. Join again with the class code.")


def _hold_run(session: LabSession, run_id: int) -> Run:
    """The run as it is now, kept from others until the transaction ends: its group has two tablets."""
    run = session.hold(Run, run_id)
    if run is None:
        raise NotFound("There is no such run in this lab. Choose one from Runs.")
    return run


def _station(session: LabSession, place_id: int) -> Place:
    place = get_place(session, place_id)
    if place.kind != PlaceKind.STATION:
        raise Refusal(f"{place.name} is not a station. Choose the station where the plate was exposed.")
    return place


def _own_letter(session: LabSession, letter: str | None, group_id: int, *, was_kept: bool) -> str | None:
    """A letter of the group. A note that waited on its tablet is not lost over one that is gone since: nobody is named then."""
    if letter is None or letter == NOBODY or letter in list_letters(session, group_id):
        return letter
    if was_kept:
        return None
    raise Refusal(
        f"Nobody in your group has the letter {letter}. Load the page again and choose one that it offers."
    )


def _count_developed(
    session: LabSession, charge_id: int, box: PlateBox, *, through_at: datetime, now: datetime
) -> None:
    """Whether the charge was still good counts at the time of the exposure: a note may arrive later than its plate."""
    tray = get_place(session, get_charge(session, charge_id).place_id)
    if tray.bath != Bath.DEVELOPER:
        raise Refusal(f"{tray.name} holds no developer. Choose the developer the plate went through.")
    try:
        plate_mm2 = plate_area_mm2(width_um=box.width_um, height_um=box.height_um)
        count_plate_through(session, charge_id, plate_mm2=plate_mm2, through_at=through_at, now=now)
    except Refusal as refusal:
        raise Refusal(f"{refusal.sentence} At a tablet: ask the technician for a fresh charge.") from refusal


def _keep_members(session: LabSession, run: Run) -> None:
    codes = list_codes(session, run.section_id)
    unsigned = list_unsigned(session, run.section_id, day_in_lab(session, run.exposed_at))
    lit_only = list_lit_only(session, run.section_id)
    session.add_all(
        RunMember(
            run_id=run.id,
            student_id=student.id,
            code=codes[student.id],
            letter=student.letter,
            was_unsigned=student.id in unsigned,
            was_lit_only=student.id in lit_only,
        )
        for student in list_students(session, run.section_id)
        if student.group_id == run.group_id and student.id in codes
    )


def file_run(
    session: LabSession,
    *,
    tablet_id: str,
    section_id: int,
    group_id: int,
    plate_box_id: int,
    place_id: int,
    charge_id: int | None,
    rotation_id: int | None,
    settle_s: int | None,
    exposure_s: int | None,
    develop_s: int | None,
    incident: Incident,
    comment: str,
    exposed_at: datetime,
    by: str,
    now: datetime,
    plate_no: int | None = None,
    planned_of: int | None = None,
    planned_settle_s: int | None = None,
    planned_exposure_s: int | None = None,
    emulsion_by: str | None = None,
    object_kind: ObjectKind | None = None,
    object_tone: ObjectTone | None = None,
    bleach_clear_s: int | None = None,
    filed_by: str | None = None,
) -> Run:
    """File one plate's run note: take the plate out of its box, count it through the developer, number the run.

    The same `tablet_id` again is the same run, and nothing is taken twice. Times in seconds; without `settle_s` or
    `exposure_s` the station's own hold. The planned times are what the station is set to, or what the tablet says it was set to
    when the note was begun, if that was of the same station. Letters are those of the group's codes.
    """
    _hold_section(session, section_id)
    filed = find_run_by_tablet_id(session, tablet_id)
    if filed is not None:
        if filed.group_id != group_id:
            raise Refusal("Another group's tablet filed this note. Load the page again and file yours anew.")
        return filed
    if get_group(session, group_id).section_id != section_id:
        raise NotFound("There is no such group in this section. Join again with the class code.")
    place = _station(session, place_id)
    box = get_plate_box(session, plate_box_id)
    was_kept = exposed_at < now
    if charge_id is not None:
        _count_developed(session, charge_id, box, through_at=exposed_at, now=now)
    was_shown = planned_of == place.id
    run = Run(
        tablet_id=tablet_id,
        section_id=section_id,
        group_id=group_id,
        number=find_last_number(session, section_id) + 1,
        rotation_id=rotation_id,
        plate_box_id=box.id,
        place_id=place.id,
        charge_id=charge_id,
        settle_s=settle_s if settle_s is not None else place.settle_s or 0,
        exposure_s=exposure_s if exposure_s is not None else place.exposure_s or 0,
        develop_s=develop_s,
        plate_no=plate_no,
        planned_settle_s=planned_settle_s if was_shown and planned_settle_s is not None else place.settle_s,
        planned_exposure_s=planned_exposure_s if was_shown and planned_exposure_s else place.exposure_s,
        emulsion_by=_own_letter(session, emulsion_by, group_id, was_kept=was_kept),
        object_kind=object_kind,
        object_tone=object_tone,
        bleach_clear_s=bleach_clear_s,
        filed_by=_own_letter(session, filed_by, group_id, was_kept=was_kept),
        incident=incident,
        comment=comment,
        exposed_at=exposed_at,
        filed_at=now,
    )
    session.add(run)
    session.flush()  # the plate's entry names its id
    _keep_members(session, run)
    draw_plates(
        session,
        box.id,
        plates=1,
        kind=PlateEntryKind.RUN,
        by=by,
        now=now,
        run_id=run.id,
        out_at=exposed_at,
        light_zone_id=place.light_zone_id,
    )
    return run


def give_verdict(
    session: LabSession,
    run_id: int,
    *,
    verdict: int,
    comment: str,
    now: datetime,
    defects: Iterable[Defect] = (),
    darkening: Darkening | None = None,
    replay_colour: ReplayColour | None = None,
) -> Run:
    """Rate a dry plate from 0 to 4 and say what is seen of it. A later verdict takes the place of an earlier one, whichever arrives
    first.
    """
    run = _hold_run(session, run_id)
    if run.verdict_at is not None and run.verdict_at > now:
        return run
    run.verdict, run.verdict_comment, run.verdict_at = verdict, comment, now
    ticked = set(defects)
    run.defects = "\n".join(defect for defect in Defect if defect in ticked)
    run.darkening, run.replay_colour = darkening, replay_colour
    return run


def leave_to_dry(
    session: LabSession, run_id: int, *, place_id: int, slot: int, by: str, now: datetime
) -> ClaimSlip:
    """Keep in which slot of a rack a run's plate was left at `now`. The same again is the same slip; another slot later is where it
    stands since, also after it was handed out. What was said before the slip's last change, and arrives after it, changes nothing.
    """
    run = _hold_run(session, run_id)
    # Two tablets at once must not get one slot.
    rack = get_place(session, place_id)
    session.exec(select(Place.id).where(Place.id == place_id).with_for_update()).one()
    if rack.kind != PlaceKind.RACK:
        raise Refusal(f"{rack.name} is not a rack. Choose one of the free slots.")
    if slot > rack.capacity:
        raise Refusal(f"{rack.name} has {rack.capacity} slots. Choose one of them.")
    slip = find_slip(session, run.id)
    if slip is not None and _stands_as_said(slip, place_id, slot, now):
        return slip
    if any((one.place_id, one.slot) == (place_id, slot) for one in list_slips_left(session)):
        raise Refusal(f"Slot {slot_name(slot)} holds another plate. Choose one that is free.")
    if slip is None:
        slip = ClaimSlip(run_id=run.id, place_id=place_id, slot=slot, left_at=now, left_by=by)
        session.add(slip)
    else:
        slip.place_id, slip.slot, slip.left_at, slip.left_by = place_id, slot, now, by
        slip.handed_out_at, slip.handed_out_by = None, ""
    session.flush()  # its id names it on the page
    return slip


def _stands_as_said(slip: ClaimSlip, place_id: int, slot: int, said_at: datetime) -> bool:
    """Whether the slip says the same, or something newer."""
    if slip.handed_out_at is not None:
        return said_at <= slip.handed_out_at
    return said_at < slip.left_at or (slip.place_id, slip.slot) == (place_id, slot)
