"""Reads of what became of containers, and of what else stands on the waste shelf."""

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import col, func, select

from server.containers.models import ContainerEvent, OtherWaste, WasteContainer
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.refusal import NotFound

# Events on one page of a container's life.
LATEST_EVENTS = 50
# Other courses' waste that has gone, on the shelf's page.
LATEST_GONE = 20


def list_events(
    session: LabSession, container_id: int, *, before: int | None = None, at_most: int = LATEST_EVENTS
) -> Sequence[ContainerEvent]:
    """What became of a container, newest first; the ones older than the event `before`."""
    wanted = select(ContainerEvent).where(ContainerEvent.container_id == container_id)
    if before is not None:
        wanted = wanted.where(col(ContainerEvent.id) < before)
    return session.exec(wanted.order_by(col(ContainerEvent.id).desc()).limit(at_most)).all()


def list_left_open(session: LabSession) -> Sequence[tuple[WasteContainer, datetime]]:
    """Containers whose lid is off, and since when, the longest first."""
    last = (
        select(func.max(ContainerEvent.id))
        .where(col(ContainerEvent.container_id) == col(WasteContainer.id))
        .correlate(WasteContainer)
        .scalar_subquery()
    )
    return session.exec(
        select(WasteContainer, ContainerEvent.happened_at)
        .join(ContainerEvent, col(ContainerEvent.id) == last)
        .where(WasteContainer.state == ContainerState.OPEN)
        .order_by(col(ContainerEvent.happened_at), col(WasteContainer.id))
    ).all()


def list_other_waste(session: LabSession) -> Sequence[OtherWaste]:
    """Other courses' waste that is on the shelf, the oldest first."""
    return session.exec(
        select(OtherWaste)
        .where(col(OtherWaste.gone_on).is_(None))
        .order_by(col(OtherWaste.since), col(OtherWaste.id))
    ).all()


def list_other_waste_gone(session: LabSession) -> Sequence[OtherWaste]:
    """Other courses' waste that has left the shelf, the last first."""
    return session.exec(
        select(OtherWaste)
        .where(col(OtherWaste.gone_on).is_not(None))
        .order_by(col(OtherWaste.gone_on).desc(), col(OtherWaste.id).desc())
        .limit(LATEST_GONE)
    ).all()


def _here(waste: OtherWaste | None) -> OtherWaste:
    if waste is None:
        raise NotFound("There is no such waste on this lab's shelf. Choose one from Waste of other courses.")
    return waste


def get_other_waste(session: LabSession, waste_id: int) -> OtherWaste:
    return _here(session.get(OtherWaste, waste_id))


def lock_other_waste(session: LabSession, waste_id: int) -> OtherWaste:
    """The waste as it is now, which nobody else can change before this transaction ends."""
    return _here(session.hold(OtherWaste, waste_id))
