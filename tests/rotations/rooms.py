"""The cellar lab's room for tests of rotations, and a plan for it that is made at once."""

from dataclasses import replace

from server.core.planning import Plan, Problem, whiteboard
from server.data.session import LabSession
from server.stations.actions import add_light_zone, add_place, add_still_zone, add_tray_line
from server.stations.models import PlaceKind


def furnish(session: LabSession, *, dryer: bool = True, bench: bool = True) -> None:
    """Two stations on one table and a tray line in one room, beside it a dryer and a bench."""
    room = add_light_zone(session, name="room").id
    table = add_still_zone(session, name="table").id
    for name, exposure_s in (("S1", 8), ("S2", 12)):
        add_place(
            session,
            name=name,
            kind=PlaceKind.STATION,
            capacity=1,
            light_zone_id=room,
            still_zone_id=table,
            settle_s=60,
            exposure_s=exposure_s,
        )
    add_tray_line(session, name="line 1", capacity=1, light_zone_id=room, still_zone_id=None)
    if dryer:
        add_place(
            session, name="dryer", kind=PlaceKind.DRYER, capacity=2, light_zone_id=None, still_zone_id=None
        )
    if bench:
        add_place(
            session, name="bench", kind=PlaceKind.BENCH, capacity=4, light_zone_id=room, still_zone_id=None
        )


def with_repeats_after(problem: Problem) -> Plan:
    """The whiteboard's rounds, and those of the repeats, if there are any, when everybody else is done."""
    ordinary = tuple(group for group in problem.groups if not group.reserve)
    repeats = tuple(replace(group, reserve=False) for group in problem.groups if group.reserve)
    first = whiteboard(replace(problem, groups=ordinary))
    if not repeats:
        return first
    later = whiteboard(replace(problem, groups=repeats))
    shift = first.makespan_s - problem.periods[0][0]
    visits = (
        *first.visits,
        *(replace(one, start_s=one.start_s + shift, end_s=one.end_s + shift) for one in later.visits),
    )
    return replace(first, status="feasible", makespan_s=later.makespan_s + shift, visits=visits)
