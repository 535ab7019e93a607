"""What the runs pages and the tablet show."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import uuid4

from server.charges.pages import override_words
from server.charges.queries import (
    find_developer_charge,
    find_size_at_hand,
    get_tray_charge,
    list_charges,
    state_of_charge,
)
from server.core.board_state import Colour
from server.core.diagnosis import Darkening, Diagnosis, Suggestion
from server.core.moments import clock_at, day_at, moment_words, stamp
from server.core.rack import Slot, free_slots, slot_name, slots_words
from server.core.table_file import write_table
from server.core.units import duration_words, plates_words
from server.core.working_solution import ChargeState, plate_area_mm2, plates_within
from server.data.session import LabSession
from server.people.queries import (
    get_section,
    list_group_codes,
    list_group_names,
    list_section_names,
    list_sections,
)
from server.photos.pages import PhotoShown, photos_shown, photos_words
from server.photos.queries import count_photos
from server.plates.models import LightIncident, PlateBox
from server.plates.queries import (
    doubts_about,
    find_proposed_box,
    get_plate_box,
    light_words,
    list_fogged_boxes,
    list_offered_boxes,
    list_plate_boxes,
)
from server.recipes.models import Solution
from server.rotations.queries import get_rotation, list_rotations
from server.runs.forms import NewRun, NewVerdict, OwnVerdict
from server.runs.models import (
    DARKENING_WORDS,
    DEFECT_WORDS,
    INCIDENT_WORDS,
    NOBODY,
    VERDICT_WORDS,
    ClaimSlip,
    Incident,
    ObjectKind,
    ObjectTone,
    ReplayColour,
    Run,
)
from server.runs.queries import (
    GOOD_FROM,
    NextPlate,
    Verdicts,
    count_verdicts,
    count_verdicts_of,
    find_diagnosis,
    find_next_plate,
    find_rotation_at,
    find_slip,
    get_run,
    get_run_of_group,
    is_verdict_due,
    list_diagnoses,
    list_letters,
    list_light_over_runs,
    list_rack_names,
    list_racks,
    list_runs,
    list_runs_of_group,
    list_slips,
    list_slips_left,
    list_slots,
    list_waiting,
)
from server.stations.models import Place
from server.stations.queries import get_place, list_places, list_stations
from server.students.queries import find_photo_veil
from server.tablets.queries import find_screen_colour
from server.web.submitted import Submitted

RUNS_SHOWN = 25
SLOTS_OFFERED = 12
# Assumed: nobody counts the seconds until a plate is clear more closely in the dark.
CLEAR_AFTER_S = (30, 60, 90, 120, 180, 300)


@dataclass(frozen=True)
class Tile:
    """One choice; `detail` stands small below its words."""

    value: str
    words: str
    detail: str = ""
    settle_s: int | None = None
    exposure_s: int | None = None


@dataclass(frozen=True)
class OwnRun:
    id: int
    name: str
    words: str
    waiting: bool


@dataclass(frozen=True)
class CauseLine:
    """A likely cause; `next_time` is the sentence about the next exposure, empty where its time is not at fault."""

    name: str
    speaks_for_it: str
    reason: str
    change: str
    next_time: str
    source: str


@dataclass(frozen=True)
class DiagnosisLines:
    """`causes` with the likeliest first; `unexplained` are signs that none explains."""

    causes: Sequence[CauseLine]
    unexplained: str


@dataclass(frozen=True)
class RatedRun:
    """A run that was just rated; without a diagnosis it came out well."""

    name: str
    diagnosis: DiagnosisLines | None


@dataclass(frozen=True)
class WhenDry:
    """The choices of what is seen of the dry plate, and what was given before."""

    verdicts: Sequence[Tile]
    defects: Sequence[Tile]
    darkenings: Sequence[Tile]
    colours: Sequence[Tile]
    given: str
    ticked: Sequence[str]
    darkening: str
    colour: str
    comment: str


@dataclass(frozen=True)
class TabletPage:
    """`light` is the one colour the screen may emit near the open plates; `settle_s`, `exposure_s` and `develop_s` prefill the times.

    `box`, `station`, `charge` and the object's kind and tone are the values chosen beforehand. `plate` says which plate of the group
    the note is about, `planned` what was planned for it. `dry` is for rating a plate whose note still waits on the tablet. `state` sums up the group's runs, `due` says which wait too long.
    """

    light: Colour
    group_id: int
    section: str
    tablet_id: str
    state: str
    due: str
    plate: NextPlate
    planned: str
    rated: RatedRun | None
    letters: Sequence[Tile]
    filers: Sequence[Tile]
    kinds: Sequence[Tile]
    tones: Sequence[Tile]
    kind: str
    tone: str
    clears: Sequence[Tile]
    develop_s: str
    boxes: Sequence[Tile]
    fogged_boxes: Sequence[str]
    stations: Sequence[Tile]
    charges: Sequence[Tile]
    dead_charges: Sequence[str]
    incidents: Sequence[Tile]
    box: str
    station: str
    charge: str
    settle_s: str
    exposure_s: str
    dry: WhenDry
    runs: Sequence[OwnRun]
    form: Submitted[NewRun]


@dataclass(frozen=True)
class TabletRunPage:
    """`needs_none`: a dropped plate waits for no verdict. `slip` says where the plate was left to dry, `slots` where it could be;
    `slot` is chosen beforehand while it has none.

    `photos` says how many there are: the pictures themselves are not for the dark.
    """

    light: Colour
    group_id: int
    id: int
    name: str
    words: str
    needs_none: bool
    dry: WhenDry
    diagnosis: DiagnosisLines | None
    came_out_well: bool
    slip: str
    slots: Sequence[Tile]
    slot: str
    photos: str
    form: Submitted[OwnVerdict]


@dataclass(frozen=True)
class RunLine:
    id: int
    number: int
    group: str
    station: str
    plate_box: str
    exposure: str
    exposed: str
    incident: str
    verdict: str
    state: str


@dataclass(frozen=True)
class SectionRuns:
    """`older` runs are not listed here."""

    id: int
    name: str
    state: str
    runs: Sequence[RunLine]
    older: int


@dataclass(frozen=True)
class RunsPage:
    """`rows_address` gives the live part alone; `only` is the section's name where only one is shown."""

    rows_address: str
    file_address: str
    only: str
    sections: Sequence[SectionRuns]


