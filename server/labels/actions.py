"""Entering what was printed."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from server.charges.queries import get_charge
from server.chemistry.actions import note_labelled
from server.chemistry.queries import get_batch
from server.core.label_sheets import FORMATS, find_format
from server.data.session import LabSession
from server.kits.queries import get_bottle
from server.labels.models import PrintedLabel


def enter_printed(
    session: LabSession,
    *,
    format: str,  # noqa: A002 - the word for a sheet's measures
    first: int,
    batch_ids: Sequence[int],
    charge_ids: Sequence[int],
    bottle_ids: Sequence[int],
    by: str,
    now: datetime,
) -> None:
    """Say that these labels were printed, in this order, from label `first` of a sheet on."""
    things = [
        *({"batch_id": get_batch(session, one).id} for one in batch_ids),
        *({"charge_id": get_charge(session, one).id} for one in charge_ids),
        *({"bottle_id": get_bottle(session, one).id} for one in bottle_ids),
    ]
    for batch_id in batch_ids:
        note_labelled(session, batch_id, now=now)
    keep_printed(session, things, format=format, first=first, by=by, now=now)


def keep_printed(
    session: LabSession,
    things: Sequence[Mapping[str, int]],
    *,
    format: str,  # noqa: A002 - the word for a sheet's measures
    first: int,
    by: str,
    now: datetime,
) -> None:
    """Keep where on its sheet each label stood; each thing is the name of its column with its id."""
    labels = (find_format(format) or FORMATS[0]).labels
    for index, thing in enumerate(things):
        place = (first - 1 + index) % labels + 1
        session.add(PrintedLabel(**thing, format=format, place=place, printed_at=now, printed_by=by))
