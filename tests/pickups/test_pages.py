"""What the request sheet says."""

from datetime import date, time

from server.containers.actions import set_out_container
from server.containers.models import Source, WasteContainer
from server.data.session import LabSession
from server.pickups.actions import book_pickup, hand_over
from server.pickups.pages import pickup_page
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


def _second_id(session: LabSession) -> int:
    card = _rinse(session).containers[0]
    assert card.name == "Rinse 2"
    return card.id


def test_the_request_sheet_lists_what_was_measured_and_afterwards_what_was_taken(
    session: LabSession, bench: Bench
) -> None:
    """Container capacities are not acceptable as quantities: instructions to the US waste manifest."""
    carboy = bench.rinse_carboy(session, held_ul=13_200_000)
    _second(session, carboy)
    pickup = book_pickup(
        session,
        on_day=date(2027, 2, 19),
        request_day=date(2027, 2, 17),
        request_clock=time(12),
        zone=BERLIN,
        now=MORNING,
    )
    page = pickup_page(session, pickup.id, now=MORNING, zone=BERLIN, lab="Cellar lab")
    assert [(line.container, line.quantity, line.estimated) for line in page.lines] == [
        ("Rinse 1", "13.2 L", "none")
    ]

    hand_over(session, pickup.id, [carboy.id], by="Tomas", now=MORNING)
    session.flush()
    bench.rinse(session, _second_id(session), LITRE, tablet_id="later-pour")
    page = pickup_page(session, pickup.id, now=MORNING, zone=BERLIN, lab="Cellar lab")
    assert [(line.container, line.quantity) for line in page.lines] == [("Rinse 1", "13.2 L")]
    assert page.total == "13.2 L"
