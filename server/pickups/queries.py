"""Reads of pickups, of what stands on their sheets and of what they took."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from sqlmodel import and_, col, or_, select

from server.containers.models import OtherWaste, Stream, WasteContainer
from server.core.container_life import IN_USE, ContainerState
from server.core.moments import day_at
from server.core.pickup_load import Load, Share, share_of_pickup
from server.core.sheet_quantity import NoQuantity, SheetQuantity, sheet_quantity
from server.data.session import LabSession
from server.pickups.models import Pickup, PickupEvent, PickupLine, PickupSchedule
from server.refusal import NotFound

_NOT_HERE = "There is no such pickup in this lab. Choose one from Pickups."
_IS_OPEN = (
    col(Pickup.done_at).is_(None),
    col(Pickup.missed_at).is_(None),
    col(Pickup.called_off_at).is_(None),
)


@dataclass(frozen=True)
class Listed:
    """A container on a pickup's sheet."""

    pickup: Pickup
    line: PickupLine
    container: WasteContainer
    stream: Stream

    @property
    def is_taken(self) -> bool:
        return self.line.entry_id is not None

    @property
    def quantity(self) -> SheetQuantity:
        """What the sheet says: measured for it, or added up from the ledger. What was taken stays as the paper said."""
        line = self.line
        found = self.measured(read_ul=line.read_ul, gross_mg=line.gross_mg, tare_mg=line.tare_mg)
        if isinstance(found, NoQuantity):
            # What was measured can't be any more, because the ledger has moved since.
            found = self.measured(read_ul=None, gross_mg=None, tare_mg=line.tare_mg)
        assert isinstance(found, SheetQuantity)
        if line.sheet_ul is None or line.sheet_mg is None:
            return found
        return replace(found, volume_ul=line.sheet_ul, net_mg=line.sheet_mg, differs="")

    def measured(
        self, *, read_ul: int | None, gross_mg: int | None, tare_mg: int | None
    ) -> SheetQuantity | NoQuantity:
        """What the sheet would say if this was measured; without a tare the container's own counts."""
        line, container = self.line, self.container
        return sheet_quantity(
            held_ul=container.held_ul if line.sheet_ul is None else line.sheet_ul,
            held_mg=container.held_mg if line.sheet_mg is None else line.sheet_mg,
            size_ul=container.size_ul,
            fill_line_ul=container.fill_line_ul,
            density_ug_per_ul=self.stream.density_ug_per_ul,
            is_density_assumed=self.stream.density_assumed,
            read_ul=read_ul,
            gross_mg=gross_mg,
            tare_mg=container.tare_mg if tare_mg is None else tare_mg,
        )


def list_pickups(session: LabSession, *, since: date | None = None) -> Sequence[Pickup]:
    """Pickups from a day on, or all of them, that were not called off, by their days."""
    wanted = select(Pickup).where(col(Pickup.called_off_at).is_(None))
    if since is not None:
        wanted = wanted.where(col(Pickup.on_day) >= since)
    return session.exec(wanted.order_by(col(Pickup.on_day), col(Pickup.id))).all()


def find_last_pickup(session: LabSession) -> Pickup | None:
    """The pickup with the latest day that was not called off."""
    return session.exec(
        select(Pickup)
        .where(col(Pickup.called_off_at).is_(None))
        .order_by(col(Pickup.on_day).desc(), col(Pickup.id).desc())
        .limit(1)
    ).first()


def list_pickups_between(session: LabSession, first: date, last: date) -> Sequence[Pickup]:
    """Every pickup of those days, also those that were missed or called off."""
    return session.exec(
        select(Pickup)
        .where(col(Pickup.on_day) >= first, col(Pickup.on_day) <= last)
        .order_by(col(Pickup.on_day), col(Pickup.id))
    ).all()


def get_pickup(session: LabSession, pickup_id: int) -> Pickup:
    pickup = session.get(Pickup, pickup_id)
    if pickup is None:
        raise NotFound(_NOT_HERE)
    return pickup


def lock_pickup(session: LabSession, pickup_id: int) -> Pickup:
    """The pickup as it is now, which nobody else can change before this transaction ends."""
    pickup = session.hold(Pickup, pickup_id)
    if pickup is None:
        raise NotFound(_NOT_HERE)
    return pickup


def find_pickup_on(session: LabSession, day: date) -> Pickup | None:
    return session.exec(
        select(Pickup).where(Pickup.on_day == day, col(Pickup.called_off_at).is_(None))
    ).first()


def find_pickup_after(session: LabSession, pickup: Pickup, *, now: datetime) -> Pickup | None:
    """The next pickup after this one whose sheet can still be changed."""
    return session.exec(
        select(Pickup)
        .where(*_IS_OPEN, col(Pickup.request_by) >= now, col(Pickup.on_day) > pickup.on_day)
        .order_by(col(Pickup.on_day), col(Pickup.id))
        .limit(1)
    ).first()


def find_next_to_ask(session: LabSession, *, besides_id: int, now: datetime) -> Pickup | None:
    """The other pickup whose cut-off comes next and that nobody has requested yet."""
    return session.exec(
        select(Pickup)
        .where(
            *_IS_OPEN,
            col(Pickup.requested_at).is_(None),
            col(Pickup.request_by) >= now,
            col(Pickup.id) != besides_id,
        )
        .order_by(col(Pickup.request_by), col(Pickup.id))
        .limit(1)
    ).first()


def list_recent_pickups(session: LabSession, *, before: date, most: int) -> Sequence[Pickup]:
    """Pickups that are over or whose day is past, the latest first."""
    return session.exec(
        select(Pickup)
        .where(or_(col(Pickup.on_day) < before, ~and_(*_IS_OPEN)))
        .order_by(col(Pickup.on_day).desc(), col(Pickup.id).desc())
        .limit(most)
    ).all()


