"""Changes that a lab could make to a class before it begins: one more of something, more time, or less to do.

Each is a whole class of its own, to be planned like any other.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from server.core.planning.alike import times_of, with_steps
from server.core.planning.problem import Group, Place, Problem, Step, places_of_steps
from server.core.units import duration_words

# Assumed: a talk that moves to the pre-lab leaves so much of itself in class.
TALK_LEFT_S = 180
# Assumed: a settle time shorter than this is not cut any further.
SHORTEST_SETTLE_S = 60
MINUTE_S = 60


@dataclass(frozen=True)
class Change:
    """A class with something changed.

    ``key`` names the change for good, ``words`` name it to a person, ``inputs`` say in sentences what is different.
    Second 0 of ``problem`` lies ``earlier_s`` before second 0 of the class as it was. ``effort`` orders changes by what
    they ask of a lab (assumed). ``gives_up`` tells whether somebody makes fewer plates.
    """

    key: str
    words: str
    inputs: tuple[str, ...]
    problem: Problem
    effort: int
    earlier_s: int = 0
    gives_up: bool = False


def changes_of(problem: Problem, *, talk_s: int) -> tuple[Change, ...]:
    """Return the changes that could mean something for this class, each by itself.

    ``talk_s`` is the length of the talk that the first period waits for, 0 where there is none.
    """
    made = (
        _talk_in_pre_lab(problem, talk_s),
        _shorter_settle(problem),
        _one_more_station(problem),
        _one_more_in_busiest_tray(problem),
        _one_more_in_every_tray(problem),
        _one_more_elsewhere(problem),
        _tray_line_apart(problem),
        _others_apart(problem),
        _no_afterglow(problem),
        _longer(problem, 1),
        _longer(problem, 10),
        _one_plate_fewer(problem),
        _two_groups_to_a_plate(problem),
        _one_group_fewer(problem),
    )
    return tuple(change for change in made if change is not None)


def pairs_of(problem: Problem, changes: Sequence[Change], *, talk_s: int) -> tuple[Change, ...]:
    """Return two of the changes at a time, made together, those that ask the least of a lab first.

    ``changes`` are some of ``changes_of`` for the same problem and talk; what gives up plates is not combined.
    """
    keys = [change.key for change in changes if not change.gives_up]
    found = [
        _together(one, other)
        for one in changes_of(problem, talk_s=talk_s)
        if one.key in keys
        for other in changes_of(one.problem, talk_s=talk_s)
        if other.key in keys[keys.index(one.key) + 1 :] and _subject(one) != _subject(other)
    ]
    return tuple(sorted(found, key=lambda change: change.effort))


def _subject(change: Change) -> str:
    """Return what is changed, whatever by."""
    return change.key.partition("-")[0]


def _together(one: Change, other: Change) -> Change:
    """Return both changes; the other was made to the class that the one had changed already."""
    return Change(
        key=f"{one.key}+{other.key}",
        words=f"{one.words} and {other.words[0].lower()}{other.words[1:]}",
        inputs=(*one.inputs, *other.inputs),
        problem=other.problem,
        effort=one.effort + other.effort,
        earlier_s=one.earlier_s + other.earlier_s,
    )


def _talk_in_pre_lab(problem: Problem, talk_s: int) -> Change | None:
    """The class begins earlier; its seconds are counted anew from there."""
    gained = talk_s - TALK_LEFT_S
    if gained <= 0 or problem.fixed:
        return None
    (opens, closes), *rest = problem.periods
    periods = ((opens, closes + gained), *((start + gained, end + gained) for start, end in rest))
    return Change(
        "talk",
        "The talk moved to the pre-lab",
        (
            f"{duration_words(TALK_LEFT_S)} of the talk of {duration_words(talk_s)} are left in class (assumed).",
            f"The first group may begin {duration_words(gained)} earlier.",
        ),
        replace(
            problem, periods=periods, places=tuple(_later(place, opens, gained) for place in problem.places)
        ),
        effort=1,
        earlier_s=gained,
    )


def _later(place: Place, opens: int, seconds: int) -> Place:
    """Return the place with its hours moved; what holds when the class opens holds before it, too."""

    def moved(second: int) -> int:
        return second if second <= opens else second + seconds

    return replace(
        place,
        closed=tuple((moved(start), end + seconds) for start, end in place.closed),
        charges=tuple(
            replace(charge, from_s=moved(charge.from_s), until_s=charge.until_s + seconds)
            for charge in place.charges
        ),
    )


def _shorter_settle(problem: Problem) -> Change | None:
    """A minute less of the longest settling: a still step with another still step right behind it."""
    settling = {
        step.name: min(times_of(step))
        for steps in _lists(problem)
        for step, after in pairwise(steps)
        if step.still == after.still == "still" and after.at == "same"
    }
    name = max(settling, key=lambda each: settling[each], default="")
    if not name or settling[name] < SHORTEST_SETTLE_S + MINUTE_S or problem.fixed:
        return None
    shorter = with_steps(problem, lambda step: _a_minute_less(step) if step.name == name else step)
    return Change(
        "settle",
        f"A minute less of “{name}”",
        (
            f"“{name}” takes a minute less at every station, {duration_words(settling[name] - MINUTE_S)} at least.",
            "Only where a test shows that the table has come to rest by then: watch the fringes first.",
        ),
        shorter,
        effort=2,
    )


def _one_more_station(problem: Problem) -> Change | None:
    stations = _stations(problem)
    if not stations or sum(place.capacity for place in stations) >= _passes(problem):
        return None
    first = stations[0]
    twin = replace(first, name=fresh_name(problem.places), closed=())
    return Change(
        "station",
        "One more station",
        (f"{len(stations) + 1} stations instead of {len(stations)}; the new one is like {first.name}.",),
        with_twin(problem, first.name, twin),
        effort=4,
    )


def _one_more_in_busiest_tray(problem: Problem) -> Change | None:
    trays = [place for place in _trays(problem) if place.capacity < _passes(problem)]
    if len(trays) <= 1:
        return None
    load = _load(problem)
    busiest = max(trays, key=lambda place: load[place.name])
    return Change(
        "tray-busiest",
        f"One more place in {busiest.name}",
        (f"{busiest.name} takes {busiest.capacity + 1} at once instead of {busiest.capacity}.",),
        with_room(problem, {busiest.name}),
        effort=2,
    )


def _one_more_in_every_tray(problem: Problem) -> Change | None:
    trays = [place for place in _trays(problem) if place.capacity < _passes(problem)]
    if not trays:
        return None
    return Change(
        "tray-every",
        "One more place in every tray" if len(trays) > 1 else f"One more place in {trays[0].name}",
        tuple(f"{tray.name} takes {tray.capacity + 1} at once instead of {tray.capacity}." for tray in trays),
        with_room(problem, {tray.name for tray in trays}),
        effort=3,
    )


def _one_more_elsewhere(problem: Problem) -> Change | None:
    """One more place where plates are neither exposed nor in a bath: at the dryer or the bench that is the busiest."""
    inside = {place.name for place in (*_stations(problem), *_trays(problem))}
    load = _load(problem)
    others = [
        place
        for place in problem.places
        if place.name not in inside and load[place.name] > 0 and place.capacity < _passes(problem)
    ]
    if not others:
        return None
    busiest = max(others, key=lambda place: load[place.name])
    return Change(
        "dryer",
        f"One more place at {busiest.name}",
        (f"{busiest.name} takes {busiest.capacity + 1} at once instead of {busiest.capacity}.",),
        with_room(problem, {busiest.name}),
        effort=2,
    )


def _tray_line_apart(problem: Problem) -> Change | None:
    return _apart(problem, _trays(problem), "bench", "The tray line on a bench of its own")


def _others_apart(problem: Problem) -> Change | None:
    inside = {place.name for place in (*_stations(problem), *_trays(problem))}
    others = [place for place in problem.places if place.name not in inside]
    shaking = _shaking(problem, others)
    names = " and ".join(place.name for place in shaking)
    return _apart(problem, others, "elsewhere", f"{names[:1].upper()}{names[1:]} away from the stations")


def _apart(problem: Problem, places: Sequence[Place], key: str, words: str) -> Change | None:
    shaking = {place.name for place in _shaking(problem, places)}
    if not shaking:
        return None
    apart = tuple(
        replace(place, still_zone=None) if place.name in shaking else place for place in problem.places
    )
    return Change(
        key,
        words,
        (
            f"No station has to wait for {' and '.join(sorted(shaking))}, because they no longer share a still zone.",
        ),
        replace(problem, places=apart),
        effort=2,
    )


def _shaking(problem: Problem, places: Sequence[Place]) -> list[Place]:
    """Return those of the places at which something moves in a zone where a station holds still."""
    zones = {place.still_zone for place in _stations(problem)} - {None}
    moved = {name for step, names in _offers(problem) if step.still == "moves" for name in names}
    return [place for place in places if place.still_zone in zones and place.name in moved]


def _no_afterglow(problem: Problem) -> Change | None:
    glowing = [zone for zone in problem.light_zones if zone.afterglow_s > 0]
    if not glowing:
        return None
    return Change(
        "afterglow",
        "Lamps that do not glow on",
        tuple(
            f"{zone.name} is dark at once instead of after {duration_words(zone.afterglow_s)}."
            for zone in glowing
        ),
        replace(problem, light_zones=tuple(replace(zone, afterglow_s=0) for zone in problem.light_zones)),
        effort=3,
    )


def _longer(problem: Problem, minutes: int) -> Change | None:
    opens, closes = problem.periods[-1]
    longer = (*problem.periods[:-1], (opens, closes + minutes * MINUTE_S))
    return Change(
        f"minutes-{minutes}",
        "One more minute at the end" if minutes == 1 else f"{minutes} more minutes at the end",
        (f"The last period ends {duration_words(minutes * MINUTE_S)} later.",),
        replace(problem, periods=longer),
        effort=5 + minutes,
    )


def _one_plate_fewer(problem: Problem) -> Change | None:
    fewer = with_fewer_plates(problem)
    if fewer is None:
        return None
    most = _most(problem)
    return Change(
        "plate-fewer",
        "One plate fewer for each group",
        (f"No group makes more than {most - 1} instead of {most}.",),
        fewer,
        effort=30,
        gives_up=True,
    )


def _two_groups_to_a_plate(problem: Problem) -> Change | None:
    """Half as many groups, where every group makes the same single plate."""
    groups = [group for group in problem.groups if not group.reserve]
    alike = {(group.passes, group.steps, group.pass_steps) for group in groups}
    if len(groups) <= 1 or len(alike) > 1 or groups[0].passes > 1 or problem.fixed:
        return None
    half = groups[: -(-len(groups) // 2)]
    return Change(
        "share",
        "Two groups to a plate",
        (f"{len(half)} plates instead of {len(groups)}: every two groups work together.",),
        replace(problem, groups=tuple(group for group in problem.groups if group in half or group.reserve)),
        effort=40,
        gives_up=True,
    )


def _one_group_fewer(problem: Problem) -> Change | None:
    groups = [group for group in problem.groups if not group.reserve]
    if len(groups) <= 1 or any(fixed.group == groups[-1].name for fixed in problem.fixed):
        return None
    last = groups[-1]
    return Change(
        "group-fewer",
        "One group fewer",
        (f"{last.name} makes its plates another time.",),
        replace(problem, groups=tuple(group for group in problem.groups if group != last)),
        effort=50,
        gives_up=True,
    )


def fresh_name(places: Sequence[Place]) -> str:
    """Return a name that no place has."""
    name = "one more"
    while any(place.name == name for place in places):
        name += " more"
    return name


def with_twin(problem: Problem, name: str, twin: Place) -> Problem:
    """Return the problem with a second place like the named one wherever that one is offered, for the same seconds."""

    def offered(step: Step) -> Step:
        at = step.at if step.at == "same" or name not in step.at else (*step.at, twin.name)
        timed = step.seconds
        if isinstance(timed, tuple) and name in dict(timed):
            timed = dict(timed) | {twin.name: step.seconds_at(name)}
        return replace(step, at=at, seconds=timed)

    return with_steps(replace(problem, places=(*problem.places, twin)), offered)


def with_room(problem: Problem, names: set[str]) -> Problem:
    """Return the problem with room for one plate more at each of the named places."""
    roomier = tuple(
        replace(place, capacity=place.capacity + 1) if place.name in names else place
        for place in problem.places
    )
    return replace(problem, places=roomier)


def with_fewer_plates(problem: Problem) -> Problem | None:
    """Return the problem with one plate fewer for every group that makes the most.

    None where that leaves somebody none, or takes a plate that has begun.
    """
    most = _most(problem)
    begun = {(fixed.group, fixed.pass_no) for fixed in problem.fixed}
    if most == 1 or any((group.name, most) in begun for group in problem.groups):
        return None
    fewer = tuple(
        group if group.reserve else _with_passes(group, min(group.passes, most - 1))
        for group in problem.groups
    )
    return replace(problem, groups=fewer)


def _most(problem: Problem) -> int:
    return max((group.passes for group in problem.groups if not group.reserve), default=1)


def _with_passes(group: Group, passes: int) -> Group:
    each = None if group.pass_steps is None else group.pass_steps[:passes]
    return replace(group, passes=passes, pass_steps=each)


def _lists(problem: Problem) -> list[tuple[Step, ...]]:
    """Return every list of steps that a pass may have, once."""
    found = {
        problem.steps_of(group, number): None
        for group in problem.groups
        for number in range(1, group.passes + 1)
    }
    return list(found)


def _offers(problem: Problem) -> Iterator[tuple[Step, tuple[str, ...]]]:
    """Yield every step with the places to choose from."""
    for steps in _lists(problem):
        yield from zip(steps, places_of_steps(steps), strict=True)


def _stations(problem: Problem) -> list[Place]:
    """Return the places where somebody holds still."""
    named = {name for step, names in _offers(problem) if step.still == "still" for name in names}
    return [place for place in problem.places if place.name in named]


def _trays(problem: Problem) -> list[Place]:
    """Return the places of the dark baths, and of those that follow them without a wait."""
    stations = {place.name for place in _stations(problem)}
    named: set[str] = set()
    for steps in _lists(problem):
        chained = False
        for step, names in zip(steps, places_of_steps(steps), strict=True):
            is_bath = (step.light == "dark" or chained) and stations.isdisjoint(names)
            if is_bath:
                named.update(names)
            chained = is_bath and step.max_wait_s == 0
    return [place for place in problem.places if place.name in named]


def _load(problem: Problem) -> Mapping[str, float]:
    """Return for each place the seconds that its plates want of it, for each plate it takes at once."""
    load = dict.fromkeys((place.name for place in problem.places), 0.0)
    capacity = {place.name: place.capacity for place in problem.places}
    for group in problem.groups:
        for number in range(1, group.passes + 1):
            steps = problem.steps_of(group, number)
            for step, names in zip(steps, places_of_steps(steps), strict=True):
                for name in names:
                    load[name] += step.seconds_at(name) / len(names) / capacity[name]
    return load


def _passes(problem: Problem) -> int:
    return sum(group.passes for group in problem.groups)


def _a_minute_less(step: Step) -> Step:
    if isinstance(step.seconds, int):
        return replace(step, seconds=step.seconds - MINUTE_S)
    return replace(step, seconds={place: seconds - MINUTE_S for place, seconds in dict(step.seconds).items()})
