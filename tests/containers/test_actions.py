"""Streams and containers."""

from datetime import date, time, timedelta

import pytest

from server.containers.actions import (
    add_stream,
    add_usual_streams,
    describe_stream,
    set_out_container,
)
from server.containers.models import Source
from server.containers.pages import container_page
from server.containers.queries import list_stream_groups, list_streams
from server.core.reactivity_chart import Group
from server.core.waste_rules.rule import Key
from server.data.session import LabSession
from server.handovers.actions import hand_over
from server.pickups.actions import book_pickup
from server.pickups.models import Pickup
from server.refusal import Refusal
from server.rules.actions import lay_over
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench

BERLIN = "Europe/Berlin"


FRIDAY = date(2027, 2, 19)


WEDNESDAY = date(2027, 2, 17)


def _booked(session: LabSession, day: date = FRIDAY) -> Pickup:
    return book_pickup(
        session,
        on_day=day,
        request_day=WEDNESDAY,
        request_clock=time(12, 0),
        zone=BERLIN,
        by="Tomas",
        now=MORNING,
    )


def test_a_lab_without_streams_begins_with_three(session: LabSession) -> None:
    add_usual_streams(session)

    assert [(stream.name, stream.takes) for stream in list_streams(session)] == [
        ("Developer", "spent developer"),
        ("Bleach", "spent bleach"),
        ("Rinse", "rinse"),
    ]


def test_the_usual_streams_come_only_once(session: LabSession) -> None:
    add_usual_streams(session)

    with pytest.raises(Refusal, match="has streams already"):
        add_usual_streams(session)


def test_a_second_stream_for_one_source_is_refused(session: LabSession) -> None:
    add_usual_streams(session)

    with pytest.raises(Refusal, match="takes rinse already"):
        add_stream(session, name="More rinse", takes=Source.RINSE, hazards="")
    with pytest.raises(Refusal, match="already a stream called"):
        add_stream(session, name="Rinse", takes=Source.OTHER, hazards="")


def test_there_may_be_several_streams_for_other_waste(session: LabSession) -> None:
    add_stream(session, name="Dichromate bleach", takes=Source.OTHER, hazards="toxic, oxidizing")
    add_stream(session, name="Towels", takes=Source.OTHER, hazards="")

    assert len(list_streams(session)) == 2


def test_the_fill_line_is_nine_tenths_unless_another_is_said(session: LabSession, bench: Bench) -> None:
    streams = bench.streams(session)
    usual = set_out_container(
        session, stream_id=streams[Source.RINSE], name="Rinse 1", size_ul=20 * LITRE, by="Tomas", now=MORNING
    )
    lower = set_out_container(
        session,
        stream_id=streams[Source.RINSE],
        name="Rinse 2",
        size_ul=20 * LITRE,
        fill_line_ul=15 * LITRE,
        by="Tomas",
        now=MORNING,
    )

    assert usual.fill_line_ul == 18 * LITRE
    assert lower.fill_line_ul == 15 * LITRE


def test_the_fill_line_is_where_the_campus_says(session: LabSession, bench: Bench) -> None:
    streams = bench.streams(session)
    lay_over(
        session, rule=Key.FILL, value="75", reason="the leaflet", from_day=MORNING.date(), by="Mira", now=MORNING
    )  # fmt: skip
    before, after = (
        set_out_container(
            session, stream_id=streams[Source.RINSE], name=f"Rinse {days}", size_ul=20 * LITRE, by="Tomas",
            now=MORNING + timedelta(days=days),
        )
        for days in (-1, 0)
    )  # fmt: skip

    assert (before.fill_line_ul, after.fill_line_ul) == (18 * LITRE, 15 * LITRE)
    words = [container_page(session, one.id, zone=BERLIN).line_why for one in (before, after)]
    assert "90 % is assumed." in words[0]
    assert "75 % is the rule of the lab when it was set out." in words[1]


