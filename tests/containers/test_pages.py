"""What the pages of containers say: drawings, ledgers and labels."""

from datetime import timedelta
from itertools import pairwise

import pytest

from server.containers.actions import change_state
from server.containers.models import WasteArea
from server.containers.pages import BOTTOM_Y, BRIM_Y, container_page
from server.containers.queries import LATEST, list_entries
from server.core.container_life import AreaKind, ContainerState
from server.data.session import LabSession
from server.pours.actions import reverse_entry
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench
from tests.costs import reading

BERLIN = "Europe/Berlin"


@pytest.mark.parametrize(("held_ul", "height"), [(0, 0), (10 * LITRE, 48), (18 * LITRE, 86.4)])
def test_the_drawn_level_is_in_proportion_to_the_size(
    session: LabSession, bench: Bench, held_ul: int, height: float
) -> None:
    """96 units from the bottom to the brim of 20 L."""
    gauge = container_page(session, bench.rinse_carboy(session, held_ul=held_ul).id, zone=BERLIN).gauge

    assert gauge.held_height == pytest.approx(height)
    assert gauge.line_y == pytest.approx(BOTTOM_Y - 0.9 * (BOTTOM_Y - BRIM_Y))
    assert gauge.coming_height == 0


def test_a_long_ledger_is_shown_a_page_at_a_time_newest_first(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    bench.long_ledger(session, carboy, entries=2 * LATEST + 1)
    newest = container_page(session, carboy.id, zone=BERLIN).ledger
    middle = container_page(session, carboy.id, zone=BERLIN, before=newest.older).ledger
    oldest = container_page(session, carboy.id, zone=BERLIN, before=middle.older).ledger

    assert [len(view.lines) for view in (newest, middle, oldest)] == [LATEST, LATEST, 1]
    assert [view.lines[0].after for view in (newest, middle, oldest)] == ["101 mL", "51 mL", "1 mL"]
    assert (newest.is_latest, middle.is_latest, oldest.older) == (True, False, None)


@pytest.mark.parametrize("before", [False, True])
def test_a_container_page_asks_and_reads_no_more_for_a_longer_ledger(
    session: LabSession, bench: Bench, before: bool
) -> None:
    """What a page costs is how often it asks and how many rows come back; neither may grow with the ledger."""
    costs = []
    for name, entries in (("Rinse 1", 3 * LATEST), ("Rinse 2", 6 * LATEST)):
        carboy = bench.rinse_carboy(session, name=name)
        bench.long_ledger(session, carboy, entries=entries)
        at = list_entries(session, carboy.id, at_most=LATEST)[0].id if before else None
        session.expunge_all()
        with reading(session) as cost:
            container_page(session, carboy.id, zone=BERLIN, before=at)
        costs.append(cost)

    assert costs[0].rows == costs[1].rows
    assert costs[0].statements == costs[1].statements
    assert costs[0].rows <= LATEST + 10


def test_an_entry_that_was_written_down_later_says_both_times(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    bench.long_ledger(session, carboy, entries=2)
    late = list_entries(session, carboy.id)[-1]
    late.entered_at = late.happened_at + timedelta(hours=3)
    session.flush()

    second, first = container_page(session, carboy.id, zone=BERLIN).ledger.lines
    assert (first.when, first.entered) == ("Tue 16 Feb 2027, 08:01", "")
    assert (second.when, second.entered) == ("Tue 16 Feb 2027, 08:02", "Tue 16 Feb 2027, 11:02")


def test_an_entry_says_how_it_was_measured_and_how_far_out_it_may_be(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    bench.long_ledger(session, carboy, entries=1)
    entry = list_entries(session, carboy.id)[0]
    entry.uncertainty_ul, entry.over_line_reason, entry.note = 500, "no other was there", "after class"
    session.flush()

    [line] = container_page(session, carboy.id, zone=BERLIN).ledger.lines
    assert line.method == "graduate, ± 0.5 mL"
    assert line.note == "after class Over the fill line on purpose: no other was there"
    assert (line.change, line.change_mass, line.after_mass) == ("+1 mL", "+1 g", "1 g")


def test_a_ledger_says_what_was_reversed_by_what(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    first = bench.rinse(session, carboy.id, 1_000, tablet_id="pour-0001")
    bench.rinse(session, carboy.id, 2_000, tablet_id="pour-0002")
    reverse_entry(session, carboy.id, first, reason="poured elsewhere", by="Tomas", now=MORNING)

    page = container_page(session, carboy.id, zone=BERLIN)
    assert [line.kind for line in page.ledger.lines] == [
        f"reverses no. {first}",
        "pour",
        f"pour, reversed by no. {page.ledger.lines[0].id}",
    ]


def test_a_page_names_the_fillings_before_and_the_one_after(session: LabSession, bench: Bench) -> None:
    carboys = [bench.rinse_carboy(session, name=f"Rinse {number}") for number in (1, 2, 3)]
    for before, after in pairwise(carboys):
        after.reused_from_id = before.id
    session.flush()
    first, middle, last = (container_page(session, one.id, zone=BERLIN) for one in carboys)

    assert (first.fillings, first.next_filling) == ([], (carboys[1].id, "Rinse 2"))
    assert [name for _id, name in middle.fillings] == ["Rinse 1"]
    assert [name for _id, name in last.fillings] == ["Rinse 2", "Rinse 1"]
    assert last.next_filling is None


def test_a_page_says_since_when_and_by_whom_its_state_is_known(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    change_state(session, carboy, ContainerState.CLOSED, by="Mira", now=MORNING + timedelta(hours=1))

    page = container_page(session, carboy.id, zone=BERLIN)
    assert (page.state, page.since) == ("closed", "since Tue 16 Feb 2027, 09:00, Mira")


def test_what_is_known_of_a_container_is_told_and_what_is_not_is_left_open(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    empty = container_page(session, carboy.id, zone=BERLIN)
    assert (empty.area, empty.tare, empty.estimated, empty.full, empty.labelled) == ("", "", "", "", "")

    area = WasteArea(name="cabinet", kind=AreaKind.SATELLITE)
    session.add(area)
    session.flush()
    carboy.area_id, carboy.tare_mg, carboy.full_at, carboy.labelled_at = area.id, 1_200_000, MORNING, MORNING
    carboy.estimated_ul = 250_000
    told = container_page(session, carboy.id, zone=BERLIN)
    assert (told.area, told.tare, told.estimated) == ("cabinet (satellite area)", "1.2 kg", "250 mL")
    assert (told.full, told.labelled) == ("Tue 16 Feb 2027", "Tue 16 Feb 2027")
