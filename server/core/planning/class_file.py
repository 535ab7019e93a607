"""The class file: a problem as JSON, read with every fault named and written so that it reads back the same."""

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar, cast

from server.core.planning.problem import (
    At,
    Charge,
    Fixed,
    Group,
    Light,
    LightZone,
    Place,
    Problem,
    Step,
    Stillness,
    places_of_steps,
)

LONGEST_S = 366 * 24 * 3600
MOST_PLATES_AT_ONCE = 1_000
MOST_PASSES = 1_000
MOST_PLATES_OF_A_CHARGE = 1_000_000
LONGEST_NAME = 200
LONGEST_SHOWN = 60

T = TypeVar("T")


class ClassFileFault(ValueError):  # noqa: N818 - a fault of the file, not of the program
    """A class file cannot be read; the message is one line naming the field and the fault."""

    def __init__(self, where: str, fault: str) -> None:
        """Join the field and the fault into one line."""
        super().__init__(f"{where}: {fault}")


def read_class_file(text: str) -> Problem:
    """Return the problem a class file describes; ClassFileFault names the first field that is wrong."""
    whole = _object(
        _parsed(text),
        "class file",
        ("name", "periods", "places", "groups"),
        ("steps", "fixed", "light_zones"),
        root=True,
    )
    places = _items(whole["places"], "places", _place)
    _distinct([place.name for place in places], "places", "name")
    known = frozenset(place.name for place in places)
    steps = _steps(whole["steps"], "steps", known) if "steps" in whole else ()
    groups = _items(whole["groups"], "groups", lambda value, where: _group(value, where, known))
    _distinct([group.name for group in groups], "groups", "name")
    for index, group in enumerate(groups):
        if not steps and group.steps is None and group.pass_steps is None:
            raise ClassFileFault(
                f"groups[{index}].steps", "the file has no steps of its own, so this group needs some"
            )
    problem = Problem(
        name=_text(whole["name"], "name"),
        periods=_periods(whole["periods"]),
        places=places,
        steps=steps,
        groups=groups,
        light_zones=_light_zones(whole.get("light_zones", []), places),
    )
    fixed = _items(
        whole.get("fixed", []), "fixed", lambda value, where: _fixed(value, where, problem), empty=True
    )
    _agreeing(fixed, problem)
    return replace(problem, fixed=fixed)


def write_class_file(problem: Problem) -> str:
    """Return the problem as a class file; reading it back gives an equal problem."""
    whole: dict[str, object] = {
        "name": problem.name,
        "periods": [list(period) for period in problem.periods],
        "places": [_written_place(place) for place in problem.places],
    }
    if problem.light_zones:
        whole["light_zones"] = [
            {"name": zone.name, "afterglow_s": zone.afterglow_s} for zone in problem.light_zones
        ]
    if problem.steps:
        whole["steps"] = [_written_step(step) for step in problem.steps]
    whole["groups"] = [_written_group(group) for group in problem.groups]
    if problem.fixed:
        whole["fixed"] = [
            {
                "group": fixed.group,
                "pass": fixed.pass_no,
                "step": fixed.step,
                "place": fixed.place,
                "start_s": fixed.start_s,
            }
            for fixed in problem.fixed
        ]
    return json.dumps(whole, ensure_ascii=False, indent=1) + "\n"


def _parsed(text: str) -> object:
    try:
        return cast("object", json.loads(text, object_pairs_hook=_once_each, parse_constant=_no_constant))
    except json.JSONDecodeError as fault:
        where = f"line {fault.lineno}, column {fault.colno}"
        raise ClassFileFault(where, f"not JSON: {fault.msg}") from None
    except ClassFileFault:
        raise
    except RecursionError:
        raise ClassFileFault("class file", "lists and objects are nested too deeply") from None
    except ValueError:
        raise ClassFileFault("class file", "a number has too many digits") from None


