"""Reads of searches."""

from datetime import datetime, timedelta

from sqlmodel import col, select

from server.data.session import LabSession
from server.searches.models import PlanSearch, SearchState

GOING = (SearchState.WAITING, SearchState.WORKING)

# The server that runs a search is heard of every few seconds; after so long a silence it is gone.
LOST_AFTER = timedelta(seconds=20)
LOST = "The server stopped during the search, so it ended early. The best plan found until then is kept: press Plan to search on."


def find_search(session: LabSession, rotation_id: int) -> PlanSearch | None:
    """The rotation's last search."""
    return session.exec(
        select(PlanSearch).where(PlanSearch.rotation_id == rotation_id).order_by(col(PlanSearch.id).desc())
    ).first()


def is_lost(search: PlanSearch, now: datetime) -> bool:
    """Whether the server that ran the search ended before the search did."""
    return search.state in GOING and now - search.heard_at > LOST_AFTER


def is_going(search: PlanSearch, now: datetime) -> bool:
    return search.state in GOING and not is_lost(search, now)


def find_going(session: LabSession, rotation_id: int, now: datetime) -> PlanSearch | None:
    """The search that is going on for the rotation."""
    search = find_search(session, rotation_id)
    return search if search is not None and is_going(search, now) else None


def is_wanted(session: LabSession, search_id: int) -> bool:
    """Whether nobody has ended it or asked for its end."""
    search = session.get(PlanSearch, search_id)
    return search is not None and search.state in GOING and not search.stop_asked
