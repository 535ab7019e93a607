"""The runs pages and the tablet over HTTP."""

import csv
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import time, timedelta
from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
from bs4 import BeautifulSoup

from server.charges.actions import allow_more_plates
from server.charges.queries import get_charge
from server.core.rack import Slot
from server.data.session import Database, LabSession
from server.demo import furnish
from server.people.queries import list_students
from server.plates.actions import (
    log_light,
    open_plate_box,
    record_fog_test,
    seal_plate_box,
    take_in_plate_box,
)
from server.plates.queries import get_plate_box, list_unbalanced
from server.runs.actions import give_verdict, leave_to_dry
from server.runs.queries import list_runs, list_slots
from server.stations.queries import get_place
from tests.casts import MORNING, Cast
from tests.conftest import Running, Visitor
from tests.prep.days import publish_rounds
from tests.reading import text_of
from tests.runs.room import AT_THE_BELL, Room, add_rack, fill_room, make_plates

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def room(in_lab: InLab) -> Room:
    with in_lab() as session:
        return fill_room(session)


def _note(room: Room, **changed: object) -> dict[str, Any]:
    note: dict[str, Any] = {
        "tablet_id": str(uuid4()),
        "plate_box_id": room.plate_box_id,
        "place_id": room.station_id,
        "charge_id": room.charge_id,
        "settle_s": "60",
        "exposure_s": "10",
        "develop_s": "120",
        "incident": "none",
        "comment": "",
    }
    return {**note, **changed}


def _chosen(page: BeautifulSoup, name: str) -> str | None:
    tile = page.select_one(f"input[name={name}][checked]")
    return None if tile is None else str(tile["value"])


def test_joining_with_the_class_code_leads_to_the_run_note(stranger: Visitor, cast: Cast, room: Room) -> None:
    page = stranger.submit(f"/join/{cast.class_code}", code=cast.class_code, group_id=cast.group_ids[2])

    assert page.select_one("h1").text == "Run note"  # type: ignore[union-attr]
    assert "G3, Cellar lab" in text_of(page)


def test_the_note_offers_the_box_the_stations_and_the_developer_of_now(tablet: Visitor, room: Room) -> None:
    page = tablet.page("/tablet")

    assert _chosen(page, "plate_box_id") == str(room.plate_box_id)
    assert _chosen(page, "charge_id") == str(room.charge_id)
    assert _chosen(page, "incident") == "none"
    assert _chosen(page, "place_id") is None
    station = page.select_one(f"input[name=place_id][value='{room.second_station_id}']")
    assert station is not None
    assert (station["data-settle_s"], station["data-exposure_s"]) == ("90", "12")


