"""The request sheet of a pickup on paper."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from server.containers.actions import set_out_container
from server.containers.models import Source
from server.core.measuring import Method
from server.data.session import LabSession
from server.pickups.actions import choose_containers
from server.pours.actions import pour
from server.sheets.actions import set_particulars, tell_of_container
from tests.browser.conftest import Open
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench, bench
from tests.pickups.booked import BERLIN, booked

pytestmark = pytest.mark.browser
__all__ = ["bench"]

InLab = Callable[[], AbstractContextManager[LabSession]]
COMPOSITION = (
    "water 86.3 %\nsodium carbonate 7.5 %\nascorbic acid 3.1 %\nsodium hydroxide 1.7 %\nmetol 0.9 %\npotassium bromide 0.5 %\n"
    "traces of silver and of what plates gave off"
)


@pytest.fixture
def address(in_lab: InLab, bench: Bench) -> str:
    """The sheet of six containers of which everything was told, two of each stream."""
    with in_lab() as session:
        streams = bench.streams(session)
        pickup = booked(session)
        pickup.note = "The lift is out of order: stairs at the north door, and ring at the porter's before half past four."
        chosen = []
        for number in (1, 2):
            for source, stream_id in streams.items():
                container = set_out_container(
                    session, stream_id=stream_id, name=f"{source.value} {number}", size_ul=20 * LITRE, tare_mg=1_200_000, by="Tomas", now=MORNING
                )  # fmt: skip
                pour(
                    session, container_id=container.id, volume_ul=13_200_000, typed="13.2 L", method=Method.GRADUATE, source=Source(source),
                    tablet_id=f"{container.name}-of-the-sheet", by="Tomas", now=MORNING,
                )  # fmt: skip
                chosen.append(container.id)
        choose_containers(session, pickup.id, chosen, zone=BERLIN, by="Tomas", now=MORNING)
        for container_id in chosen:
            tell_of_container(
                session, pickup.id, container_id, vessel="plastic can or carboy", contents="Spent photographic bath with traces of silver, in water",
                composition=COMPOSITION, physical_state="liquid", ph_hundredths=1231, temperature_decicelsius=205, read_ul=None,
                gross_mg=15_100_000, tare_mg=1_200_000, handling="the cap leaks when the can lies down: keep it upright", by="Tomas", now=MORNING,
            )  # fmt: skip
        set_particulars(
            session, generator="Harbour Street College of Arts and Sciences", address="Harbour Street 4, 20999 Northport", room="cellar, room K12",
            phone="555 0104", emergency_phone="555 0199", site_number="NP-0000417", contact="the technician, 8 to 16 o'clock",
            waste_office="555 0150, before the cut-off",
        )  # fmt: skip
        return f"/waste/pickups/{pickup.id}/sheet"


def test_six_containers_take_two_pages_of_a4_in_black(address: str, opened: Open) -> None:
    page = opened("tomas")
    page.goto(address)
    paper = page.pdf(prefer_css_page_size=True)

    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", paper)) == 2
    box = re.search(rb"/MediaBox\s*\[0 0 ([0-9.]+) ([0-9.]+)\]", paper)
    assert box is not None
    width, height = (float(side) for side in box.groups())
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (210, 297)
    page.emulate_media(media="print")
    inks = page.eval_on_selector_all(
        ".request-sheet *", "parts => [...new Set(parts.map(part => getComputedStyle(part).color))]"
    )
    assert inks == ["rgb(0, 0, 0)"]
    assert page.locator(".screen-only:visible").count() == 0