@dataclass(frozen=True)
class RunPage:
    """`veil` says why the run's photos are not shown, and is empty where they are."""

    id: int
    name: str
    facts: Sequence[tuple[str, str]]
    is_waiting: bool
    needs_none: bool
    dry: WhenDry
    diagnosis: DiagnosisLines | None
    came_out_well: bool
    form: Submitted[NewVerdict]
    photos: Sequence[PhotoShown]
    veil: str


def _verdict_words(run: Run) -> str:
    if run.verdict is not None:
        return f"{run.verdict}, {VERDICT_WORDS[run.verdict]}"
    return "waiting for its verdict" if run.awaits_verdict else "dropped, needs no verdict"


def _tiles(words: Mapping[Any, str]) -> Sequence[Tile]:
    return [Tile(str(value), said) for value, said in words.items()]


def _when_dry(run: Run | None) -> WhenDry:
    """None: for a plate whose run note has not arrived."""
    return WhenDry(
        verdicts=[Tile(str(number), f"{number}", words) for number, words in VERDICT_WORDS.items()],
        defects=_tiles(DEFECT_WORDS),
        darkenings=_tiles(DARKENING_WORDS),
        colours=_tiles({colour: colour.value for colour in ReplayColour}),
        given="" if run is None or run.verdict is None else str(run.verdict),
        ticked=[] if run is None else run.defects.splitlines(),
        darkening=(run.darkening or "") if run else "",
        colour=(run.replay_colour or "") if run else "",
        comment=run.verdict_comment if run else "",
    )


def _next_time(found: Suggestion, run: Run) -> str:
    if found.next_exposure_s is None:
        return ""
    if found.next_exposure_s == run.exposure_s:
        return f"{run.exposure_s} s is too short to change by whole seconds: change the light at the plate."
    return (
        f"Next: {duration_words(found.next_exposure_s)} instead of {duration_words(run.exposure_s)}, "
        "never more than +40 % or −30 % in one step."
    )


