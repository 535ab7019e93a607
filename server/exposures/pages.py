"""What the exposure pages show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from server.core.dose_learning import Learned, NotLearned, learn
from server.core.exposure import Exposure, NoExposure, exposure, irradiance_words
from server.core.moments import day_at, moment_words
from server.core.units import duration_words
from server.data.session import LabSession
from server.exposures.forms import NewReading
from server.exposures.models import MeterReading
from server.exposures.queries import Shots, list_latest_readings, list_shots
from server.plates.models import PlateBox
from server.plates.queries import (
    doubts_about,
    find_proposed_box,
    get_plate_box,
    list_offered_boxes,
    list_plate_boxes,
)
from server.stations.models import Place
from server.stations.queries import list_stations
from server.web.submitted import Submitted


@dataclass(frozen=True)
class BoxLine:
    id: int
    name: str
    dose_uj_per_cm2: int
    plates_left: int
    chosen: bool
    doubts: Sequence[str]


@dataclass(frozen=True)
class ReadingLine:
    """`today` is false when the reading is of another day: beams drift, and mirrors get knocked."""

    id: int
    irradiance: str
    tilt_deg: int
    when: str
    by: str
    today: bool


@dataclass(frozen=True)
class LearnedLine:
    """What the plates say: `learned`, or a sentence why nothing yet; `left_out` says which plates were not counted."""

    learned: Learned | None
    sentence: str
    left_out: str


@dataclass(frozen=True)
class StationLine:
    """`time` is empty where there is none, and `problem` says why. `set_already`: the station has this time."""

    id: int
    name: str
    out_of_order: bool
    now_set: str
    reading: ReadingLine | None
    time: Exposure | None
    problem: str
    set_already: bool
    plates: LearnedLine | None


@dataclass(frozen=True)
class ExposuresPage:
    boxes: Sequence[BoxLine]
    box: BoxLine | None
    stations: Sequence[StationLine]
    station_names: Sequence[tuple[int, str]]
    form: Submitted[NewReading]


def _reading_line(reading: MeterReading, now: datetime, zone: str) -> ReadingLine:
    return ReadingLine(
        reading.id,
        irradiance_words(reading.irradiance_nw_per_cm2),
        reading.tilt_deg,
        moment_words(reading.read_at, zone),
        reading.read_by,
        day_at(reading.read_at, zone) == day_at(now, zone),
    )


def _learned_line(shots: Shots, set_s: int) -> LearnedLine:
    answer = learn(shots.shots, set_s=set_s)
    reasons = (
        (shots.incidents, "with an incident"),
        (shots.moved, "whose look means that something moved"),
        (shots.no_image, "without any image"),
    )
    left_out = " and ".join(f"{count} {words}" for count, words in reasons if count)
    if isinstance(answer, NotLearned):
        return LearnedLine(None, answer.sentence, left_out)
    return LearnedLine(answer, "", left_out)


def _station_line(
    place: Place,
    reading: MeterReading | None,
    box: PlateBox | None,
    shots: Shots | None,
    now: datetime,
    zone: str,
) -> StationLine:
    time: Exposure | None = None
    problem = ""
    if reading is None:
        problem = "No meter reading yet. Measure in the plate's plane and record it below."
    elif box is None:
        problem = "No plate box yet, so no dose. Take one in under Stock."
    else:
        answer = exposure(
            dose_uj_per_cm2=box.dose_uj_per_cm2,
            irradiance_nw_per_cm2=reading.irradiance_nw_per_cm2,
            tilt_deg=reading.tilt_deg,
        )
        if isinstance(answer, NoExposure):
            problem = answer.sentence
        else:
            time = answer
    return StationLine(
        place.id,
        place.name,
        place.out_of_order,
        duration_words(place.exposure_s or 0),
        None if reading is None else _reading_line(reading, now, zone),
        time,
        problem,
        time is not None and time.station_s == place.exposure_s,
        None if shots is None else _learned_line(shots, place.exposure_s or 1),
    )


def exposures_page(
    session: LabSession,
    now: datetime,
    zone: str,
    *,
    plate_box_id: int | None = None,
    form: Submitted[NewReading] | None = None,
) -> ExposuresPage:
    """The page for one box's dose; without a choice, for the box that is proposed, else the first that has plates left.

    Boxes to choose from come first, as they are offered; then fogged and empty ones.
    """
    offered = list_offered_boxes(session, day_at(now, zone))
    boxes = [*offered, *(box for box in list_plate_boxes(session) if box not in offered)]
    typed = "" if form is None else str(form.value("plate_box_id"))
    if plate_box_id is not None:
        box: PlateBox | None = get_plate_box(session, plate_box_id)
    else:
        box = next((box for box in boxes if str(box.id) == typed), None)
        box = box or find_proposed_box(session, day_at(now, zone)) or next(iter(offered), None)
    if box is not None and box not in boxes:
        boxes.append(box)
    lines = [
        BoxLine(
            each.id,
            each.name,
            each.dose_uj_per_cm2,
            each.plates_left,
            each is box,
            doubts_about(each, now, zone),
        )
        for each in boxes
    ]
    readings = list_latest_readings(session)
    shots = {} if box is None else list_shots(session, box.id)
    places = list_stations(session)
    return ExposuresPage(
        boxes=lines,
        box=next((line for line in lines if line.chosen), None),
        stations=[
            _station_line(place, readings.get(place.id), box, shots.get(place.id), now, zone)
            for place in places
        ],
        station_names=[(place.id, place.name) for place in places],
        form=form or Submitted(),
    )
