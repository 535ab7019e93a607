"""What comes into containers until the next pickup."""

from datetime import date, datetime, time, timedelta

from server.charges.queries import get_tray_charge
from server.chemistry.actions import correct_batch, set_usual_quantities
from server.containers.actions import change_state, set_out_container
from server.containers.models import Source
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.forecasts.queries import StreamForecast, forecast_streams
from server.pickups.actions import book_pickup
from server.stations.models import Bath
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench

BERLIN = "Europe/Berlin"


def _of(session: LabSession, source: Source, now: datetime = MORNING) -> StreamForecast:
    return next(one for one in forecast_streams(session, now=now, zone=BERLIN) if one.stream.takes == source)


def _three_sections(session: LabSession, bench: Bench) -> None:
    for name, hours in (("morning", 1), ("noon", 3), ("afternoon", 6)):
        bench.publish(session, name, MORNING + timedelta(hours=hours), plates=12)


def test_the_third_section_finds_no_room_for_its_rinse(session: LabSession, bench: Bench) -> None:
    """Hand-checked example (common practice): 13.2 + 6.5 = 19.7 L over an 18.0 L line; sections 1 and 2 fit, 3 does not."""
    bench.rinse_carboy(session, held_ul=13_200_000)
    _three_sections(session, bench)

    forecast = _of(session, Source.RINSE)
    over = forecast.fill.first_over
    assert forecast.fill.added_ul == 6_500_000
    assert forecast.fill.over_ul == 1_700_000
    assert over is not None
    assert over.name == "Tuesday, afternoon"
    assert [moment.addition.plates for moment in forecast.fill.moments] == [3, 12, 12, 12]


def test_the_same_day_empties_four_charges_of_each_bath(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    _three_sections(session, bench)

    for source in (Source.DEVELOPER, Source.BLEACH):
        assert _of(session, source).fill.added_ul == 800_000


def test_the_labs_own_quantities_are_used_once_it_has_set_them(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12)
    set_usual_quantities(
        session, developer_life_s=21_600, bleach_life_s=7_776_000, stock_life_s=86_400, other_life_s=86_400,
        developer_charge_ul=300_000,
        bleach_charge_ul=100_000, plates_per_charge=6, plate_width_um=63_500, plate_height_um=63_500, rinse_ul_per_plate=100_000, test_plates_per_station=0,
    )  # fmt: skip
    session.flush()

    assert _of(session, Source.RINSE).fill.added_ul == 1_200_000
    assert _of(session, Source.DEVELOPER).fill.added_ul == 600_000
    assert _of(session, Source.BLEACH).fill.added_ul == 200_000


def test_what_stands_in_a_tray_now_is_still_to_come(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    bench.charge(session, Bath.DEVELOPER)

    assert _of(session, Source.DEVELOPER).fill.added_ul == 200_000
    assert _of(session, Source.BLEACH).fill.added_ul == 0


def test_the_rest_of_a_batch_past_its_life_is_still_to_come(session: LabSession, bench: Bench) -> None:
    """By hand: of 200 mL mixed and poured at 08:00 with 50 mL more in the bottle, six hours later all 250 mL are waste."""
    bench.streams(session)
    batch = get_tray_charge(session, bench.charge(session, Bath.DEVELOPER).id).first_ending.batch
    correct_batch(session, batch.id, measured_ul=50_000, reason="measured", by="Tomas", now=MORNING)

    def coming(now: datetime) -> list[tuple[str, int]]:
        moments = _of(session, Source.DEVELOPER, now).fill.moments
        return [(moment.addition.name, moment.addition.volume_ul) for moment in moments]

    assert [volume for _name, volume in coming(batch.ends_at - timedelta(seconds=1))] == [200_000]
    assert coming(batch.ends_at)[1:] == [("rest of batch 1, past its life", 50_000)]


def test_a_pickup_ends_the_forecast_with_the_end_of_its_day(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    friday = date(2027, 2, 19)
    bench.publish(
        session, "on the day", datetime.combine(friday, time(15), MORNING.tzinfo), plates=6, stations=0
    )
    bench.publish(
        session, "after it", datetime.combine(friday, time(23, 30), MORNING.tzinfo), plates=60, stations=0
    )
    assert _of(session, Source.RINSE).fill.added_ul == 11 * LITRE

    pickup = book_pickup(
        session,
        on_day=friday,
        request_day=date(2027, 2, 17),
        request_clock=time(12),
        zone=BERLIN,
        by="Tomas",
        now=MORNING,
    )
    forecast = _of(session, Source.RINSE)

    assert forecast.pickup == pickup
    assert forecast.fill.added_ul == LITRE


def test_a_pickup_whose_cut_off_passed_unrequested_ends_nothing(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    book_pickup(
        session,
        on_day=date(2027, 2, 19),
        request_day=date(2027, 2, 17),
        request_clock=time(12),
        zone=BERLIN,
        by="Tomas",
        now=MORNING,
    )
    bench.publish(session, "next week", MORNING + timedelta(days=7), plates=12, stations=0)
    later = MORNING + timedelta(days=2)

    assert _of(session, Source.RINSE).fill.added_ul == 0
    assert _of(session, Source.RINSE, later).fill.added_ul == 2 * LITRE


def test_the_days_tests_are_over_once_its_first_section_began(session: LabSession, bench: Bench) -> None:
    bench.rinse_carboy(session)
    _three_sections(session, bench)

    assert _of(session, Source.RINSE, MORNING + timedelta(hours=5)).fill.added_ul == 2 * LITRE


def test_full_containers_take_nothing_and_the_others_share_in_order(
    session: LabSession, bench: Bench
) -> None:
    closed = bench.rinse_carboy(session, held_ul=LITRE)
    change_state(session, closed, ContainerState.FULL, by="Tomas", now=MORNING)
    bench.rinse_carboy(session, held_ul=17 * LITRE, name="Rinse 2")
    set_out_container(
        session, stream_id=closed.stream_id, name="Rinse 3", size_ul=10 * LITRE, by="Tomas", now=MORNING
    )
    bench.publish(session, "morning", MORNING + timedelta(hours=1), plates=12, stations=0)

    forecast = _of(session, Source.RINSE)
    assert [container.name for container in forecast.containers] == ["Rinse 1", "Rinse 2", "Rinse 3"]
    assert forecast.fill.levels_ul == (18 * LITRE, LITRE)
    assert forecast.fill.over_ul == 0
