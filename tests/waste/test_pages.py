"""What the overview says: verdicts and what is coming."""

from datetime import date, time, timedelta

import pytest

from server.chemistry.actions import set_usual_quantities
from server.containers.actions import add_stream, set_out_container
from server.containers.models import Source, WasteContainer
from server.data.session import LabSession
from server.pickups.actions import book_pickup
from server.stations.models import Bath
from server.waste.pages import StreamCard, waste_page
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench

BERLIN = "Europe/Berlin"


def _rinse(session: LabSession) -> StreamCard:
    page = waste_page(session, now=MORNING, zone=BERLIN)
    return next(stream for stream in page.streams if stream.takes == Source.RINSE)


def _second(session: LabSession, first: WasteContainer) -> WasteContainer:
    return set_out_container(
        session, stream_id=first.stream_id, name="Rinse 2", size_ul=10 * LITRE, by="Tomas", now=MORNING
    )


def test_a_container_that_holds_says_until_when(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    assert (
        _rinse(session).containers[0].verdict
        == "holds for everything that is published; no pickup to count on"
    )

    pickup = book_pickup(
        session,
        on_day=date(2027, 2, 19),
        request_day=date(2027, 2, 17),
        request_clock=time(12),
        zone=BERLIN,
        by="Tomas",
        now=MORNING,
    )
    assert (
        _rinse(session)
        .containers[0]
        .verdict.startswith("holds until Fri 19 Feb 2027, if that pickup is requested")
    )

    pickup.requested_at = MORNING
    session.flush()
    assert _rinse(session).containers[0].verdict == "holds until Fri 19 Feb 2027"


def test_the_next_container_takes_over_and_the_stream_holds(session: LabSession, bench: Bench) -> None:
    _second(session, bench.rinse_carboy(session, held_ul=17 * LITRE))
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)

    stream = _rinse(session)
    assert [card.state for card in stream.containers] == ["watch", "well"]
    assert stream.containers[0].verdict == (
        "full during Tuesday, morning, Tue 16 Feb 2027, 09:00; then “Rinse 2” takes over"
    )
    assert stream.what_to_do == []


def test_a_container_filled_exactly_to_its_line_just_holds(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session, held_ul=16 * LITRE)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)

    stream = _rinse(session)
    assert stream.containers[0].verdict.startswith("just holds")
    assert stream.what_to_do == []


def test_a_container_at_its_line_with_nothing_coming_wants_a_pickup(
    session: LabSession, bench: Bench
) -> None:
    bench.rinse_carboy(session, held_ul=18 * LITRE)

    card = _rinse(session).containers[0]
    assert (card.state, card.fill) == ("watch", "18 L of 18 L, at the fill line")
    assert "request a pickup" in card.verdict


@pytest.mark.parametrize(("held_ul", "where"), [(18 * LITRE, "at"), (19 * LITRE, "above")])
def test_a_container_that_is_full_already_does_not_become_full_in_the_next_class(
    session: LabSession, bench: Bench, held_ul: int, where: str
) -> None:
    first = bench.rinse_carboy(session)
    _second(session, first)
    first.held_ul = held_ul
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)

    card = _rinse(session).containers[0]
    assert (card.state, card.verdict) == (
        "watch",
        f"{where} its fill line: note it as full and request a pickup",
    )


def test_a_pickup_that_comes_too_late_is_to_be_brought_forward(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session, held_ul=17 * LITRE)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)
    book_pickup(
        session,
        on_day=date(2027, 2, 19),
        request_day=date(2027, 2, 17),
        request_clock=time(12),
        zone=BERLIN,
        by="Tomas",
        now=MORNING,
    )

    assert "the pickup of Fri 19 Feb 2027 comes too late" in _rinse(session).what_to_do[1].sentence


def test_the_headline_is_the_first_stream_to_run_out_of_room(session: LabSession, bench: Bench) -> None:
    page = waste_page(session, now=MORNING, zone=BERLIN)
    assert page.headline is None

    bench.rinse_carboy(session)
    headline = waste_page(session, now=MORNING, zone=BERLIN).headline
    assert headline is not None
    assert headline.figure == "Holds"

    bench.charge(session, Bath.DEVELOPER)
    headline = waste_page(session, now=MORNING, zone=BERLIN).headline
    assert headline is not None
    assert (headline.figure, headline.state) == ("Tue 16 Feb", "stop")
    assert headline.words == "no room for 200 mL of “Developer”: charge now in developer, line of developer"


def test_every_number_that_is_coming_says_why(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    bench.charge(session, Bath.BLEACH)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=13, stations=0)
    streams = {stream.takes: stream for stream in waste_page(session, now=MORNING, zone=BERLIN).streams}

    def why(takes: Source) -> str:
        return " ".join(streams[takes].lines[0].why)

    assert "13 plates at 12 a charge = 2 charges × 200 mL = 400 mL" in why(Source.DEVELOPER)
    assert "assumed" in why(Source.DEVELOPER)
    assert why(Source.BLEACH).startswith("This charge stands in its tray")
    assert "13 plates × 166.7 mL of rinse a plate = 2.167 L" in why(Source.RINSE)

    set_usual_quantities(
        session, developer_life_s=21_600, bleach_life_s=7_776_000, stock_life_s=86_400, other_life_s=86_400,
        developer_charge_ul=200_000,
        bleach_charge_ul=200_000, plates_per_charge=13, plate_width_um=63_500, plate_height_um=63_500, rinse_ul_per_plate=166_667, test_plates_per_station=0,
    )  # fmt: skip
    session.flush()
    streams = {stream.takes: stream for stream in waste_page(session, now=MORNING, zone=BERLIN).streams}
    assert "= 1 charge × 200 mL" in why(Source.DEVELOPER)
    assert "set by the lab" in why(Source.DEVELOPER)


def test_rotations_add_nothing_to_a_stream_for_other_waste(session: LabSession, bench: Bench) -> None:
    add_stream(session, name="Towels", takes=Source.OTHER, hazards="")
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12)

    (stream,) = waste_page(session, now=MORNING, zone=BERLIN).streams
    assert stream.summary == "Rotations add nothing to this stream."
    assert stream.lines == []
