"""The exposure page over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest

from server.data.session import LabSession
from server.stations.queries import get_place
from server.stock.actions import take_in_plate_box
from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.reading import text_of
from tests.runs.room import Room, fill_room

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
