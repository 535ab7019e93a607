"""What the events of a plate box say: whether it is open, warm enough to be opened, caught by light, or fogged.

Instants are UTC. A light incident is a whole minute, because somebody read it off a clock: it may have been any second of it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

A_MINUTE = timedelta(minutes=1)


class Keeping(StrEnum):
    """Where a box stands between the days on which it is used."""

    ROOM = "at room temperature"
    FRIDGE = "in a fridge"
    FREEZER = "in a freezer"


# Photographic practice: a closed pack of film warms for at least an hour from the fridge and an hour and a half from the freezer.
WARM_UP_S = {Keeping.ROOM: 0, Keeping.FRIDGE: 3600, Keeping.FREEZER: 5400}
# Assumed: the warmest that it gets in each place.
WARMEST_CELSIUS = {Keeping.ROOM: 25, Keeping.FRIDGE: 8, Keeping.FREEZER: -15}
# Assumed: how long a plate is loaded, waits behind the closed shutter, is carried, and is developed where its note does not say.
LOAD_S, WAIT_S, CARRY_S, DEVELOP_S = 60, 120, 20, 20
# Assumed: a plate is developed within this long after its box was sealed or emptied; until then its light matters in the room.
ON_ITS_WAY = timedelta(hours=1)


class BoxEventKind(StrEnum):
    TAKEN_OUT = "taken out of the cold"
    PUT_BACK = "put back into the cold"
    OPENED = "opened"
    SEALED = "sealed"
    LIGHT = "light incident"
    CLEAR = "fog test clear"
    FOGGED = "fog test fogged"
    COUNTED = "counted"


@dataclass(frozen=True)
class BoxEvent:
    """`light_zone_id` says where the box was opened; None: nobody said, so it may have been anywhere in the lab."""

    kind: BoxEventKind
    at: datetime
    light_zone_id: int | None = None


@dataclass(frozen=True)
class OpenSpan:
    """From `opened_at` to `sealed_at` the box stood open; None: it is open still."""

    opened_at: datetime
    sealed_at: datetime | None
    light_zone_id: int | None


@dataclass(frozen=True)
class BoxState:
    """`opened_at`: open since, or None. `is_cold`: it stands in the cold. `warm_at`: when a box from the cold is warm, or None.

    `light_at`: the last light incident that no fog test has answered. `fogged_at`: when the last fog test said fogged.
    """

    opened_at: datetime | None
    is_cold: bool
    warm_at: datetime | None
    light_at: datetime | None
    fogged_at: datetime | None

    def is_warm(self, instant: datetime) -> bool:
        return not self.is_cold and (self.warm_at is None or self.warm_at <= instant)


def minute_of(instant: datetime) -> datetime:
    return instant.replace(second=0, microsecond=0)


def open_spans(events: Iterable[BoxEvent]) -> tuple[OpenSpan, ...]:
    """The times at which a box stood open. `events` are in the order of their instants, then of their entry.

    An opening of a box that is open already tells that it stood there too: then nobody knows in which zone it was when.
    """
    spans: list[OpenSpan] = []
    for event in events:
        is_open = bool(spans) and spans[-1].sealed_at is None
        if event.kind is BoxEventKind.OPENED and not is_open:
            spans.append(OpenSpan(event.at, None, event.light_zone_id))
        elif event.kind is BoxEventKind.OPENED and spans[-1].light_zone_id != event.light_zone_id:
            spans[-1] = replace(spans[-1], light_zone_id=None)
        elif event.kind is BoxEventKind.SEALED and is_open:
            spans[-1] = replace(spans[-1], sealed_at=event.at)
    return tuple(spans)


def reaches(lit_zone_id: int | None, zone_id: int | None) -> bool:
    """Whether light put on in the one zone reaches the other; None is the whole lab, or a place of which nobody said its zone."""
    return None in {lit_zone_id, zone_id} or lit_zone_id == zone_id


def was_open(spans: Iterable[OpenSpan], *, minute: datetime, light_zone_id: int | None) -> bool:
    """Whether the box stood open at any second of `minute` where the light zone's light could reach it.

    Without a light zone the whole lab was lit; a box that was opened nobody says where is taken to have stood in every zone.
    A box that was opened or sealed in that very minute counts as open: nobody knows which came first.
    """
    return any(
        minute_of(span.opened_at) <= minute
        and (span.sealed_at is None or minute_of(span.sealed_at) >= minute)
        and reaches(light_zone_id, span.light_zone_id)
        for span in spans
    )


def may_have_been_out(
    *, noted_at: datetime, settle_s: int, exposure_s: int, develop_s: int | None, minute: datetime
) -> bool:
    """Whether a run's plate may have been out of its box and not yet developed at any second of `minute`.

    A note tells when it was written, which is somewhen between the exposure and the end of developing. So the plate is taken
    to have been out for the whole of its way before that instant, and for the way from the shutter on after it.
    """
    after_s = exposure_s + WAIT_S + CARRY_S + (DEVELOP_S if develop_s is None else develop_s)
    before_s = LOAD_S + settle_s + after_s
    return (
        noted_at - timedelta(seconds=before_s) < minute + A_MINUTE
        and noted_at + timedelta(seconds=after_s) >= minute
    )


def is_kept_too_warm(kept: Keeping, *, at_most_celsius: int | None) -> bool:
    """Whether it gets warmer there than the pack asks for; a pack that asks for nothing is kept well anywhere."""
    return at_most_celsius is not None and WARMEST_CELSIUS[kept] > at_most_celsius


def answers(*, tested_at: datetime, lit_at: datetime) -> bool:
    """Whether a fog test was made after the minute of a light incident, so that it tells what the light did."""
    return lit_at + A_MINUTE <= tested_at


def state_of(events: Sequence[BoxEvent], *, warm_up_s: int, is_kept_cold: bool) -> BoxState:
    """The state after `events`, which are in the order of their instants, then of their entry.

    A box that is kept cold is cold until it has stood outside for `warm_up_s`; opening it says that it was warm. Sealing alone
    does not cool it; putting it back does. A fog test answers the light incidents whose minute was over when it was made.
    """
    spans = open_spans(events)
    is_cold, warm_at = is_kept_cold, None
    light_at: datetime | None = None
    fogged_at: datetime | None = None
    for event in events:
        match event.kind:
            case BoxEventKind.TAKEN_OUT if is_cold:
                is_cold, warm_at = False, event.at + timedelta(seconds=warm_up_s)
            case BoxEventKind.OPENED:
                is_cold, warm_at = False, None
            case BoxEventKind.PUT_BACK:
                is_cold, warm_at = True, None
            case BoxEventKind.LIGHT:
                light_at = event.at
            case BoxEventKind.CLEAR | BoxEventKind.FOGGED:
                fogged_at = event.at if event.kind is BoxEventKind.FOGGED else None
                if light_at is not None and answers(tested_at=event.at, lit_at=light_at):
                    light_at = None
            case _:
                pass
    return BoxState(
        opened_at=spans[-1].opened_at if spans and spans[-1].sealed_at is None else None,
        is_cold=is_cold,
        warm_at=warm_at,
        light_at=light_at,
        fogged_at=fogged_at,
    )
