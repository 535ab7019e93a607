"""What the runs pages and the tablet show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import uuid4

from server.charges.pages import override_words
from server.charges.queries import (
    find_developer_charge,
    find_size_at_hand,
    get_tray_charge,
    list_charges,
    state_of_charge,
)
from server.core.board_state import BoxSight, Colour, screen_colour
from server.core.moments import clock_at, day_at, moment_words
from server.core.units import duration_words, plates_words
from server.core.working_solution import ChargeState, plate_area_mm2, plates_within
from server.data.session import LabSession
from server.people.queries import get_section, list_group_names, list_section_names, list_sections
from server.photos.pages import PhotoShown, photos_shown
from server.plates.models import LightIncident, PlateBox
from server.plates.queries import (
    doubts_about,
    find_proposed_box,
    get_plate_box,
    light_words,
    list_boxes_out,
    list_fogged_boxes,
    list_offered_boxes,
    list_plate_boxes,
)
from server.recipes.models import Solution
from server.rotations.queries import get_rotation
from server.runs.forms import NewRun, NewVerdict, OwnVerdict
from server.runs.models import INCIDENT_WORDS, VERDICT_WORDS, Incident, Run
from server.runs.queries import (
    GOOD_FROM,
    Verdicts,
    count_verdicts,
    get_run,
    get_run_of_group,
    list_light_over_runs,
    list_runs,
    list_runs_of_group,
)
from server.stations.queries import get_place, list_places, list_stations
from server.web.submitted import Submitted

RUNS_SHOWN = 25


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
class TabletPage:
    """`light` is the one colour the screen may emit near the open plates; `settle_s` and `exposure_s` prefill the times.

    `box`, `station` and `charge` are the values chosen beforehand.
    """

    light: Colour
    group_id: int
    section: str
    tablet_id: str
    boxes: Sequence[Tile]
    fogged_boxes: Sequence[str]
    stations: Sequence[Tile]
    out_of_order: Sequence[str]
    charges: Sequence[Tile]
    dead_charges: Sequence[str]
    incidents: Sequence[Tile]
    box: str
    station: str
    charge: str
    settle_s: str
    exposure_s: str
    runs: Sequence[OwnRun]
    form: Submitted[NewRun]


@dataclass(frozen=True)
class TabletRunPage:
    light: Colour
    group_id: int
    id: int
    name: str
    words: str
    verdicts: Sequence[Tile]
    given: str
    comment: str
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
    only: str
    sections: Sequence[SectionRuns]


@dataclass(frozen=True)
class RunPage:
    id: int
    name: str
    facts: Sequence[tuple[str, str]]
    is_waiting: bool
    verdicts: Sequence[Tile]
    given: str
    comment: str
    form: Submitted[NewVerdict]
    photos: Sequence[PhotoShown]


def _screen_colour(session: LabSession, now: datetime) -> Colour:
    """For the boxes whose plates may be out; while there is none, any could be the next."""
    near = list_boxes_out(session, now) or [box for box in list_plate_boxes(session) if box.plates_left]
    return screen_colour(BoxSight(sees_red=box.sees_red, sees_green=box.sees_green) for box in near)


def _verdict_words(run: Run) -> str:
    return (
        "waiting for its verdict" if run.verdict is None else f"{run.verdict}, {VERDICT_WORDS[run.verdict]}"
    )


def _verdict_tiles() -> Sequence[Tile]:
    return [Tile(str(number), f"{number}", words) for number, words in VERDICT_WORDS.items()]


def _own_run(run: Run) -> OwnRun:
    return OwnRun(run.id, f"run {run.number}", _verdict_words(run), run.verdict is None)


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


def _chosen_station(stations: Sequence[Tile], runs: Sequence[Run]) -> Tile | None:
    """Where the group was last, or the only station there is; otherwise nobody knows beforehand."""
    if runs:
        last = next((tile for tile in stations if tile.value == str(runs[0].place_id)), None)
        if last is not None:
            return last
    return stations[0] if len(stations) == 1 else None


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
) -> TabletPage:
    form = form or Submitted()
    day = day_at(now, zone)
    boxes, proposed = list_offered_boxes(session, day), find_proposed_box(session, day)
    runs = list_runs_of_group(session, group_id)
    places = list_stations(session)
    stations = [
        Tile(
            str(place.id),
            place.name,
            f"settle {duration_words(place.settle_s or 0)}, expose {duration_words(place.exposure_s or 0)}",
            place.settle_s,
            place.exposure_s,
        )
        for place in places
        if not place.out_of_order
    ]
    charges, dead = _charge_tiles(session, boxes, now, zone)
    fresh = find_developer_charge(session, now)
    station = _chosen_station(stations, runs)
    return TabletPage(
        light=_screen_colour(session, now),
        group_id=group_id,
        section=get_section(session, section_id).name,
        tablet_id=str(uuid4()) if form.error("tablet_id") else form.value("tablet_id", str(uuid4())),
        boxes=_box_tiles(boxes, now, zone),
        fogged_boxes=[box.name for box in list_fogged_boxes(session)],
        stations=stations,
        out_of_order=[place.name for place in places if place.out_of_order],
        charges=charges,
        dead_charges=dead,
        incidents=[Tile(incident.value, words) for incident, words in INCIDENT_WORDS.items()],
        box="" if proposed is None else str(proposed.id),
        station="" if station is None else station.value,
        charge="" if fresh is None else str(fresh.charge.id),
        settle_s="" if station is None else str(station.settle_s),
        exposure_s="" if station is None else str(station.exposure_s),
        runs=[_own_run(run) for run in runs],
        form=form,
    )


def tablet_run_page(
    session: LabSession, run_id: int, group_id: int, now: datetime, form: Submitted[OwnVerdict] | None = None
) -> TabletRunPage:
    run = get_run_of_group(session, run_id, group_id)
    place, box = get_place(session, run.place_id), get_plate_box(session, run.plate_box_id)
    return TabletRunPage(
        light=_screen_colour(session, now),
        group_id=group_id,
        id=run.id,
        name=f"Run {run.number}",
        words=f"{place.name}, {duration_words(run.exposure_s)}, plate of {box.name}",
        verdicts=_verdict_tiles(),
        given="" if run.verdict is None else str(run.verdict),
        comment=run.verdict_comment,
        form=form or Submitted(),
    )


def _state_words(verdicts: Verdicts) -> str:
    """Counts, and never a percentage: with runs still waiting it would be wrong both ways."""
    waiting = f", {verdicts.waiting} waiting" if verdicts.waiting else ""
    if not verdicts.rated:
        return f"None rated yet{waiting}."
    return f"Good so far: {verdicts.good} of {verdicts.rated} rated{waiting}."


def _state(run: Run) -> str:
    if run.verdict is None:
        return "plain"
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
    zone: str,
) -> RunLine:
    return RunLine(
        run.id,
        run.number,
        groups[run.group_id],
        places[run.place_id],
        boxes[run.plate_box_id],
        duration_words(run.exposure_s),
        moment_words(run.exposed_at, zone),
        ", ".join([INCIDENT_WORDS[Incident(run.incident)], *_lights_words(run, lights, zone)]),
        _verdict_words(run),
        _state(run),
    )


def runs_page(session: LabSession, zone: str, section_id: int | None = None) -> RunsPage:
    """Every section's latest runs, or with `section_id` all runs of one."""
    sections = list_sections(session) if section_id is None else [get_section(session, section_id)]
    at_most = RUNS_SHOWN if section_id is None else None
    groups = list_group_names(session)
    places = {place.id: place.name for place in list_places(session)}
    boxes = {box.id: box.name for box in list_plate_boxes(session)}
    verdicts = count_verdicts(session)
    shown = []
    for section in sections:
        runs = list_runs(session, section.id, at_most=at_most)
        lights = list_light_over_runs(session, runs)
        counted = verdicts.get(section.id, Verdicts())
        shown.append(
            SectionRuns(
                section.id,
                section.name,
                _state_words(counted),
                [_line(run, groups, places, boxes, lights.get(run.id, ()), zone) for run in runs],
                counted.rated + counted.waiting - len(runs),
            )
        )
    return RunsPage(
        rows_address="/runs/rows" if section_id is None else f"/runs/rows?section={section_id}",
        only="" if section_id is None else sections[0].name,
        sections=shown,
    )