def _diagnosis_lines(found: Diagnosis | None, run: Run) -> DiagnosisLines | None:
    if found is None:
        return None
    return DiagnosisLines(
        [
            CauseLine(
                one.cause.name,
                ", ".join(one.signs),
                one.cause.reason,
                one.cause.change,
                _next_time(one, run),
                one.cause.source,
            )
            for one in found.causes
        ],
        ", ".join(found.unexplained),
    )


def _rated_run(session: LabSession, run: Run) -> RatedRun:
    return RatedRun(f"Run {run.number}", _diagnosis_lines(find_diagnosis(session, run), run))


def slip_words(slip: ClaimSlip | None, places: Mapping[int, str], zone: str) -> str:
    """Where the plate is, or when it was handed out; nothing while it was never left to dry."""
    if slip is None:
        return ""
    where = f"slot {slot_name(slip.slot)} of {places[slip.place_id]}"
    if slip.handed_out_at is not None:
        return f"handed out {moment_words(slip.handed_out_at, zone)}, was in {where}"
    return f"in {where} since {moment_words(slip.left_at, zone)}"


def slot_tiles(session: LabSession) -> Sequence[Tile]:
    """Some free slots of the racks, the lowest first; the rack is named where there are several."""
    racks, names, left = list_racks(session), list_rack_names(session), list_slips_left(session)
    return [
        Tile(f"{rack.id}-{slot}", slot_name(slot), names[rack.id])
        for rack in racks
        for slot in free_slots(
            slots=rack.capacity, taken=(slip.slot for slip in left if slip.place_id == rack.id)
        )[:SLOTS_OFFERED]
    ]


def _own_run(run: Run, slots: Mapping[int, Slot]) -> OwnRun:
    words = _verdict_words(run)
    if run.id in slots:
        words += f", in slot {slots[run.id].words}"
    return OwnRun(run.id, f"run {run.number}", words, run.awaits_verdict)


def due_words(runs: Sequence[Run], slots: Mapping[int, Slot]) -> str:
    """The runs whose verdict is due, with the slots their plates stand in."""
    return ", ".join(
        f"run {run.number} ({slots[run.id].words})" if run.id in slots else f"run {run.number}"
        for run in runs
    )


def _box_tiles(boxes: Sequence[PlateBox], now: datetime, zone: str) -> Sequence[Tile]:
    """What is doubtful about a box stands behind a mark of its own, because colour says nothing in the dark."""
    return [
        Tile(
            str(box.id),
            box.name,
            ", ".join(
                [
                    f"{box.plates_left} left",
                    "open" if box.opened_at else "not open",
                    *(f"▲ {doubt}" for doubt in doubts_about(box, now, zone)),
                ]
            ),
        )
        for box in boxes
    ]


def _station_tiles(places: Sequence[Place]) -> tuple[Sequence[Tile], Sequence[Tile]]:
    """The stations that work, and those out of order now: a plate may have been exposed there before."""
    working: list[Tile] = []
    broken: list[Tile] = []
    for place in places:
        times = (
            f"settle {duration_words(place.settle_s or 0)}, expose {duration_words(place.exposure_s or 0)}"
        )
        detail = f"{times}, ▲ out of order now" if place.out_of_order else times
        tile = Tile(str(place.id), place.name, detail, place.settle_s, place.exposure_s)
        (broken if place.out_of_order else working).append(tile)
    return working, broken


def _chosen_station(stations: Sequence[Tile], runs: Sequence[Run], plate: NextPlate) -> Tile | None:
    """Where the plate is planned, or where the group was last, or the only station there is; otherwise nobody knows beforehand."""
    planned = next((tile for tile in stations if tile.words == plate.station), None)
    last = next((tile for tile in stations if runs and tile.value == str(runs[0].place_id)), None)
    return planned or last or (stations[0] if len(stations) == 1 else None)


