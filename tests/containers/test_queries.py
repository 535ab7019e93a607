"""Reads of a ledger, and what the audit finds."""

from datetime import datetime, timedelta

from server.containers.models import Source, WasteContainer
from server.containers.queries import (
    find_first_pour,
    get_container,
    list_entries,
    list_unbalanced,
    list_written,
    sum_poured_ul,
)
from server.core.measuring import Method
from server.data.session import LabSession
from server.pours.actions import pour, reverse_entry
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
    session.flush()
    assert list_unbalanced(session) == [
        "Waste container “Rinse 1” is said to hold 1 L, but its entries add up to 1 L: a difference of 1 µL."
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


def test_the_first_pour_is_the_one_that_happened_first_of_those_that_stand(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    assert find_first_pour(session, carboy.id) is None
    ids = [_poured(session, carboy, 1_000, MORNING + timedelta(hours=hour)) for hour in (1, 2, 3)]

    for entry_id in ids[:2]:
        reverse_entry(session, carboy.id, entry_id, reason="poured elsewhere", by="Tomas", now=MORNING)

    first = find_first_pour(session, carboy.id)
    assert first is not None
    assert first.id == ids[2]
    assert get_container(session, carboy.id).first_pour_at == MORNING + timedelta(hours=3)


def test_the_pours_of_a_span_are_summed_without_those_that_were_reversed(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    for hour, volume_ul in ((0, 1_000), (1, 20_000), (2, 300_000), (3, 4_000_000)):
        entry_id = _poured(session, carboy, volume_ul, MORNING + timedelta(hours=hour))
        if hour == 2:
            reverse_entry(session, carboy.id, entry_id, reason="poured elsewhere", by="Tomas", now=MORNING)

    begins, ends = MORNING + timedelta(hours=1), MORNING + timedelta(hours=3)
    assert sum_poured_ul(session, carboy.id, begins=begins, ends=ends) == 20_000
    assert sum_poured_ul(session, carboy.id, begins=ends, ends=begins) == 0


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