@pytest.mark.parametrize("line_ul", [0, 20 * LITRE + 1])
def test_a_fill_line_outside_the_container_is_refused(
    session: LabSession, bench: Bench, line_ul: int
) -> None:
    carboy = bench.rinse_carboy(session)

    with pytest.raises(Refusal, match="The fill line must be"):
        set_out_container(
            session,
            stream_id=carboy.stream_id,
            name="Rinse 2",
            size_ul=20 * LITRE,
            fill_line_ul=line_ul,
            by="Tomas",
            now=MORNING,
        )


def test_an_unwashed_container_of_another_stream_is_refused(session: LabSession, bench: Bench) -> None:
    """40 CFR 265.177(b): no waste into an unwashed container that held an incompatible one."""
    streams = bench.streams(session)

    with pytest.raises(
        Refusal,
        match=r"held Developer before.*would meet Bleach\. Together they can bring explosion.*40 CFR 265\.177.*waste office",
    ):
        set_out_container(
            session,
            stream_id=streams[Source.BLEACH],
            name="Bleach 1",
            size_ul=5 * LITRE,
            previous_stream_id=streams[Source.DEVELOPER],
            by="Tomas",
            now=MORNING,
        )
    with pytest.raises(Refusal, match=r"held floor cleaner before.*not known to be harmless"):
        set_out_container(
            session,
            stream_id=streams[Source.BLEACH],
            name="Bleach 1",
            size_ul=5 * LITRE,
            previous_stream_id=streams[Source.BLEACH],
            previous_other="floor cleaner",
            by="Tomas",
            now=MORNING,
        )


def test_a_washed_container_is_taken_and_says_what_it_held(session: LabSession, bench: Bench) -> None:
    streams = bench.streams(session)
    container = set_out_container(
        session,
        stream_id=streams[Source.BLEACH],
        name="Bleach 1",
        size_ul=5 * LITRE,
        previous_stream_id=streams[Source.DEVELOPER],
        washed=True,
        by="Tomas",
        now=MORNING,
    )

    assert (container.previous_contents, container.washed) == ("Developer", True)


def test_a_container_of_the_same_stream_need_not_be_washed(session: LabSession, bench: Bench) -> None:
    streams = bench.streams(session)
    container = set_out_container(
        session,
        stream_id=streams[Source.BLEACH],
        name="Bleach 1",
        size_ul=5 * LITRE,
        previous_stream_id=streams[Source.BLEACH],
        by="Tomas",
        now=MORNING,
    )

    assert container.previous_contents == "Bleach"


def test_a_name_is_used_once_even_after_the_container_was_collected(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    hand_over(session, _booked(session).id, [carboy.id], by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="There is or was a container"):
        bench.rinse_carboy(session)


def test_the_usual_streams_come_with_what_they_hold(session: LabSession) -> None:
    add_usual_streams(session, with_sulfite=True)
    held = {
        stream.name: {row.reactivity for row in list_stream_groups(session, stream.id)}
        for stream in list_streams(session)
    }

    assert held == {
        "Developer": {"10", "31", "105", "carbonates", "developer", "sulfites"},
        "Bleach": {"1", "24", "104", "bleach"},
        "Rinse": {"106", "traces"},
    }


def test_what_a_stream_holds_is_said_anew(session: LabSession, bench: Bench) -> None:
    stream_id = bench.streams(session)[Source.BLEACH]
    stream = describe_stream(
        session, stream_id, name="Iron bleach", hazards="acid", density_ug_per_ul=1080, density_assumed=False,
        groups=[Group.MINERAL_ACIDS, Group.BLEACH],
    )  # fmt: skip

    assert (stream.name, stream.hazards, stream.density_ug_per_ul, stream.density_assumed) == (
        "Iron bleach",
        "acid",
        1080,
        False,
    )
    assert {row.reactivity for row in list_stream_groups(session, stream_id)} == {"1", "bleach"}
    with pytest.raises(Refusal, match="already a stream called “Rinse”"):
        describe_stream(
            session, stream_id, name="Rinse", hazards="", density_ug_per_ul=1000, density_assumed=True, groups=[]
        )  # fmt: skip