def _once_each(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for key, value in pairs:
        if key in found:
            raise ClassFileFault(_shown(key), "is given twice in one object")
        found[key] = value
    return found


def _no_constant(word: str) -> object:
    raise ClassFileFault("class file", f"{word} is not a number")


def _shown(value: object) -> str:
    """Return a value as one short line that is safe to print."""
    line = json.dumps(value)
    return line if len(line) <= LONGEST_SHOWN else f"{line[:LONGEST_SHOWN]}..."


def _object(
    value: object, where: str, needed: Sequence[str], allowed: Sequence[str] = (), *, root: bool = False
) -> dict[str, object]:
    if not isinstance(value, dict):
        raise ClassFileFault(where, f"{_shown(value)} is not an object")
    prefix = "" if root else f"{where}."
    for key in value:
        if key not in needed and key not in allowed:
            raise ClassFileFault(f"{prefix}{_shown(key)[1:-1]}", "is not a known field")
    for key in needed:
        if key not in value:
            raise ClassFileFault(f"{prefix}{key}", "is missing")
    return value


def _items(
    value: object, where: str, read: Callable[[object, str], T], *, empty: bool = False
) -> tuple[T, ...]:
    if not isinstance(value, list):
        raise ClassFileFault(where, f"{_shown(value)} is not a list")
    if not value and not empty:
        raise ClassFileFault(where, "the list is empty")
    return tuple(read(item, f"{where}[{index}]") for index, item in enumerate(value))


def _text(value: object, where: str) -> str:
    if not isinstance(value, str):
        raise ClassFileFault(where, f"{_shown(value)} is not text")
    if not value.strip():
        raise ClassFileFault(where, "is empty")
    if len(value) > LONGEST_NAME:
        raise ClassFileFault(where, f"is longer than {LONGEST_NAME} characters")
    if not value.isprintable():
        raise ClassFileFault(where, f"{_shown(value)} has characters that cannot be printed")
    return value


def _whole(value: object, where: str, least: int, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < least:
        raise ClassFileFault(where, f"{_shown(value)} is not a whole number of at least {least}")
    if value > most:
        raise ClassFileFault(where, f"{_shown(value)} is more than {most}")
    return value


def _yes_or_no(value: object, where: str) -> bool:
    if not isinstance(value, bool):
        raise ClassFileFault(where, f"{_shown(value)} is neither true nor false")
    return value


def _one_of(value: object, where: str, choices: Sequence[str]) -> str:
    if not isinstance(value, str) or value not in choices:
        raise ClassFileFault(where, f"{_shown(value)} is not one of {', '.join(choices)}")
    return value


def _distinct(names: Sequence[str], where: str, field: str) -> None:
    seen: set[str] = set()
    for index, name in enumerate(names):
        if name in seen:
            raise ClassFileFault(f"{where}[{index}].{field}", f"{_shown(name)} is used twice")
        seen.add(name)


def _span(value: object, where: str, what: str) -> tuple[int, int]:
    pair = _items(value, where, lambda edge, at: _whole(edge, at, 0, LONGEST_S))
    if len(pair) != 2:  # noqa: PLR2004 - a span of time is a start and an end
        raise ClassFileFault(where, f"{_shown(value)} is not a start and an end")
    return _forwards(pair[0], pair[1], where, what)


def _forwards(start_s: int, end_s: int, where: str, what: str) -> tuple[int, int]:
    if end_s <= start_s:
        raise ClassFileFault(where, f"the {what} ends at {end_s}, not after its start at {start_s}")
    return start_s, end_s


def _periods(value: object) -> tuple[tuple[int, int], ...]:
    periods = _items(value, "periods", lambda item, where: _span(item, where, "period"))
    for index in range(1, len(periods)):
        if periods[index][0] < periods[index - 1][1]:
            raise ClassFileFault(f"periods[{index}]", "begins before the period before it has ended")
    return periods


def _place(value: object, where: str) -> Place:
    item = _object(value, where, ("name", "capacity"), ("light_zone", "still_zone", "closed", "charges"))

    def zone(key: str) -> str | None:
        return None if item.get(key) is None else _text(item[key], f"{where}.{key}")

    return Place(
        name=_text(item["name"], f"{where}.name"),
        capacity=_whole(item["capacity"], f"{where}.capacity", 1, MOST_PLATES_AT_ONCE),
        light_zone=zone("light_zone"),
        still_zone=zone("still_zone"),
        closed=_items(
            item.get("closed", []),
            f"{where}.closed",
            lambda span, at: _span(span, at, "closed time"),
            empty=True,
        ),
        charges=_items(item.get("charges", []), f"{where}.charges", _charge, empty=True),
    )


def _charge(value: object, where: str) -> Charge:
    item = _object(value, where, ("from_s", "until_s"), ("plates",))
    from_s, until_s = (_whole(item[key], f"{where}.{key}", 0, LONGEST_S) for key in ("from_s", "until_s"))
    _forwards(from_s, until_s, where, "charge")
    plates = item.get("plates")
    return Charge(
        from_s,
        until_s,
        None if plates is None else _whole(plates, f"{where}.plates", 1, MOST_PLATES_OF_A_CHARGE),
    )


def _light_zones(value: object, places: Sequence[Place]) -> tuple[LightZone, ...]:
    named = {place.light_zone for place in places}
    zones = _items(value, "light_zones", _light_zone, empty=True)
    _distinct([zone.name for zone in zones], "light_zones", "name")
    for index, zone in enumerate(zones):
        if zone.name not in named:
            raise ClassFileFault(
                f"light_zones[{index}].name", f"no place is in the light zone {_shown(zone.name)}"
            )
    return zones


def _light_zone(value: object, where: str) -> LightZone:
    item = _object(value, where, ("name", "afterglow_s"))
    return LightZone(
        _text(item["name"], f"{where}.name"),
        _whole(item["afterglow_s"], f"{where}.afterglow_s", 0, LONGEST_S),
    )


def _steps(value: object, where: str, known: frozenset[str]) -> tuple[Step, ...]:
    steps = _items(value, where, lambda item, at: _step(item, at, known))
    _distinct([step.name for step in steps], where, "name")
    if steps[0].at == "same":
        raise ClassFileFault(
            f"{where}[0].at", 'the first step has no step before it, so it cannot be at "same"'
        )
    for index, (step, places) in enumerate(zip(steps, places_of_steps(steps), strict=True)):
        if isinstance(step.seconds, tuple):
            timed = dict(step.seconds)
            for place in places:
                if place not in timed:
                    raise ClassFileFault(f"{where}[{index}].seconds", f"has no time for {_shown(place)}")
            for place in timed:
                if place not in places:
                    raise ClassFileFault(f"{where}[{index}].seconds", f"the step is never at {_shown(place)}")
    return steps


def _step(value: object, where: str, known: frozenset[str]) -> Step:
    item = _object(value, where, ("name", "at", "seconds"), ("light", "still", "max_wait_s", "attended"))
    wait = item.get("max_wait_s")
    return Step(
        name=_text(item["name"], f"{where}.name"),
        at=_at(item["at"], f"{where}.at", known),
        seconds=_seconds(item["seconds"], f"{where}.seconds"),
        light=cast("Light", _one_of(item.get("light", "any"), f"{where}.light", ("dark", "lit", "any"))),
        still=cast(
            "Stillness", _one_of(item.get("still", "any"), f"{where}.still", ("still", "moves", "any"))
        ),
        max_wait_s=None if wait is None else _whole(wait, f"{where}.max_wait_s", 0, LONGEST_S),
        attended=_yes_or_no(item.get("attended", True), f"{where}.attended"),
    )


def _at(value: object, where: str, known: frozenset[str]) -> At:
    if value == "same":
        return "same"
    if isinstance(value, str):
        raise ClassFileFault(where, f'{_shown(value)} is neither "same" nor a list of places')
    places = _items(value, where, _text)
    for index, place in enumerate(places):
        if place not in known:
            raise ClassFileFault(f"{where}[{index}]", f"there is no place {_shown(place)}")
        if place in places[:index]:
            raise ClassFileFault(f"{where}[{index}]", f"{_shown(place)} is listed twice")
    return places


def _seconds(value: object, where: str) -> int | dict[str, int]:
    if not isinstance(value, dict):
        return _whole(value, where, 1, LONGEST_S)
    if not value:
        raise ClassFileFault(where, "the object is empty")
    return {
        place: _whole(seconds, f"{where}.{_shown(place)[1:-1]}", 1, LONGEST_S)
        for place, seconds in value.items()
    }


def _group(value: object, where: str, known: frozenset[str]) -> Group:
    item = _object(value, where, ("name", "passes"), ("steps", "pass_steps", "any_order", "reserve"))
    passes = _whole(item["passes"], f"{where}.passes", 1, MOST_PASSES)
    if "steps" in item and "pass_steps" in item:
        raise ClassFileFault(f"{where}.pass_steps", "a group has either steps or pass_steps, not both")
    each: tuple[tuple[Step, ...], ...] | None = None
    if "pass_steps" in item:
        each = _items(item["pass_steps"], f"{where}.pass_steps", lambda steps, at: _steps(steps, at, known))
        if len(each) != passes:
            raise ClassFileFault(f"{where}.pass_steps", f"has {len(each)} lists of steps for {passes} passes")
    return Group(
        name=_text(item["name"], f"{where}.name"),
        passes=passes,
        steps=_steps(item["steps"], f"{where}.steps", known) if "steps" in item else None,
        any_order=_yes_or_no(item.get("any_order", False), f"{where}.any_order"),
        pass_steps=each,
        reserve=_yes_or_no(item.get("reserve", False), f"{where}.reserve"),
    )


def _fixed(value: object, where: str, problem: Problem) -> Fixed:
    item = _object(value, where, ("group", "pass", "step", "place", "start_s"))
    name = _text(item["group"], f"{where}.group")
    group = next((group for group in problem.groups if group.name == name), None)
    if group is None:
        raise ClassFileFault(f"{where}.group", f"there is no group {_shown(name)}")
    pass_no = _whole(item["pass"], f"{where}.pass", 1, MOST_PASSES)
    if pass_no > group.passes:
        raise ClassFileFault(f"{where}.pass", f"group {name} has no pass {pass_no}")
    steps = problem.steps_of(group, pass_no)
    step = _text(item["step"], f"{where}.step")
    position = next((index for index, one in enumerate(steps) if one.name == step), None)
    if position is None:
        raise ClassFileFault(f"{where}.step", f"group {name} has no step {_shown(step)}")
    place = _text(item["place"], f"{where}.place")
    if place not in places_of_steps(steps)[position]:
        raise ClassFileFault(f"{where}.place", f"step {step} is never at {_shown(place)}")
    return Fixed(name, pass_no, step, place, _whole(item["start_s"], f"{where}.start_s", 0, LONGEST_S))


def _agreeing(fixed: Sequence[Fixed], problem: Problem) -> None:
    """Refuse fixed steps of one pass that repeat a step, run backwards or leave a place they must keep."""
    groups = {group.name: group for group in problem.groups}
    for index, later in enumerate(fixed):
        steps = problem.steps_of(groups[later.group], later.pass_no)
        names = [step.name for step in steps]
        for other in fixed[:index]:
            if (other.group, other.pass_no) != (later.group, later.pass_no):
                continue
            first, second = sorted((other, later), key=lambda one: names.index(one.step))
            if first.step == second.step:
                raise ClassFileFault(
                    f"fixed[{index}].step", f"{_shown(later.step)} of this pass is already fixed"
                )
            low, high = names.index(first.step), names.index(second.step)
            if second.start_s < first.start_s + steps[low].seconds_at(first.place):
                raise ClassFileFault(
                    f"fixed[{index}].start_s", f"{second.step} begins before {first.step} has ended"
                )
            kept = all(step.at == "same" for step in steps[low + 1 : high + 1])
            if kept and first.place != second.place:
                raise ClassFileFault(
                    f"fixed[{index}].place",
                    f"{second.step} must stay where {first.step} is, at {first.place}",
                )


def _written_place(place: Place) -> dict[str, object]:
    written: dict[str, object] = {"name": place.name, "capacity": place.capacity}
    if place.light_zone is not None:
        written["light_zone"] = place.light_zone
    if place.still_zone is not None:
        written["still_zone"] = place.still_zone
    if place.closed:
        written["closed"] = [list(span) for span in place.closed]
    if place.charges:
        written["charges"] = [_written_charge(charge) for charge in place.charges]
    return written


def _written_charge(charge: Charge) -> dict[str, object]:
    written: dict[str, object] = {"from_s": charge.from_s, "until_s": charge.until_s}
    if charge.plates is not None:
        written["plates"] = charge.plates
    return written


def _written_step(step: Step) -> dict[str, object]:
    written: dict[str, object] = {
        "name": step.name,
        "at": "same" if step.at == "same" else list(step.at),
        "seconds": dict(step.seconds) if isinstance(step.seconds, tuple) else step.seconds,
    }
    if step.light != "any":
        written["light"] = step.light
    if step.still != "any":
        written["still"] = step.still
    if step.max_wait_s is not None:
        written["max_wait_s"] = step.max_wait_s
    if not step.attended:
        written["attended"] = False
    return written


def _written_group(group: Group) -> dict[str, object]:
    written: dict[str, object] = {"name": group.name, "passes": group.passes}
    if group.steps is not None:
        written["steps"] = [_written_step(step) for step in group.steps]
    if group.pass_steps is not None:
        written["pass_steps"] = [[_written_step(step) for step in steps] for steps in group.pass_steps]
    if group.any_order:
        written["any_order"] = True
    if group.reserve:
        written["reserve"] = True
    return written
