"""Writing down what was measured, what the waste office said, what the rest of the site counted, and what trays hold."""

from datetime import date, datetime, timedelta

from sqlmodel import col, func, select

from server.containers.models import WasteArea, WasteEntry, WasteEntryKind
from server.containers.queries import get_container, get_stream, is_standing
from server.core.moments import day_at, moment_words
from server.data.session import LabSession
from server.limits.models import AreaTray, CountsAs, Determination, SiteMonth, StreamCounting
from server.people.queries import day_in_lab, get_lab
from server.refusal import NotFound, Refusal


def record_determination(
    session: LabSession,
    container_id: int,
    *,
    ph_hundredths: int | None,
    temperature_decicelsius: int | None,
    silver_ug_per_l: int | None,
    chromium_ug_per_l: int | None,
    said: str,
    determined_on: date | None = None,
    sampled_at: datetime,
    origin: str,
    note: str,
    by: str,
    now: datetime,
) -> Determination:
    """Write down what was measured of a container, or what the waste office determined of it.

    A pH comes with the temperature of its sample. Results may come in after the container has left the lab. What the waste office said it
    said today, unless another day is told.
    """
    container = get_container(session, container_id)
    if ph_hundredths is None and silver_ug_per_l is None and chromium_ug_per_l is None and not said:
        raise Refusal("Nothing was measured and nothing was said. Write down at least one of them.")
    if ph_hundredths is not None and temperature_decicelsius is None:
        raise Refusal("A pH depends on the temperature. Write down the temperature of the sample.")
    if sampled_at > now:
        raise Refusal("A sample can't be taken in the future. Check the day and the time.")
    today, zone = day_in_lab(session, now), get_lab(session).time_zone
    if determined_on is not None and not day_at(sampled_at, zone) <= determined_on <= today:
        raise Refusal("The waste office said it between the sample's day and today. Check the days.")
    held_ul, held_mg = _held(session, container_id, sampled_at)
    if held_ul <= 0:
        raise Refusal(
            f"Nothing was in “{container.name}” at {moment_words(sampled_at, zone)}. Check when the sample was taken."
        )
    found = Determination(
        container_id=container_id,
        ph_hundredths=ph_hundredths,
        temperature_decicelsius=None if ph_hundredths is None else temperature_decicelsius,
        silver_ug_per_l=silver_ug_per_l,
        chromium_ug_per_l=chromium_ug_per_l,
        held_ul=held_ul,
        held_mg=held_mg,
        said=said,
        determined_on=(determined_on or today) if said else None,
        sampled_at=sampled_at,
        origin=origin,
        note=note,
        entered_at=now,
        entered_by=by,
    )
    session.add(found)
    return found


def _held(session: LabSession, container_id: int, at: datetime) -> tuple[int, int]:
    """Volume and mass in a container at the end of a minute, or what was collected of it by then."""
    held_ul, held_mg = session.exec(
        select(func.sum(WasteEntry.change_ul), func.sum(WasteEntry.change_mg)).where(
            WasteEntry.container_id == container_id,
            col(WasteEntry.kind).not_in((WasteEntryKind.COLLECTED, WasteEntryKind.CORRECTION)),
            is_standing(),
            col(WasteEntry.happened_at) < at + timedelta(minutes=1),
        )
    ).one()
    return int(held_ul or 0), int(held_mg or 0)


def report_site_month(
    session: LabSession,
    *,
    month: date,
    acute_mg: int,
    non_acute_mg: int,
    spill_mg: int,
    on_site_mg: int | None,
    reached_on: date | None,
    note: str,
    by: str,
    now: datetime,
) -> None:
    """Write down what the rest of the site counted in a month, without this lab. A later telling of the same month replaces it."""
    today = day_in_lab(session, now)
    if month.replace(day=1) > today:
        raise Refusal("That month is still to come. Write what was counted in a month that has begun.")
    if reached_on is not None and reached_on > today:
        raise Refusal("That day is still to come. Write the day on which the site reached its limit.")
    session.add(
        SiteMonth(
            month=month.replace(day=1),
            acute_mg=acute_mg,
            non_acute_mg=non_acute_mg,
            spill_mg=spill_mg,
            on_site_mg=on_site_mg,
            reached_on=reached_on,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )


def measure_tray(session: LabSession, *, area_id: int, tray_ul: int, by: str, now: datetime) -> None:
    """Write down what the trays under the containers of an area hold."""
    if session.get(WasteArea, area_id) is None:
        raise NotFound("There is no such waste area in this lab. Choose one of the list.")
    session.add(AreaTray(area_id=area_id, tray_ul=tray_ul, entered_at=now, entered_by=by))


def count_stream_as(
    session: LabSession, *, stream_id: int, counts_as: CountsAs, reason: str, by: str, now: datetime
) -> None:
    """Write down what the waste office said that a stream counts as."""
    get_stream(session, stream_id)
    session.add(
        StreamCounting(stream_id=stream_id, counts_as=counts_as, reason=reason, entered_at=now, entered_by=by)
    )