def _planned_words(plate: NextPlate, station: Tile | None) -> str:
    if not plate.of:
        return "No plan says which plate this is."
    if plate.station is None or plate.exposure_s is None:
        return f"All {plate.of} planned plates have their note: this one is a repeat."
    words = f"Plate {plate.number} of {plate.of}, planned at {plate.station} for {duration_words(plate.exposure_s)}"
    if station is None or station.words != plate.station or station.exposure_s == plate.exposure_s:
        return f"{words}."
    return f"{words}; {station.words} is set to {duration_words(station.exposure_s or 0)} since."


def _charge_tiles(
    session: LabSession, boxes: Sequence[PlateBox], now: datetime, zone: str
) -> tuple[Sequence[Tile], Sequence[str]]:
    """The developer charges that some plate of the boxes may still go through, and the names of those that none may.

    Their room is told for the plates of the open box.
    """
    size = find_size_at_hand(session)
    areas = [
        plate_area_mm2(width_um=box.width_um, height_um=box.height_um) for box in boxes if box.plates_left
    ]
    smallest_mm2 = min([size.area_mm2, *areas])
    charges, dead = [], []
    for found in list_charges(session):
        if found.charge.solution != Solution.DEVELOPER:
            continue
        words = f"{found.tray.name}, {found.batches}"
        if state_of_charge(found, now, plate_mm2=smallest_mm2) is ChargeState.USABLE:
            room = plates_within(area_mm2=found.charge.room_mm2, plate_mm2=size.area_mm2)
            until = clock_at(found.ends_at, zone)
            count = f"room for {plates_words(room)} of {size.words}, until {until}"
            decided = [override_words(override, zone) for override in found.overrides]
            charges.append(Tile(str(found.charge.id), words, "; ".join([count, *decided])))
        else:
            dead.append(words)
    return charges, dead


def tablet_page(
    session: LabSession,
    section_id: int,
    group_id: int,
    now: datetime,
    zone: str,
    form: Submitted[NewRun] | None = None,
    *,
    rated: int | None = None,
) -> TabletPage:
    """The run note, and what became of the run `rated` just now."""
    form = form or Submitted()
    day = day_at(now, zone)
    boxes, proposed = list_offered_boxes(session, day), find_proposed_box(session, day)
    runs = list_runs_of_group(session, group_id)
    working, broken = _station_tiles(list_stations(session))
    charges, dead = _charge_tiles(session, boxes, now, zone)
    fresh = find_developer_charge(session, now)
    plate = find_next_plate(session, group_id, find_rotation_at(session, section_id, now))
    station = _chosen_station(working, runs, plate)
    slots, last = list_slots(session), runs[0] if runs else None
    members = [Tile(letter, letter, code) for letter, code in list_letters(session, group_id).items()]
    developed_s = plate.develop_s or (last.develop_s if last else None)
    return TabletPage(
        light=find_screen_colour(session, now),
        group_id=group_id,
        section=get_section(session, section_id).name,
        tablet_id=str(uuid4()) if form.error("tablet_id") else form.value("tablet_id", str(uuid4())),
        state=state_words(count_verdicts_of(runs), _slots_waiting(runs, slots)) if runs else "",
        due=due_words([run for run in reversed(runs) if is_verdict_due(run, now, zone)], slots),
        plate=plate,
        planned=_planned_words(plate, station),
        rated=next((_rated_run(session, run) for run in runs if run.id == rated), None),
        letters=[*members, Tile(NOBODY, "not checked")],
        filers=members,
        kinds=_tiles({kind: kind.value for kind in ObjectKind}),
        tones=_tiles({tone: tone.value for tone in ObjectTone}),
        # A group mostly keeps its object.
        kind=(last.object_kind or "") if last else "",
        tone=(last.object_tone or "") if last else "",
        clears=[Tile(str(seconds), duration_words(seconds)) for seconds in CLEAR_AFTER_S],
        develop_s="" if developed_s is None else str(developed_s),
        boxes=_box_tiles(boxes, now, zone),
        fogged_boxes=[box.name for box in list_fogged_boxes(session)],
        stations=[*working, *broken],
        charges=charges,
        dead_charges=dead,
        incidents=[Tile(incident.value, words) for incident, words in INCIDENT_WORDS.items()],
        box="" if proposed is None else str(proposed.id),
        station="" if station is None else station.value,
        charge="" if fresh is None else str(fresh.charge.id),
        settle_s="" if station is None else str(station.settle_s),
        exposure_s="" if station is None else str(station.exposure_s),
        dry=_when_dry(None),
        runs=[_own_run(run, slots) for run in runs],
        form=form,
    )


