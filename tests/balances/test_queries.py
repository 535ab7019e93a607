"""Balances of days and classes, with amounts worked by hand."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import select

from server.balances.actions import answer_weighing, set_figures, take_back_water, weigh_container
from server.balances.models import Elsewhere, Weighing
from server.balances.queries import (
    find_first_day,
    list_classes,
    list_open_questions,
    list_unbalanced,
    reckon,
    span_of_class,
    span_of_days,
)
from server.charges.actions import top_up_charge
from server.chemistry.actions import correct_batch, discard_batch
from server.chemistry.models import Batch
from server.containers.actions import set_out_container
from server.containers.models import Source, Stream, WasteContainer, WasteEntry
from server.core.mass_balance import Side
from server.core.measuring import Method
from server.core.weigh_check import Found
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import STOCK_A, STOCK_B, Bottle
from server.kits.queries import list_bottles_of_kit
from server.plates.actions import draw_plates
from server.plates.models import PlateEntryKind, PlateTest
from server.pours.actions import pour, reverse_entry
from server.refusal import NotFound, Refusal
from server.runs.actions import file_run
from server.runs.models import Incident
from server.stations.models import Bath
from tests.balances.liquids import amounts, gone, water
from tests.casts import MORNING, Cast
from tests.chemistry import from_powder, mixing
from tests.containers.bench import LITRE, Bench
from tests.plates import shelf
from tests.runs.room import Room, fill_room

ML = 1000
TODAY = date(2027, 2, 16)
HOUR = timedelta(hours=1)
EVENING = MORNING + 10 * HOUR


def _figures(session: LabSession, **changed: int) -> None:
    given = {
        "carried_ul_per_m2": 0, "evaporated_ul_per_m2_h": 0, "tray_depth_um": 10_000, "tolerance_ppm": 50_000,
        "tolerance_ul": 250_000,
    }  # fmt: skip
    set_figures(session, **(given | changed))


def _container(session: LabSession, streams: dict[Source, int], source: Source) -> WasteContainer:
    return set_out_container(
        session,
        stream_id=streams[source],
        name=f"can of {source}",
        size_ul=20 * LITRE,
        by="Tomas",
        now=MORNING,
    )


def _pour(
    session: LabSession, container: WasteContainer, source: Source, volume_ul: int, **changed: Any
) -> WasteEntry:
    at = changed.get("now", MORNING)
    given: dict[str, Any] = {
        "typed": f"{volume_ul} uL", "method": Method.GRADUATE, "tablet_id": f"pour-{container.id}-{volume_ul}-{at}",
        "by": "Tomas", "now": at,
    }  # fmt: skip
    return pour(session, container_id=container.id, volume_ul=volume_ul, source=source, **(given | changed))


def _run(session: LabSession, cast: Cast, room: Room, number: int, **changed: Any) -> None:
    given: dict[str, Any] = {
        "charge_id": room.charge_id, "rotation_id": None, "exposed_at": MORNING, "now": MORNING,
    }  # fmt: skip
    file_run(
        session, tablet_id=f"run-of-the-test-{number}", section_id=cast.section_id, group_id=cast.group_ids[0],
        plate_box_id=room.plate_box_id, place_id=room.station_id, settle_s=60, exposure_s=10, develop_s=20,
        incident=Incident.NONE, comment="", by="G1", **(given | changed),
    )  # fmt: skip


def test_a_session_is_a_hundred_millilitres_short(session: LabSession, bench: Bench) -> None:
    """Worked by hand: 1.200 + 1.200 + 6.000 in; 2.310 + 5.850 poured, 0.120 evaporated, 48 plates × 0.40 mL: 0.101 L, 1.2 %."""
    _figures(session, carried_ul_per_m2=50_000, evaporated_ul_per_m2_h=300_000, tray_depth_um=60_000)
    # Trays stand open from eight to twelve: 6 L at 60 mm are 0.1 m², and 300 mL an hour and square metre make 120 mL.
    bench.publish(session, "First", MORNING + timedelta(minutes=190), plates=48)
    contents = [NewBottle(STOCK_A, 2 * LITRE), NewBottle(STOCK_B, 2 * LITRE)]
    take_in_kit(
        session,
        name="kit",
        arrived_on=TODAY,
        expires_on=None,
        storage="",
        contents=contents,
        by="T",
        now=MORNING,
    )
    streams = bench.streams(session)
    batch = mixing.developer(session, 2_400 * ML)
    water(session, 6 * LITRE)
    box = shelf.box(session, plates=60, width_um=63_500, height_um=63_500)
    draw_plates(
        session, box.id, plates=48, kind=PlateEntryKind.TEST, test=PlateTest.EXPOSURE, by="Tomas", now=MORNING
    )
    discard_batch(session, batch.id, by="Tomas", now=MORNING)
    _pour(session, _container(session, streams, Source.DEVELOPER), Source.DEVELOPER, 2_310 * ML)
    _pour(session, _container(session, streams, Source.RINSE), Source.RINSE, 5_850 * ML)

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert amounts(found) == {
        "Mixed": 2_400 * ML,
        "Rinse water drawn": 6_000 * ML,
        "Poured into Developer": 2_310 * ML,
        "Poured into Rinse": 5_850 * ML,
        "Carried out on plates": 48 * 403,
        "Evaporated": 120 * ML,
    }
    assert found.balance.difference_ul == 100_656
    assert not found.balance.is_asked_about


def test_what_is_left_in_bottles_and_trays_is_there_still(session: LabSession, bench: Bench) -> None:
    _figures(session)
    charge = bench.charge(session, Bath.DEVELOPER)

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert charge.volume_ul == 200_000
    assert amounts(found) == {"Mixed": 200_000, "In trays at the end": 200_000}
    assert found.balance.difference_ul == 0


def test_the_next_day_begins_with_what_the_day_before_has_left(session: LabSession, bench: Bench) -> None:
    _figures(session)
    streams = bench.streams(session)
    charge = bench.charge(session, Bath.DEVELOPER)
    can = _container(session, streams, Source.DEVELOPER)
    tomorrow = MORNING + 24 * HOUR
    _pour(session, can, Source.DEVELOPER, 190_000, charge_id=charge.id, now=tomorrow)
    one, next_one = (
        reckon(session, span_of_days(session, day, day), tomorrow + HOUR)
        for day in (TODAY, TODAY + timedelta(days=1))
    )
    both = reckon(session, span_of_days(session, TODAY, TODAY + timedelta(days=1)), tomorrow + HOUR)

    assert amounts(next_one) == {"In trays at the beginning": 200_000, "Poured into Developer": 190_000}
    assert (one.balance.difference_ul, next_one.balance.difference_ul) == (0, 10_000)
    assert both.balance.difference_ul == 10_000


def _differences(session: LabSession, *, now: datetime) -> list[int]:
    """Of today, of tomorrow, and of both."""
    tomorrow = TODAY + timedelta(days=1)
    return [
        reckon(session, span_of_days(session, first, last), now).balance.difference_ul
        for first, last in ((TODAY, TODAY), (tomorrow, tomorrow), (TODAY, tomorrow))
    ]


def _batch_and_bottle(session: LabSession) -> tuple[Batch, Bottle]:
    """400 mL of developer, and a bottle of another kit that stays full."""
    for name, contents in (("mixed", (STOCK_A, STOCK_B)), ("left", (STOCK_A,))):
        kit = take_in_kit(
            session, name=name, arrived_on=TODAY, expires_on=None, storage="", contents=[NewBottle(one, LITRE) for one in contents],
            by="T", now=MORNING,
        )  # fmt: skip
    return mixing.developer(session, 400_000), list_bottles_of_kit(session, kit.id)[0]


@pytest.mark.parametrize("is_reversed", [False, True])
def test_a_rest_that_is_written_down_late_or_taken_back_leaves_no_difference(
    session: LabSession, bench: Bench, *, is_reversed: bool
) -> None:
    """Poured today, written down tomorrow; a batch's and a bottle's."""
    _figures(session)
    can = _container(session, bench.streams(session), Source.DEVELOPER)
    batch, bottle = _batch_and_bottle(session)
    tomorrow = MORNING + 24 * HOUR
    for volume_ul, batch_id, bottle_id in ((400_000, batch.id, None), (LITRE, None, bottle.id)):
        entry_id = pour(
            session, container_id=can.id, volume_ul=volume_ul, typed=f"{volume_ul} uL", method=Method.GRADUATE,
            source=Source.DEVELOPER, tablet_id=f"rest-{volume_ul}", happened_at=MORNING + HOUR, by="T", now=tomorrow,
            batch_id=batch_id, bottle_id=bottle_id,
        ).id  # fmt: skip
        if is_reversed:
            reverse_entry(session, can.id, entry_id, reason="no", by="T", now=tomorrow + HOUR)

    assert _differences(session, now=tomorrow + 2 * HOUR) == [0, 0, 0]
    assert (
        list(reckon(session, span_of_days(session, TODAY, TODAY + timedelta(days=1)), tomorrow).corrections)
        == []
    )


def test_a_pour_that_is_taken_back_the_next_day_was_none(session: LabSession, bench: Bench) -> None:
    _figures(session)
    can = _container(session, bench.streams(session), Source.DEVELOPER)
    batch, _bottle = _batch_and_bottle(session)
    entry_id = pour(
        session, container_id=can.id, volume_ul=400_000, typed="400 mL", method=Method.GRADUATE,
        source=Source.DEVELOPER, tablet_id="rest-1", batch_id=batch.id, by="T", now=MORNING,
    ).id  # fmt: skip
    reverse_entry(session, can.id, entry_id, reason="no", by="T", now=MORNING + 24 * HOUR)

    assert _differences(session, now=MORNING + 26 * HOUR) == [0, 0, 0]


def test_a_batch_mixed_from_others_comes_in_once(session: LabSession) -> None:
    """By hand: 400 mL of each stock solution from powder are 800 mL; 600 mL of developer out of them are no more liquid."""
    _figures(session)
    from_powder.recipes(session)
    from_powder.powders(session)
    mixing.by_name(session, "stock A", 400_000)
    mixing.by_name(session, "stock B", 400_000)
    mixing.by_name(session, "working developer", 600_000)

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert amounts(found) == {"Mixed": 800_000, "In bottles of batches at the end": 800_000}
    mixed = next(line for line in found.lines if line.term.name == "Mixed")
    assert [entry.amount_ul for entry in mixed.entries] == [0, 400_000, 400_000]
    assert mixed.entries[0].what == "batch 3, working developer, 600 mL more of it from other batches"


def test_developer_mixed_the_next_morning_leaves_its_stocks_where_they_were(session: LabSession) -> None:
    _figures(session)
    from_powder.recipes(session)
    from_powder.powders(session)
    mixing.by_name(session, "stock A", 400_000)
    mixing.by_name(session, "stock B", 400_000)
    tomorrow = MORNING + 24 * HOUR
    mixing.by_name(session, "working developer", 600_000, mixed_at=tomorrow, now=tomorrow)

    found = reckon(session, span_of_days(session, TODAY, TODAY), tomorrow)

    assert amounts(found) == {"Mixed": 800_000, "In bottles of batches at the end": 800_000}


def test_a_pour_that_was_reversed_and_water_taken_back_do_not_count(
    session: LabSession, bench: Bench
) -> None:
    _figures(session)
    carboy = bench.rinse_carboy(session)
    entry_id = bench.rinse(session, carboy.id, 2 * LITRE, tablet_id="first-pour")
    reverse_entry(session, carboy.id, entry_id, reason="typed twice", by="Tomas", now=MORNING)
    drawn = water(session, LITRE)
    take_back_water(session, drawn.id, reason="typed twice", by="Tomas", now=MORNING)
    session.flush()

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert amounts(found) == {}
    assert found.balance.difference_ul == 0


def test_what_was_spilled_sampled_or_let_into_a_drain_went(session: LabSession) -> None:
    _figures(session)
    water(session, 3 * LITRE)
    for went, volume_ul in zip(Elsewhere, (500 * ML, 50 * ML, LITRE), strict=True):
        gone(session, volume_ul, went)

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert amounts(found) == {
        "Rinse water drawn": 3 * LITRE,
        "Spilled": 500 * ML,
        "Taken as a sample": 50 * ML,
        "Let into a permitted drain": LITRE,
    }
    assert found.balance.difference_ul == 1450 * ML
    assert found.balance.is_asked_about


def test_other_waste_came_from_elsewhere(session: LabSession, bench: Bench) -> None:
    _figures(session)
    bench.streams(session)
    stream = Stream(name="Dichromate", takes=Source.OTHER)
    session.add(stream)
    session.flush()
    can = set_out_container(
        session, stream_id=stream.id, name="can", size_ul=5 * LITRE, by="Tomas", now=MORNING
    )
    _pour(session, can, Source.OTHER, LITRE, of_stream_id=stream.id)

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert amounts(found) == {}
    assert found.in_containers == [("pour", LITRE)]


def test_a_correction_by_a_count_stands_beside_the_difference(session: LabSession, bench: Bench) -> None:
    _figures(session)
    bench.charge(session, Bath.DEVELOPER)
    batch = mixing.developer(session, 300_000)
    correct_batch(session, batch.id, measured_ul=260_000, reason="a graduate broke", by="Tomas", now=MORNING)

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert found.balance.difference_ul == 40_000
    assert [(one.amount_ul, one.what) for one in found.corrections] == [
        (-40_000, "batch 2: a graduate broke")
    ]


def test_pours_keep_their_own_uncertainty_and_others_take_the_lab_s_share(
    session: LabSession, bench: Bench
) -> None:
    _figures(session)
    carboy = bench.rinse_carboy(session, held_ul=2 * LITRE)
    water(session, 2 * LITRE)
    entry = session.exec(select(WasteEntry).where(WasteEntry.container_id == carboy.id)).one()
    entry.uncertainty_ul = 30 * ML
    session.flush()

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert {line.term.name: line.term.uncertainty_ul for line in found.lines if line.term.uncertainty_ul} == {
        "Rinse water drawn": 100 * ML,
        "Poured into Rinse": 30 * ML,
    }


def test_a_class_is_its_trays_and_its_water(session: LabSession, bench: Bench) -> None:
    _figures(session)
    streams = bench.streams(session)
    rotation = bench.publish(session, "First", MORNING + HOUR, plates=6)
    later = bench.publish(session, "Second", MORNING + 3 * HOUR, plates=6)
    can = _container(session, streams, Source.RINSE)
    charge = bench.charge(session, Bath.DEVELOPER)
    water(session, 2 * LITRE, rotation_id=rotation.id)
    water(session, 3 * LITRE, rotation_id=later.id)
    water(session, LITRE, at=MORNING + HOUR)
    _pour(session, can, Source.RINSE, 2_900 * ML, now=MORNING + 2 * HOUR)

    found = reckon(session, span_of_class(session, rotation.id), EVENING)

    assert charge.volume_ul == 200_000
    assert amounts(found) == {
        "Poured into trays": 200_000,
        "Rinse water drawn": 3 * LITRE,
        "Poured into Rinse": 2_900 * ML,
        "In trays at the end": 200_000,
    }
    assert found.balance.difference_ul == 100 * ML
    assert not found.corrections


def test_a_tray_that_another_class_emptied_meanwhile_is_left_to_that_class(
    session: LabSession, bench: Bench
) -> None:
    _figures(session)
    streams = bench.streams(session)
    first = bench.publish(session, "First", MORNING, plates=6)
    second = bench.publish(session, "Second", MORNING + HOUR, plates=6)
    charge = bench.charge(session, Bath.DEVELOPER)
    entry = _pour(
        session, _container(session, streams, Source.DEVELOPER), Source.DEVELOPER, 195_000, charge_id=charge.id,
        now=MORNING + HOUR + timedelta(minutes=5),
    )  # fmt: skip
    entry.rotation_id = first.id
    session.flush()

    of_first = reckon(session, span_of_class(session, first.id), EVENING)
    of_second = reckon(session, span_of_class(session, second.id), EVENING)

    assert amounts(of_first) == {"Poured into trays": 200_000, "Poured into Developer": 195_000}
    assert amounts(of_second) == {}


def test_classes_at_the_same_time_are_said_to_share_the_room(session: LabSession, bench: Bench) -> None:
    first = bench.publish(session, "First", MORNING, plates=6)
    alone = bench.publish(session, "Alone", MORNING + 5 * HOUR, plates=6)
    bench.publish(session, "Beside", MORNING + timedelta(minutes=30), plates=6)

    assert span_of_class(session, first.id).shares_the_room
    assert not span_of_class(session, alone.id).shares_the_room


def test_a_class_keeps_to_the_time_between_its_neighbours(session: LabSession, bench: Bench) -> None:
    bench.publish(session, "Before", MORNING, plates=6)
    middle = bench.publish(session, "Middle", MORNING + HOUR, plates=6)
    span = span_of_class(session, middle.id)

    assert span.starts_at == MORNING + timedelta(minutes=50)
    assert span.ends_at == MORNING + HOUR + timedelta(minutes=50) + HOUR


def test_only_a_published_class_has_a_balance(session: LabSession, bench: Bench) -> None:
    rotation = bench.publish(session, "First", MORNING, plates=6)
    assert [one[0].name for one in list_classes(session)] == ["First"]
    rotation.state = "planned"
    session.flush()

    assert list_classes(session) == []
    with pytest.raises(Refusal, match="not published"):
        span_of_class(session, rotation.id)
    with pytest.raises(NotFound):
        span_of_class(session, rotation.id + 1)


def test_plates_are_counted_by_runs_trays_and_boxes(session: LabSession, cast: Cast) -> None:
    room = fill_room(session)
    _run(session, cast, room, 1)
    _run(session, cast, room, 2, charge_id=None)
    draw_plates(
        session,
        room.plate_box_id,
        plates=3,
        kind=PlateEntryKind.TEST,
        test=PlateTest.STRIP,
        by="Tomas",
        now=MORNING,
    )

    plates = reckon(session, span_of_days(session, TODAY, TODAY), EVENING).plates
    day_after = reckon(
        session, span_of_days(session, TODAY + timedelta(days=1), TODAY + timedelta(days=1)), EVENING
    )

    assert (plates.runs, plates.with_developer, plates.through) == (2, 1, 1)
    assert (plates.for_runs, plates.for_tests) == (2, 3)
    assert day_after.plates.runs == 0


def test_a_class_counts_the_plates_of_its_own_runs(session: LabSession, cast: Cast, bench: Bench) -> None:
    _figures(session, carried_ul_per_m2=50_000)
    room = fill_room(session)
    rotation = bench.publish(session, "First", MORNING, plates=6)
    _run(session, cast, room, 1, rotation_id=rotation.id)
    _run(session, cast, room, 2)

    found = reckon(session, span_of_class(session, rotation.id), EVENING)

    assert (found.plates.runs, found.plates.through, found.plates.for_runs) == (1, 1, 1)
    assert amounts(found)["Carried out on plates"] == 397


def test_trays_evaporate_while_they_stand_open_and_never_more_than_they_hold(
    session: LabSession, bench: Bench
) -> None:
    """By hand: 200 mL at 10 mm are 0.02 m²; at a litre an hour and square metre 50 minutes of class make 16.7 mL."""
    _figures(session, evaporated_ul_per_m2_h=1_000_000)
    bench.charge(session, Bath.DEVELOPER)
    rotation = bench.publish(session, "First", MORNING + HOUR, plates=6)

    def evaporated(now: datetime) -> int:
        lines = reckon(session, span_of_class(session, rotation.id), now).lines
        return next(line.term.amount_ul for line in lines if line.term.name == "Evaporated")

    assert evaporated(EVENING) == 16_667
    assert evaporated(MORNING + HOUR + timedelta(minutes=30)) == 10_000
    assert evaporated(MORNING) == 0

    _figures(session, evaporated_ul_per_m2_h=2_000_000_000)
    assert evaporated(EVENING) == 200_000


def test_poured_trays_of_another_lab_are_not_seen(session: LabSession, cast: Cast, bench: Bench) -> None:
    bench.charge(session, Bath.DEVELOPER)
    water(session, LITRE)
    session.flush()
    session.info["lab_id"] = cast.other_lab_id

    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert amounts(found) == {}
    assert find_first_day(session) is None


def test_the_first_day_is_that_of_the_first_entry(session: LabSession) -> None:
    assert find_first_day(session) is None
    water(session, LITRE, at=MORNING)
    water(session, LITRE, at=MORNING + 30 * HOUR)

    assert find_first_day(session) == TODAY


def test_every_line_stands_on_its_side(session: LabSession, bench: Bench) -> None:
    bench.charge(session, Bath.BLEACH)
    found = reckon(session, span_of_days(session, TODAY, TODAY), EVENING)

    assert [line.term.name for line in found.lines if line.term.side is Side.THERE] == [
        "In bottles of batches at the end",
        "In trays at the end",
    ]


def test_a_weighing_keeps_the_ledger_as_it_was(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)
    weigh_container(
        session, carboy.id, gross_mg=10_200_000, tare_mg=1_200_000, step_mg=10_000, density_ug_per_ul=None, by="Tomas",
        now=MORNING,
    )  # fmt: skip
    bench.rinse(session, carboy.id, LITRE, tablet_id="after-the-weighing")
    assert list_unbalanced(session) == []

    weighing = session.exec(select(Weighing)).one()
    weighing.ledger_ul += 1
    session.flush()

    assert list_unbalanced(session) == [
        "The weighing of “Rinse 1” of Tue 16 Feb 2027, 08:00 keeps 9 L as its ledger, which said 9 L then."
    ]


def test_only_the_last_weighing_of_a_container_asks_until_it_is_answered(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)

    def weighs(gross_mg: int, at: datetime) -> Weighing:
        return weigh_container(
            session, carboy.id, gross_mg=gross_mg, tare_mg=1_200_000, step_mg=10_000, density_ug_per_ul=None, by="Tomas",
            now=at,
        )  # fmt: skip

    first = weighs(13_200_000, MORNING)
    assert [container.name for container, _check in list_open_questions(session)] == ["Rinse 1"]
    weighs(10_200_000, MORNING + HOUR)
    assert list_open_questions(session) == []
    last = weighs(23_450_000, MORNING + 2 * HOUR)
    assert [check.found for _container, check in list_open_questions(session)] == [Found.TOO_FULL]
    answer_weighing(session, carboy.id, last.id, answer="two cans on the scale")
    session.flush()

    assert list_open_questions(session) == []
    assert first.answer == ""


def test_a_pour_written_down_the_next_day_emptied_its_tray_when_it_happened(
    session: LabSession, bench: Bench
) -> None:
    _figures(session)
    streams = bench.streams(session)
    charge = bench.charge(session, Bath.DEVELOPER)
    tomorrow = MORNING + 24 * HOUR
    can = _container(session, streams, Source.DEVELOPER)
    entry = _pour(session, can, Source.DEVELOPER, 190_000, charge_id=charge.id, now=tomorrow)
    entry.happened_at = MORNING + 5 * HOUR
    session.flush()

    found = reckon(session, span_of_days(session, TODAY, TODAY), tomorrow)

    assert amounts(found) == {"Mixed": 200_000, "Poured into Developer": 190_000}


def test_a_weighing_before_the_first_entry_keeps_nothing(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    weigh_container(
        session, carboy.id, gross_mg=1_200_500, tare_mg=1_200_000, step_mg=10_000, density_ug_per_ul=None, by="Tomas",
        now=MORNING,
    )  # fmt: skip
    bench.rinse(session, carboy.id, LITRE, tablet_id="after-the-weighing")

    assert list_unbalanced(session) == []


def test_topped_up_trays_count_what_was_poured_by_then(session: LabSession, bench: Bench) -> None:
    _figures(session)
    charge = bench.charge(session, Bath.BLEACH)
    tomorrow = MORNING + 24 * HOUR
    batch = mixing.bleach(session, 100_000, mixed_at=tomorrow, now=tomorrow)
    top_up_charge(
        session, charge.id, batch_id=batch.id, volume_ul=100_000, after_parts=1, by="Tomas", now=tomorrow
    )

    day = TODAY + timedelta(days=1)

    assert amounts(reckon(session, span_of_days(session, TODAY, TODAY), tomorrow)) == {
        "Mixed": 200_000,
        "In trays at the end": 200_000,
    }
    assert amounts(reckon(session, span_of_days(session, day, day), tomorrow)) == {
        "In trays at the beginning": 200_000,
        "Mixed": 100_000,
        "In trays at the end": 300_000,
    }
