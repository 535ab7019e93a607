"""A room to make plates in: two stations, a tray line with a charge of developer, a box of plates."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from server.charges.actions import pour_charge
from server.chemistry.actions import set_usual_quantities
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.plates.actions import take_in_plate_box
from server.runs.actions import file_run, give_verdict
from server.runs.models import Incident, Run
from server.stations.actions import add_place, add_tray_line
from server.stations.models import Bath, PlaceKind
from server.stations.queries import list_trays
from tests.casts import MORNING
from tests.chemistry import mixing


@dataclass(frozen=True)
class Room:
    """Ids. The charge serves three plates and ends six hours after MORNING."""

    station_id: int
    second_station_id: int
    plate_box_id: int
    charge_id: int
    rinse_tray_id: int


def fill_room(session: LabSession, *, plates: int = 12, plates_per_charge: int = 3) -> Room:
    stations = [
        add_place(
            session,
            name=name,
            kind=PlaceKind.STATION,
            capacity=1,
            light_zone_id=None,
            still_zone_id=None,
            settle_s=settle_s,
            exposure_s=exposure_s,
        )
        for name, settle_s, exposure_s in (("S1", 60, 10), ("S2", 90, 12))
    ]
    add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
    set_usual_quantities(
        session,
        developer_life_s=6 * 3600,
        bleach_life_s=90 * 86_400,
        stock_life_s=60 * 86_400,
        other_life_s=86_400,
        developer_charge_ul=200_000,
        bleach_charge_ul=200_000,
        plates_per_charge=plates_per_charge,
        plate_width_um=63_500,
        plate_height_um=63_500,
        rinse_ul_per_plate=166_667,
        test_plates_per_station=1,
    )
    day = MORNING.date()
    take_in_kit(
        session,
        name="Kit 1",
        arrived_on=day,
        expires_on=None,
        storage="",
        contents=[NewBottle(STOCK_A, 500_000), NewBottle(STOCK_B, 500_000), NewBottle(BLEACH, 500_000)],
        by="Tomas",
        now=MORNING,
    )
    box = take_in_plate_box(
        session,
        name="Box 1",
        plates=plates,
        width_um=63_000,
        height_um=63_000,
        dose_uj_per_cm2=600,
        sees_red=True,
        sees_green=False,
        sees_blue=True,
        arrived_on=day,
        expires_on=day + timedelta(days=90),
        warm_up_s=3600,
        by="Tomas",
        now=MORNING,
    )
    batch = mixing.developer(session, 200_000)
    charge = pour_charge(
        session,
        batch_id=batch.id,
        place_id=list_trays(session, Bath.DEVELOPER)[0].id,
        volume_ul=200_000,
        by="Tomas",
        now=MORNING,
    )
    rinse = list_trays(session, Bath.RINSE)[0]
    return Room(stations[0].id, stations[1].id, box.id, charge.id, rinse.id)


# A test strip in half stops around 12 s; the verdicts are best between 12 s and 13 s.
STRIP = ((6, 2), (8, 3), (12, 4), (17, 4), (24, 2))


def rate_a_strip(
    session: LabSession, *, section_id: int, group_id: int, plate_box_id: int, place_id: int
) -> None:
    """Five runs at one station, each with its verdict."""
    for number, (exposure_s, verdict) in enumerate(STRIP):
        run = file_run(
            session,
            tablet_id=f"strip-{place_id}-{number}",
            section_id=section_id,
            group_id=group_id,
            plate_box_id=plate_box_id,
            place_id=place_id,
            charge_id=None,
            rotation_id=None,
            settle_s=60,
            exposure_s=exposure_s,
            develop_s=20,
            incident=Incident.NONE,
            comment="",
            exposed_at=MORNING,
            by="G1",
            now=MORNING,
        )
        give_verdict(session, run.id, verdict=verdict, comment="", now=MORNING)


def add_rack(session: LabSession, *, slots: int = 6, name: str = "drying rack") -> int:
    """A rack for plates left to dry; returns its id."""
    return add_place(
        session,
        name=name,
        kind=PlaceKind.RACK,
        capacity=slots,
        light_zone_id=None,
        still_zone_id=None,
    ).id


def make_plates(
    session: LabSession, room: Room, *, section_id: int, group_id: int, verdicts: Sequence[int | None]
) -> list[Run]:
    """A run for each of `verdicts`, filed in the morning without a developer; none waits for its verdict."""
    runs = []
    for number, verdict in enumerate(verdicts):
        run = file_run(
            session,
            tablet_id=f"plate-{group_id}-{number}",
            section_id=section_id,
            group_id=group_id,
            plate_box_id=room.plate_box_id,
            place_id=room.station_id,
            charge_id=None,
            rotation_id=None,
            settle_s=60,
            exposure_s=10,
            develop_s=20,
            incident=Incident.NONE,
            comment="",
            exposed_at=MORNING,
            by="G1",
            now=MORNING,
        )
        if verdict is not None:
            give_verdict(session, run.id, verdict=verdict, comment="", now=MORNING)
        runs.append(run)
    return runs


# Nine plates of a class at the bell: six are dry and rated, five of them good, and three stand in R1 to R3 (worked by hand).
AT_THE_BELL = (4, 3, 3, 4, 3, 1, None, None, None)
