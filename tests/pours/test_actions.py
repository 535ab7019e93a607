"""Pours and their reversal."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.charges.actions import pour_charge
from server.charges.models import Charge
from server.charges.queries import get_charge
from server.chemistry.actions import correct_batch
from server.chemistry.queries import list_batch_entries, list_rests
from server.chemistry.queries import list_unbalanced as list_unbalanced_batches
from server.containers.actions import (
    add_dichromate_stream,
    add_stream,
    change_state,
    set_out_container,
)
from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import (
    get_stream,
    list_containers,
    list_entries,
    list_unbalanced,
)
from server.core.container_life import ContainerState
from server.core.measuring import Method, read_give_or_take
from server.core.recipe import Measure
from server.data.session import Database, LabSession
from server.handovers.actions import hand_over
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.queries import list_bottles_of_kit
from server.kits.queries import list_unbalanced as list_unbalanced_bottles
from server.pickups.actions import book_pickup
from server.pickups.models import Pickup
from server.pours.actions import collect_container, pour, put_back_collection, reverse_entry
from server.refusal import NotFound, Refusal
from server.shelves.actions import move_fill_line
from server.shelves.queries import list_events
from server.stations.models import Bath
from server.transfers.actions import LOSSES, take_out, transfer
from tests.casts import MORNING, Cast
from tests.chemistry import mixing
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


def _emptied(session: LabSession, bench: Bench) -> tuple[Charge, WasteEntry]:
    """A charge of the developer tray, and the pour that emptied it."""
    charge = bench.charge(session, Bath.DEVELOPER)
    container = set_out_container(
        session,
        stream_id=bench.streams(session)[Source.DEVELOPER],
        name="Dev 1",
        size_ul=LITRE,
        by="Tomas",
        now=MORNING,
    )
    entry = pour(
        session, container_id=container.id, volume_ul=200_000, typed="200 mL", method=Method.GRADUATE,
        source=Source.DEVELOPER, charge_id=charge.id, tablet_id="pour-0001", by="Tomas", now=MORNING,
    )  # fmt: skip
    return charge, entry


# What is done, with which of two carboys, how much of it, and whether it may go over the line. Small volumes meet limits too seldom.
STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            [
                "pour",
                "pour",
                "weigh",
                "transfer",
                "sample",
                "spill",
                "evaporation",
                "reverse",
                "collected",
                "put back",
                "density",
                "line",
            ]
        ),
        st.integers(0, 1),
        st.one_of(st.integers(1, 12 * LITRE), st.integers(1, 1_000)),
        st.booleans(),
    ),
    max_size=14,
)


def test_a_pour_raises_what_is_held_and_sets_the_start_date_once(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    assert carboy.first_pour_at is None

    bench.rinse(session, carboy.id, 250_000, tablet_id="pour-0001")
    later = MORNING + timedelta(days=1)
    pour(
        session,
        container_id=carboy.id,
        volume_ul=LITRE,
        typed="1 L",
        method=Method.SCALE,
        source=Source.RINSE,
        tablet_id="pour-0002",
        by="Mira",
        now=later,
    )

    assert carboy.held_ul == 1_250_000
    assert carboy.first_pour_at == MORNING
    assert [(entry.typed, entry.entered_by) for entry in list_entries(session, carboy.id)] == [
        ("250000 uL", "Tomas"),
        ("1 L", "Mira"),
    ]


def test_the_same_tablet_id_twice_is_one_pour(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    first = bench.rinse(session, carboy.id, 250_000, tablet_id="pour-0001")
    second = bench.rinse(session, carboy.id, 250_000, tablet_id="pour-0001")

    assert first == second
    assert carboy.held_ul == 250_000


def test_a_form_logged_already_is_not_quietly_taken_for_another_pour(
    session: LabSession, bench: Bench
) -> None:
    """Otherwise a volume corrected after a lost answer would look entered and would not be."""
    carboy = bench.rinse_carboy(session)
    bench.rinse(session, carboy.id, 250_000, tablet_id="pour-0001")

    with pytest.raises(Refusal, match="logged already, as 250000 uL of rinse into “Rinse 1”"):
        bench.rinse(session, carboy.id, 300_000, tablet_id="pour-0001")


def _pour_as(
    session: LabSession, container: WasteContainer, source: Source, of_stream_id: int | None = None
) -> WasteEntry:
    return pour(
        session, container_id=container.id, volume_ul=1, typed="1 uL", method=Method.ESTIMATE, source=source,
        of_stream_id=of_stream_id, tablet_id=f"{source} of {of_stream_id}", by="Tomas", now=MORNING,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("source", "takes", "hazard"),
    [
        (Source.BLEACH, Source.DEVELOPER, r"explosion, fire, .*heat.*\(EPA-600/2-80-076"),
        (Source.DEVELOPER, Source.BLEACH, r"explosion, fire, .*heat.*\(EPA-600/2-80-076"),
        (Source.RINSE, Source.BLEACH, "toxic metals brought into solution"),
        (Source.DEVELOPER, Source.RINSE, "thinning a waste doesn't end its hazard"),
        (Source.OTHER, Source.RINSE, "not known to be harmless.*Say which stream's waste it is"),
    ],
)
def test_a_pour_of_another_stream_is_refused_with_the_hazard(
    session: LabSession, bench: Bench, source: Source, takes: Source, hazard: str
) -> None:
    """EPA-600/2-80-076: oxidizers × reducers (104 × 105) and more; rinse is common practice."""
    container = set_out_container(
        session, stream_id=bench.streams(session)[takes], name="C", size_ul=LITRE, by="Tomas", now=MORNING
    )

    with pytest.raises(Refusal, match=hazard):
        _pour_as(session, container, source)
    assert container.held_ul == 0


def test_an_other_waste_goes_with_the_stream_it_is_of_and_no_other(session: LabSession, bench: Bench) -> None:
    streams = bench.streams(session)
    dichromate = add_dichromate_stream(session)
    rinse = bench.rinse_carboy(session)
    own = set_out_container(
        session, stream_id=dichromate.id, name="Cr 1", size_ul=LITRE, by="Tomas", now=MORNING
    )

    with pytest.raises(Refusal, match=r"not Dichromate bleach\. Together they can bring"):
        _pour_as(session, rinse, Source.OTHER, dichromate.id)
    with pytest.raises(Refusal, match="Say which stream's waste it is"):
        _pour_as(session, own, Source.OTHER)
    with pytest.raises(Refusal, match=r"not spent developer\. Together they can bring explosion, fire"):
        _pour_as(session, own, Source.DEVELOPER)
    _pour_as(session, own, Source.OTHER, dichromate.id)
    _pour_as(session, rinse, Source.OTHER, streams[Source.RINSE])
    assert (own.held_ul, rinse.held_ul) == (1, 1)


def test_a_source_without_a_stream_is_refused_with_what_it_usually_holds(session: LabSession) -> None:
    stream = add_stream(session, name="Bleach", takes=Source.BLEACH, hazards="")
    container = set_out_container(
        session, stream_id=stream.id, name="B 1", size_ul=LITRE, by="Tomas", now=MORNING
    )

    with pytest.raises(Refusal, match=r"not spent developer\. Together they can bring explosion"):
        _pour_as(session, container, Source.DEVELOPER)


def test_streams_of_which_nobody_said_anything_are_kept_apart_too(session: LabSession) -> None:
    towels = add_stream(session, name="Towels", takes=Source.OTHER, hazards="")
    wipes = add_stream(session, name="Wipes", takes=Source.OTHER, hazards="")
    bin_ = set_out_container(session, stream_id=towels.id, name="Bin", size_ul=LITRE, by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="not known to be harmless: nobody has said what both of them hold"):
        _pour_as(session, bin_, Source.OTHER, wipes.id)


def test_a_pour_over_the_fill_line_is_refused_without_a_reason(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=13_200_000)

    with pytest.raises(Refusal, match=r"to 18\.2 L, over its fill line at 18 L; there is room for 4\.8 L"):
        bench.rinse(session, carboy.id, 5 * LITRE, tablet_id="pour-0001")
    bench.rinse(session, carboy.id, 4_800_000, tablet_id="pour-0002")
    with pytest.raises(Refusal, match="room for 0 mL"):
        bench.rinse(session, carboy.id, 1, tablet_id="pour-0003")


def test_a_pour_over_the_fill_line_with_a_reason_keeps_it_and_never_passes_the_brim(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=17 * LITRE)

    def _over(volume_ul: int, tablet_id: str) -> WasteEntry:
        return pour(
            session,
            container_id=carboy.id,
            volume_ul=volume_ul,
            typed="some",
            method=Method.GRADUATE,
            source=Source.RINSE,
            tablet_id=tablet_id,
            note="End of class.",
            by="Tomas",
            now=MORNING,
            over_line_reason="the tray leaked",
        )

    first = _over(2 * LITRE, "pour-0001")
    assert (first.note, first.over_line_reason) == ("End of class.", "the tray leaked")
    with pytest.raises(Refusal, match="holds 20 L to the brim"):
        _over(LITRE + 1, "pour-0002")
    assert _over(LITRE, "pour-0003").over_line_reason == "the tray leaked"
    assert carboy.held_ul == carboy.size_ul


def test_a_reason_that_was_not_needed_is_not_kept_as_one(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    entry = pour(
        session,
        container_id=carboy.id,
        volume_ul=LITRE,
        typed="1 L",
        method=Method.GRADUATE,
        source=Source.RINSE,
        tablet_id="pour-0001",
        by="Tomas",
        now=MORNING,
        over_line_reason="in case",
    )

    assert entry.note == ""


def test_nothing_is_no_pour(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)

    with pytest.raises(Refusal, match="more than nothing"):
        bench.rinse(session, carboy.id, 0, tablet_id="pour-0001")


def _states(session: LabSession, container_id: int) -> list[tuple[str, str]]:
    return [(event.state, event.note) for event in reversed(list_events(session, container_id))]


def test_a_lid_is_noted_as_taken_off_for_a_pour_and_shut_after_it(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)

    def _pour(tablet_id: str, *, is_closed_again: bool) -> None:
        pour(
            session, container_id=carboy.id, volume_ul=LITRE, typed="1 L", method=Method.GRADUATE, source=Source.RINSE,
            tablet_id=tablet_id, by="Tomas", now=MORNING, is_closed_again=is_closed_again,
        )  # fmt: skip

    _pour("pour-0001", is_closed_again=True)
    _pour("pour-0002", is_closed_again=False)
    _pour("pour-0003", is_closed_again=False)

    assert _states(session, carboy.id) == [
        ("empty", ""),
        ("open", "opened for a pour"),
        ("closed", "closed after the pour"),
        ("open", "opened for a pour"),
    ]


@pytest.mark.parametrize(
    ("life", "why"),
    [
        (["open", "full"], "is full and takes nothing. Pour into another container"),
        (["open", "closed", "washed"], "is washed and takes nothing"),
        (["retired"], "is retired and takes nothing"),
    ],
)
def test_what_takes_no_more_says_why_and_where_to_pour_instead(
    session: LabSession, bench: Bench, life: list[str], why: str
) -> None:
    carboy = bench.rinse_carboy(session)
    for state in life:
        change_state(session, carboy, ContainerState(state), note="so it is", by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match=why):
        bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")


def test_what_is_only_ordered_takes_nothing_yet(session: LabSession, bench: Bench) -> None:
    carboy = set_out_container(
        session, stream_id=bench.streams(session)[Source.RINSE], name="Rinse 9", size_ul=LITRE, is_ordered=True,
        by="Tomas", now=MORNING,
    )  # fmt: skip

    with pytest.raises(Refusal, match=r"is ordered and hasn't come yet and takes nothing\. Note first"):
        bench.rinse(session, carboy.id, LITRE // 2, tablet_id="pour-0001")


def test_a_charge_is_emptied_with_its_pour(session: LabSession, bench: Bench) -> None:
    charge = bench.charge(session, Bath.DEVELOPER)
    container = set_out_container(
        session,
        stream_id=bench.streams(session)[Source.DEVELOPER],
        name="Dev 1",
        size_ul=LITRE,
        by="Tomas",
        now=MORNING,
    )

    def _pour() -> WasteEntry:
        return pour(
            session,
            container_id=container.id,
            volume_ul=195_000,
            typed="195 mL",
            method=Method.GRADUATE,
            source=Source.DEVELOPER,
            charge_id=charge.id,
            tablet_id="pour-0001",
            by="Tomas",
            now=MORNING,
        )

    entry = _pour()
    assert entry.charge_id == charge.id
    assert get_charge(session, charge.id).emptied_at == MORNING
    assert _pour().id == entry.id


def test_a_charge_is_poured_once_and_as_what_it_is(session: LabSession, bench: Bench) -> None:
    charge = bench.charge(session, Bath.BLEACH)
    streams = bench.streams(session)
    for takes in (Source.DEVELOPER, Source.BLEACH):
        set_out_container(
            session, stream_id=streams[takes], name=takes, size_ul=LITRE, by="Tomas", now=MORNING
        )
    developer, bleach = list_containers(session)

    def _pour(container: WasteContainer, source: Source, tablet_id: str) -> None:
        pour(
            session,
            container_id=container.id,
            volume_ul=200_000,
            typed="200 mL",
            method=Method.GRADUATE,
            source=source,
            charge_id=charge.id,
            tablet_id=tablet_id,
            by="Tomas",
            now=MORNING,
        )

    with pytest.raises(Refusal, match="is spent bleach, not spent developer"):
        _pour(developer, Source.DEVELOPER, "pour-0001")
    _pour(bleach, Source.BLEACH, "pour-0002")
    with pytest.raises(Refusal, match="isn't in a tray any more"):
        _pour(bleach, Source.BLEACH, "pour-0003")
    assert (developer.held_ul, bleach.held_ul) == (0, 200_000)


def test_reversing_a_charge_s_pour_puts_it_back_in_its_tray(session: LabSession, bench: Bench) -> None:
    charge, entry = _emptied(session, bench)
    reversal = reverse_entry(
        session, entry.container_id, entry.id, reason="the wrong tray", by="Tomas", now=MORNING
    )

    assert get_charge(session, charge.id).emptied_at is None
    assert reversal.note == "the wrong tray"


def test_a_charge_stays_emptied_where_its_tray_was_filled_anew_and_the_entry_says_so(
    session: LabSession, bench: Bench
) -> None:
    charge, entry = _emptied(session, bench)
    fresh = mixing.developer(session)
    pour_charge(
        session, batch_id=fresh.id, place_id=charge.place_id, volume_ul=100_000, by="Tomas", now=MORNING
    )
    reversal = reverse_entry(
        session, entry.container_id, entry.id, reason="the wrong tray", by="Tomas", now=MORNING
    )

    assert get_charge(session, charge.id).emptied_at == MORNING
    assert reversal.note == (
        "the wrong tray; the charge stays emptied: developer, line of developer holds a charge of batch 2 by now"
    )


def test_a_reversal_is_an_entry_of_its_own(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    entry_id = bench.rinse(session, carboy.id, 2_500_000, tablet_id="pour-0001")
    reversal = reverse_entry(
        session, carboy.id, entry_id, reason="meant 250 mL", by="Mira", now=MORNING + timedelta(hours=1)
    )

    assert (reversal.kind, reversal.change_ul, reversal.reverses_id) == (
        WasteEntryKind.CORRECTION,
        -2_500_000,
        entry_id,
    )
    assert carboy.held_ul == 0
    assert carboy.first_pour_at is None
    assert len(list_entries(session, carboy.id)) == 2


def test_reversing_the_first_pour_moves_the_start_date_to_the_next(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    first = bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")
    tomorrow = MORNING + timedelta(days=1)
    pour(
        session,
        container_id=carboy.id,
        volume_ul=LITRE,
        typed="1 L",
        method=Method.GRADUATE,
        source=Source.RINSE,
        tablet_id="pour-0002",
        by="Tomas",
        now=tomorrow,
    )
    reverse_entry(session, carboy.id, first, reason="not poured", by="Tomas", now=tomorrow)

    assert carboy.first_pour_at == tomorrow


def test_a_pour_is_reversed_once_and_a_reversal_never(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    entry_id = bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")
    reversal = reverse_entry(session, carboy.id, entry_id, reason="twice", by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="was reversed already"):
        reverse_entry(session, carboy.id, entry_id, reason="again", by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="A reversal isn't reversed"):
        reverse_entry(session, carboy.id, reversal.id, reason="again", by="Tomas", now=MORNING)


def test_an_entry_is_reversed_in_its_own_container_only(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    other = bench.rinse_carboy(session, name="Rinse 2")
    entry_id = bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")

    with pytest.raises(NotFound, match="no such entry"):
        reverse_entry(session, other.id, entry_id, reason="wrong", by="Tomas", now=MORNING)


def test_a_collected_container_stays_as_it_is(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    entry_id = bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")
    hand_over(session, _booked(session).id, [carboy.id], by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="was collected"):
        reverse_entry(session, carboy.id, entry_id, reason="late", by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="was collected"):
        bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0002")


def test_what_was_weighed_becomes_a_volume_by_its_stream_s_density(session: LabSession, bench: Bench) -> None:
    """By hand: 1.05 kg ÷ 1.05 g/mL = 1 L; 200 mL × 1.05 g/mL = 210 g."""
    stream_id = bench.streams(session)[Source.DEVELOPER]
    get_stream(session, stream_id).density_ug_per_ul = 1050
    container = set_out_container(
        session, stream_id=stream_id, name="Dev 1", size_ul=5 * LITRE, by="Tomas", now=MORNING
    )

    def _pour(tablet_id: str, **quantity: Any) -> WasteEntry:
        return pour(
            session, container_id=container.id, source=Source.DEVELOPER, tablet_id=tablet_id, by="Tomas", now=MORNING,
            **quantity,
        )  # fmt: skip

    weighed = _pour("pour-0001", weighed_mg=1_050_000, typed="1.05 kg", method=Method.SCALE)
    assert (weighed.change_ul, weighed.change_mg, weighed.uncertainty_ul) == (LITRE, 1_050_000, 10_000)
    read_off = _pour("pour-0002", volume_ul=200_000, typed="200 mL", method=Method.GRADUATE)
    assert (read_off.change_ul, read_off.change_mg, read_off.uncertainty_ul) == (200_000, 210_000, 5_000)
    said = _pour(
        "pour-0003", volume_ul=200_000, typed="200 mL", method=Method.ESTIMATE, give_or_take=read_give_or_take("10 %")
    )  # fmt: skip
    assert (said.typed, said.uncertainty_ul) == ("200 mL ± 10 %", 20_000)
    assert (container.held_ul, container.held_mg) == (1_400_000, 1_470_000)
    with pytest.raises(Refusal, match="choose the scale"):
        _pour("pour-0004", weighed_mg=1, typed="1 mg", method=Method.GRADUATE)
    assert _pour("pour-0001", weighed_mg=1_050_000, typed="1.05 kg", method=Method.SCALE) == weighed


def test_a_late_entry_keeps_when_it_happened_and_an_older_one_moves_the_start_date(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    evening = MORNING + timedelta(hours=10)

    def _pour(tablet_id: str, happened_at: datetime | None) -> WasteEntry:
        return pour(
            session, container_id=carboy.id, volume_ul=LITRE, typed="1 L", method=Method.GRADUATE, source=Source.RINSE,
            tablet_id=tablet_id, happened_at=happened_at, by="Tomas", now=evening,
        )  # fmt: skip

    assert _pour("pour-0001", None).happened_at == evening
    noon = MORNING + timedelta(hours=4)
    late = _pour("pour-0002", noon)
    assert (late.happened_at, late.entered_at, carboy.first_pour_at) == (noon, evening, noon)
    with pytest.raises(Refusal, match="still to come"):
        _pour("pour-0003", evening + timedelta(minutes=1))
    with pytest.raises(Refusal, match="was set out on Tue 16 Feb 2027, 08:00"):
        _pour("pour-0003", MORNING - timedelta(minutes=1))


def test_a_pour_belongs_to_a_class_of_this_lab(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    rotation = bench.publish(session, "morning", MORNING, plates=4)

    def _pour(tablet_id: str, rotation_id: int) -> WasteEntry:
        return pour(
            session, container_id=carboy.id, volume_ul=LITRE, typed="1 L", method=Method.GRADUATE, source=Source.RINSE,
            tablet_id=tablet_id, rotation_id=rotation_id, by="Tomas", now=MORNING,
        )  # fmt: skip

    entry = _pour("pour-0001", rotation.id)
    assert entry.rotation_id == rotation.id
    reversal = reverse_entry(session, carboy.id, entry.id, reason="no", by="Tomas", now=MORNING)
    assert reversal.rotation_id == rotation.id
    with pytest.raises(NotFound, match="no such rotation"):
        _pour("pour-0002", rotation.id + 1)


def _developer_container(session: LabSession, bench: Bench) -> WasteContainer:
    return set_out_container(
        session, stream_id=bench.streams(session)[Source.DEVELOPER], name="Dev 1", size_ul=5 * LITRE, by="Tomas", now=MORNING
    )  # fmt: skip


def test_a_batch_s_rest_is_discarded_with_its_pour_and_put_back_with_the_reversal(
    session: LabSession, bench: Bench
) -> None:
    """What was measured need not be what the batch's ledger says: the difference is the balance's to ask about."""
    bench.charge(session, Bath.DEVELOPER)
    batch = mixing.developer(session, 300_000)
    container = _developer_container(session, bench)

    def _pour(tablet_id: str, source: Source = Source.DEVELOPER, **with_it: Any) -> WasteEntry:
        return pour(
            session, container_id=container.id, volume_ul=290_000, typed="290 mL", method=Method.GRADUATE,
            source=source, tablet_id=tablet_id, by="Tomas", now=MORNING, **with_it,
        )  # fmt: skip

    entry = _pour("pour-0001", batch_id=batch.id)
    assert (entry.batch_id, entry.discarded_ul, batch.left_ul) == (batch.id, 300_000, 0)
    assert _pour("pour-0001", batch_id=batch.id) == entry
    assert list_rests(session, MORNING + timedelta(days=1)) == []
    with pytest.raises(Refusal, match="Nothing is left of batch"):
        _pour("pour-0002", batch_id=batch.id)
    correct_batch(session, batch.id, measured_ul=20_000, reason="some was left", by="Tomas", now=MORNING)
    assert _pour("pour-0003", batch_id=batch.id).discarded_ul == 20_000

    reverse_entry(session, container.id, entry.id, reason="wrong one", by="Tomas", now=MORNING)
    assert batch.left_ul == 300_000
    assert [(one.kind, one.change_ul) for one in list_batch_entries(session, batch.id)] == [
        ("mixed", 300_000),
        ("discarded", -300_000),
        ("correction", 20_000),
        ("discarded", -20_000),
        ("correction", 300_000),
    ]
    assert list_unbalanced_batches(session) == []


def test_a_batch_is_poured_as_what_it_is_and_by_itself(session: LabSession, bench: Bench) -> None:
    charge = bench.charge(session, Bath.BLEACH)
    batch = mixing.bleach(session, 100_000)
    container = _developer_container(session, bench)

    def _pour(**with_it: Any) -> None:
        pour(
            session, container_id=container.id, volume_ul=100_000, typed="100 mL", method=Method.GRADUATE,
            source=Source.DEVELOPER, tablet_id="pour-0001", by="Tomas", now=MORNING, **with_it,
        )  # fmt: skip

    with pytest.raises(Refusal, match="is spent bleach, not spent developer"):
        _pour(batch_id=batch.id)
    with pytest.raises(Refusal, match="Log each with a pour of its own"):
        _pour(batch_id=batch.id, charge_id=charge.id)
    with pytest.raises(NotFound, match="no such batch"):
        _pour(batch_id=batch.id + 1)
    assert batch.left_ul == 100_000


def test_a_bottle_s_rest_or_a_part_of_it_is_discarded_with_its_pour(
    session: LabSession, bench: Bench
) -> None:
    kit = take_in_kit(
        session, name="old kit", arrived_on=MORNING.date(), expires_on=None, by="Tomas", now=MORNING,
        contents=[NewBottle("stock A", LITRE), NewBottle("ascorbic acid", 50_000, Measure.MASS)],
    )  # fmt: skip
    bottle, powder = list_bottles_of_kit(session, kit.id)
    container = _developer_container(session, bench)

    def _pour(tablet_id: str, volume_ul: int, bottle_id: int, *, keeps_rest: bool) -> WasteEntry:
        return pour(
            session, container_id=container.id, volume_ul=volume_ul, typed=f"{volume_ul} uL", method=Method.GRADUATE,
            source=Source.DEVELOPER, bottle_id=bottle_id, keeps_rest=keeps_rest, tablet_id=tablet_id, by="Tomas",
            now=MORNING,
        )  # fmt: skip

    with pytest.raises(Refusal, match="holds 1 L, not 2 L"):
        _pour("pour-0001", 2 * LITRE, bottle.id, keeps_rest=True)
    with pytest.raises(Refusal, match="a solid is not poured"):
        _pour("pour-0001", 50_000, powder.id, keeps_rest=False)
    _pour("pour-0001", 400_000, bottle.id, keeps_rest=True)
    assert bottle.left == 600_000
    rest = _pour("pour-0002", 590_000, bottle.id, keeps_rest=False)
    assert (bottle.left, rest.discarded_ul, bottle.used_up_at) == (0, 600_000, MORNING)

    reverse_entry(session, container.id, rest.id, reason="still good", by="Tomas", now=MORNING)
    assert (bottle.left, bottle.used_up_at) == (600_000, None)
    assert list_unbalanced_bottles(session) == []


def test_a_reversal_that_would_take_out_more_than_is_there_is_refused(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    first = bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")
    take_out(
        session, carboy.id, kind=WasteEntryKind.SPILL, volume_ul=600_000, typed="600 mL", method=Method.ESTIMATE,
        tablet_id="spill-001", note="wiped up", by="Tomas", now=MORNING,
    )  # fmt: skip

    with pytest.raises(Refusal, match=r"has 400 mL in it, less than the 1 L of entry no\. .* Reverse first"):
        reverse_entry(session, carboy.id, first, reason="wrong", by="Tomas", now=MORNING)


def test_a_reversal_that_would_take_out_more_mass_than_is_there_is_refused(
    session: LabSession, bench: Bench
) -> None:
    """By hand: of 1 kg + 1.2 kg in 2 L half is taken, 1.1 kg; the heavier litre isn't there as it was poured."""
    carboy = bench.rinse_carboy(session)
    stream = get_stream(session, carboy.stream_id)
    bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")
    stream.density_ug_per_ul = 1200
    heavy = bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0002")
    sample = take_out(
        session, carboy.id, kind=WasteEntryKind.SAMPLE, volume_ul=LITRE, typed="1 L", method=Method.GRADUATE,
        tablet_id="sample-01", note="to the waste office", by="Tomas", now=MORNING,
    )  # fmt: skip
    assert sample.change_mg == -1_100_000

    with pytest.raises(Refusal, match=r"weighs 1\.1 kg by its ledger, less than the 1\.2 kg"):
        reverse_entry(session, carboy.id, heavy, reason="wrong", by="Tomas", now=MORNING)
    reverse_entry(session, carboy.id, sample.id, reason="not taken", by="Tomas", now=MORNING)
    reverse_entry(session, carboy.id, heavy, reason="wrong", by="Tomas", now=MORNING)
    assert (carboy.held_ul, carboy.held_mg) == (LITRE, 1_000_000)


