"""Instants shown on the lab's wall clock, and wall-clock entries turned into instants."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones


@dataclass(frozen=True)
class NoSuchTime:
    """The wall clock skips this time on that day (spring change)."""

    sentence: str


def instants_of(*, day: date, clock: time, zone: str) -> tuple[datetime, ...]:
    """The UTC instants at which the lab's wall clock shows `clock` on `day`, the earlier first.

    Usually one; none where the spring change skips it, two in the hour that comes twice in autumn.
    """
    local = datetime.combine(day, clock)
    found = {local.replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(UTC) for fold in (0, 1)}
    return tuple(
        sorted(
            instant for instant in found if instant.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == local
        )
    )


def instant_of(*, day: date, clock: time, zone: str) -> datetime | NoSuchTime:
    """The UTC instant at which the lab's wall clock shows `clock` on `day`.

    In the hour that happens twice in autumn the first is meant. A time that the spring change skips does not exist.
    """
    instants = instants_of(day=day, clock=clock, zone=zone)
    return instants[0] if instants else no_such_time(day=day, clock=clock)


def no_such_time(*, day: date, clock: time) -> NoSuchTime:
    """What to say of a time that the clocks skip."""
    return NoSuchTime(f"On {day} the clocks skip {clock:%H:%M}. Please choose another time.")


@dataclass(frozen=True)
class ShownTwice:
    """The wall clock showed this time twice that night (autumn change), and both have passed."""

    sentence: str


def passed_instant(
    *, day: date, clock: time, zone: str, now: datetime, turn: str | None
) -> datetime | NoSuchTime | ShownTwice:
    """The instant that a wall-clock time of what has happened means; where there is none that has passed, the first that is to come.

    `turn` says which of two is meant: the one `before` the clocks went back, or the one `after`.
    """
    instants = instants_of(day=day, clock=clock, zone=zone)
    if not instants:
        return no_such_time(day=day, clock=clock)
    past = [instant for instant in instants if instant <= now] or instants[:1]
    if len(past) > 1 and turn is None:
        return ShownTwice(f"The clocks showed {clock:%H:%M} twice that night. Please say which one it was.")
    return past[-1] if turn == "after" else past[0]


def clock_at(instant: datetime, zone: str) -> str:
    """The wall clock, such as `09:40`."""
    return f"{instant.astimezone(ZoneInfo(zone)):%H:%M}"


def exact_clock_at(instant: datetime, zone: str) -> str:
    """The wall clock to the second where it is not on the minute: `09:40`, `09:40:20`."""
    local = instant.astimezone(ZoneInfo(zone))
    return f"{local:%H:%M:%S}" if local.second else f"{local:%H:%M}"


def day_at(instant: datetime, zone: str) -> date:
    return instant.astimezone(ZoneInfo(zone)).date()


def day_begins(day: date, zone: str) -> datetime:
    """The UTC instant at which a day begins on the lab's wall clock, also where the clocks skip midnight."""
    return datetime.combine(day, time.min, tzinfo=ZoneInfo(zone)).astimezone(UTC)


def day_words(day: date) -> str:
    """A day in words, such as `Tue 16 Feb 2027`."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def stamp(instant: datetime | None, zone: str) -> str:
    """Day and time on the lab's clock as a file of records writes them, `2027-02-16 08:00`; nothing for no instant."""
    return "" if instant is None else f"{day_at(instant, zone)} {clock_at(instant, zone)}"


def moment_words(instant: datetime, zone: str) -> str:
    """Day and wall clock, such as `Tue 16 Feb 2027, 09:40`."""
    return f"{day_words(day_at(instant, zone))}, {clock_at(instant, zone)}"


def is_time_zone(name: str) -> bool:
    return name in available_timezones()


def up_to_the_minute(instant: datetime) -> datetime:
    """The next whole minute: at the time shown, it is done."""
    return instant + timedelta(seconds=-instant.second % 60)
