"""Reads of a ledger, and what the audit finds."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import (
    find_held_at_ul,
    list_entries,
    list_unbalanced,
    list_written,
)
from server.core.container_life import ContainerState
from server.core.measuring import Method
from server.data.session import LabSession
from server.pours.actions import pour, reverse_entry
from server.transfers.actions import transfer
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench


def _poured(
    session: LabSession,
    carboy: WasteContainer,
    volume_ul: int,
    at: datetime,
    method: Method = Method.GRADUATE,
) -> int:
    return pour(
        session, container_id=carboy.id, volume_ul=volume_ul, typed=f"{volume_ul} uL", method=method,
        source=Source.RINSE, tablet_id=f"pour-{at:%d-%H-%M}", by="Tomas", now=at,
    ).id  # fmt: skip


def test_a_planted_difference_is_found(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    bench.rinse_carboy(session, name="Rinse 2")
    session.flush()
    assert list_unbalanced(session) == []

    carboy.held_ul += 1
    carboy.held_mg -= 2
    session.flush()
    assert list_unbalanced(session) == [
        "Waste container “Rinse 1” is said to hold 1 L, but its entries add up to 1 L: a difference of 1 µL.",
        "Waste container “Rinse 1” is said to hold 999.998 g, but its entries add up to 1 kg: a difference of -2 mg.",
    ]


def _transferred(session: LabSession, bench: Bench) -> tuple[WasteEntry, WasteEntry]:
    """Both legs of a transfer of a litre out of two."""
    source = bench.rinse_carboy(session, held_ul=2 * LITRE)
    target = bench.rinse_carboy(session, name="Rinse 2")
    out = transfer(
        session, source.id, to_container_id=target.id, volume_ul=LITRE, typed="1 L", method=Method.GRADUATE,
        tablet_id="transfer-01", by="Tomas", now=MORNING,
    )  # fmt: skip
    assert list_unbalanced(session) == []
    return out, list_entries(session, target.id)[0]


def test_an_edited_entry_is_found_at_its_own_line_even_where_another_edit_covers_it(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    ids = [bench.rinse(session, carboy.id, LITRE, tablet_id=f"pour-000{number}") for number in range(4)]
    _first, second, third, _last = list_entries(session, carboy.id)
    second.change_ul, third.change_ul = LITRE + 7, LITRE - 7
    session.flush()

    [sentence] = list_unbalanced(session)
    assert sentence == (
        f"Entry no. {ids[1]} of waste container “Rinse 1” carries a balance that is off by -7 µL and 0 mg: "
        "it, or one before it, was changed."
    )


def test_a_transfer_that_lost_a_leg_is_found(session: LabSession, bench: Bench) -> None:
    out, into = _transferred(session, bench)
    into.transfer_of_id = None
    session.flush()

    assert list_unbalanced(session) == [
        f"Transfer no. {out.id} has no leg into another container.",
        f"Transfer no. {into.id} has no leg out of another container.",
    ]


@pytest.mark.parametrize(
    "planted",
    [
        {"happened_at": MORNING + timedelta(minutes=1)},
        {"kind": WasteEntryKind.POUR},
        {"change_mg": 1_000_001, "held_after_mg": 1_000_001},
    ],
)
def test_legs_that_differ_are_found(session: LabSession, bench: Bench, planted: dict[str, Any]) -> None:
    out, into = _transferred(session, bench)
    for name, value in planted.items():
        setattr(into, name, value)
    session.flush()

    assert (
        f"The legs of transfer no. {out.id} and no. {into.id} differ in amount, time, container or reversal."
        in list_unbalanced(session)
    )


def test_a_transfer_that_was_reversed_at_one_end_only_is_found(session: LabSession, bench: Bench) -> None:
    out, into = _transferred(session, bench)
    reversal = reverse_entry(session, out.container_id, out.id, reason="no", by="Tomas", now=MORNING)
    assert list_unbalanced(session) == []
    reversal.reverses_id = None
    session.flush()

    assert list_unbalanced(session) == [
        f"The legs of transfer no. {out.id} and no. {into.id} differ in amount, time, container or reversal."
    ]


def test_a_reversal_that_takes_back_something_else_is_found(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    first, second = (bench.rinse(session, carboy.id, size, tablet_id=f"pour-{size}") for size in (1000, 2000))
    reversal = reverse_entry(session, carboy.id, first, reason="no", by="Tomas", now=MORNING)
    reversal.reverses_id = second
    session.flush()

    assert list_unbalanced(session) == [f"Entry no. {reversal.id} doesn't take back what no. {second} says."]


def test_a_state_that_no_event_says_is_found(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    carboy.state = ContainerState.FULL
    session.add(
        WasteContainer(
            stream_id=carboy.stream_id, name="Rinse 2", size_ul=LITRE, fill_line_ul=LITRE, opened_at=MORNING
        )
    )
    session.flush()

    assert list_unbalanced(session) == [
        "Waste container “Rinse 1” is said to be full, but its last event says empty.",
        "Waste container “Rinse 2” is said to be open, but its last event says nothing.",
    ]


def test_a_ledger_is_read_from_its_end_and_further_back_from_any_entry(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    bench.long_ledger(session, carboy, entries=7)
    every = [entry.id for entry in list_entries(session, carboy.id)]

    assert len(every) == 7
    assert [entry.id for entry in list_entries(session, carboy.id, at_most=3)] == every[4:]
    assert [entry.id for entry in list_entries(session, carboy.id, before=every[4], at_most=3)] == every[1:4]
    assert list_entries(session, carboy.id, before=every[0]) == []


def test_a_ledger_of_another_container_is_left_out(session: LabSession, bench: Bench) -> None:
    carboy, other = bench.rinse_carboy(session), bench.rinse_carboy(session, name="Rinse 2")
    entry = bench.rinse(session, carboy.id, 1_000, tablet_id="pour-0001")
    bench.rinse(session, other.id, 2_000, tablet_id="pour-0002")

    assert [one.id for one in list_entries(session, carboy.id)] == [entry]


def test_an_entry_is_known_to_be_reversed_wherever_its_reversal_stands(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    first = bench.rinse(session, carboy.id, 1_000, tablet_id="pour-0001")
    second = bench.rinse(session, carboy.id, 2_000, tablet_id="pour-0002")
    reversal = reverse_entry(session, carboy.id, first, reason="poured elsewhere", by="Tomas", now=MORNING)

    written = list_written(session, carboy.id)
    assert [(one.entry.id, one.reversed_by_id) for one in written] == [
        (reversal.id, None),
        (second, None),
        (first, reversal.id),
    ]


def test_each_leg_of_a_transfer_names_the_other_container(session: LabSession, bench: Bench) -> None:
    carboys = [bench.rinse_carboy(session, name=name) for name in ("Rinse 1", "Rinse 2")]
    for carboy in carboys:
        bench.long_ledger(session, carboy, entries=1)
    [leg_out], [leg_in] = (list_entries(session, carboy.id) for carboy in carboys)
    leg_in.transfer_of_id = leg_out.id
    session.flush()

    others = [list_written(session, carboy.id)[0] for carboy in carboys]
    assert [(one.other_id, one.other_name) for one in others] == [
        (carboys[1].id, "Rinse 2"),
        (carboys[0].id, "Rinse 1"),
    ]


def test_what_a_container_held_at_a_moment_is_what_came_and_went_before(
    session: LabSession, bench: Bench
) -> None:
    """6 L poured in at nine and 6 L poured over at ten: never less than nothing."""
    carboy, can = bench.rinse_carboy(session), bench.rinse_carboy(session, name="Rinse 2")
    for hour, volume_ul in ((0, 1_000), (1, 6 * LITRE), (2, 300_000)):
        entry_id = _poured(session, carboy, volume_ul, MORNING + timedelta(hours=hour))
        if hour == 2:
            reverse_entry(session, carboy.id, entry_id, reason="poured elsewhere", by="Tomas", now=MORNING)
    transfer(
        session, carboy.id, to_container_id=can.id, volume_ul=6 * LITRE, typed="6 L", method=Method.GRADUATE,
        tablet_id="transfer-01", by="Tomas", now=MORNING + timedelta(hours=2),
    )  # fmt: skip

    held = [find_held_at_ul(session, carboy, MORNING + timedelta(hours=hour)) for hour in range(4)]
    assert held == [0, 1_000, 6_001_000, 1_000]


def test_what_was_only_estimated_is_carried_and_a_reversal_takes_it_back(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    _poured(session, carboy, 300_000, MORNING + timedelta(hours=1), Method.ESTIMATE)
    wrong = _poured(session, carboy, 50_000, MORNING + timedelta(hours=2), Method.ESTIMATE)
    assert carboy.estimated_ul == 350_000

    reverse_entry(session, carboy.id, wrong, reason="poured elsewhere", by="Tomas", now=MORNING)
    assert (carboy.estimated_ul, carboy.held_ul) == (300_000, 1_300_000)
    assert list_unbalanced(session) == []

    carboy.estimated_ul = 0
    session.flush()
    assert list_unbalanced(session) == [
        "Waste container “Rinse 1” is said to have got by estimate 0 mL, but its entries add up to 300 mL: a difference of -300000 µL."
    ]