def tablet_run_page(
    session: LabSession,
    run_id: int,
    group_id: int,
    now: datetime,
    zone: str,
    form: Submitted[OwnVerdict] | None = None,
) -> TabletRunPage:
    run = get_run_of_group(session, run_id, group_id)
    place, box = get_place(session, run.place_id), get_plate_box(session, run.plate_box_id)
    slip = find_slip(session, run.id)
    diagnosis = _diagnosis_lines(find_diagnosis(session, run), run)
    slots = slot_tiles(session)
    return TabletRunPage(
        light=find_screen_colour(session, now),
        group_id=group_id,
        id=run.id,
        name=f"Run {run.number}",
        words=f"{place.name}, {duration_words(run.exposure_s)}, plate of {box.name}",
        needs_none=run.verdict is None and not run.awaits_verdict,
        dry=_when_dry(run),
        diagnosis=diagnosis,
        came_out_well=run.verdict is not None and diagnosis is None,
        slip=slip_words(slip, {place.id: place.name for place in list_places(session)}, zone),
        slots=slots,
        slot=slots[0].value if slots and slip is None else "",
        photos=photos_words(count_photos(session, [run.id]).get(run.id, 0)),
        form=form or Submitted(),
    )


def state_words(verdicts: Verdicts, slots: Iterable[Slot] = ()) -> str:
    """Counts, and never a percentage: with runs still waiting it would be wrong both ways. `slots` hold waiting plates."""
    waiting, held = f", {verdicts.waiting} waiting" if verdicts.waiting else "", list(slots)
    if held:
        some = "" if len(held) == verdicts.waiting else f"{len(held)} of them "
        waiting += f" ({some}in {slots_words(held)})"
    dropped = f", {verdicts.dropped} dropped" if verdicts.dropped else ""
    if not verdicts.rated:
        return f"None rated yet{waiting}{dropped}."
    return f"Good so far: {verdicts.good} of {verdicts.rated} rated{waiting}{dropped}."


def _slots_waiting(runs: Sequence[Run], slots: Mapping[int, Slot]) -> Sequence[Slot]:
    return [slots[run.id] for run in runs if run.awaits_verdict and run.id in slots]


def _state(run: Run, now: datetime, zone: str) -> str:
    if run.verdict is None:
        return "watch" if is_verdict_due(run, now, zone) else "plain"
    return "well" if run.verdict >= GOOD_FROM else "watch"


def _lights_words(run: Run, lights: Sequence[LightIncident], zone: str) -> Sequence[str]:
    """With the day only where the run was exposed on another one."""
    return [light_words(light.lit_at, run.exposed_at, zone) for light in lights]


def _line(
    run: Run,
    groups: Mapping[int, str],
    places: Mapping[int, str],
    boxes: Mapping[int, str],
    lights: Sequence[LightIncident],
    slots: Mapping[int, Slot],
    now: datetime,
    zone: str,
) -> RunLine:
    verdict = _verdict_words(run) + (", due" if is_verdict_due(run, now, zone) else "")
    return RunLine(
        run.id,
        run.number,
        groups[run.group_id],
        places[run.place_id],
        boxes[run.plate_box_id],
        duration_words(run.exposure_s),
        moment_words(run.exposed_at, zone),
        ", ".join([INCIDENT_WORDS[Incident(run.incident)], *_lights_words(run, lights, zone)]),
        verdict + (f", in slot {slots[run.id].words}" if run.id in slots else ""),
        _state(run, now, zone),
    )


