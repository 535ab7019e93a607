"""Water drawn and liquid gone, as the tests of this room need them."""

from datetime import datetime
from typing import Any

from server.balances.actions import log_gone, log_water
from server.balances.models import Elsewhere, LiquidGone, WaterDrawn
from server.balances.queries import Reckoning
from server.data.session import LabSession
from tests.casts import MORNING


def water(session: LabSession, volume_ul: int, *, at: datetime = MORNING, **changed: Any) -> WaterDrawn:
    given: dict[str, Any] = {
        "typed": f"{volume_ul} uL", "rotation_id": None, "note": "", "tablet_id": f"water-{volume_ul}-{at}", "by": "Tomas",
        "now": at,
    }  # fmt: skip
    return log_water(session, volume_ul=volume_ul, drawn_at=at, **(given | changed))


def gone(session: LabSession, volume_ul: int, went: Elsewhere, *, at: datetime = MORNING) -> LiquidGone:
    return log_gone(
        session, went=went, volume_ul=volume_ul, typed=f"{volume_ul} uL", rotation_id=None, gone_at=at, note="",
        tablet_id=f"gone-{volume_ul}-{at}", by="Tomas", now=at,
    )  # fmt: skip


def amounts(reckoned: Reckoning) -> dict[str, int]:
    """The lines that are not nothing, by their name."""
    return {line.term.name: line.term.amount_ul for line in reckoned.lines if line.term.amount_ul}
