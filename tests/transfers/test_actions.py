"""Transfers with their two legs, samples, spills and what dried up."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from server.containers.actions import change_state, set_out_container
from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import get_stream, list_entries, list_unbalanced
from server.core.container_life import AreaKind, ContainerState
from server.core.measuring import Method
from server.data.session import LabSession
from server.pours.actions import collect_container, pour, reverse_entry
from server.refusal import NotFound, Refusal
from server.shelves.actions import add_area, carry_container
from server.shelves.queries import list_events
from server.transfers.actions import take_out, transfer
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench, keep_rules


def _transfer(
    session: LabSession, source: WasteContainer, target: WasteContainer, volume_ul: int | None, **more: Any
) -> WasteEntry:
    told: dict[str, Any] = {
        "volume_ul": volume_ul, "typed": f"{volume_ul} uL", "method": Method.GRADUATE, "tablet_id": "transfer-01",
        "by": "Tomas", "now": MORNING,
    }  # fmt: skip
    return transfer(session, source.id, to_container_id=target.id, **(told | more))


def _lose(
    session: LabSession, container: WasteContainer, kind: WasteEntryKind, volume_ul: int, **more: Any
) -> WasteEntry:
    told: dict[str, Any] = {
        "volume_ul": volume_ul, "typed": f"{volume_ul} uL", "method": Method.ESTIMATE, "tablet_id": "loss-0001",
        "note": "as it is", "by": "Tomas", "now": MORNING,
    }  # fmt: skip
    return take_out(session, container.id, kind=kind, **(told | more))


@pytest.fixture
def pair(session: LabSession, bench: Bench) -> tuple[WasteContainer, WasteContainer]:
    """A carboy with 10 L in it, and an empty one beside it."""
    return bench.rinse_carboy(session, held_ul=10 * LITRE), bench.rinse_carboy(session, name="Rinse 2")


def test_a_transfer_is_two_entries_of_one_amount_and_one_time(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    source, target = pair
    noon = MORNING + timedelta(hours=4)
    out = _transfer(session, source, target, 4 * LITRE, happened_at=noon, now=noon + timedelta(hours=1))
    into = list_entries(session, target.id)[-1]

    assert (out.kind, into.kind, into.transfer_of_id) == ("transfer out", "transfer in", out.id)
    assert (out.change_ul, into.change_ul) == (-4 * LITRE, 4 * LITRE)
    assert out.change_mg == -into.change_mg
    assert out.happened_at == into.happened_at == noon
    assert (source.held_ul, target.held_ul) == (6 * LITRE, 4 * LITRE)
    assert list_unbalanced(session) == []


def test_the_mass_goes_over_in_proportion_and_with_the_whole_all_of_it(
    session: LabSession, bench: Bench
) -> None:
    """By hand: 1 kg and 1.2 kg in 2 L; 500 mL of it are 550 g, the rest 1.65 kg."""
    source, target = bench.rinse_carboy(session), bench.rinse_carboy(session, name="Rinse 2")
    bench.rinse(session, source.id, LITRE, tablet_id="pour-0001")
    get_stream(session, source.stream_id).density_ug_per_ul = 1200
    bench.rinse(session, source.id, LITRE, tablet_id="pour-0002")

    assert _transfer(session, source, target, 500_000).change_mg == -550_000
    rest = _transfer(session, source, target, 1_500_000, tablet_id="transfer-02")
    assert rest.change_mg == -1_650_000
    assert (source.held_ul, source.held_mg) == (0, 0)


def test_what_was_weighed_goes_over_by_what_the_container_s_own_entries_weigh(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    source, target = pair
    get_stream(session, source.stream_id).density_ug_per_ul = 1200
    out = _transfer(session, source, target, None, weighed_mg=2_500_000, typed="2.5 kg", method=Method.SCALE)

    assert (out.change_ul, out.change_mg) == (-2_500_000, -2_500_000)
    with pytest.raises(Refusal, match=r"has 7\.5 L in it: 7\.501 L can't come out"):
        _transfer(
            session, source, target, None, weighed_mg=7_501_000, typed="7.501 kg", method=Method.SCALE,
            tablet_id="transfer-02",
        )  # fmt: skip


def test_a_transfer_sent_twice_is_one_and_another_one_in_its_name_is_refused(
    session: LabSession, bench: Bench, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    source, target = pair
    third = bench.rinse_carboy(session, name="Rinse 3")
    out = _transfer(session, source, target, LITRE)

    assert _transfer(session, source, target, LITRE) == out
    for other in (
        lambda: _transfer(session, source, third, LITRE),
        lambda: _transfer(session, source, target, 2 * LITRE),
        lambda: bench.rinse(session, source.id, LITRE, tablet_id="transfer-01"),
        lambda: bench.rinse(session, target.id, LITRE, tablet_id="transfer-01-in"),
    ):
        with pytest.raises(Refusal, match="logged already"):
            other()
    assert (source.held_ul, target.held_ul, third.held_ul) == (9 * LITRE, LITRE, 0)


def test_a_transfer_into_another_stream_is_refused_with_the_hazard(session: LabSession, bench: Bench) -> None:
    source = bench.rinse_carboy(session, held_ul=LITRE)
    bleach = set_out_container(
        session, stream_id=bench.known_streams(session)[Source.BLEACH], name="Bleach 1", size_ul=5 * LITRE, by="Tomas",
        now=MORNING,
    )  # fmt: skip

    with pytest.raises(Refusal, match="is for Bleach and takes spent bleach, not rinse"):
        _transfer(session, source, bleach, LITRE)
    assert (source.held_ul, bleach.held_ul) == (LITRE, 0)


def test_what_can_t_come_out_or_go_in_changes_neither(
    session: LabSession, bench: Bench, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    source, target = pair
    bench.rinse(session, target.id, 15 * LITRE, tablet_id="pour-0002")

    for volume_ul, why in (
        (11 * LITRE, "has 10 L in it: 11 L can't come out"),
        (4 * LITRE, "over its fill line at 18 L; there is room for 3 L"),
        (6 * LITRE, "holds 20 L to the brim"),
    ):
        with pytest.raises(Refusal, match=why):
            _transfer(session, source, target, volume_ul)
    with pytest.raises(Refusal, match="can't be poured into itself"):
        _transfer(session, source, source, LITRE)
    with pytest.raises(NotFound, match="no such waste container"):
        transfer(
            session, source.id, to_container_id=target.id + 1, volume_ul=1, typed="1 uL", method=Method.GRADUATE,
            tablet_id="transfer-01", by="Tomas", now=MORNING,
        )  # fmt: skip
    over = _transfer(session, source, target, 4 * LITRE, over_line_reason="the other one leaks")
    assert over.over_line_reason == ""
    assert list_entries(session, target.id)[-1].over_line_reason == "the other one leaks"


@pytest.mark.parametrize(
    ("of_source", "of_target", "why"),
    [
        (["full"], [], None),
        ([], ["open", "full"], "“Rinse 2” is full and takes nothing"),
        (["closed", "requested"], [], "“Rinse 1” is on a pickup's request .* Take it off the request first"),
    ],
)
def test_a_full_container_gives_but_takes_nothing_and_a_requested_one_does_neither(
    session: LabSession,
    pair: tuple[WasteContainer, WasteContainer],
    of_source: list[str],
    of_target: list[str],
    why: str | None,
) -> None:
    source, target = pair
    for container, life in ((source, of_source), (target, of_target)):
        for state in life:
            change_state(session, container, ContainerState(state), by="Tomas", now=MORNING)

    if why is None:
        assert _transfer(session, source, target, LITRE)
        assert source.state == "full"
    else:
        with pytest.raises(Refusal, match=why):
            _transfer(session, source, target, LITRE)


def test_both_lids_are_noted(session: LabSession, pair: tuple[WasteContainer, WasteContainer]) -> None:
    source, target = pair
    change_state(session, source, ContainerState.CLOSED, by="Tomas", now=MORNING)
    _transfer(session, source, target, LITRE, is_closed_again=True)

    for container in pair:
        assert [event.note for event in list_events(session, container.id)][:2] == [
            "closed after the transfer",
            "opened for a transfer",
        ]


def test_pouring_over_carries_no_waste_from_one_satellite_area_to_another(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    """EPA, frequent questions on satellite accumulation: waste.zendesk.com/hc/en-us/articles/212355067."""
    keep_rules(session, "us-small")
    source, target = pair
    areas = [add_area(session, name=name, kind=AreaKind.SATELLITE) for name in ("bench", "next room")]
    store = add_area(session, name="store", kind=AreaKind.CENTRAL)
    for container, area in zip(pair, areas, strict=True):
        carry_container(session, container.id, area_id=area.id, by="Tomas", now=MORNING)

    with pytest.raises(Refusal, match="isn't carried from one satellite area to another"):
        _transfer(session, source, target, LITRE)
    carry_container(session, target.id, area_id=store.id, by="Tomas", now=MORNING)
    _transfer(session, source, target, LITRE)
    with pytest.raises(Refusal, match="central area, where its time runs"):
        _transfer(session, target, source, LITRE, tablet_id="transfer-02")


def test_pouring_together_makes_nothing_younger(session: LabSession, bench: Bench) -> None:
    old, young = bench.rinse_carboy(session, held_ul=LITRE), bench.rinse_carboy(session, name="Rinse 2")
    tomorrow = MORNING + timedelta(days=1)

    out = _transfer(session, old, young, 500_000, now=tomorrow)
    assert young.first_pour_at == MORNING
    reverse_entry(
        session, young.id, list_entries(session, young.id)[-1].id, reason="no", by="T", now=tomorrow
    )
    assert young.first_pour_at is None
    assert out.happened_at == tomorrow


def test_an_emptied_container_begins_anew_and_passes_on_the_start_of_what_is_in_it_now(
    session: LabSession, bench: Bench
) -> None:
    can, carboy = bench.rinse_carboy(session, held_ul=LITRE), bench.rinse_carboy(session, name="Rinse 2")
    _transfer(session, can, carboy, LITRE, now=MORNING + timedelta(days=10))
    _lose(session, carboy, WasteEntryKind.SPILL, LITRE, now=MORNING + timedelta(days=20))
    assert (can.first_pour_at, carboy.first_pour_at) == (None, None)

    later = MORNING + timedelta(days=200)
    for number in (1, 2):
        pour(
            session, container_id=can.id, volume_ul=LITRE, typed="1 L", method=Method.GRADUATE,
            source=Source.RINSE, tablet_id=f"pour-000{number}", by="Tomas", now=later,
        )  # fmt: skip
    out = _transfer(session, can, carboy, LITRE, tablet_id="transfer-02", now=later + timedelta(days=1))
    assert (can.first_pour_at, carboy.first_pour_at) == (later, later)

    reverse_entry(session, can.id, out.id, reason="no", by="T", now=later + timedelta(days=2))
    assert (can.first_pour_at, carboy.first_pour_at) == (later, None)


def test_an_emptying_that_is_taken_back_was_none(session: LabSession, bench: Bench) -> None:
    """By hand: 5 L, of which 3 L and then 2 L are poured over; with the 3 L taken back the first pour's start is back."""
    can, carboy = bench.rinse_carboy(session, held_ul=5 * LITRE), bench.rinse_carboy(session, name="Rinse 2")
    first = _transfer(session, can, carboy, 3 * LITRE, now=MORNING + timedelta(days=1))
    _transfer(session, can, carboy, 2 * LITRE, tablet_id="transfer-02", now=MORNING + timedelta(days=1))
    assert [one.first_pour_at for one in (can, carboy)] == [None, MORNING]

    reverse_entry(session, can.id, first.id, reason="no", by="T", now=MORNING + timedelta(days=2))
    assert [one.first_pour_at for one in (can, carboy)] == [MORNING, MORNING]


