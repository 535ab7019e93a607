"""What the forecast's page says, by the numbers of worked examples."""

from datetime import date, datetime, time, timedelta

import pytest

from server.chemistry.actions import set_usual_quantities
from server.containers.models import OtherWaste
from server.data.session import LabSession
from server.forecasts.pages import ForecastPage, StreamPart, forecast_page
from server.pickups.actions import book_pickup
from server.stations.models import Bath
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench
from tests.forecasts.test_queries import past_classes

BERLIN = "Europe/Berlin"


def _page(session: LabSession, now: datetime = MORNING) -> ForecastPage:
    return forecast_page(session, now=now, zone=BERLIN)


def _rinse(session: LabSession, now: datetime = MORNING) -> StreamPart:
    return next(part for part in _page(session, now).streams if part.name == "Rinse")


def _three_sections(session: LabSession, bench: Bench) -> None:
    for name, hours in (("morning", 1), ("noon", 3), ("afternoon", 6)):
        bench.publish(session, name, MORNING + timedelta(hours=hours), plates=12)


def _book(session: LabSession, on_day: date) -> None:
    book_pickup(
        session, on_day=on_day, request_day=on_day - timedelta(days=2), request_clock=time(12), zone=BERLIN, by="Tomas", now=MORNING
    )  # fmt: skip


def test_the_one_big_line_is_the_first_day_without_room(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session, held_ul=13_200_000)
    bench.publish(session, "week after", MORNING + timedelta(days=7, hours=1), plates=36, stations=0)
    headline = _page(session).headline

    assert headline is not None
    assert (headline.state, headline.figure) == ("stop", "Tue 23 Feb")
    assert headline.words == "no room for 600 mL of “Developer”: Tuesday, week after, 09:00"


def test_the_first_day_opens_to_its_sum_its_band_and_its_chance(session: LabSession, bench: Bench) -> None:
    """By hand: 13.2 + 6.5 = 19.7 L; the band of 1.94 L either way, and 93 of 100 by Student's t."""
    bench.rinse_carboy(session, held_ul=13_200_000)
    _three_sections(session, bench)
    held, total, chance = _rinse(session).why

    assert held == "13.2 L held now, room below fill lines for 4.8 L."
    assert total.startswith("13.2 L + 6.5 L that come until then = 19.7 L; with the band 17.76 L to 21.64 L")
    assert "about 93 of 100" in chance


def test_what_pickups_took_before_is_in_the_sum(session: LabSession, bench: Bench) -> None:
    """By hand: 17 L go on Friday, and 120 plates leave 20 L on Tuesday."""
    bench.rinse_carboy(session, held_ul=17 * LITRE)
    _book(session, date(2027, 2, 19))
    bench.publish(session, "week after", MORNING + timedelta(days=7), plates=120, stations=0)

    assert "17 L + 20 L that come until then − 17 L taken by pickups = 20 L" in _rinse(session).why[1]


def test_a_row_tells_the_day_what_comes_the_level_and_the_room(session: LabSession, bench: Bench) -> None:
    """By hand: 13.2 + 6.5 = 19.7 L on Tuesday, the request due on Wednesday, the pickup on Friday with 1.7 L that wait until then."""
    bench.rinse_carboy(session, held_ul=13_200_000)
    _three_sections(session, bench)
    _book(session, date(2027, 2, 19))
    part = _rinse(session)
    tuesday, wednesday, friday = part.rows

    assert (tuesday.day, tuesday.adds, tuesday.likely, tuesday.room) == (
        "Tue 16 Feb",
        "6.5 L",
        "19.7 L",
        "0 mL",
    )
    assert tuesday.names == "test plates; Tuesday, morning; Tuesday, noon; Tuesday, afternoon"
    assert (tuesday.state, tuesday.verdict) == ("stop", "1.7 L too much")
    assert wednesday.events == (
        "12:00: request for the pickup of Fri 19 Feb 2027 is due",
        "on its request from then on, and taking no more: “Rinse 1”",
    )
    assert friday.events == ("pickup, counted on if it is requested",)
    assert friday.after.startswith("then 1.7 L")
    assert part.quiet_days == "On the other 11 days until Mon 1 Mar 2027 nothing comes and nothing goes."