def runs_page(session: LabSession, now: datetime, zone: str, section_id: int | None = None) -> RunsPage:
    """Every section's latest runs, or with `section_id` all runs of one."""
    sections = list_sections(session) if section_id is None else [get_section(session, section_id)]
    at_most = RUNS_SHOWN if section_id is None else None
    groups = list_group_names(session)
    places = {place.id: place.name for place in list_places(session)}
    boxes = {box.id: box.name for box in list_plate_boxes(session)}
    verdicts, slots, waiting = count_verdicts(session), list_slots(session), list_waiting(session)
    shown = []
    for section in sections:
        runs = list_runs(session, section.id, at_most=at_most)
        lights = list_light_over_runs(session, runs)
        counted = verdicts.get(section.id, Verdicts())
        shown.append(
            SectionRuns(
                section.id,
                section.name,
                state_words(
                    counted, _slots_waiting([run for run in waiting if run.section_id == section.id], slots)
                ),
                [_line(run, groups, places, boxes, lights.get(run.id, ()), slots, now, zone) for run in runs],
                counted.runs - len(runs),
            )
        )
    which = "" if section_id is None else f"?section={section_id}"
    return RunsPage(
        rows_address=f"/runs/rows{which}",
        file_address=f"/runs/runs.csv{which}",
        only="" if section_id is None else sections[0].name,
        sections=shown,
    )


def _letter_words(letter: str | None, code: str) -> str:
    """A student's code, never the name; `code` is the group's."""
    if letter is None:
        return "not noted"
    return "nobody" if letter == NOBODY else f"{code}-{letter}"


def _seconds_words(seconds: int | None) -> str:
    return "not noted" if seconds is None else duration_words(seconds)


def _against_plan(seconds: int, planned: int | None) -> str:
    if planned is None or planned == seconds:
        return duration_words(seconds)
    return f"{duration_words(seconds)}, planned {duration_words(planned)}"


def _developer_words(session: LabSession, run: Run, zone: str) -> str:
    if run.charge_id is None:
        return "not noted"
    found = get_tray_charge(session, run.charge_id)
    then = found.at(run.exposed_at)
    decided = [override_words(override, zone) for override in then.overrides]
    return "; ".join([f"{then.batches} in {found.tray.name}", *decided])


def _facts(session: LabSession, run: Run, zone: str) -> Sequence[tuple[str, str]]:
    code = list_group_codes(session)[run.group_id]
    thing = " ".join(word for word in (run.object_tone, run.object_kind) if word)
    slip = slip_words(
        find_slip(session, run.id), {place.id: place.name for place in list_places(session)}, zone
    )
    facts = [
        ("Section", list_section_names(session)[run.section_id]),
        ("Group", code),
        ("Rotation", "none" if run.rotation_id is None else get_rotation(session, run.rotation_id).name),
        ("Plate of the group", "not noted" if run.plate_no is None else str(run.plate_no)),
        ("Plate box", get_plate_box(session, run.plate_box_id).name),
        ("Emulsion side checked by", _letter_words(run.emulsion_by, code)),
        ("Station", get_place(session, run.place_id).name),
        ("Object", thing or "not noted"),
        ("Settle time", _against_plan(run.settle_s, run.planned_settle_s)),
        ("Exposure", _against_plan(run.exposure_s, run.planned_exposure_s)),
        ("Exposed", moment_words(run.exposed_at, zone)),
        ("Developer", _developer_words(session, run, zone)),
        ("Developed for", _seconds_words(run.develop_s)),
        ("Clear in the bleach after", _seconds_words(run.bleach_clear_s)),
        ("Incident", INCIDENT_WORDS[Incident(run.incident)]),
        ("Comment", run.comment or "none"),
        ("Filed", moment_words(run.filed_at, zone)),
        ("Filed by", _letter_words(run.filed_by, code)),
        ("Verdict", _verdict_words(run)),
    ]
    facts += [
        ("Light", f"{words}, while this plate may have been out")
        for words in _lights_words(run, list_light_over_runs(session, [run]).get(run.id, ()), zone)
    ]
    if slip:
        facts.append(("Left to dry", slip))
    if run.verdict_at is not None:
        darkening = None if run.darkening is None else DARKENING_WORDS[Darkening(run.darkening)]
        facts += [
            ("Defects", ", ".join(_defect_words(run)) or "none seen"),
            ("In the developer it went", darkening or "not noted"),
            ("Replay colour", run.replay_colour or "not noted"),
            ("Comment on the verdict", run.verdict_comment or "none"),
            ("Verdict given", moment_words(run.verdict_at, zone)),
        ]
    return facts