def list_lost_pickups(session: LabSession, *, now: datetime, zone: str) -> Sequence[Pickup]:
    """Pickups that nobody has closed and that can't be counted on: requested and their day is past, or their cut-off without a request.

    One that was not requested worries nobody where nothing was meant for it: with an empty sheet, once its day is past or where a schedule
    booked it.
    """
    today = day_at(now, zone)
    meant = select(PickupLine.id).where(col(PickupLine.pickup_id) == col(Pickup.id)).exists()
    asked_for = or_(meant, and_(col(Pickup.on_day) >= today, col(Pickup.schedule_id).is_(None)))
    return session.exec(
        select(Pickup)
        .where(
            *_IS_OPEN,
            or_(
                and_(col(Pickup.requested_at).is_not(None), col(Pickup.on_day) < today),
                and_(col(Pickup.requested_at).is_(None), col(Pickup.request_by) < now, asked_for),
            ),
        )
        .order_by(col(Pickup.on_day), col(Pickup.id))
    ).all()


def list_schedules(session: LabSession) -> Sequence[PickupSchedule]:
    return session.exec(select(PickupSchedule).order_by(col(PickupSchedule.id).desc())).all()


def get_schedule(session: LabSession, schedule_id: int) -> PickupSchedule:
    schedule = session.get(PickupSchedule, schedule_id)
    if schedule is None:
        raise NotFound("There is no such schedule in this lab. Choose one from Pickups.")
    return schedule


def list_pickups_of_schedule(session: LabSession, schedule_id: int) -> Sequence[Pickup]:
    return session.exec(
        select(Pickup).where(Pickup.schedule_id == schedule_id).order_by(col(Pickup.on_day), col(Pickup.id))
    ).all()


def list_events(session: LabSession, pickup_id: int) -> Sequence[PickupEvent]:
    return session.exec(
        select(PickupEvent).where(PickupEvent.pickup_id == pickup_id).order_by(col(PickupEvent.id))
    ).all()


def list_lines(session: LabSession, pickup_id: int) -> Sequence[PickupLine]:
    return session.exec(
        select(PickupLine).where(PickupLine.pickup_id == pickup_id).order_by(col(PickupLine.container_id))
    ).all()


def list_listed(session: LabSession, pickup_ids: Sequence[int]) -> Sequence[Listed]:
    """What stands on the sheets of these pickups, by pickup and then oldest start date first."""
    found = session.exec(
        select(Pickup, PickupLine, WasteContainer, Stream)
        .join(PickupLine, col(PickupLine.pickup_id) == col(Pickup.id))
        .join(WasteContainer, col(WasteContainer.id) == col(PickupLine.container_id))
        .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
        .where(col(Pickup.id).in_(pickup_ids))
        .order_by(
            col(Pickup.on_day), col(Pickup.id), col(WasteContainer.first_pour_at), col(WasteContainer.name)
        )
    ).all()
    return [Listed(*row) for row in found]


def list_left_waiting(session: LabSession) -> Sequence[Listed]:
    """What the latest pickup left behind of those that are over, that is full, and that nobody has asked for again."""
    found = session.exec(
        select(Pickup, PickupLine, WasteContainer, Stream)
        .join(PickupLine, col(PickupLine.pickup_id) == col(Pickup.id))
        .join(WasteContainer, col(WasteContainer.id) == col(PickupLine.container_id))
        .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
        .where(
            WasteContainer.state == ContainerState.FULL,
            or_(col(Pickup.missed_at).is_not(None), col(Pickup.done_at).is_not(None)),
        )
        .order_by(col(Pickup.on_day), col(Pickup.id), col(WasteContainer.name))
    ).all()
    latest = {row[2].id: Listed(*row) for row in found}
    return sorted(latest.values(), key=lambda one: (one.pickup.on_day, one.container.name))


def get_listed(session: LabSession, pickup_id: int, container_id: int) -> Listed:
    get_pickup(session, pickup_id)
    for one in list_listed(session, [pickup_id]):
        if one.container.id == container_id:
            return one
    raise NotFound("This container isn't on that pickup's sheet. Put it there first.")


def list_waiting(session: LabSession) -> Sequence[tuple[WasteContainer, Stream]]:
    """Containers with something in them that stand in the lab, oldest start date first."""
    found = session.exec(
        select(WasteContainer, Stream)
        .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
        .where(col(WasteContainer.state).in_(IN_USE), col(WasteContainer.held_ul) > 0)
        .order_by(col(WasteContainer.first_pour_at), col(WasteContainer.name))
    ).all()
    return [(container, stream) for container, stream in found]


def list_on_open_sheets(session: LabSession, *, besides_id: int) -> dict[int, Pickup]:
    """Which container stands on the sheet of which other pickup that is not over."""
    found = session.exec(
        select(PickupLine.container_id, Pickup)
        .join(Pickup, col(Pickup.id) == col(PickupLine.pickup_id))
        .where(*_IS_OPEN, col(Pickup.id) != besides_id)
        .order_by(col(Pickup.id))
    ).all()
    return dict(found)


def share_of(pickup: Pickup, listed: Sequence[Listed], others: Sequence[OtherWaste]) -> Share:
    """What of a sheet the collector takes, with what other courses have on the same shelf."""
    loads = [Load(one.container.name, one.quantity.volume_ul, one.container.first_pour_at) for one in listed]
    return share_of_pickup(
        loads,
        most_ul=pickup.most_ul,
        most_containers=pickup.most_containers,
        others_ul=sum(one.volume_ul for one in others),
    )