def test_a_request_says_which_containers_take_no_more(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session, held_ul=LITRE)
    _book(session, date(2027, 2, 19))
    wednesday = _rinse(session).rows[0]

    assert wednesday.events[1] == "on its request from then on, and taking no more: “Rinse 1”"
    assert wednesday.room == "0 mL"


def test_a_pickup_that_is_lost_stays_in_the_table(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session, held_ul=LITRE)
    _book(session, date(2027, 2, 19))
    friday = _rinse(session, MORNING + timedelta(days=2)).rows[-1]

    assert friday.events == ("pickup not counted on: it was not requested by Wed 17 Feb 2027, 12:00",)
    assert friday.after == ""


def test_that_it_all_holds_hangs_on_the_request(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session, held_ul=10 * LITRE)
    _book(session, date(2027, 2, 19))
    for day in (1, 8):
        bench.publish(session, f"day {day}", MORNING + timedelta(days=day), plates=30, stations=0)
    # Developer and bleach have no container in this story, so that their charges are in the way of it.
    set_usual_quantities(
        session, developer_life_s=21_600, bleach_life_s=7_776_000, stock_life_s=86_400, other_life_s=86_400,
        developer_charge_ul=0, bleach_charge_ul=0, plates_per_charge=12, plate_width_um=63_500,
        plate_height_um=63_500, rinse_ul_per_plate=166_667, test_plates_per_station=0,
    )  # fmt: skip
    headline = _page(session).headline

    assert headline is not None
    assert headline.figure == "Holds"
    assert headline.words.endswith(
        ", if the pickup of Fri 19 Feb 2027 is requested by Wed 17 Feb 2027, 12:00"
    )


def test_what_is_left_of_a_batch_and_in_a_tray_says_why_it_comes(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    bench.charge(session, Bath.DEVELOPER)
    developer = next(part for part in _page(session).streams if part.name == "Developer")

    assert developer.rows[0].comings[0].why[0] == (
        "This charge stands in its tray; its whole volume becomes waste when it is emptied."
    )


def test_rinse_per_plate_is_told_with_the_classes_behind_it(session: LabSession, bench: Bench) -> None:
    """By hand: 2, 2, 2, 3 and 3 L for 12 plates each are 200 mL a plate, spread by 45.6 mL."""
    past_classes(session, bench, [2, 2, 2, 3, 3])
    rinse = _page(session).rinse

    assert (rinse.mean, rinse.spread, rinse.classes) == ("200.0 mL", "45.6 mL", "5")
    assert [line.per_plate for line in rinse.lines] == ["166.7 mL"] * 3 + ["250.0 mL"] * 2
    assert "0 run notes, 12 counted through developer" in rinse.lines[0].plates_why


def test_an_addition_by_the_labs_own_figure_says_so(session: LabSession, bench: Bench) -> None:
    past_classes(session, bench, [2, 2, 2, 3, 3])
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0, repeats=3)
    why = " ".join(_rinse(session).rows[0].comings[0].why)

    assert "12 plates × 200.0 mL of rinse a plate = 2.4 L" in why
    assert "all rinse ÷ all plates of the lab's latest 5 classes" in why
    assert "600 mL of it come only if every round kept for repeats is used" in why


def test_other_courses_waste_is_told(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    assert _page(session).others == ""
    session.add(
        OtherWaste(
            course="Etching", contents="spent etch", volume_ul=9 * LITRE, mass_mg=9_000_000, since=MORNING.date(), entered_at=MORNING,
            entered_by="Tomas",
        )
    )  # fmt: skip
    session.flush()

    assert _page(session).others.startswith("Waste of other courses on the shelf (Etching): 9 L.")


@pytest.mark.parametrize("streams", [False, True])
def test_a_lab_without_streams_or_containers_is_told(
    session: LabSession, bench: Bench, *, streams: bool
) -> None:
    if streams:
        bench.streams(session)
    headline = _page(session).headline

    assert (headline is None) is not streams
    assert headline is None or headline.figure == "No container"