def test_a_transfer_is_reversed_with_both_its_legs_from_either_end(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    source, target = pair
    first = _transfer(session, source, target, 2 * LITRE)
    second = _transfer(session, source, target, 3 * LITRE, tablet_id="transfer-02")
    into_first, into_second = list_entries(session, target.id)

    assert (
        reverse_entry(session, source.id, first.id, reason="no", by="T", now=MORNING).reverses_id == first.id
    )
    taken_back = reverse_entry(session, target.id, into_second.id, reason="no", by="T", now=MORNING)
    assert (taken_back.reverses_id, taken_back.container_id) == (into_second.id, target.id)
    assert (source.held_ul, target.held_ul, target.held_mg) == (10 * LITRE, 0, 0)
    for container, entry_id in ((source, second.id), (target, into_first.id)):
        with pytest.raises(Refusal, match="reversed already"):
            reverse_entry(session, container.id, entry_id, reason="again", by="T", now=MORNING)
    assert list_unbalanced(session) == []


def test_a_transfer_is_not_reversed_when_either_end_can_t(
    session: LabSession, bench: Bench, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    source, target = pair
    out = _transfer(session, source, target, 4 * LITRE)
    _lose(session, target, WasteEntryKind.SPILL, 2 * LITRE)
    with pytest.raises(Refusal, match="“Rinse 2” has 2 L in it, less than the 4 L"):
        reverse_entry(session, source.id, out.id, reason="no", by="T", now=MORNING)
    third = bench.rinse_carboy(session, name="Rinse 3")
    gone = _transfer(session, source, third, LITRE, tablet_id="transfer-02")
    collect_container(session, third.id, tablet_id="pickup-1", happened_at=MORNING, by="T", now=MORNING)
    with pytest.raises(Refusal, match="“Rinse 3” was collected"):
        reverse_entry(session, source.id, gone.id, reason="no", by="T", now=MORNING)
    assert source.held_ul == 5 * LITRE


@pytest.mark.parametrize("kind", [WasteEntryKind.SAMPLE, WasteEntryKind.SPILL])
def test_a_sample_and_a_spill_take_their_share_of_the_mass(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer], kind: WasteEntryKind
) -> None:
    container = pair[0]
    container.held_mg = 11_000_000  # as if it had been weighed
    entry = _lose(session, container, kind, LITRE, note="to the waste office")

    assert (entry.kind, entry.change_ul, entry.change_mg) == (kind, -LITRE, -1_100_000)
    assert (entry.note, entry.uncertainty_ul) == ("to the waste office", 200_000)
    assert container.held_ul == 9 * LITRE
    assert _lose(session, container, kind, LITRE, note="to the waste office") == entry
    with pytest.raises(Refusal, match="9 L in it: 10 L can't come out"):
        _lose(session, container, kind, 10 * LITRE, tablet_id="loss-0002")


def test_what_dries_up_is_water_and_leaves_its_salts(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    container = pair[0]
    container.held_mg = 11_000_000
    entry = _lose(session, container, WasteEntryKind.EVAPORATION, LITRE)

    assert (entry.change_ul, entry.change_mg) == (-LITRE, -1_000_000)
    with pytest.raises(Refusal, match="everything in “Rinse 1”, and what dries up leaves its salts"):
        _lose(session, container, WasteEntryKind.EVAPORATION, 9 * LITRE, tablet_id="loss-0002")


def test_what_dries_up_never_weighs_more_than_its_share_of_what_is_held(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    """A solvent is lighter than water: ten litres of 8 kg."""
    container = pair[0]
    container.held_mg = 8_000_000

    assert _lose(session, container, WasteEntryKind.EVAPORATION, 5 * LITRE).change_mg == -4_000_000


def test_nothing_comes_out_of_what_is_empty_or_gone(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    with pytest.raises(Refusal, match="holds nothing that could come out"):
        _lose(session, carboy, WasteEntryKind.SPILL, 1)
    bench.rinse(session, carboy.id, LITRE, tablet_id="pour-0001")
    collect_container(session, carboy.id, tablet_id="pickup-1", happened_at=MORNING, by="T", now=MORNING)
    with pytest.raises(Refusal, match="was collected: nothing of its filling is here"):
        _lose(session, carboy, WasteEntryKind.SPILL, 1)


def test_a_spill_from_a_requested_container_is_written_down_and_a_loss_is_reversed(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    container = pair[0]
    for state in (ContainerState.CLOSED, ContainerState.REQUESTED):
        change_state(session, container, state, by="T", now=MORNING)
    spill = _lose(session, container, WasteEntryKind.SPILL, LITRE)
    assert (container.held_ul, container.state) == (9 * LITRE, "requested")

    reverse_entry(session, container.id, spill.id, reason="it was water", by="T", now=MORNING)
    assert (container.held_ul, container.held_mg) == (10 * LITRE, 10_000_000)


def test_a_sample_opens_the_lid_and_happens_when_it_is_said_to(
    session: LabSession, pair: tuple[WasteContainer, WasteContainer]
) -> None:
    container = pair[0]
    change_state(session, container, ContainerState.CLOSED, by="T", now=MORNING)
    noon = MORNING + timedelta(hours=4)
    entry = _lose(
        session, container, WasteEntryKind.SAMPLE, 100_000, happened_at=noon, now=noon + timedelta(hours=1), is_closed_again=True
    )  # fmt: skip

    def _too_early(at: datetime) -> None:
        _lose(session, container, WasteEntryKind.SAMPLE, 1, happened_at=at, tablet_id="loss-0002")

    assert entry.happened_at == noon
    assert [event.note for event in list_events(session, container.id)][:2] == [
        "closed after the sample",
        "opened for a sample",
    ]
    with pytest.raises(Refusal, match="was set out on"):
        _too_early(MORNING - timedelta(days=1))
