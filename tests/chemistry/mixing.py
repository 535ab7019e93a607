"""Batches as tests need them: from the first-expiring bottles, now, unless a test says otherwise."""

from typing import Any

from server.chemistry.actions import mix_bleach, mix_developer
from server.chemistry.models import Batch
from server.data.session import LabSession
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.kits.queries import list_bottles
from tests.casts import MORNING


def developer(session: LabSession, volume_ul: int = 600_000, **changed: Any) -> Batch:
    given: dict[str, Any] = {
        "bottle_a_id": list_bottles(session, STOCK_A)[0].id,
        "bottle_b_id": list_bottles(session, STOCK_B)[0].id,
        "mixed_at": MORNING,
        "by": "Tomas",
        "now": MORNING,
    }
    return mix_developer(session, volume_ul=volume_ul, **(given | changed))


def bleach(session: LabSession, volume_ul: int = 400_000) -> Batch:
    bottle = list_bottles(session, BLEACH)[0]
    return mix_bleach(
        session, bottle_id=bottle.id, volume_ul=volume_ul, mixed_at=MORNING, by="Tomas", now=MORNING
    )
