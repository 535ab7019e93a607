"""What becomes of a container, where it stands, and what else stands there."""

from datetime import date, datetime

from server.containers.actions import change_state, note_state, refuse_gone, refuse_line
from server.containers.models import OtherWaste, WasteArea, WasteContainer
from server.containers.queries import get_area, list_areas, lock_container
from server.core.container_life import AreaKind, ContainerState
from server.core.measuring import mass_of_mg
from server.core.moments import day_words
from server.core.units import mass_words, volume_words
from server.core.waste_rules.carrying import why_not_carried
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.refusal import Refusal
from server.rules.queries import find_rules
from server.shelves.queries import lock_other_waste

# Taken for another course's waste that nobody weighed.
ASSUMED_DENSITY_UG_PER_UL = 1000


def change_container(
    session: LabSession, container_id: int, *, to: ContainerState, note: str = "", by: str, now: datetime
) -> WasteContainer:
    """Note what becomes of a container: its lid, that it is full, that it came back, was washed or retired."""
    container = lock_container(session, container_id)
    change_state(session, container, to, note=note, by=by, now=now)
    return container


def _note(session: LabSession, container: WasteContainer, note: str, *, by: str, now: datetime) -> None:
    """An event that changes nothing of its state."""
    note_state(session, container, ContainerState(container.state), note=note, by=by, now=now)


def move_fill_line(
    session: LabSession, container_id: int, *, fill_line_ul: int, by: str, now: datetime
) -> None:
    """Set the fill line as the waste office says. It may come to lie below what is held already: then no more is taken."""
    container = lock_container(session, container_id)
    refuse_gone(container)
    refuse_line(fill_line_ul, container.size_ul)
    before, after = volume_words(container.fill_line_ul), volume_words(fill_line_ul)
    container.fill_line_ul = fill_line_ul
    _note(session, container, f"fill line moved from {before} to {after}", by=by, now=now)


def write_down_tare(session: LabSession, container_id: int, *, tare_mg: int, by: str, now: datetime) -> None:
    """Write down what the vessel weighs empty."""
    container = lock_container(session, container_id)
    if tare_mg <= 0:
        raise Refusal("A vessel weighs more than nothing. Write what it weighs empty, such as 1.2 kg.")
    container.tare_mg = tare_mg
    _note(session, container, f"weighs {mass_words(tare_mg)} empty", by=by, now=now)


def add_area(session: LabSession, *, name: str, kind: AreaKind) -> WasteArea:
    if any(area.name == name for area in list_areas(session)):
        raise Refusal(f"There is already a waste area called “{name}”. Give this one another name.")
    area = WasteArea(name=name, kind=kind)
    session.add(area)
    session.flush()  # containers name its id
    return area


def carry_container(
    session: LabSession, container_id: int, *, area_id: int, note: str = "", by: str, now: datetime
) -> None:
    """Place a container in a waste area, or carry it from one to another where waste may go there."""
    container = lock_container(session, container_id)
    refuse_gone(container)
    before = None if container.area_id is None else get_area(session, container.area_id)
    after = get_area(session, area_id)
    if before is not None and before.id == after.id:
        raise Refusal(f"“{container.name}” stands in “{after.name}” already. Choose another area.")
    hindrance = why_not_carried(
        find_rules(session, day_in_lab(session, now)).book,
        name=container.name,
        before=None if before is None else AreaKind(before.kind),
        after=AreaKind(after.kind),
        held_ul=container.held_ul,
    )
    if hindrance is not None:
        raise Refusal(hindrance)
    container.area_id = after.id
    container.carried_at = (container.carried_at or now) if after.kind == AreaKind.CENTRAL else None
    if container.held_ul and container.carried_at is not None:
        container.arrived_at = container.arrived_at or now
    way = f"placed in {after.name}" if before is None else f"carried from {before.name} to {after.name}"
    _note(session, container, f"{way}; {note}" if note else way, by=by, now=now)


def log_other_waste(
    session: LabSession,
    *,
    course: str,
    contents: str,
    volume_ul: int,
    mass_mg: int | None,
    since: date,
    area_id: int | None,
    by: str,
    now: datetime,
) -> OtherWaste:
    """Write down what another course has put on the shelf. Without a mass a gram per millilitre is assumed."""
    if since > day_in_lab(session, now):
        raise Refusal(f"{day_words(since)} is still to come. Write the day since which it stands here.")
    if volume_ul <= 0 or mass_mg == 0:
        raise Refusal("Waste is more than nothing. Write how much it is, such as 2 L.")
    if area_id is not None:
        get_area(session, area_id)
    waste = OtherWaste(
        area_id=area_id,
        course=course,
        contents=contents,
        volume_ul=volume_ul,
        mass_mg=mass_of_mg(volume_ul, ASSUMED_DENSITY_UG_PER_UL) if mass_mg is None else mass_mg,
        since=since,
        entered_at=now,
        entered_by=by,
    )
    session.add(waste)
    session.flush()  # its id is its address
    return waste


def note_other_waste_gone(session: LabSession, waste_id: int, *, gone_on: date, now: datetime) -> None:
    """Say that another course's waste has left the shelf."""
    waste = lock_other_waste(session, waste_id)
    if waste.gone_on is not None:
        raise Refusal(
            f"The waste of {waste.course} left on {day_words(waste.gone_on)}. There is nothing to note."
        )
    if gone_on > day_in_lab(session, now):
        raise Refusal(f"{day_words(gone_on)} is still to come. Write the day on which it was taken away.")
    if gone_on < waste.since:
        raise Refusal(f"It stands here since {day_words(waste.since)}. Write a day from then on.")
    waste.gone_on = gone_on
