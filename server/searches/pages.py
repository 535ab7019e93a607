"""What a search shows while it goes on and after it has ended."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from server.core.moments import moment_words
from server.core.timeline import Drawing
from server.core.units import duration_words
from server.data.session import LabSession
from server.rotations.models import RotationState
from server.rotations.pages import Answer, plan_answer, plan_drawing
from server.rotations.queries import get_rotation
from server.searches.models import PlanSearch, SearchState
from server.searches.queries import LOST, find_search, is_going, is_lost


@dataclass(frozen=True)
class SearchPage:
    """`answer` is the best plan so far, none until there is one. `words` say what goes on, or how the search ended.

    `until` and `now` are instants for the countdown; `used_s` of `seconds` are used. `moves_on` sends whoever watched on
    to the rotation's page.
    """

    id: int
    name: str
    is_going: bool
    is_waiting: bool
    moves_on: bool
    state: str
    words: str
    answer: Answer | None
    drawings: Sequence[Drawing]
    until: str
    now: str
    left: str
    used_s: int
    seconds: int


def search_page(
    session: LabSession,
    rotation_id: int,
    zone: str,
    now: datetime,
    *,
    drawn: bool = False,
    watched: bool = False,
) -> SearchPage:
    """The rotation's last search; its drawing only where it is `drawn`, for a drawing costs more than all else together."""
    rotation, search = get_rotation(session, rotation_id), find_search(session, rotation_id)
    going = search is not None and is_going(search, now)
    began_at = None if search is None else search.began_at
    seconds = 0.0 if search is None else search.seconds
    until = None if began_at is None or not going else began_at + timedelta(seconds=seconds)
    used_s = 0 if began_at is None else min(max(0, round((now - began_at).total_seconds())), round(seconds))
    found = search is not None and search.has_found
    drawing = plan_drawing(session, rotation_id, zone) if found and drawn else None
    answer = plan_answer(session, rotation_id, zone) if found else None
    state, words = _words(rotation.state, search, zone, now)
    if going and answer is not None and answer.is_proven:
        words = f"{words} No plan ends earlier; now for fewer light switches and less waiting."
    return SearchPage(
        id=rotation_id,
        name=rotation.name,
        is_going=going,
        is_waiting=going and began_at is None,
        moves_on=watched and not going,
        state=state,
        words=words,
        answer=answer,
        drawings=[drawing] if drawing else [],
        until="" if until is None else until.isoformat(),
        now=now.isoformat(),
        left="" if until is None else f"{duration_words(round(seconds) - used_s)} left",
        used_s=used_s,
        seconds=round(seconds),
    )


def _words(rotation_state: str, search: PlanSearch | None, zone: str, now: datetime) -> tuple[str, str]:
    """The shape and the words of the search's state; no words where the plan itself says all."""
    if search is None or rotation_state == RotationState.PUBLISHED:
        return "plain", ""
    if is_lost(search, now):
        return "stop", LOST
    if search.state == SearchState.WAITING:
        return "watch", "Other questions are being planned; this one is next in line."
    if search.state == SearchState.WORKING:
        return (
            "watch",
            f"Searching for a better plan since {moment_words(search.began_at or now, zone)}, asked by {search.asked_by}.",
        )
    if search.state == SearchState.STOPPED:
        return (
            "plain",
            "The search was stopped, and the best plan found until then is kept. Plan again to search on.",
        )
    return ("stop" if search.state == SearchState.FAILED else "well"), search.sentence
