"""What the table of all runs costs to read."""

from datetime import time, timedelta

from server.data.session import LabSession
from server.plates.actions import log_light
from server.runs.actions import file_run, give_verdict
from server.runs.models import Incident
from server.runs.pages import runs_file
from tests.casts import MORNING, Cast
from tests.costs import reading
from tests.runs.room import Room, fill_room

BERLIN = "Europe/Berlin"


def _file_poor(session: LabSession, cast: Cast, room: Room, *, plates: int, at_minute: int) -> None:
    """Plates that came out badly, all through one charge of developer, with light while they were out."""
    exposed_at = MORNING + timedelta(minutes=at_minute)
    for number in range(plates):
        run = file_run(
            session,
            tablet_id=f"poor-{at_minute}-{number}",
            section_id=cast.section_id,
            group_id=cast.group_ids[0],
            plate_box_id=room.plate_box_id,
            place_id=room.station_id,
            charge_id=room.charge_id,
            rotation_id=None,
            settle_s=60,
            exposure_s=10,
            develop_s=20,
            incident=Incident.NONE,
            comment="",
            exposed_at=exposed_at,
            by="G1",
            now=exposed_at,
        )
        give_verdict(session, run.id, verdict=0, comment="", now=exposed_at)


def test_the_table_of_runs_asks_no_more_for_more_plates_that_came_out_badly(
    session: LabSession, cast: Cast
) -> None:
    room = fill_room(session, plates=40, plates_per_charge=30)
    asked: list[int] = []
    for plates, minute in ((3, 60), (9, 61)):
        _file_poor(session, cast, room, plates=plates, at_minute=minute)
        if not asked:
            log_light(
                session,
                clock=time(9, 0),
                light_zone_id=None,
                note="",
                by="Mira",
                now=MORNING + timedelta(hours=2),
            )
        session.flush()
        session.expunge_all()
        with reading(session) as cost:
            text = runs_file(session, BERLIN)
        asked.append(cost.statements)

    assert text.count("The plate was fogged") == 12
    assert asked[0] == asked[1]
