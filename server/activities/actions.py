"""Keeping the lab's list of activities."""

from typing import Any

from sqlmodel import select

from server.activities.forms import AskedActivity
from server.activities.models import LabActivity
from server.activities.queries import get_activity, list_activities
from server.data.session import LabSession
from server.refusal import Refusal
from server.stations.actions import refuse_unknown_zones

# What labs give those who wait is common practice; the minutes (shortest, longest) and how many groups at once are assumed.
USUAL_ACTIVITIES = (
    AskedActivity(name="safety talk", shortest_min=8, longest_min=10, light="any", opens=True),
    AskedActivity(name="pre-lab quiz", shortest_min=5, longest_min=8),
    AskedActivity(
        name="interferometer watch",
        shortest_min=5,
        longest_min=12,
        repeatable=True,
        at_once=1,
        light="any",
        still="still",
    ),
    AskedActivity(
        name="viewing with the spot lamp", shortest_min=5, longest_min=10, at_once=2, still="moves"
    ),
    AskedActivity(name="ray diagram worksheet", shortest_min=6, longest_min=12),
    AskedActivity(name="object choosing", shortest_min=4, longest_min=8, at_once=2, still="moves"),
    AskedActivity(name="dry run of loading", shortest_min=5, longest_min=10, at_once=2, still="moves"),
    AskedActivity(name="exposure calculation", shortest_min=5, longest_min=10),
    AskedActivity(name="note writing", shortest_min=3, longest_min=15, repeatable=True),
    AskedActivity(name="tidying", shortest_min=5, longest_min=10, still="moves"),
)


def _columns(session: LabSession, asked: AskedActivity, keep: int | None = None) -> dict[str, Any]:
    """What is kept of an activity, once its zones and its name are known to be right."""
    refuse_unknown_zones(session, asked.light_zone_id, asked.still_zone_id)
    second = session.exec(select(LabActivity.id).where(LabActivity.name == asked.name)).first()
    if second is not None and second != keep:
        raise Refusal(f"There is already an activity called “{asked.name}”. Give this one another name.")
    own = asked.model_dump(exclude={"shortest_min", "longest_min"})
    return {**own, "shortest_s": 60 * asked.shortest_min, "longest_s": 60 * asked.longest_min}


def add_activity(session: LabSession, asked: AskedActivity, *, is_assumed: bool = False) -> None:
    session.add(LabActivity(**_columns(session, asked), is_assumed=is_assumed))


def change_activity(session: LabSession, activity_id: int, asked: AskedActivity) -> None:
    """Change an activity; what it lasts is the lab's own from now on."""
    activity = get_activity(session, activity_id)
    activity.sqlmodel_update({**_columns(session, asked, activity_id), "is_assumed": False})


def remove_activity(session: LabSession, activity_id: int) -> None:
    session.delete(get_activity(session, activity_id))


def add_usual_activities(
    session: LabSession, *, light_zone_id: int | None, still_zone_id: int | None
) -> None:
    """The usual activities with assumed minutes, all in the zones given, for a lab that has none yet."""
    if list_activities(session):
        raise Refusal("This lab has activities already. Add the missing one by itself.")
    for usual in USUAL_ACTIVITIES:
        zones = {"light_zone_id": light_zone_id, "still_zone_id": still_zone_id}
        add_activity(session, usual.model_copy(update=zones), is_assumed=True)
