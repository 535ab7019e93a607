"""Giving out calendar addresses and taking them back, and what is read at them."""

import secrets
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby
from uuid import NAMESPACE_OID, uuid5

from server.calendars.models import CalendarAddress
from server.calendars.queries import (
    Attendance,
    PublishedPeriod,
    find_address,
    get_address,
    list_attendances,
    list_published_periods,
    list_visits_of_groups,
)
from server.core.calendar_file import Appointment, write_calendar
from server.core.codes import hashed
from server.core.moments import clock_at
from server.data.session import LabSession
from server.people.queries import get_lab, get_section, list_group_names
from server.refusal import Refusal
from server.rotations.models import Rotation, Visit
from server.rotations.queries import get_rotation, list_out_of_plates

# 16 random bytes are 128 bits.
SECRET_BYTES = 16
# What is longer past than a year leaves the calendars that are fetched here.
KEPT = timedelta(days=366)
# How often a calendar program is asked to look again; assumed.
LOOK_AGAIN = timedelta(hours=1)


def add_address(session: LabSession, *, label: str, section_id: int | None, now: datetime) -> str:
    """Make an address for a section, or for all of the lab; returns its secret, which is nowhere kept."""
    if section_id is not None:
        get_section(session, section_id)
    secret = secrets.token_urlsafe(SECRET_BYTES)
    session.add(CalendarAddress(section_id=section_id, label=label, secret_hash=hashed(secret), made_at=now))
    return secret


def renew_address(session: LabSession, address_id: int, *, now: datetime) -> str:
    """A new secret in the place of the old one, which stops working; returns it."""
    address = get_address(session, address_id)
    secret = secrets.token_urlsafe(SECRET_BYTES)
    address.secret_hash, address.made_at = hashed(secret), now
    return secret


def withdraw_address(session: LabSession, address_id: int) -> None:
    session.delete(get_address(session, address_id))


def fetched_calendar(session: LabSession, secret: str, *, group: str, now: datetime) -> str | None:
    """What a calendar program reads at the address with this secret, none where there is no such address.

    Without `group` an event per period, with it an event per plate that the group so called makes. Only published
    rotations are in it; one that is withdrawn is missing, and programs that follow the address drop it.
    """
    address = find_address(session, hashed(secret))
    if address is None:
        return None
    # Whoever asks is not signed in: the secret says whose lab it is, and from here on no other is seen.
    session.info["lab_id"] = address.lab_id
    periods = list_published_periods(session, section_id=address.section_id, after=now - KEPT)
    name = get_lab(session).name
    if address.section_id is not None:
        name = f"{get_section(session, address.section_id).name}, {name}"
    if group:
        appointments, name = _plates_of(session, periods, group), f"{group}, {name}"
    else:
        appointments = _periods(session, periods)
    return write_calendar(appointments, name=name, look_again=LOOK_AGAIN)


def calendar_file(session: LabSession, rotation_id: int) -> str:
    """The periods of one published rotation, to be taken into a calendar by hand."""
    get_rotation(session, rotation_id)
    periods = list_published_periods(session, rotation_id=rotation_id)
    if not periods:
        raise Refusal("This rotation is not published, so it is in no calendar yet. Publish it first.")
    return write_calendar(_periods(session, periods))


def _periods(session: LabSession, periods: Sequence[PublishedPeriod]) -> list[Appointment]:
    lab, groups = get_lab(session), list_group_names(session)
    busy: dict[tuple[int, datetime], list[Attendance]] = {}
    for one in list_attendances(session, [period.rotation.id for period in periods]):
        busy.setdefault((one.rotation_id, one.period_starts_at), []).append(one)
    return [
        Appointment(
            uid=_uid(period.rotation, f"{period.number}"),
            stamped_at=_settled_at(period),
            starts_at=period.starts_at,
            ends_at=period.ends_at,
            summary=f"{period.section_name}: {period.rotation.name}",
            description="\n".join(
                [
                    _plates_words(period.plan.plates_planned),
                    *_out_of_plates(session, period, lab.time_zone),
                    *(
                        f"{groups[one.group_id]}: {clock_at(one.starts_at, lab.time_zone)} to {clock_at(one.ends_at, lab.time_zone)}"
                        for one in busy.get((period.rotation.id, period.starts_at), [])
                    ),
                ]
            ),
            location=lab.name,
            sequence=_sequence(period),
        )
        for period in periods
    ]


def _out_of_plates(session: LabSession, period: PublishedPeriod, zone: str) -> Iterator[str]:
    """A line for the talk, each break and the clean-up of the period, such as `talk: 10:00 to 10:08`."""
    for one in list_out_of_plates(session, period.rotation):
        if period.starts_at <= one.starts_at < period.ends_at:
            yield f"{one.what}: {clock_at(one.starts_at, zone)} to {clock_at(one.ends_at, zone)}"


def _plates_words(plates: int) -> str:
    return f"{plates} plate{'' if plates == 1 else 's'} planned in this rotation."


def _plates_of(session: LabSession, periods: Sequence[PublishedPeriod], group: str) -> list[Appointment]:
    """An event per plate and period: from the plate's first step in the period to its last."""
    lab = get_lab(session)
    ids = [group_id for group_id, name in list_group_names(session).items() if name == group]
    visits = list_visits_of_groups(session, [period.plan.id for period in periods], ids)
    found: list[Appointment] = []
    for period in periods:
        own = [
            visit
            for visit in visits
            if visit.plan_id == period.plan.id and period.starts_at <= visit.starts_at < period.ends_at
        ]
        for plate in sorted({visit.pass_no for visit in own}):
            steps = [visit for visit in own if visit.pass_no == plate]
            found.append(
                Appointment(
                    uid=_uid(period.rotation, f"{period.number} {group} {plate}"),
                    stamped_at=_settled_at(period),
                    starts_at=steps[0].starts_at,
                    ends_at=max(visit.ends_at for visit in steps),
                    summary=f"{group}, plate {plate}: {period.section_name}, {period.rotation.name}",
                    description="\n".join(_stays(steps, lab.time_zone)),
                    location=f"{steps[0].place}, {lab.name}",
                    sequence=_sequence(period),
                )
            )
    return found


def _stays(visits: Sequence[Visit], zone: str) -> Iterator[str]:
    """A line per stay at a place, such as `10:00 S1: align, load`."""
    for place, stay in groupby(visits, key=lambda visit: visit.place):
        steps = list(stay)
        yield f"{clock_at(steps[0].starts_at, zone)} {place}: {', '.join(visit.step for visit in steps)}"


def _settled_at(period: PublishedPeriod) -> datetime:
    """When what is published was last changed."""
    published_at = period.rotation.published_at
    assert published_at is not None
    return max(published_at, period.plan.made_at, period.plan.changed_at or published_at)


def _sequence(period: PublishedPeriod) -> int:
    """Grows with every change: whole seconds from the rotation's making to its last settling."""
    return max(0, int((_settled_at(period) - period.rotation.made_at).total_seconds()))


def _uid(rotation: Rotation, of_what: str) -> str:
    """Unlike any other lab's on any other server, and the same again after the rotation was withdrawn and its times were changed."""
    return str(
        uuid5(NAMESPACE_OID, f"{rotation.lab_id} {rotation.id} {rotation.made_at:%Y%m%dT%H%M%S.%f} {of_what}")
    )