def _facts(session: LabSession, run: Run, zone: str) -> Sequence[tuple[str, str]]:
    developer = "not noted"
    if run.charge_id is not None:
        found = get_tray_charge(session, run.charge_id)
        then = found.at(run.exposed_at)
        decided = [override_words(override, zone) for override in then.overrides]
        developer = "; ".join([f"{then.batches} in {found.tray.name}", *decided])
    facts = [
        ("Section", list_section_names(session)[run.section_id]),
        ("Group", list_group_names(session)[run.group_id]),
        ("Rotation", "none" if run.rotation_id is None else get_rotation(session, run.rotation_id).name),
        ("Plate box", get_plate_box(session, run.plate_box_id).name),
        ("Station", get_place(session, run.place_id).name),
        ("Settle time", duration_words(run.settle_s)),
        ("Exposure", duration_words(run.exposure_s)),
        ("Exposed", moment_words(run.exposed_at, zone)),
        ("Developer", developer),
        ("Developed for", "not noted" if run.develop_s is None else duration_words(run.develop_s)),
        ("Incident", INCIDENT_WORDS[Incident(run.incident)]),
        ("Comment", run.comment or "none"),
        ("Filed", moment_words(run.filed_at, zone)),
        ("Verdict", _verdict_words(run)),
    ]
    facts += [
        ("Light", f"{words}, while this plate may have been out")
        for words in _lights_words(run, list_light_over_runs(session, [run]).get(run.id, ()), zone)
    ]
    if run.verdict_at is not None:
        facts.append(("Comment on the verdict", run.verdict_comment or "none"))
        facts.append(("Verdict given", moment_words(run.verdict_at, zone)))
    return facts


def run_page(
    session: LabSession, run_id: int, zone: str, form: Submitted[NewVerdict] | None = None
) -> RunPage:
    run = get_run(session, run_id)
    return RunPage(
        id=run.id,
        name=f"Run {run.number} of {list_section_names(session)[run.section_id]}",
        facts=_facts(session, run, zone),
        is_waiting=run.verdict is None,
        verdicts=_verdict_tiles(),
        given="" if run.verdict is None else str(run.verdict),
        comment=run.verdict_comment,
        form=form or Submitted(),
        photos=photos_shown(session, run.id, zone, folder=f"/runs/{run.id}/photos"),
    )
