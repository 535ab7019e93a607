"""Which changes are offered for which class, and what each of them changes."""

from dataclasses import replace

from hypothesis import given, settings

from server.core.planning import (
    Change,
    Charge,
    Fixed,
    Group,
    LightZone,
    Place,
    Problem,
    changes_of,
    pairs_of,
    read_class_file,
    write_class_file,
)
from tests.core.planning.labs import instance, lab, problems, with_step


def _offered(problem: Problem, *, talk_s: int = 0) -> dict[str, Change]:
    return {change.key: change for change in changes_of(problem, talk_s=talk_s)}


def _place(problem: Problem, name: str) -> Place:
    return next(place for place in problem.places if place.name == name)


def test_a_usual_class_is_offered_one_more_of_everything() -> None:
    found = _offered(instance("typical-8-groups-2-stations"), talk_s=480)

    assert {key: change.words for key, change in found.items()} == {
        "talk": "The talk moved to the pre-lab",
        "station": "One more station",
        "tray-busiest": "One more place in bleach 1",
        "tray-every": "One more place in every tray",
        "dryer": "One more place at dryer",
        "minutes-1": "One more minute at the end",
        "minutes-10": "10 more minutes at the end",
        "share": "Two groups to a plate",
        "group-fewer": "One group fewer",
    }


def test_a_new_station_is_offered_wherever_the_first_one_is() -> None:
    """Also in a group's own steps, and for the same seconds; a station that is closed for a while has an open twin."""
    problem = with_step(lab(groups=3, stations=2), "expose", seconds={"S1": 70, "S2": 90})
    own = tuple(replace(step, at=("S1",)) if step.name == "align" else step for step in problem.steps)
    own = tuple(replace(step, seconds=70) if step.name == "expose" else step for step in own)
    places = (replace(problem.places[0], closed=((0, 600),)), *problem.places[1:])
    tied = replace(
        problem, places=places, groups=(*problem.groups[:2], replace(problem.groups[2], steps=own))
    )
    changed = _offered(tied)["station"].problem
    twin = changed.places[-1]

    assert (twin.light_zone, twin.still_zone, twin.capacity, twin.closed) == ("room", "table", 1, ())
    assert changed.steps[0].at == ("S1", "S2", twin.name)
    assert changed.steps[2].seconds_at(twin.name) == 70
    assert changed.groups[2].steps is not None
    assert changed.groups[2].steps[0].at == ("S1", twin.name)


def test_the_talk_leaves_three_minutes_and_moves_all_other_times_back() -> None:
    """Five of eight minutes are gained: second 0 lies five minutes earlier, and what is set by the clock comes five minutes later."""
    problem = lab(groups=2, stations=1, period_s=1000)
    mixed = replace(
        _place(problem, "developer"), charges=(Charge(0, 500, 3), Charge(500, 900)), closed=((600, 700),)
    )
    problem = replace(
        problem,
        periods=((0, 1000), (1200, 2000)),
        places=(*problem.places[:1], mixed, *problem.places[2:]),
    )
    change = _offered(problem, talk_s=480)["talk"]
    tray = _place(change.problem, "developer")

    assert change.earlier_s == 300
    assert change.problem.periods == ((0, 1300), (1500, 2300))
    assert tray.closed == ((900, 1000),)
    assert tray.charges == (Charge(0, 800, 3), Charge(800, 1200))


def test_a_short_talk_and_a_class_that_has_begun_keep_their_talk() -> None:
    problem = lab(groups=2, stations=1)
    begun = replace(problem, fixed=(Fixed("G1", 1, "align", "S1", 0),))

    assert "talk" not in _offered(problem, talk_s=180)
    assert "talk" not in _offered(begun, talk_s=480)


def test_only_a_settling_that_is_long_is_cut() -> None:
    """A still step with the exposure right behind it is a settling; the exposure itself is never cut."""
    problem = instance("typical-8-groups-2-stations")
    long = with_step(problem, "settle", seconds={"S1": 120, "S2": 200})

    assert "settle" not in _offered(problem)
    cut = _offered(long)["settle"].problem
    assert [cut.steps[2].seconds_at(name) for name in ("S1", "S2")] == [60, 140]
    assert cut.steps[3] == long.steps[3]


def test_only_a_tray_line_that_shakes_a_station_is_moved_away() -> None:
    problem = lab(groups=2, stations=1)
    shaking = with_step(
        replace(problem, places=tuple(replace(place, still_zone="table") for place in problem.places)),
        "develop",
        still="moves",
    )

    assert "bench" not in _offered(problem)
    apart = _offered(shaking)["bench"].problem
    assert [place.still_zone for place in apart.places] == ["table", None, "table", "table"]


def test_what_moves_beside_a_station_is_moved_away() -> None:
    problem = lab(groups=2, stations=1)
    bench = replace(problem.places[-1], still_zone="table")
    shaking = with_step(replace(problem, places=(*problem.places[:-1], bench)), "view", still="moves")

    assert _offered(shaking)["elsewhere"].words == "Bench away from the stations"
    assert _offered(shaking)["elsewhere"].problem.places[-1].still_zone is None


def test_lamps_that_glow_on_are_exchanged() -> None:
    problem = replace(lab(groups=2, stations=1), light_zones=(LightZone("room", 300),))

    assert "afterglow" not in _offered(lab(groups=2, stations=1))
    assert _offered(problem)["afterglow"].problem.light_zones == (LightZone("room", 0),)


def test_room_for_every_plate_is_enough_room() -> None:
    """Two plates need neither a third station nor a third place in a tray."""
    found = _offered(lab(groups=2, stations=2, tray_capacity=2))

    assert not {"station", "tray-busiest", "tray-every", "dryer"} & found.keys()


def test_fewer_plates_and_fewer_groups_leave_repeat_rounds_alone() -> None:
    problem = lab(groups=2, stations=1, passes=2)
    spare = Group("repeats", 2, reserve=True)
    problem = replace(problem, groups=(*problem.groups, spare))
    found = _offered(problem)

    assert found["plate-fewer"].problem.groups == (Group("G1", 1), Group("G2", 1), spare)
    assert found["group-fewer"].problem.groups == (Group("G1", 2), spare)
    assert "share" not in found


def test_groups_share_plates_two_by_two() -> None:
    assert [group.name for group in _offered(lab(groups=5, stations=1))["share"].problem.groups] == [
        "G1",
        "G2",
        "G3",
    ]


def test_pairs_combine_what_asks_least_first_and_give_no_plate_up() -> None:
    problem = lab(groups=6, stations=1)
    found = pairs_of(problem, changes_of(problem, talk_s=480), talk_s=480)
    both = next(pair for pair in found if pair.key == "talk+station")

    assert [pair.effort for pair in found] == sorted(pair.effort for pair in found)
    assert not any({"share", "group-fewer"} & set(pair.key.split("+")) for pair in found)
    assert "minutes-1+minutes-10" not in {pair.key for pair in found}
    assert both.earlier_s == 300
    assert both.words == "The talk moved to the pre-lab and one more station"
    assert len(both.problem.places) == len(problem.places) + 1
    assert both.problem.periods == ((0, 11100),)


@settings(max_examples=60)
@given(problems())
def test_every_change_of_every_class_is_a_class(problem: Problem) -> None:
    """It can be written as a class file and read again, so it keeps every rule that a class file is held to."""
    changes = changes_of(problem, talk_s=185)
    for change in (*changes, *pairs_of(problem, changes, talk_s=185)[:10]):
        assert read_class_file(write_class_file(change.problem)) == change.problem
        assert change.problem != problem
