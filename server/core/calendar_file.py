"""Appointments as a calendar file that other programs read: iCalendar, RFC 5545."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

LINE_OCTETS = 75
PRODUCT = "-//Stillroom//Rotations//EN"


@dataclass(frozen=True)
class Appointment:
    """One event. `uid` stays the same for ever, so that a later file replaces the event.

    `stamped_at` says when it was last settled, and `sequence` grows each time that it is (RFC 5545, 3.8.7.4).
    """

    uid: str
    stamped_at: datetime
    starts_at: datetime
    ends_at: datetime
    summary: str
    description: str = ""
    location: str = ""
    sequence: int = 0


def write_calendar(
    appointments: Sequence[Appointment], *, name: str = "", look_again: timedelta | None = None
) -> str:
    """The text of a calendar file; instants are written in UTC (RFC 5545, 3.3.5, form 2), lines end with CR LF.

    A calendar that programs fetch again and again has a `name`, and says after how many whole minutes to `look_again`
    (RFC 7986, 5.1 and 5.7).
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}"]
    if name:
        lines.append(f"NAME:{escaped(name)}")
    if look_again is not None:
        lines.append(f"REFRESH-INTERVAL;VALUE=DURATION:PT{look_again // timedelta(minutes=1)}M")
    for appointment in appointments:
        lines.extend(_event(appointment))
    lines.append("END:VCALENDAR")
    return "".join(f"{folded(line)}\r\n" for line in lines)


def escaped(text: str) -> str:
    r"""A value of the type TEXT: backslash, semicolon and comma get a backslash, a line break becomes `\n` (RFC 5545, 3.3.11).

    >>> escaped("Conference Room - F123, Bldg. 002")
    'Conference Room - F123\\, Bldg. 002'
    """
    for character in ("\\", ";", ","):
        text = text.replace(character, f"\\{character}")
    return text.replace("\r\n", "\\n").replace("\r", "\\n").replace("\n", "\\n")


def folded(line: str) -> str:
    """The line in pieces of at most 75 octets of UTF-8, the next one after CR LF and a space (RFC 5545, 3.1).

    A character is never cut in two, and the space counts among the octets of its piece.
    """
    pieces, octets = [""], 0
    for character in line:
        size = len(character.encode())
        if octets + size > LINE_OCTETS:
            pieces.append("")
            octets = 1
        pieces[-1] += character
        octets += size
    return "\r\n ".join(pieces)


def _event(appointment: Appointment) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{escaped(appointment.uid)}"
    # Without a METHOD the two instants are the same one (RFC 5545, 3.8.7.2).
    yield f"DTSTAMP:{_instant(appointment.stamped_at)}"
    yield f"LAST-MODIFIED:{_instant(appointment.stamped_at)}"
    yield f"SEQUENCE:{appointment.sequence}"
    yield f"DTSTART:{_instant(appointment.starts_at)}"
    yield f"DTEND:{_instant(appointment.ends_at)}"
    yield f"SUMMARY:{escaped(appointment.summary)}"
    if appointment.description:
        yield f"DESCRIPTION:{escaped(appointment.description)}"
    if appointment.location:
        yield f"LOCATION:{escaped(appointment.location)}"
    yield "END:VEVENT"


def _instant(instant: datetime) -> str:
    return f"{instant.astimezone(UTC):%Y%m%dT%H%M%SZ}"
