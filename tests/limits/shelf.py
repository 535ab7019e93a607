"""Waste areas, containers and entries for the tests of limits, written at any day."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import pytest

from server.containers.actions import add_usual_streams
from server.containers.models import Source, Stream, WasteArea, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import list_streams
from server.core.container_life import AreaKind, ContainerState
from server.core.measuring import Method
from server.core.waste_rules.rule import Key
from server.data.session import LabSession
from server.pours.actions import enter
from server.rules.actions import lay_over
from tests.casts import MORNING
from tests.containers.bench import keep_rules

L = 1_000_000
TODAY = MORNING.date()


def days_ago(days: int) -> datetime:
    return MORNING - timedelta(days=days)


@dataclass
class Shelf:
    """What stands on it is written through the session that each call is given."""

    entries: int = 0

    def keep(self, session: LabSession, rule_set: str, *, is_far: bool = False) -> None:
        keep_rules(session, rule_set, is_far=is_far)

    def lay(self, session: LabSession, key: Key, value: str) -> None:
        lay_over(
            session,
            rule=key,
            value=value,
            reason="the leaflet",
            from_day=date(2020, 1, 1),
            by="Mira",
            now=MORNING,
        )

    def area(
        self, session: LabSession, name: str = "under the sink", kind: AreaKind = AreaKind.SATELLITE
    ) -> WasteArea:
        area = WasteArea(name=name, kind=kind)
        session.add(area)
        session.flush()
        return area

    def stream(self, session: LabSession, source: Source = Source.RINSE) -> Stream:
        if not list_streams(session):
            add_usual_streams(session)
        return next(stream for stream in list_streams(session) if stream.takes == source)

    def container(
        self,
        session: LabSession,
        name: str,
        area: WasteArea | None = None,
        *,
        source: Source = Source.RINSE,
        size_ul: int = 300 * L,
    ) -> WasteContainer:
        stream = self.stream(session, source)
        container = WasteContainer(
            stream_id=stream.id, area_id=None if area is None else area.id, name=name, size_ul=size_ul,
            fill_line_ul=size_ul * 9 // 10, state=ContainerState.OPEN, opened_at=days_ago(400),
        )  # fmt: skip
        session.add(container)
        session.flush()
        return container

    def enter(
        self,
        session: LabSession,
        container: WasteContainer,
        change_ul: int,
        at: datetime = MORNING,
        *,
        kind: WasteEntryKind = WasteEntryKind.POUR,
        reverses: WasteEntry | None = None,
    ) -> WasteEntry:
        """One entry; a litre weighs a kilogram."""
        self.entries += 1
        entry = WasteEntry(
            tablet_id=f"shelf-{self.entries}", kind=kind, source=Source.RINSE,
            change_ul=change_ul, change_mg=change_ul, typed=f"{change_ul} uL", method=Method.GRADUATE,
            happened_at=at, entered_at=at,
            reverses_id=None if reverses is None else reverses.id, entered_by="Tomas",
        )  # fmt: skip
        return enter(session, container, entry)


@pytest.fixture
def shelf() -> Shelf:
    return Shelf()
