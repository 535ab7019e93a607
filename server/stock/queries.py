"""What on the shelf runs out: what expires, and what is short."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from server.core.good_until import SOON_DAYS, is_expired
from server.core.recipe import Measure
from server.core.shelf import held_words
from server.core.units import plates_words
from server.data.session import LabSession
from server.kits.queries import count_left, list_every_bottle, list_last_deliveries
from server.plates.queries import count_plates_left, find_last_delivery, list_plate_boxes

# Assumed: stock is short when less than this part of the last delivery is left to use.
SHORT_BELOW = 4


@dataclass(frozen=True)
class Expiring:
    """Something that holds plates or a solution and is expired, or will be soon."""

    what: str
    left: str
    expires_on: date
    expired: bool
    address: str


def list_expiring(session: LabSession, day: date) -> Sequence[Expiring]:
    """What is expired on `day` or expires within thirty days after it, earliest first; empty boxes and bottles are left out."""
    last = day + timedelta(days=SOON_DAYS)
    boxes = [
        Expiring(
            f"plate box “{box.name}”",
            plates_words(box.plates_left),
            box.expires_on,
            is_expired(box.expires_on, day),
            f"/stock/plate-boxes/{box.id}",
        )
        for box in list_plate_boxes(session)
        if box.plates_left and box.expires_on is not None and box.expires_on <= last
    ]
    bottles = [
        Expiring(
            f"{bottle.substance} of kit “{kit.name}”",
            held_words(bottle.left, bottle.measure),
            kit.expires_on,
            is_expired(kit.expires_on, day),
            f"/stock/kits/{kit.id}",
        )
        for bottle, kit in list_every_bottle(session)
        if bottle.left and kit.expires_on is not None and kit.expires_on <= last
    ]
    return sorted(boxes + bottles, key=lambda found: (found.expires_on, found.what))


@dataclass(frozen=True)
class Short:
    """Something of which less than a quarter of the last delivery may still be used."""

    what: str
    left: str
    last_delivery: str


def list_short(session: LabSession, day: date) -> Sequence[Short]:
    """What is short on `day`, compared with the last delivery of the same."""
    found = []
    delivered = find_last_delivery(session)
    plates = count_plates_left(session, usable_on=day)
    if delivered is not None and plates * SHORT_BELOW < delivered:
        found.append(Short("plates", plates_words(plates), plates_words(delivered)))
    for (substance, measure), amount in list_last_deliveries(session).items():
        left = count_left(session, substance, Measure(measure), day)
        if left * SHORT_BELOW < amount:
            found.append(Short(substance, held_words(left, measure), held_words(amount, measure)))
    return found