def _defect_words(run: Run) -> Sequence[str]:
    return [DEFECT_WORDS[defect] for defect in DEFECT_WORDS if defect in run.seen_defects]


def run_page(
    session: LabSession, run_id: int, zone: str, form: Submitted[NewVerdict] | None = None
) -> RunPage:
    run = get_run(session, run_id)
    diagnosis = _diagnosis_lines(find_diagnosis(session, run), run)
    return RunPage(
        id=run.id,
        name=f"Run {run.number} of {list_section_names(session)[run.section_id]}",
        facts=_facts(session, run, zone),
        is_waiting=run.verdict is None,
        needs_none=run.verdict is None and not run.awaits_verdict,
        dry=_when_dry(run),
        diagnosis=diagnosis,
        came_out_well=run.verdict is not None and diagnosis is None,
        form=form or Submitted(),
        photos=photos_shown(session, run.id, zone, folder=f"/runs/{run.id}/photos"),
        veil=find_photo_veil(session, run.group_id),
    )


RUN_COLUMNS = (
    "section", "run", "group", "plate of the group", "rotation", "plate box", "station", "planned settle s", "settle s",
    "planned exposure s", "exposure s", "developed s", "clear in bleach after s", "emulsion side checked by", "object", "tone",
    "incident", "light incident", "comment", "filed by", "exposed", "filed", "verdict", "defects", "in the developer",
    "replay colour", "comment on the verdict", "verdict given", "likely cause", "slot", "rack", "handed out",
)  # fmt: skip


def _cell(value: object) -> str:
    return "" if value is None else str(value)


def _file_rows(session: LabSession, section_ids: Sequence[int], zone: str) -> Iterator[Sequence[str]]:
    groups, sections = list_group_codes(session), list_section_names(session)
    places = {place.id: place.name for place in list_places(session)}
    boxes = {box.id: box.name for box in list_plate_boxes(session)}
    rotations = {rotation.id: rotation.name for rotation in list_rotations(session)}
    slips = {slip.run_id: slip for slip in list_slips(session)}

    for section_id in section_ids:
        runs = list_runs(session, section_id)
        lights = list_light_over_runs(session, runs)
        diagnoses = list_diagnoses(session, runs, lights)
        for run in reversed(runs):
            found, slip = diagnoses.get(run.id), slips.get(run.id)
            letters = [
                "" if one is None else _letter_words(one, groups[run.group_id])
                for one in (run.emulsion_by, run.filed_by)
            ]
            yield (
                sections[section_id], str(run.number), groups[run.group_id], _cell(run.plate_no),
                rotations.get(run.rotation_id or 0, ""), boxes[run.plate_box_id], places[run.place_id],
                _cell(run.planned_settle_s), str(run.settle_s), _cell(run.planned_exposure_s), str(run.exposure_s),
                _cell(run.develop_s), _cell(run.bleach_clear_s), letters[0], _cell(run.object_kind), _cell(run.object_tone),
                run.incident, "; ".join(_lights_words(run, lights.get(run.id, ()), zone)), run.comment, letters[1],
                stamp(run.exposed_at, zone), stamp(run.filed_at, zone), _cell(run.verdict), "; ".join(_defect_words(run)),
                _cell(run.darkening), _cell(run.replay_colour), run.verdict_comment, stamp(run.verdict_at, zone),
                found.causes[0].cause.name if found is not None and found.causes else "",
                *(("", "", "") if slip is None else (slot_name(slip.slot), places[slip.place_id], stamp(slip.handed_out_at, zone))),
            )  # fmt: skip


def runs_file(session: LabSession, zone: str, section_id: int | None = None) -> str:
    """Every run of one section or of all, oldest first, as a table; students are codes. Instants are on the lab's clock."""
    sections = list_sections(session) if section_id is None else [get_section(session, section_id)]
    return write_table(RUN_COLUMNS, _file_rows(session, [section.id for section in sections], zone))
