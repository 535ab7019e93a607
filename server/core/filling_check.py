"""Every rule of filled waiting, derived again. Shares nothing with the filling but its values and what disturbs what."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, pairwise

from server.core.filling import REST_S, Activity, Busy, Filled, Filling, Stretch, opposed


def check_filling(
    filling: Filling,
    *,
    groups: Sequence[str],
    spans: Sequence[Stretch],
    busy: Sequence[Busy],
    activities: Sequence[Activity],
    afterglow_s: Mapping[str, int] | None = None,
) -> tuple[str, ...]:
    """The rules that the activities break, as sentences, derived again; none for a valid filling."""
    known = {activity.name: activity for activity in activities}
    found: list[str] = []
    for one in filling.filled:
        who = f"{one.group}, {one.activity} at {one.start_s} s"
        if one.group not in groups or one.activity not in known:
            found.append(f"{who}: there is no such group or activity.")
            continue
        found.extend(
            f"{who}: {fault}" for fault in _faults(one, known[one.activity], spans, busy, afterglow_s or {})
        )
    for one, other in combinations(filling.filled, 2):
        if not found and _meet(one.start_s, one.end_s, other):
            if one.group == other.group:
                found.append(f"{one.group} does {one.activity} and {other.activity} at once.")
            if opposed(known[one.activity], known[other.activity]):
                found.append(f"{one.activity} of {one.group} disturbs {other.activity} of {other.group}.")
    if not found:
        found.extend(_turns(filling, groups, spans, busy, known))
        found.extend(_sums(filling, groups, spans, busy))
    return tuple(found)


def _meet(start_s: int, end_s: int, other: Busy | Filled) -> bool:
    return start_s < other.end_s and other.start_s < end_s


def _faults(
    one: Filled,
    activity: Activity,
    spans: Sequence[Stretch],
    busy: Sequence[Busy],
    afterglow_s: Mapping[str, int],
) -> Iterator[str]:
    """What is wrong with one activity by itself, beside the plan's visits."""
    if not activity.shortest_s <= one.end_s - one.start_s <= activity.longest_s:
        yield "it is too short or too long."
    if not any(start <= one.start_s and one.end_s <= end for start, end in spans):
        yield "the class is not at work."
    glow = afterglow_s.get(activity.light_zone or "", 0)
    for visit in busy:
        if visit.group == one.group and visit.attended and _meet(one.start_s, one.end_s, visit):
            yield f"the group is at {visit.place} then."
        if activity.light_zone is not None and visit.light_zone == activity.light_zone:
            if (
                activity.light == "lit"
                and visit.light == "dark"
                and _meet(one.start_s, one.end_s + glow, visit)
            ):
                yield f"{visit.group} needs the dark."
            if activity.light == "dark" and visit.light == "lit" and _meet(one.start_s, one.end_s, visit):
                yield f"{visit.group} has the lights on."
        if activity.still_zone is not None and visit.still_zone == activity.still_zone:
            needs = {activity.still, visit.still}
            if needs == {"still", "moves"} and _meet(one.start_s, one.end_s, visit):
                yield f"{visit.group} holds still, or moves where the activity needs stillness."


def _turns(
    filling: Filling,
    groups: Sequence[str],
    spans: Sequence[Stretch],
    busy: Sequence[Busy],
    known: Mapping[str, Activity],
) -> Iterator[str]:
    """How often, in which order and how many at once."""
    for group in groups:
        mine = sorted((one for one in filling.filled if one.group == group), key=lambda one: one.start_s)
        names = [one.activity for one in mine]
        for name in dict.fromkeys(names):
            if names.count(name) > 1 and not known[name].repeatable:
                yield f"{group} does {name} more than once."
        for one, other in pairwise(mine):
            pause = (one.end_s, other.start_s)
            between = any(
                visit.group == group and visit.attended and _meet(*pause, visit) for visit in busy
            ) or not any(start <= pause[0] and pause[1] <= end for start, end in spans)
            if one.activity == other.activity and pause[1] - pause[0] < REST_S and not between:
                yield f"{group} does {one.activity} twice running."
        opening = [known[name].opens for name in names]
        if opening != sorted(opening, reverse=True):
            yield f"{group} does something before what opens."
    for name, activity in known.items():
        same = [one for one in filling.filled if one.activity == name]
        for one in same:
            together = sum(other.start_s <= one.start_s < other.end_s for other in same)
            if activity.at_once is not None and together > activity.at_once:
                yield f"{together} groups do {name} at {one.start_s} s."


def _sums(
    filling: Filling, groups: Sequence[str], spans: Sequence[Stretch], busy: Sequence[Busy]
) -> Iterator[str]:
    """Each group's waiting, counted again: the time at work less what its visits cover of it, less its activities."""
    if [one.group for one in filling.waiting] != list(groups):
        yield "The waiting is not given for each group."
    for waiting in filling.waiting:
        edges = sorted(
            {edge for span in spans for edge in span}
            | {edge for one in busy if one.group == waiting.group for edge in (one.start_s, one.end_s)}
        )
        before = sum(
            end - start
            for start, end in pairwise(edges)
            if any(opens <= start and end <= closes for opens, closes in spans)
            and not any(
                one.group == waiting.group and one.attended and one.start_s <= start and end <= one.end_s
                for one in busy
            )
        )
        given = sum(one.end_s - one.start_s for one in filling.filled if one.group == waiting.group)
        if (waiting.before_s, waiting.after_s) != (before, before - given):
            yield f"{waiting.group} waits {before} s without and {before - given} s with its activities."
