"""The exposure page over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest

from server.data.session import LabSession
from server.exposures.actions import record_reading
from server.exposures.queries import list_shots
from server.plates.actions import take_in_plate_box
from server.runs.queries import list_rated_runs_of_box
from server.stations.queries import get_place
from tests.casts import MORNING, Cast
from tests.conftest import Running, Visitor
from tests.reading import text_of
from tests.runs.room import Room, fill_room, rate_a_strip

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def room(in_lab: InLab) -> Room:
    with in_lab() as session:
        return fill_room(session)


def test_a_reading_becomes_a_time_with_its_reason(tomas: Visitor, room: Room) -> None:
    """Hand calculation: 600 µJ/cm² at 60 µW/cm² and 56° take 17.9 s, not 10 s."""
    page = text_of(
        tomas.submit("/exposures/readings", place_id=room.station_id, irradiance="60 µW/cm²", tilt_deg=56)
    )

    assert "17.9 s" in page
    assert "600 µJ/cm² ÷ (60 µW/cm² × 0.5592)" in page
    assert "600 µJ/cm² ÷ 33.55 µW/cm² in the plate's plane" in page
    assert "Read Tue 16 Feb 2027, 08:00 by Tomas" in page
    assert "laser safety officer decides" in page


def test_the_time_is_taken_over_with_one_button(tomas: Visitor, room: Room, in_lab: InLab) -> None:
    page = tomas.submit("/exposures/readings", place_id=room.station_id, irradiance="31")
    button = page.find("button", string="Set S1 to 19 s")
    form = button.find_parent("form")  # type: ignore[union-attr]
    page = tomas.submit(
        str(form["action"]),  # type: ignore[index]
        reading_id=form.select_one("input[name=reading_id]")["value"],  # type: ignore[index,union-attr]
    )

    assert "the station is set to 19 s" in text_of(page)
    assert page.find("button", string="Set S1 to 19 s") is None
    with in_lab() as session:
        assert get_place(session, room.station_id).exposure_s == 19


def test_another_box_has_another_dose_and_stays_chosen(tomas: Visitor, room: Room, in_lab: InLab) -> None:
    with in_lab() as session:
        box = take_in_plate_box(
            session,
            name="Box 2",
            plates=10,
            width_um=63_000,
            height_um=63_000,
            dose_uj_per_cm2=1200,
            sees_red=True,
            sees_green=False,
            sees_blue=True,
            arrived_on=MORNING.date(),
            expires_on=None,
            warm_up_s=3600,
            by="Tomas",
            now=MORNING,
        )
        box_id = box.id
    typed = {"place_id": room.station_id, "plate_box_id": box_id}
    page = tomas.submit("/exposures/readings", irradiance="60", **typed)
    assert "plates of Box 2: 1200 µJ/cm²" in text_of(page)
    assert "20.0 s" in text_of(page)

    page = tomas.submit("/exposures/readings", 422, irradiance="bright", **typed)
    assert "plates of Box 2" in text_of(page)
    assert "10.0 s" in text_of(tomas.page("/exposures"))


@pytest.mark.parametrize(
    ("irradiance", "tilt", "words"),
    [
        ("bright", "0", "“bright” is not a reading"),
        ("0", "0", "The meter showed no light"),
        ("", "0", "Please fill this in."),
        ("60", "90", "Please write 89 or less."),
        ("60", "flat", "Please write a whole number"),
    ],
)
def test_a_reading_that_makes_no_sense_is_asked_for_again(
    tomas: Visitor, room: Room, irradiance: str, tilt: str, words: str
) -> None:
    page = tomas.submit(
        "/exposures/readings", 422, place_id=room.second_station_id, irradiance=irradiance, tilt_deg=tilt
    )

    assert words in text_of(page)
    assert page.select_one("#irradiance")["value"] == irradiance  # type: ignore[index]
    assert page.select_one("#tilt_deg")["value"] == tilt  # type: ignore[index]
    assert page.select_one("#place_id option[selected]")["value"] == str(room.second_station_id)  # type: ignore[index]


def test_yesterdays_reading_is_called_old(server: Running, tomas: Visitor, room: Room) -> None:
    tomas.submit("/exposures/readings", place_id=room.station_id, irradiance="60")
    assert "not from today" not in text_of(tomas.page("/exposures"))
    server.clock.instant = MORNING + timedelta(days=1)

    assert "not from today" in text_of(tomas.page("/exposures"))


def test_a_beam_too_strong_gets_a_sentence_instead_of_a_time(tomas: Visitor, room: Room) -> None:
    page = tomas.submit("/exposures/readings", place_id=room.station_id, irradiance="90 mW")

    assert "shorter than a hand can open a shutter" in text_of(page)
    assert page.find("button", string=lambda words: bool(words) and words.startswith("Set")) is None


def test_an_empty_lab_is_told_where_to_begin(mira: Visitor) -> None:
    page = text_of(mira.page("/exposures"))

    assert "There is no plate box yet" in page
    assert "There is no station yet" in page


def test_it_is_for_staff_of_the_lab_only(tomas: Visitor, tablet: Visitor, noor: Visitor, room: Room) -> None:
    tomas.submit("/exposures/readings", place_id=room.station_id, irradiance="60")

    tablet.page("/exposures", 403)
    noor.page(f"/exposures/boxes/{room.plate_box_id}", 404)
    noor.submit("/exposures/readings", 404, place_id=room.station_id, irradiance="60")
    noor.submit(f"/exposures/boxes/{room.plate_box_id}/take-over", 404, reading_id=1)


def test_five_rated_plates_speak_for_a_time_that_one_button_sets(
    tomas: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    """The station stands at 10 s; the five plates of the strip are best near 12 s, one step of at most two fifths away."""
    before = text_of(tomas.page("/exposures"))
    assert "What the plates say" not in before
    with in_lab() as session:
        rate_a_strip(
            session,
            section_id=cast.section_id,
            group_id=cast.group_ids[0],
            plate_box_id=room.plate_box_id,
            place_id=room.station_id,
        )

    page = tomas.page("/exposures")
    assert "5 rated plates look best at 12.3 s" in text_of(page)
    button = page.find("button", string="Set S1 to 12 s as the plates say")
    form = button.find_parent("form")  # type: ignore[union-attr]
    fields = {str(field["name"]): str(field["value"]) for field in form.select("input")}  # type: ignore[union-attr]
    page = tomas.submit(str(form["action"]), 200, **fields)  # type: ignore[index]
    assert "The station is set to 12 s" in text_of(page)

    refused = tomas.submit(str(form["action"]), 409, **{**fields, "exposure_s": "40"})  # type: ignore[index]
    assert "now speak for 12 s" in text_of(refused)
    assert "No time was named" in text_of(tomas.submit(str(form["action"]), 409))  # type: ignore[index]


def test_plates_without_an_image_teach_no_time(tomas: Visitor, room: Room, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        rate_a_strip(
            session,
            section_id=cast.section_id,
            group_id=cast.group_ids[0],
            plate_box_id=room.plate_box_id,
            place_id=room.second_station_id,
        )
        first = list_rated_runs_of_box(session, room.plate_box_id)[0]
        first.verdict = 0
        session.add(first)

    page = text_of(tomas.page("/exposures"))
    assert "4 of the 5 rated plates" in page
    assert "Left out: 1 without any image" in page


def test_an_exposure_before_a_new_reading_counts_as_its_time_in_todays_light(
    tomas: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    """Hand calculation: exposed at 60 µW/cm² and measured at 30 µW/cm² since, 12 s then are 24 s today."""
    with in_lab() as session:
        reading = record_reading(
            session,
            place_id=room.station_id,
            irradiance_nw_per_cm2=60_000,
            tilt_deg=0,
            by="Tomas",
            now=MORNING,
        )
        reading.read_at = MORNING - timedelta(hours=1)
        session.add(reading)
        rate_a_strip(
            session,
            section_id=cast.section_id,
            group_id=cast.group_ids[0],
            plate_box_id=room.plate_box_id,
            place_id=room.station_id,
        )
        then = list_shots(session, room.plate_box_id)[room.station_id].shots
        record_reading(
            session,
            place_id=room.station_id,
            irradiance_nw_per_cm2=30_000,
            tilt_deg=0,
            by="Tomas",
            now=MORNING + timedelta(hours=1),
        )
        now = list_shots(session, room.plate_box_id)[room.station_id].shots

    assert [shot.time_s for shot in now] == [2 * shot.time_s for shot in then]
    assert "look best at 24.7 s" in text_of(tomas.page("/exposures"))