def test_the_next_note_starts_from_the_groups_last_station(tablet: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", **_note(room, place_id=room.second_station_id))

    assert _chosen(page, "place_id") == str(room.second_station_id)
    assert page.select_one("#settle_s")["value"] == "90"  # type: ignore[index]
    assert page.select_one("#exposure_s")["value"] == "12"  # type: ignore[index]


def test_a_filed_note_stands_on_the_tablet_and_on_the_instructors_page_at_once(
    tablet: Visitor, mira: Visitor, room: Room, in_lab: InLab
) -> None:
    page = tablet.submit("/tablet/runs", **_note(room, incident="moved", comment="someone walked"))

    assert "○ run 1, waiting for its verdict" in text_of(page)
    rows = mira.page("/runs/rows")
    assert [node.name for node in rows.children if node.name] == ["div"]  # type: ignore[attr-defined]
    assert rows.select_one("#run-rows")["hx-get"] == "/runs/rows"  # type: ignore[index]
    assert "run 1 G1 waiting for its verdict something moved S1 10 s Box 1 Tue 16 Feb 2027, 08:00" in text_of(
        rows
    )
    with in_lab() as session:
        assert get_plate_box(session, room.plate_box_id).plates_left == 11


def test_the_instructor_reads_everything_of_a_run(tablet: Visitor, mira: Visitor, room: Room) -> None:
    tablet.submit("/tablet/runs", **_note(room, incident="light", comment="door opened"))
    link = mira.page("/runs").select_one("#run-rows th a")
    page = text_of(mira.page(str(link["href"])))  # type: ignore[index]

    for words in (
        "Run 1 of Tuesday",
        "Group Tue-G1",
        "Plate box Box 1",
        "Station S1",
        "Settle time 1 min",
        "Exposure 10 s",
        "Exposed Tue 16 Feb 2027, 08:00",
        "Developer batch 1 in developer, line 1",
        "Developed for 2 min",
        "Incident stray light",
        "Comment door opened",
        "Rotation none",
        "Verdict waiting for its verdict",
    ):
        assert words in page


def test_the_group_rates_its_run_later(tablet: Visitor, mira: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    page = tablet.submit(f"{address}/verdict", verdict=3, comment="bright")

    assert "● run 1: 3, clear in ordinary spot light" in text_of(page)
    assert "Good so far: 1 of 1 rated." in text_of(mira.page("/runs"))


def test_the_technician_may_rate_too(tablet: Visitor, tomas: Visitor, room: Room) -> None:
    tablet.submit("/tablet/runs", **_note(room))
    address = str(tomas.page("/runs").select_one("#run-rows th a")["href"])  # type: ignore[index]
    page = tomas.submit(f"{address}/verdict", verdict=0, comment="clear glass")

    assert "Verdict 0, no image" in text_of(page)


def test_a_verdict_off_the_scale_is_asked_for_again(tablet: Visitor, tomas: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    own = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    staffs = own.removeprefix("/tablet")

    for visitor, address in ((tablet, own), (tomas, staffs)):
        page = visitor.submit(f"{address}/verdict", 422, verdict=5, comment="better than all")
        assert "choose one of the five" in text_of(page)
        assert page.select_one("#comment").text == "better than all"  # type: ignore[union-attr]


def test_the_section_is_summed_up_in_counts_and_never_in_percent(
    mira: Visitor, tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    for _plate in range(9):
        tablet.submit("/tablet/runs", **_note(room, charge_id=""))
    with in_lab() as session:
        runs = list_runs(session, cast.section_id)
        for run, verdict in zip(runs, (4, 3, 3, 4, 3, 1), strict=False):
            give_verdict(session, run.id, verdict=verdict, comment="", now=MORNING)
    page = text_of(mira.page("/runs"))

    assert "5 of 6 rated, 3 waiting" in page
    assert "%" not in page


def test_a_long_list_is_cut_and_the_rest_is_one_link_away(
    mira: Visitor, tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    with in_lab() as session:
        get_plate_box(session, room.plate_box_id).plates_left = 40
    for _plate in range(27):
        tablet.submit("/tablet/runs", **_note(room, charge_id=""))
    page = mira.page("/runs")

    assert len(page.select("#run-rows tbody tr")) == 25
    link = page.find("a", string="2 older of Tuesday")
    page = mira.page(str(link["href"]))  # type: ignore[index]
    assert len(page.select("#run-rows tbody tr")) == 27
    assert "?section=" in str(page.select_one("#run-rows")["hx-get"])  # type: ignore[index]


def test_bad_times_are_asked_for_again_and_everything_stays(
    tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    note = _note(room, place_id=room.second_station_id, exposure_s="ten", comment="slow", incident="dropped")
    page = tablet.submit("/tablet/runs", 422, **note)

    assert "Please write a whole number, such as 12." in text_of(page)
    assert page.select_one("#exposure_s")["value"] == "ten"  # type: ignore[index]
    assert page.select_one("#comment").text == "slow"  # type: ignore[union-attr]
    assert _chosen(page, "place_id") == str(room.second_station_id)
    assert _chosen(page, "incident") == "dropped"
    assert page.select_one("input[name=tablet_id]")["value"] == note["tablet_id"]  # type: ignore[index]
    with in_lab() as session:
        assert get_plate_box(session, room.plate_box_id).plates_left == 12


def test_a_note_without_a_station_is_asked_for_it(tablet: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", 422, **_note(room, place_id=""))

    assert page.select_one("#place_id-fault") is not None


def test_a_note_without_a_proper_number_gets_a_new_one(tablet: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", 422, **_note(room, tablet_id="1"))

    assert len(str(page.select_one("input[name=tablet_id]")["value"])) == 36  # type: ignore[index]


def test_a_note_from_an_empty_box_is_refused_with_a_sentence(
    tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    with in_lab() as session:
        get_plate_box(session, room.plate_box_id).plates_left = 0

    assert "Choose another box" in text_of(tablet.submit("/tablet/runs", 409, **_note(room)))
    assert "Ask the technician for a new box" in text_of(tablet.page("/tablet"))


def test_the_developer_tells_its_room_and_what_an_instructor_allowed(
    tablet: Visitor, in_lab: InLab, room: Room
) -> None:
    with in_lab() as session:
        allow_more_plates(session, room.charge_id, plates=9, reason="a strip", by="Mira", now=MORNING)
    text = text_of(tablet.page("/tablet"))

    assert (
        "room for 9 plates of 63.5 × 63.5 mm, until 14:00; "
        "Mira allowed 9 plates from then on, past its capacity, Tue 16 Feb 2027, 08:00: a strip"
    ) in text


def test_a_note_on_expired_developer_says_what_to_do(server: Running, tablet: Visitor, room: Room) -> None:
    server.clock.instant = MORNING + timedelta(hours=7)

    page = tablet.submit("/tablet/runs", 409, **_note(room))
    assert "ask the technician for a fresh charge" in text_of(page)
    page = tablet.page("/tablet")
    assert (
        "Past its life, failed its check or used up: developer, line 1, batch 1. Ask the technician"
        in text_of(page)
    )
    assert page.select_one("input[name=charge_id]") is None


def test_a_station_out_of_order_is_offered_last_behind_a_mark_and_never_proposed(
    tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    tablet.submit("/tablet/runs", **_note(room))
    with in_lab() as session:
        get_place(session, room.station_id).out_of_order = True
    page = tablet.page("/tablet")

    tiles = [text_of(label) for label in page.select("label:has(input[name=place_id])")]
    assert [tile[:2] for tile in tiles] == ["S2", "S1"]
    assert "▲ out of order now" in tiles[1]
    assert _chosen(page, "place_id") == str(room.second_station_id)
    assert page.select_one("#exposure_s")["value"] == "12"  # type: ignore[index]
    with in_lab() as session:
        get_place(session, room.second_station_id).out_of_order = True
    assert _chosen(tablet.page("/tablet"), "place_id") is None


def test_a_note_that_was_kept_is_dated_when_it_was_written(
    server: Running, tablet: Visitor, mira: Visitor, room: Room
) -> None:
    server.clock.instant = MORNING + timedelta(hours=7)
    tablet.submit("/tablet/runs", **_note(room, kept_s=3 * 3600))

    assert "Tue 16 Feb 2027, 12:00" in text_of(mira.page("/runs/rows"))


def test_a_note_that_was_kept_over_the_holidays_is_dated_when_it_was_written(
    tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    tablet.submit("/tablet/runs", **_note(room, kept_s=30 * 86_400))
    with in_lab() as session:
        [run] = list_runs(session, cast.section_id)
        assert run.exposed_at == MORNING - timedelta(days=30)


def test_a_note_that_was_kept_belongs_to_the_rotation_it_was_written_in(
    server: Running, tablet: Visitor, mira: Visitor, in_lab: InLab, cast: Cast
) -> None:
    """The class is at 09:00 on the next day; the note of 09:10 arrives at 14:00."""
    with in_lab() as session:
        things = furnish(session, cast.section_id, zone="Europe/Berlin", now=MORNING, seconds=1)
    server.clock.instant = MORNING + timedelta(days=1, hours=6)
    note = {"plate_box_id": things.plate_box_id, "place_id": things.station_ids[0]}
    for kept_s, rotation in ((17_400, "Rotation First hologram"), (0, "Rotation none")):
        page = tablet.submit("/tablet/runs", tablet_id=uuid4(), kept_s=kept_s, **note)
        address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
        assert rotation in text_of(mira.page(address.removeprefix("/tablet")))


def test_an_open_box_decides_the_screen_s_colour_and_a_closed_one_does_not(
    tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    with in_lab() as session:
        open_plate_box(session, room.plate_box_id, by="Tomas", now=MORNING)
        closed = get_plate_box(session, room.plate_box_id).model_dump(
            include={"plates_left", "width_um", "height_um", "dose_uj_per_cm2", "arrived_on", "warm_up_s"}
        )
        plates = closed.pop("plates_left")
        take_in_plate_box(
            session, **closed, name="Box 2", plates=plates, sees_red=True, sees_green=True, sees_blue=True,
            expires_on=None, by="Tomas", now=MORNING,
        )  # fmt: skip

    assert _light(tablet.page("/tablet")) == "green"


def _second_box(in_lab: InLab, room: Room, **changed: Any) -> int:
    """“Box 2”, like the room's box but for what is changed."""
    with in_lab() as session:
        like = get_plate_box(session, room.plate_box_id).model_dump(
            include={"width_um", "height_um", "dose_uj_per_cm2", "arrived_on", "expires_on", "warm_up_s"}
        )
        given = {"sees_red": True, "sees_green": False, "sees_blue": True, "plates": 12, **like, **changed}
        return take_in_plate_box(session, **given, name="Box 2", by="Tomas", now=MORNING).id


def test_a_box_that_was_just_sealed_still_decides_the_screen_s_colour(
    server: Running, tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    """Its plates may be on their way to the developer; an hour later they are not (assumed)."""
    panchromatic = _second_box(in_lab, room, sees_green=True)
    with in_lab() as session:
        open_plate_box(session, panchromatic, by="Tomas", now=MORNING)
        seal_plate_box(session, panchromatic, by="Tomas", now=MORNING)
        open_plate_box(session, room.plate_box_id, by="Tomas", now=MORNING)
    assert _light(tablet.page("/tablet")) == "none"
    server.clock.instant = MORNING + timedelta(hours=1)

    assert _light(tablet.page("/tablet")) == "green"


def test_a_box_in_doubt_is_marked_and_proposed_last_and_a_fogged_one_is_not_offered(
    server: Running, tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    second = _second_box(in_lab, room)
    with in_lab() as session:
        open_plate_box(session, room.plate_box_id, by="Tomas", now=MORNING)
    assert _chosen(tablet.page("/tablet"), "plate_box_id") == str(room.plate_box_id)
    with in_lab() as session:
        log_light(session, clock=time(8), light_zone_id=None, note="", by="Mira", now=MORNING)
    page = tablet.page("/tablet")
    assert _chosen(page, "plate_box_id") == str(second)
    assert "▲ light incident at 08:00" in text_of(page)
    server.clock.instant = fogged_at = MORNING + timedelta(minutes=10)
    with in_lab() as session:
        record_fog_test(
            session, room.plate_box_id, plates=1, is_fogged=True, note="", by="Tomas", now=fogged_at
        )
    page = tablet.page("/tablet")

    assert "Fogged, not for runs: Box 1." in text_of(page)
    assert [tile["value"] for tile in page.select("input[name=plate_box_id]")] == [str(second)]


def test_nothing_is_proposed_where_every_box_is_in_doubt(tablet: Visitor, room: Room, in_lab: InLab) -> None:
    with in_lab() as session:
        get_plate_box(session, room.plate_box_id).expires_on = MORNING.date() - timedelta(days=1)
    page = tablet.page("/tablet")

    assert "▲ expired" in text_of(page)
    assert _chosen(page, "plate_box_id") is None


def test_a_run_tells_the_light_that_may_have_reached_its_plate(
    tablet: Visitor, mira: Visitor, tomas: Visitor, room: Room
) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"]).removeprefix("/tablet")  # type: ignore[index]
    tomas.submit("/stock/light-incidents", lit_at="08:00")

    assert "Light light incident at 08:00, while this plate may have been out" in text_of(mira.page(address))
    assert "none, light incident at 08:00" in text_of(mira.page("/runs"))
    assert "Box 1 , 11 left: fog test wanted" in text_of(tomas.page("/stock/light-incidents"))


def test_a_verdict_that_was_kept_is_dated_when_it_was_given(
    server: Running, tablet: Visitor, mira: Visitor, room: Room
) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    server.clock.instant = MORNING + timedelta(hours=7)
    tablet.submit(f"{address}/verdict", verdict=3, comment="", kept_s=3 * 3600)

    assert "Verdict given Tue 16 Feb 2027, 12:00" in text_of(mira.page(address.removeprefix("/tablet")))


def test_what_another_group_wrote_on_this_tablet_waits_for_that_group(
    tablet: Visitor, other_tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    """A page that was opened before another group joined is still open, and sends what it kept."""
    note = _note(room, group_id=cast.group_ids[0])
    assert "the tablet has joined G2 since" in text_of(other_tablet.submit("/tablet/runs", 401, **note))
    with in_lab() as session:
        assert list_runs(session, cast.section_id) == []

    page = tablet.submit("/tablet/runs", **note)
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    for visitor, status in ((other_tablet, 401), (tablet, 200)):
        visitor.submit(f"{address}/verdict", status, verdict=2, comment="", group_id=cast.group_ids[0])
    with in_lab() as session:
        assert [run.verdict for run in list_runs(session, cast.section_id)] == [2]


def _light(page: BeautifulSoup) -> object:
    """The one colour of the page's screen; None on paper."""
    assert page.html is not None
    return page.html.get("data-light")


def test_a_problem_near_open_plates_is_told_in_the_dark(
    tablet: Visitor, mira: Visitor, stranger: Visitor, room: Room, in_lab: InLab
) -> None:
    assert _light(tablet.page("/tablet/runs/99999", 404)) == "green"
    with in_lab() as session:
        box = get_plate_box(session, room.plate_box_id)
        box.sees_green, box.sees_red = True, False
    tablet.page("/tablet")

    assert _light(tablet.page("/tablet/runs/99999", 404)) == "red"
    assert _light(tablet.page("/tablet/nowhere", 404)) == "red"
    assert _light(tablet.submit("/tablet/runs", 409, **_note(room, place_id=room.rinse_tray_id))) == "red"
    tablet.headers["Origin"] = "null"
    assert _light(tablet.submit("/tablet/runs", 403)) == "red"
    assert _light(mira.page("/tablet", 403)) == "green"
    assert _light(stranger.page("/nowhere", 404)) is None


def test_a_tablet_whose_sign_in_has_ended_stays_dark_and_leads_to_joining(
    server: Running, tablet: Visitor, room: Room
) -> None:
    tablet.page("/tablet")
    server.clock.instant = MORNING + timedelta(days=401)
    page = tablet.page("/tablet", 401)

    assert _light(page) == "green"
    assert page.select_one("a[href='/join']") is not None


def test_a_fault_near_open_plates_is_told_in_the_dark(
    server: Running, tablet: Visitor, room: Room, database: Database
) -> None:
    tablet.page("/tablet")
    del server.app.state.database
    page = tablet.page("/tablet", 500)
    server.app.state.database = database

    assert _light(page) == "green"
    assert "Something went wrong on our side" in text_of(page)


def test_another_groups_tablet_neither_sees_nor_rates_the_run(
    tablet: Visitor, other_tablet: Visitor, room: Room
) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]

    assert "no run of your group" in text_of(other_tablet.page(address, 404))
    assert "no run of your group" in text_of(other_tablet.submit(f"{address}/verdict", 404, verdict=0))
    assert "run 1" not in text_of(other_tablet.page("/tablet"))


def test_the_other_lab_sees_nothing_of_it(
    tablet: Visitor, noor: Visitor, other_lab_tablet: Visitor, room: Room, cast: Cast
) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    staffs = address.removeprefix("/tablet")

    other_lab_tablet.page(address, 404)
    other_lab_tablet.submit(f"{address}/verdict", 404, verdict=0)
    other_lab_tablet.submit("/tablet/runs", 404, **_note(room))
    noor.page(staffs, 404)
    noor.submit(f"{staffs}/verdict", 404, verdict=0)
    noor.page(f"/runs?section={cast.section_id}", 404)
    assert "run 1" not in text_of(noor.page("/runs"))


def test_staff_pages_are_not_for_tablets_and_the_tablets_not_for_staff(
    tablet: Visitor, mira: Visitor, stranger: Visitor
) -> None:
    for address in ("/runs", "/runs/rows", "/runs/1"):
        tablet.page(address, 403)
    mira.page("/tablet", 403)
    assert stranger.page("/tablet", 401).select_one("h1").text == "Please sign in"  # type: ignore[union-attr]


def test_ten_tablets_at_once_become_ten_runs_in_a_row(
    tablet: Visitor, other_tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    def send(number: int) -> int:
        visitor = (tablet, other_tablet)[number % 2]
        return visitor.post("/tablet/runs", data=_note(room, charge_id="")).status_code

    with ThreadPoolExecutor(10) as threads:
        answers = list(threads.map(send, range(10)))

    assert answers == [200] * 10
    with in_lab() as session:
        assert sorted(run.number for run in list_runs(session, cast.section_id)) == list(range(1, 11))
        assert get_plate_box(session, room.plate_box_id).plates_left == 2
        assert list_unbalanced(session) == []


def test_of_verdicts_that_arrive_at_once_the_one_given_last_counts_whole(
    tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    tablet.submit("/tablet/runs", **_note(room))
    with in_lab() as session:
        address = f"/tablet/runs/{list_runs(session, cast.section_id)[0].id}/verdict"
    given = [
        {"verdict": "4", "comment": "last", "darkening": "normal"},
        *({"verdict": "1", "defects": "stain", "kept_s": str(60 * number)} for number in range(1, 8)),
    ]
    with ThreadPoolExecutor(8) as threads:
        answers = list(threads.map(lambda verdict: tablet.post(address, data=verdict).status_code, given))

    assert answers == [200] * 8
    with in_lab() as session:
        run = list_runs(session, cast.section_id)[0]
        assert (run.verdict, run.verdict_comment, run.defects, run.darkening) == (4, "last", "", "normal")


def test_the_same_note_sent_five_times_at_once_is_one_run(
    tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    note = _note(room)
    with ThreadPoolExecutor(5) as threads:
        answers = list(threads.map(lambda _time: tablet.post("/tablet/runs", data=note), range(5)))

    assert [answer.status_code for answer in answers] == [200] * 5
    assert all("run 1" in answer.text and "run 2" not in answer.text for answer in answers)
    with in_lab() as session:
        assert len(list_runs(session, cast.section_id)) == 1
        assert get_plate_box(session, room.plate_box_id).plates_left == 11
        assert get_charge(session, room.charge_id).plates == 1


def test_more_tablets_than_plates_leave_the_box_empty_and_not_below(
    tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    def send(_number: int) -> int:
        return tablet.post("/tablet/runs", data=_note(room, charge_id="")).status_code

    with ThreadPoolExecutor(8) as threads:
        answers = list(threads.map(send, range(15)))

    assert sorted(answers) == [200] * 12 + [409] * 3
    with in_lab() as session:
        assert sorted(run.number for run in list_runs(session, cast.section_id)) == list(range(1, 13))
        assert get_plate_box(session, room.plate_box_id).plates_left == 0


def test_the_note_says_which_plate_is_planned_where_and_for_how_long(
    tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        publish_rounds(session, cast.section_id, name="first", starts_at=MORNING, rounds=2)
    page = tablet.page("/tablet")

    planned = text_of(page.select_one("#planned"))  # type: ignore[arg-type]
    assert planned == "Plate 1 of 2, planned at S1 for 45 s; S1 is set to 10 s since."
    assert _chosen(page, "place_id") == str(room.station_id)
    values = {name: page.select_one(f"[name={name}]")["value"] for name in ("plate_no", "develop_s")}  # type: ignore[index]
    assert values == {"plate_no": "1", "develop_s": "150"}

    page = tablet.submit("/tablet/runs", **_note(room, plate_no=1))
    assert "Plate 2 of 2, planned at S1" in text_of(page)
    page = tablet.submit("/tablet/runs", **_note(room, plate_no=2))
    assert "All 2 planned plates have their note: this one is a repeat." in text_of(page)


def test_who_checked_and_who_filed_are_told_by_code_and_never_by_name(
    tablet: Visitor, mira: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    page = tablet.page("/tablet")
    letters = [node["value"] for node in page.select("input[name=emulsion_by]")]
    assert letters == ["a", "b", "nobody"]
    tablet.submit(
        "/tablet/runs",
        **_note(
            room, emulsion_by="b", filed_by="a", object_kind="key", object_tone="dark", bleach_clear_s=90
        ),
    )
    text, table = text_of(mira.page("/runs/1")), mira.get("/runs/runs.csv").text
    for words in (
        "Emulsion side checked by Tue-G1-b",
        "Filed by Tue-G1-a",
        "Object dark key",
        "Clear in the bleach after 1 min 30 s",
    ):
        assert words in text
    assert "Tue-G1-b" in table
    with in_lab() as session:
        names = [student.name for student in list_students(session, cast.section_id)]
    assert not [name for name in names if name in text or name in table]


def test_a_letter_that_is_none_is_asked_for_again(tablet: Visitor, room: Room) -> None:
    for letter in ({"emulsion_by": "Ada"}, {"filed_by": "nobody"}):
        page = tablet.submit("/tablet/runs", 422, **_note(room, **letter))
        assert "choose one of the letters of your group" in text_of(page)


def test_a_plan_stands_beside_what_was_done(tablet: Visitor, mira: Visitor, room: Room) -> None:
    tablet.submit(
        "/tablet/runs",
        **_note(room, exposure_s=14, planned_of=room.station_id, planned_settle_s=60, planned_exposure_s=8),
    )

    assert "Exposure 14 s, planned 8 s" in text_of(mira.page("/runs/1"))


def test_the_tablet_says_what_may_have_gone_wrong_and_what_to_change(
    tablet: Visitor, mira: Visitor, room: Room
) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    page = tablet.submit(
        f"{address}/verdict",
        verdict=2,
        defects=["fog veil", "stain"],
        darkening="too dark",
        replay_colour="green",
    )

    text = text_of(page)
    assert "Run 1: what may have gone wrong" in text
    assert "Exposed too much Expose for less. Next: 7 s instead of 10 s" in text
    assert "Make a fog test with a plate of the same box" in text
    assert page.select_one("#tablet-runs") is not None
    for again in (text_of(tablet.page(address)), text_of(mira.page("/runs/1"))):
        assert "Next: 7 s instead of 10 s" in again
    assert "Defects fog veil, stain" in text_of(mira.page("/runs/1"))
    ticked = tablet.page(address).select("input[name=defects][checked]")
    assert [node["value"] for node in ticked] == ["fog veil", "stain"]


def test_a_plate_that_came_out_well_needs_no_cause(tablet: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]

    assert "Run 1 came out well" in text_of(tablet.submit(f"{address}/verdict", verdict=4))


def test_a_dropped_plate_needs_no_verdict_and_says_so(tablet: Visitor, mira: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", **_note(room, incident="dropped", charge_id=""))

    assert "● run 1: dropped, needs no verdict" in text_of(page)
    assert "None rated yet, 1 dropped." in text_of(page)
    assert "no verdict is waited for" in text_of(mira.page("/runs/1"))
    assert "None rated yet, 1 dropped." in text_of(mira.page("/runs"))


def test_the_tablet_counts_its_own_runs_and_reminds_the_day_after(
    server: Running,
    tablet: Visitor,
    mira: Visitor,
    other_tablet: Visitor,
    room: Room,
    in_lab: InLab,
    cast: Cast,
) -> None:
    with in_lab() as session:
        runs = make_plates(
            session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=AT_THE_BELL
        )
        rack = add_rack(session)
        for slot, run in enumerate(runs[6:], start=1):
            leave_to_dry(session, run.id, place_id=rack, slot=slot, by="G1", now=MORNING)
    page = tablet.page("/tablet")
    assert "Good so far: 5 of 6 rated, 3 waiting (in R1–R3)." in text_of(page)
    assert page.select_one("#due") is None
    assert "%" not in text_of(page)

    server.clock.instant = MORNING + timedelta(days=1)
    due = tablet.page("/tablet").select_one("#due")
    assert due is not None
    assert "A verdict is due: run 7 (R1), run 8 (R2), run 9 (R3)." in text_of(due)
    assert other_tablet.page("/tablet").select_one("#due") is None
    assert "waiting for its verdict, due, in slot R1" in text_of(mira.page("/runs/rows"))


def test_a_group_leaves_its_plate_in_a_slot_and_no_other_group_does(
    tablet: Visitor, other_tablet: Visitor, room: Room, in_lab: InLab
) -> None:
    with in_lab() as session:
        rack = add_rack(session)
    page = tablet.submit("/tablet/runs", **_note(room))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    assert _chosen(tablet.page(address), "slot_id") == f"{rack}-1"

    other_tablet.submit(f"{address}/slip", 404, slot_id=f"{rack}-2")
    page = tablet.submit(f"{address}/slip", slot_id=f"{rack}-2", kept_s=60)
    assert "run 1, waiting for its verdict, in slot R2" in text_of(page)
    assert "in slot R2 of drying rack since Tue 16 Feb 2027, 07:59" in text_of(tablet.page(address))
    assert "choose one of the free slots" in text_of(tablet.submit(f"{address}/slip", 409, slot_id="R3"))

    assert _chosen(tablet.page(address), "slot_id") is None
    page = tablet.submit(f"{address}/slip", slot_id=f"{rack}-4")
    assert "run 1, waiting for its verdict, in slot R4" in text_of(page)


def test_slots_of_two_racks_are_told_with_their_rack(
    server: Running, tablet: Visitor, mira: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        runs = make_plates(
            session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=AT_THE_BELL
        )
        door, shelf = add_rack(session, name="door rack"), add_rack(session, name="shelf rack")
        for run, rack in zip(runs[6:], (door, shelf, shelf), strict=True):
            leave_to_dry(
                session, run.id, place_id=rack, slot=2 if run is runs[8] else 1, by="G1", now=MORNING
            )
    server.clock.instant = MORNING + timedelta(days=1)
    page = text_of(tablet.page("/tablet"))

    assert "3 waiting (in R1 of door rack; R1, R2 of shelf rack)." in page
    assert (
        "A verdict is due: run 7 (R1 of door rack), run 8 (R1 of shelf rack), run 9 (R2 of shelf rack)."
        in page
    )
    assert "in slot R2 of shelf rack" in text_of(mira.page("/runs/rows"))
    assert ",R2,shelf rack," in mira.get("/runs/runs.csv").text


def test_every_run_goes_into_a_table(mira: Visitor, tablet: Visitor, room: Room) -> None:
    page = tablet.submit("/tablet/runs", **_note(room, incident="moved", comment="=1+1", plate_no=2))
    address = str(page.select_one("#tablet-runs a")["href"])  # type: ignore[index]
    tablet.submit(f"{address}/verdict", verdict=1, defects=["dark bands"], comment="blurred")
    head, row = csv.reader(StringIO(mira.get("/runs/runs.csv?section=1").text.removeprefix("\ufeff")))
    found = dict(zip(head, row, strict=True))

    assert found["section"] == "Tuesday"
    assert (found["group"], found["plate of the group"], found["station"]) == ("Tue-G1", "2", "S1")
    assert (found["planned exposure s"], found["exposure s"]) == ("10", "10")
    assert (found["verdict"], found["defects"], found["comment"]) == ("1", "dark bands", "'=1+1")
    assert found["likely cause"] == "Something moved during the exposure"
    assert found["exposed"] == "2027-02-16 08:00"


def test_a_verdict_finds_its_run_by_the_id_of_the_note_in_its_own_group_only(
    tablet: Visitor, other_tablet: Visitor, in_lab: InLab, cast: Cast, room: Room
) -> None:
    note = _note(room)
    address = f"/tablet/notes/{note['tablet_id']}/verdict"
    assert "has not arrived" in tablet.submit(address, 404, verdict="3").get_text()
    tablet.submit("/tablet/runs", **note)
    other_tablet.submit(address, 404, verdict="1")
    tablet.submit(address, 422, verdict="")
    tablet.submit(address, verdict="3", comment="a little dim")

    with in_lab() as session:
        [run] = list_runs(session, cast.section_id)
        assert (run.verdict, run.verdict_comment) == (3, "a little dim")


def test_two_tablets_at_once_never_get_one_slot(
    tablet: Visitor, other_tablet: Visitor, room: Room, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        rack = add_rack(session)
        runs = [
            make_plates(session, room, section_id=cast.section_id, group_id=group, verdicts=[None])[0].id
            for group in cast.group_ids[:2]
        ]

    def leave(number: int) -> int:
        address = f"/tablet/runs/{runs[number]}/slip"
        return (tablet, other_tablet)[number].post(address, data={"slot_id": f"{rack}-1"}).status_code

    with ThreadPoolExecutor(2) as threads:
        answers = sorted(threads.map(leave, range(2)))

    assert answers == [200, 409]
    with in_lab() as session:
        assert list(list_slots(session).values()) == [Slot(1)]
