"""What the pages of containers say: drawings and labels."""

import pytest

from server.containers.actions import open_container
from server.containers.pages import BOTTOM_Y, BRIM_Y, container_page, label_page
from server.containers.queries import list_streams
from server.data.session import LabSession
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench

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


def test_a_label_without_a_first_pour_leaves_its_start_date_open(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)

    assert label_page(session, carboy.id, zone=BERLIN, lab="Cellar lab").started == "not begun"


def test_no_label_and_no_stream_is_called_harmless(session: LabSession, bench: Bench) -> None:
    bench.streams(session)
    for stream in list_streams(session):
        container = open_container(
            session, stream_id=stream.id, name=stream.name, size_ul=LITRE, by="Tomas", now=MORNING
        )
        label = label_page(session, container.id, zone=BERLIN, lab="Cellar lab")
        assert label.contents
        assert not {"harmless", "non-hazardous", "safe"} & set(
            f"{label.contents} {label.hazards}".lower().split()
        )
