"""Batches as tests need them: of what ends first, now, and ready at once, unless a test says otherwise."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from server.chemistry.actions import mix_batch
from server.chemistry.forms import Chosen
from server.chemistry.models import Batch
from server.chemistry.queries import (
    Making,
    find_key,
    get_making,
    list_sources,
    propose,
    usual_making,
)
from server.data.session import LabSession
from server.recipes.models import Solution
from tests.casts import MORNING


def chosen(session: LabSession, making: Making, volume_ul: int, now: datetime = MORNING) -> list[Chosen]:
    """What the form proposes."""
    return [
        Chosen(component.name, source.key)
        for component in making.formula.components
        for source in propose(
            list_sources(session, component, now), making.formula.share(component) * volume_ul
        )
    ]


def developer(session: LabSession, volume_ul: int = 600_000, **changed: Any) -> Batch:
    return _mixed(session, Solution.DEVELOPER, volume_ul, **changed)


def bleach(session: LabSession, volume_ul: int = 400_000, **changed: Any) -> Batch:
    return _mixed(session, Solution.BLEACH, volume_ul, **changed)


def by_name(session: LabSession, name: str, volume_ul: int, **changed: Any) -> Batch:
    """A batch by the lab's recipe of that name."""
    return _made(session, get_making(session, find_key(session, name)), volume_ul, **changed)


def _mixed(session: LabSession, solution: Solution, volume_ul: int, **changed: Any) -> Batch:
    return _made(session, usual_making(session, solution), volume_ul, **changed)


def _made(session: LabSession, making: Making, volume_ul: int, **changed: Any) -> Batch:
    given: dict[str, Any] = {"mixed_at": MORNING, "by": "Tomas", "now": MORNING} | changed
    making = replace(making, stand_s=given.pop("stand_s", 0))
    sources = given.pop("chosen", None) or chosen(session, making, volume_ul, given["now"])
    return mix_batch(session, making, sources, volume_ul=volume_ul, **given)