def test_what_comes_back_over_the_line_needs_a_reason_and_never_goes_over_the_brim(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=17 * LITRE)

    def _spill(volume_ul: int, tablet_id: str) -> int:
        return take_out(
            session, carboy.id, kind=WasteEntryKind.SPILL, volume_ul=volume_ul, typed="some", method=Method.ESTIMATE,
            tablet_id=tablet_id, note="wiped up", by="Tomas", now=MORNING,
        ).id  # fmt: skip

    def _reverse(entry_id: int, over_line_reason: str = "") -> WasteEntry:
        return reverse_entry(
            session, carboy.id, entry_id, reason="was not spilled", over_line_reason=over_line_reason, by="Tomas",
            now=MORNING,
        )  # fmt: skip

    small, large = _spill(2 * LITRE, "spill-001"), _spill(4 * LITRE, "spill-002")
    bench.rinse(session, carboy.id, 6 * LITRE, tablet_id="pour-0002")
    with pytest.raises(Refusal, match="over its fill line at 18 L"):
        _reverse(small)
    assert _reverse(small, "it stands there").over_line_reason == "it stands there"
    with pytest.raises(Refusal, match="holds 20 L to the brim"):
        _reverse(large, "it stands there")


def _step(
    session: LabSession, pair: list[WasteContainer], number: int, step: tuple[str, int, int, bool]
) -> None:
    kind, which, size, on_purpose = step
    carboy, other = pair[which], pair[1 - which]
    told: dict[str, Any] = {
        "typed": "some", "method": Method.SCALE, "tablet_id": f"entry-{number:04}", "by": "Tomas", "now": MORNING,
    }  # fmt: skip
    over: dict[str, Any] = {"over_line_reason": "on purpose" if on_purpose else ""}
    if kind in {"pour", "weigh"}:
        quantity: dict[str, Any] = {"volume_ul": size} if kind == "pour" else {"weighed_mg": size}
        pour(
            session,
            container_id=carboy.id,
            source=Source.RINSE,
            is_closed_again=on_purpose,
            **quantity,
            **told,
            **over,
        )
    elif kind == "transfer":
        transfer(session, carboy.id, to_container_id=other.id, volume_ul=size, **told, **over)
    elif kind in LOSSES:
        take_out(session, carboy.id, kind=WasteEntryKind(kind), volume_ul=size, note="as it is", **told)
    elif kind == "reverse":
        entries = list_entries(session, carboy.id)
        entry_id = entries[size % len(entries)].id if entries else 0
        reverse_entry(session, carboy.id, entry_id, reason="wrong", by="Tomas", now=MORNING, **over)
    elif kind == "density":
        get_stream(session, carboy.stream_id).density_ug_per_ul = 700 + size % 1200
    elif kind == "line":
        line_ul = 1 + size % carboy.size_ul
        move_fill_line(session, carboy.id, fill_line_ul=line_ul, by="Tomas", now=MORNING)
    elif kind == "collected":
        collect_container(
            session, carboy.id, tablet_id=f"pickup-{number:04}", happened_at=MORNING, by="Tomas", now=MORNING
        )
    else:
        last = list_entries(session, carboy.id, at_most=1)
        entry_id = last[0].id if last else 0
        put_back_collection(session, carboy.id, entry_id, reason="left here", by="Tomas", now=MORNING)


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(steps=STEPS)
def test_whatever_happens_the_balance_is_the_sum_of_the_entries_and_stays_inside_the_vessel(
    database: Database, cast: Cast, bench: Bench, steps: list[tuple[str, int, int, bool]]
) -> None:
    """Two carboys, poured into, out of and over into each other by volume and by weight, under densities and lines that change."""
    with database.writing(cast.lab_id) as session:
        pair = [bench.rinse_carboy(session), bench.rinse_carboy(session, name="Rinse 2")]
        for number, step in enumerate(steps):
            try:
                with session.begin_nested():
                    _step(session, pair, number, step)
            except Refusal as refusal:
                assert refusal.sentence.endswith((".", "!"))  # noqa: PT017 - a refusal is one of the allowed outcomes
            session.flush()
            for carboy in pair:
                entries = list_entries(session, carboy.id)
                assert carboy.held_ul == sum(entry.change_ul for entry in entries)
                assert carboy.held_mg == sum(entry.change_mg for entry in entries)
                assert 0 <= carboy.held_ul <= carboy.size_ul
                assert carboy.held_mg >= 0
        assert list_unbalanced(session) == []
        session.rollback()
