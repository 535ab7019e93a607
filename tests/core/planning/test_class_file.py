"""Every fault of a class file is one line that names the field."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.planning import (
    Charge,
    ClassFileFault,
    Fixed,
    Group,
    LightZone,
    Place,
    Problem,
    Step,
    read_class_file,
    write_class_file,
)
from tests.core.planning.labs import INSTANCES


def sample() -> dict[str, Any]:
    return {
        "name": "Tuesday",
        "periods": [[0, 3000], [3600, 6600]],
        "places": [
            {"name": "S1", "capacity": 1, "light_zone": "room", "still_zone": "table"},
            {"name": "S2", "capacity": 1, "light_zone": "room", "still_zone": None},
            {
                "name": "tray",
                "capacity": 2,
                "closed": [[900, 1200], [60, 120]],
                "charges": [{"from_s": 0, "until_s": 3000, "plates": 24}, {"from_s": 2700, "until_s": 6600}],
            },
        ],
        "light_zones": [{"name": "room", "afterglow_s": 90}],
        "steps": [
            {
                "name": "align",
                "at": ["S1", "S2"],
                "seconds": 300,
                "light": "lit",
                "still": "moves",
                "max_wait_s": 1200,
            },
            {
                "name": "expose",
                "at": "same",
                "seconds": {"S1": 8, "S2": 10},
                "light": "dark",
                "still": "still",
            },
            {"name": "develop", "at": ["tray"], "seconds": 20, "attended": False},
        ],
        "groups": [
            {"name": "G1", "passes": 2},
            {
                "name": "G2",
                "passes": 1,
                "any_order": True,
                "steps": [{"name": "look", "at": ["S1"], "seconds": 5}],
            },
            {"name": "R1", "passes": 1, "reserve": True},
        ],
        "fixed": [{"group": "G1", "pass": 2, "step": "expose", "place": "S2", "start_s": 0}],
    }


def fault_of(text: str) -> str:
    with pytest.raises(ClassFileFault) as caught:
        read_class_file(text)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_every_field_of_a_class_file_is_read() -> None:
    assert read_class_file(json.dumps(sample())) == Problem(
        name="Tuesday",
        periods=((0, 3000), (3600, 6600)),
        places=(
            Place("S1", 1, "room", "table"),
            Place("S2", 1, "room"),
            Place(
                "tray",
                2,
                closed=((900, 1200), (60, 120)),
                charges=(Charge(0, 3000, 24), Charge(2700, 6600)),
            ),
        ),
        steps=(
            Step("align", ("S1", "S2"), 300, "lit", "moves", 1200),
            Step("expose", "same", {"S1": 8, "S2": 10}, "dark", "still"),
            Step("develop", ("tray",), 20, attended=False),
        ),
        groups=(
            Group("G1", 2),
            Group("G2", 1, (Step("look", ("S1",), 5),), any_order=True),
            Group("R1", 1, reserve=True),
        ),
        fixed=(Fixed("G1", 2, "expose", "S2", 0),),
        light_zones=(LightZone("room", 90),),
    )


def test_every_field_of_a_class_file_is_written_and_read_back() -> None:
    problem = read_class_file(json.dumps(sample()))
    assert read_class_file(write_class_file(problem)) == problem


@pytest.mark.parametrize("path", sorted(INSTANCES.glob("*.json")), ids=lambda path: path.stem)
def test_every_instance_is_read_and_written_back(path: Any) -> None:
    problem = read_class_file(path.read_text(encoding="utf-8"))
    assert read_class_file(write_class_file(problem)) == problem


def test_steps_for_each_pass_are_written_and_read_back() -> None:
    first, again = Step("align", ("S1",), 300), Step("align", ("S1",), 60)
    group = Group("G1", 2, pass_steps=((first,), (again,)))
    problem = Problem("x", ((0, 900),), (Place("S1", 1),), (), (group,))
    assert read_class_file(write_class_file(problem)) == problem


def put(path: str, value: object) -> Callable[[dict[str, Any]], None]:
    """Return a change that sets the field at a dotted path."""
    *before, last = [int(part) if part.isdigit() else part for part in path.split(".")]

    def change(whole: dict[str, Any]) -> None:
        item: Any = whole
        for part in before:
            item = item[part]
        item[last] = value

    return change


def drop(path: str) -> Callable[[dict[str, Any]], None]:
    *before, last = [int(part) if part.isdigit() else part for part in path.split(".")]

    def change(whole: dict[str, Any]) -> None:
        item: Any = whole
        for part in before:
            item = item[part]
        del item[last]

    return change


G1_STEPS = [{"name": "look", "at": ["S1"], "seconds": 5}]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (put("groups.0.passes", 0), "groups[0].passes: 0 is not a whole number of at least 1"),
        (put("groups.0.passes", True), "groups[0].passes: true is not a whole number of at least 1"),
        (put("groups.0.passes", 1.5), "groups[0].passes: 1.5 is not a whole number of at least 1"),
        (put("groups.0.passes", "2"), 'groups[0].passes: "2" is not a whole number of at least 1'),
        (put("groups.0.passes", 1001), "groups[0].passes: 1001 is more than 1000"),
        (put("groups.1.name", "G1"), 'groups[1].name: "G1" is used twice'),
        (put("groups.0.any_order", 1), "groups[0].any_order: 1 is neither true nor false"),
        (put("groups.0.colour", "red"), "groups[0].colour: is not a known field"),
        (put("groups", []), "groups: the list is empty"),
        (put("groups", {}), "groups: {} is not a list"),
        (put("groups.0", 3), "groups[0]: 3 is not an object"),
        (put("groups.1.steps", []), "groups[1].steps: the list is empty"),
        (put("groups.0.pass_steps", [G1_STEPS]), "groups[0].pass_steps: has 1 lists of steps for 2 passes"),
        (
            put("groups.1.pass_steps", [G1_STEPS]),
            "groups[1].pass_steps: a group has either steps or pass_steps, not both",
        ),
        (drop("name"), "name: is missing"),
        (put("name", ""), "name: is empty"),
        (put("name", 7), "name: 7 is not text"),
        (put("name", "a\nb"), 'name: "a\\nb" has characters that cannot be printed'),
        (put("name", "\ud800"), 'name: "\\ud800" has characters that cannot be printed'),
        (put("name", "x" * 201), "name: is longer than 200 characters"),
        (put("note", ""), "note: is not a known field"),
        (put("periods", []), "periods: the list is empty"),
        (put("periods.0", [5, 5]), "periods[0]: the period ends at 5, not after its start at 5"),
        (put("periods.0", [0]), "periods[0]: [0] is not a start and an end"),
        (put("periods.0.0", -1), "periods[0][0]: -1 is not a whole number of at least 0"),
        (put("periods.1.0", 2999), "periods[1]: begins before the period before it has ended"),
        (put("places.0.capacity", 0), "places[0].capacity: 0 is not a whole number of at least 1"),
        (put("places.0.capacity", None), "places[0].capacity: null is not a whole number of at least 1"),
        (put("places.1.name", "S1"), 'places[1].name: "S1" is used twice'),
        (put("places.0.light_zone", 3), "places[0].light_zone: 3 is not text"),
        (drop("places.0.capacity"), "places[0].capacity: is missing"),
        (put("places.2.closed", 5), "places[2].closed: 5 is not a list"),
        (put("places.2.closed.0", [5]), "places[2].closed[0]: [5] is not a start and an end"),
        (
            put("places.2.closed.1", [9, 9]),
            "places[2].closed[1]: the closed time ends at 9, not after its start at 9",
        ),
        (put("places.2.charges", None), "places[2].charges: null is not a list"),
        (drop("places.2.charges.0.from_s"), "places[2].charges[0].from_s: is missing"),
        (
            put("places.2.charges.1.until_s", 2700),
            "places[2].charges[1]: the charge ends at 2700, not after its start at 2700",
        ),
        (
            put("places.2.charges.0.plates", 0),
            "places[2].charges[0].plates: 0 is not a whole number of at least 1",
        ),
        (
            put("places.2.charges.0.volume_ul", 1),
            "places[2].charges[0].volume_ul: is not a known field",
        ),
        (put("light_zones", {}), "light_zones: {} is not a list"),
        (put("light_zones.0.name", "roof"), 'light_zones[0].name: no place is in the light zone "roof"'),
        (
            put("light_zones", [{"name": "room", "afterglow_s": 1}] * 2),
            'light_zones[1].name: "room" is used twice',
        ),
        (drop("light_zones.0.afterglow_s"), "light_zones[0].afterglow_s: is missing"),
        (
            put("light_zones.0.afterglow_s", -1),
            "light_zones[0].afterglow_s: -1 is not a whole number of at least 0",
        ),
        (put("groups.2.reserve", "yes"), 'groups[2].reserve: "yes" is neither true nor false'),
        (
            put("steps.0.at", "same"),
            'steps[0].at: the first step has no step before it, so it cannot be at "same"',
        ),
        (put("steps.0.at", "S1"), 'steps[0].at: "S1" is neither "same" nor a list of places'),
        (put("steps.0.at", ["S9"]), 'steps[0].at[0]: there is no place "S9"'),
        (put("steps.2.at", ["tray", "tray"]), 'steps[2].at[1]: "tray" is listed twice'),
        (put("steps.2.at", []), "steps[2].at: the list is empty"),
        (put("steps.0.seconds", 0), "steps[0].seconds: 0 is not a whole number of at least 1"),
        (put("steps.0.seconds", 10**9), "steps[0].seconds: 1000000000 is more than 31622400"),
        (put("steps.1.seconds", {"S1": 8}), 'steps[1].seconds: has no time for "S2"'),
        (put("steps.1.seconds.tray", 8), 'steps[1].seconds: the step is never at "tray"'),
        (put("steps.1.seconds.S1", -8), "steps[1].seconds.S1: -8 is not a whole number of at least 1"),
        (put("steps.1.seconds", {}), "steps[1].seconds: the object is empty"),
        (put("steps.1.light", "dim"), 'steps[1].light: "dim" is not one of dark, lit, any'),
        (put("steps.1.still", None), "steps[1].still: null is not one of still, moves, any"),
        (put("steps.1.max_wait_s", -1), "steps[1].max_wait_s: -1 is not a whole number of at least 0"),
        (put("steps.1.attended", "no"), 'steps[1].attended: "no" is neither true nor false'),
        (put("steps.1.name", "align"), 'steps[1].name: "align" is used twice'),
        (drop("steps"), "groups[0].steps: the file has no steps of its own, so this group needs some"),
        (put("fixed.0.group", "G9"), 'fixed[0].group: there is no group "G9"'),
        (put("fixed.0.pass", 3), "fixed[0].pass: group G1 has no pass 3"),
        (put("fixed.0.step", "dry"), 'fixed[0].step: group G1 has no step "dry"'),
        (put("fixed.0.place", "tray"), 'fixed[0].place: step expose is never at "tray"'),
        (put("fixed.0.start_s", -1), "fixed[0].start_s: -1 is not a whole number of at least 0"),
        (put("fixed", None), "fixed: null is not a list"),
    ],
)
def test_a_fault_is_named_with_its_field(change: Callable[[dict[str, Any]], None], fault: str) -> None:
    whole = sample()
    change(whole)
    assert fault_of(json.dumps(whole)) == fault


@pytest.mark.parametrize(
    ("second", "fault"),
    [
        (
            {"group": "G1", "pass": 2, "step": "expose", "place": "S2", "start_s": 90},
            'fixed[1].step: "expose" of this pass is already fixed',
        ),
        (
            {"group": "G1", "pass": 2, "step": "align", "place": "S2", "start_s": 900},
            "fixed[1].start_s: expose begins before align has ended",
        ),
        (
            {"group": "G1", "pass": 2, "step": "align", "place": "S1", "start_s": 300},
            "fixed[1].place: expose must stay where align is, at S1",
        ),
    ],
)
def test_fixed_steps_of_a_pass_that_contradict_each_other_are_refused(
    second: dict[str, Any], fault: str
) -> None:
    whole = sample()
    whole["fixed"][0]["start_s"] = 600
    whole["fixed"].append(second)
    assert fault_of(json.dumps(whole)) == fault


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('{"name": \n oops}', "line 2, column 2: not JSON: Expecting value"),
        ("[]", "class file: [] is not an object"),
        ('{"name": "a", "name": "b"}', '"name": is given twice in one object'),
        ('{"name": NaN}', "class file: NaN is not a number"),
        ("[" * 100_000, "class file: lists and objects are nested too deeply"),
        ('{"name": ' + "9" * 5000 + "}", "class file: a number has too many digits"),
    ],
)
def test_text_that_is_not_a_class_file_is_refused(text: str, fault: str) -> None:
    assert fault_of(text) == fault


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@given(st.sampled_from(sorted(sample())), JSON)
def test_whatever_stands_in_a_field_is_read_or_refused_in_one_line(field: str, value: object) -> None:
    whole = sample() | {field: value}
    fault: ClassFileFault | None = None
    try:
        read_class_file(json.dumps(whole))
    except ClassFileFault as caught:
        fault = caught
    assert fault is None or str(fault).splitlines() == [str(fault)]


ZONES = st.none() | st.sampled_from(("room", "Sälchen"))
CHARGES = st.builds(
    lambda from_s, long, plates: Charge(from_s, from_s + long, plates),
    st.integers(0, 5000), st.integers(1, 5000), st.none() | st.integers(1, 9),
)  # fmt: skip


@st.composite
def _problems(draw: st.DrawFn) -> Problem:
    """Small problems with every field of a class file."""
    names = ("S1", "S2", "Wässerung")[: draw(st.integers(1, 3))]
    places = tuple(
        Place(
            name,
            draw(st.integers(1, 4)),
            draw(ZONES),
            draw(ZONES),
            tuple(draw(st.lists(st.sampled_from(((0, 60), (90, 120))), unique=True, max_size=2).map(sorted))),
            tuple(draw(st.lists(CHARGES, max_size=2))),
        )
        for name in names
    )
    steps = tuple(
        Step(
            f"step {number}",
            draw(st.just("same") if number and draw(st.booleans()) else st.just(names)),
            draw(st.integers(1, 900)),
            draw(st.sampled_from(("dark", "lit", "any"))),
            draw(st.sampled_from(("still", "moves", "any"))),
            draw(st.none() | st.integers(0, 900)),
            draw(st.booleans()),
        )
        for number in range(draw(st.integers(1, 3)))
    )
    groups = tuple(
        Group(
            f"G{number}",
            1,
            draw(st.none() | st.just(steps)),
            any_order=draw(st.booleans()),
            reserve=draw(st.booleans()),
        )
        for number in range(draw(st.integers(1, 3)))
    )
    used = sorted({place.light_zone for place in places if place.light_zone})
    zones = tuple(LightZone(zone, draw(st.integers(0, 300))) for zone in used)
    return Problem("Übung “1”", ((0, 3000), (3600, 6600)), places, steps, groups, (), zones)


@given(_problems())
def test_a_class_file_taken_in_and_written_again_is_the_same_byte_for_byte(problem: Problem) -> None:
    written = write_class_file(problem)
    read = read_class_file(written)

    assert read == problem
    assert write_class_file(read).encode() == written.encode()
