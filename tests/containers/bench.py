"""Rotations that are published, charges that stand in trays, and the three usual streams."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from server.charges.actions import pour_charge
from server.charges.models import Charge
from server.chemistry.queries import get_usual_quantities
from server.containers.actions import add_usual_streams, note_state, set_out_container
from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import list_streams
from server.core.container_life import ContainerState
from server.core.measuring import Method
from server.core.waste_rules.rule import Establishment
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.pours.actions import pour
from server.rotations.models import (
    NamedVisit,
    Period,
    Rotation,
    RotationPlan,
    RotationState,
    RotationStep,
    StepPlace,
    StepTime,
    Visit,
)
from server.rules.actions import choose_rule_set
from server.stations.actions import add_tray_line
from server.stations.models import Bath
from server.stations.queries import list_trays
from tests.casts import MORNING, Cast
from tests.chemistry import mixing

LITRE = 1_000_000


def keep_rules(session: LabSession, rule_set: str, *, is_far: bool = False) -> None:
    """Keep a rule set since long ago."""
    choose_rule_set(
        session, rule_set=rule_set, establishment=Establishment.UNIVERSITY, is_far=is_far,
        from_day=date(2020, 1, 1), by="Mira", now=MORNING,
    )  # fmt: skip


@dataclass(frozen=True)
class Bench:
    """What a test of waste needs around it, written through the session it is given."""

    cast: Cast

    def publish(
        self,
        session: LabSession,
        name: str,
        starts_at: datetime,
        *,
        plates: int,
        stations: int = 3,
        repeats: int = 0,
    ) -> Rotation:
        """A published rotation of fifty minutes on so many stations, 0 of them for a lab that tests none.

        Of its plates `repeats` are kept for a repeat.
        """
        if not stations:
            usual = get_usual_quantities(session)
            usual.test_plates_per_station = 0
            session.add(usual)
        rotation = Rotation(
            section_id=self.cast.section_id, name=name, state=RotationState.PUBLISHED, made_at=MORNING,
            published_at=MORNING,
        )  # fmt: skip
        session.add(rotation)
        session.flush()
        ends_at = starts_at + timedelta(minutes=50)
        session.add(Period(rotation_id=rotation.id, starts_at=starts_at, ends_at=ends_at))
        session.add(
            RotationStep(
                rotation_id=rotation.id, position=1, name="expose", at=StepPlace.STATION, time_from=StepTime.EXPOSURE,
                seconds=10,
            )
        )  # fmt: skip
        plan = RotationPlan(
            rotation_id=rotation.id, status="optimal", makespan_s=3000, bound_s=3000, plates_planned=plates - repeats,
            plates_unplaced=0, class_file="{}", seed=1, starts_at=starts_at, made_at=MORNING,
        )  # fmt: skip
        session.add(plan)
        session.flush()
        for number in range(plates):
            visit = Visit if number < plates - repeats else NamedVisit
            whose: dict[str, Any] = (
                {"group_id": self.cast.group_ids[0]} if visit is Visit else {"group_name": "Repeats"}
            )
            session.add(
                visit(
                    plan_id=plan.id, pass_no=number + 1, step="expose", place=f"S{number % max(1, stations) + 1}",
                    light="any", still="any", starts_at=starts_at, ends_at=ends_at, **whose,
                )
            )  # fmt: skip
        session.flush()
        return rotation

    def streams(self, session: LabSession) -> dict[Source, int]:
        """The ids of the three usual streams, by what they take."""
        add_usual_streams(session)
        return self.known_streams(session)

    def known_streams(self, session: LabSession) -> dict[Source, int]:
        """The ids of the streams that are there, by what they take."""
        return {Source(stream.takes): stream.id for stream in list_streams(session)}

    def rinse_carboy(self, session: LabSession, *, held_ul: int = 0, name: str = "Rinse 1") -> WasteContainer:
        """A carboy of 20 L with its line at 18 L, in a lab with the three usual streams."""
        known = self.known_streams(session) or self.streams(session)
        carboy = set_out_container(
            session, stream_id=known[Source.RINSE], name=name, size_ul=20 * LITRE, by="Tomas", now=MORNING
        )
        if held_ul:
            self.rinse(session, carboy.id, held_ul, tablet_id=f"first-{name}")
        return carboy

    def full_carboy(self, session: LabSession, *, name: str) -> WasteContainer:
        """A rinse carboy of 17 L that takes no more since this morning."""
        carboy = self.rinse_carboy(session, held_ul=17 * LITRE, name=name)
        note_state(session, carboy, ContainerState.FULL, by="Tomas", now=MORNING)
        carboy.full_at = MORNING
        return carboy

    def rinse(self, session: LabSession, container_id: int, volume_ul: int, *, tablet_id: str) -> int:
        """Pour rinse and give back the entry's id."""
        return pour(
            session, container_id=container_id, volume_ul=volume_ul, typed=f"{volume_ul} uL", method=Method.GRADUATE,
            source=Source.RINSE, tablet_id=tablet_id, by="Tomas", now=MORNING,
        ).id  # fmt: skip

    def long_ledger(self, session: LabSession, container: WasteContainer, *, entries: int) -> None:
        """A container's ledger as if so many millilitres had been poured one by one, a minute after the other."""
        session.add_all(
            WasteEntry(
                tablet_id=f"{container.name}-{number}", container_id=container.id, kind=WasteEntryKind.POUR,
                source=Source.RINSE, change_ul=1_000, change_mg=1_000, typed="1 mL", method=Method.GRADUATE,
                held_after_ul=number * 1_000, held_after_mg=number * 1_000,
                happened_at=MORNING + timedelta(minutes=number), entered_at=MORNING + timedelta(minutes=number),
                entered_by="Tomas",
            )
            for number in range(1, entries + 1)
        )  # fmt: skip
        container.held_ul = container.held_mg = entries * 1_000
        container.first_pour_at = MORNING + timedelta(minutes=1)
        session.flush()

    def charge(self, session: LabSession, bath: Bath) -> Charge:
        """A charge of 200 mL in the developer or the bleach tray of a tray line of its own."""
        line = f"line of {bath}"
        add_tray_line(session, name=line, capacity=1, light_zone_id=None, still_zone_id=None)
        take_in_kit(
            session, name=f"kit of {bath}", arrived_on=MORNING.date(), expires_on=None, storage="", contents=[NewBottle(STOCK_A, LITRE), NewBottle(STOCK_B, LITRE), NewBottle(BLEACH, LITRE)], by="Tomas", now=MORNING,
        )  # fmt: skip
        mix = mixing.developer if bath is Bath.DEVELOPER else mixing.bleach
        batch = mix(session, 200_000)
        tray = next(tray for tray in list_trays(session, bath) if tray.name.endswith(line))
        charge = pour_charge(
            session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=MORNING
        )
        session.flush()
        return charge


@pytest.fixture
def bench(cast: Cast) -> Bench:
    return Bench(cast)
