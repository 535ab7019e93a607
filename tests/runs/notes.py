"""A run filed without a tablet."""

from server.data.session import LabSession
from server.plates.queries import list_plate_boxes
from server.runs.actions import file_run
from server.runs.models import Incident, Run
from server.stations.queries import list_stations
from tests.casts import MORNING, Cast


def file_one(session: LabSession, cast: Cast) -> Run:
    """A run of G1 of the first box at the first station."""
    return file_run(
        session,
        tablet_id="a-run-of-g1",
        section_id=cast.section_id,
        group_id=cast.group_ids[0],
        plate_box_id=list_plate_boxes(session)[0].id,
        place_id=list_stations(session)[0].id,
        charge_id=None,
        rotation_id=None,
        settle_s=60,
        exposure_s=10,
        develop_s=None,
        incident=Incident.NONE,
        comment="",
        exposed_at=MORNING,
        by="G1",
        now=MORNING,
    )
