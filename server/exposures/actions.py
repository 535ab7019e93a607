"""Recording what a meter showed, and setting a station's exposure from it or from what its plates say."""

from datetime import datetime

from server.core.dose_learning import NotLearned, learn
from server.core.exposure import NoExposure, exposure
from server.data.session import LabSession
from server.exposures.models import MeterReading
from server.exposures.queries import Shots, find_latest_reading, get_reading, list_shots
from server.plates.queries import get_plate_box
from server.refusal import Refusal
from server.stations.actions import set_exposure
from server.stations.models import PlaceKind
from server.stations.queries import get_place


def record_reading(
    session: LabSession, *, place_id: int, irradiance_nw_per_cm2: int, tilt_deg: int, by: str, now: datetime
) -> MeterReading:
    """Keep what the meter showed at a station, in nW/cm², with the plate's tilt against it in degrees."""
    place = get_place(session, place_id)
    if place.kind != PlaceKind.STATION:
        raise Refusal(f"{place.name} is not a station. Choose a station.")
    reading = MeterReading(
        place_id=place.id,
        irradiance_nw_per_cm2=irradiance_nw_per_cm2,
        tilt_deg=tilt_deg,
        read_at=now,
        read_by=by,
    )
    session.add(reading)
    session.flush()  # taking the time over names its id
    return reading


def take_over_exposure(session: LabSession, *, reading_id: int | None, plate_box_id: int) -> int:
    """Set the station's exposure from this reading and the box's dose. Returns the seconds.

    The reading that was on the screen is named, so that nobody sets a time from a reading they have not seen.
    """
    box = get_plate_box(session, plate_box_id)
    if reading_id is None:
        raise Refusal(
            "No reading was named. Load the page again and press the button beside the reading you mean."
        )
    reading = get_reading(session, reading_id)
    place = get_place(session, reading.place_id)
    latest = find_latest_reading(session, place.id)
    if latest is not None and latest.id != reading.id:
        raise Refusal(
            f"{place.name} was measured again since this page was loaded. Load it again and compare."
        )
    answer = exposure(
        dose_uj_per_cm2=box.dose_uj_per_cm2,
        irradiance_nw_per_cm2=reading.irradiance_nw_per_cm2,
        tilt_deg=reading.tilt_deg,
    )
    if isinstance(answer, NoExposure):
        raise Refusal(answer.sentence)
    set_exposure(session, place.id, exposure_s=answer.station_s)
    return answer.station_s


def take_learned_exposure(
    session: LabSession, *, place_id: int | None, plate_box_id: int, exposure_s: int | None
) -> None:
    """Set the station's exposure to the seconds that its plates speak for.

    The seconds that were on the screen are named, so that nobody sets a time that a new verdict has changed meanwhile.
    """
    box = get_plate_box(session, plate_box_id)
    if place_id is None or exposure_s is None:
        raise Refusal(
            "No time was named. Load the page again and press the button beside the station you mean."
        )
    place = get_place(session, place_id)
    if place.exposure_s is None:
        raise Refusal(f"{place.name} is not a station. Choose a station.")
    answer = learn(list_shots(session, box.id).get(place.id, Shots()).shots, set_s=place.exposure_s)
    if isinstance(answer, NotLearned):
        raise Refusal(answer.sentence)
    if answer.step_s != exposure_s:
        raise Refusal(
            f"The plates of {place.name} now speak for {answer.step_s} s. Load the page again and compare."
        )
    set_exposure(session, place.id, exposure_s=exposure_s)
