"""A plan becomes what is called: each beginning once, the lights when no dark step lasts, stillness while a still step does."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.cues import CallKind, Cue, CueVisit, EndsBy, cues, dark_windows
from server.core.rounds import union
from tests.core.worked_rota import clock, rota

WAVES = ("09:08:00", "09:14:00", "09:20:00", "09:26:00")


def _at(found: tuple[Cue, ...], kind: CallKind) -> list[str]:
    return [clock(cue.at_s) for cue in found if any(call.kind is kind for call in cue.calls)]


def test_the_worked_rota_of_nine_pairs_is_called_at_its_times() -> None:
    """The rota's own times: hold still 09:09:30 to 09:13:15 and so on, lights from 09:35, P1 to P3 leave the trays at 09:23."""
    found = cues(rota(), afterglow_s=300)

    assert _at(found, CallKind.HOLD_STILL) == ["09:09:30", "09:15:30", "09:21:30", "09:27:30"]
    assert _at(found, CallKind.MOVE) == ["09:13:15", "09:19:15", "09:25:15", "09:31:15"]
    assert _at(found, CallKind.SHUTTER_CLOSED) == _at(found, CallKind.MOVE)
    assert _at(found, CallKind.LIGHTS_OFF) == ["09:03:00"]
    assert _at(found, CallKind.LIGHTS_ALLOWED) == ["09:35:00"]
    assert [clock(cue.at_s) for cue in found if "Load" in cue.words or "load" in cue.words] == list(WAVES)
    assert clock(max(visit.end_s for visit in rota() if visit.group == "P1")) == "09:23:00"


def test_what_is_called_at_one_instant_is_one_cue_with_who_moves_where() -> None:
    cue = next(one for one in cues(rota()) if clock(one.at_s) == "09:14:00")

    assert cue.words == "Develop, load"
    assert [(call.step, [f"{mover.group} {mover.place}" for mover in call.movers]) for call in cue.calls] == [
        ("develop", ["P1 trays", "P2 trays", "P3 trays"]),
        ("load", ["P4 S1", "P5 S2", "P6 S3"]),
    ]


def test_shutters_and_baths_are_counted_from_their_call_and_wait_for_nobody() -> None:
    counted = [cue for cue in cues(rota()) if cue.counted_from]
    first = [(cue.words, cue.counted_from, cue.after_s) for cue in counted if "P1" in cue.counted_from]

    assert first == [
        ("Shutter closed, you may move", "P1/1/expose", 15),
        ("Rinse", "P1/1/develop", 150),
        ("Bleach", "P1/1/develop", 180),
        ("Wash", "P1/1/develop", 300),
        ("Wet", "P1/1/develop", 480),
    ]


def test_stations_that_open_on_one_call_close_each_at_its_own_second() -> None:
    """Irradiances of 60, 48 and 31 µW/cm² and a dose of 600 µJ/cm²: 10, 12.5 and 19.4 s, here in whole seconds."""
    together = [
        CueVisit(group, 1, "expose", place, 100, 100 + seconds, "any", "still", EndsBy.SHUTTER)
        for group, place, seconds in (("A", "S1", 10), ("B", "S2", 13), ("C", "S3", 20))
    ]
    opened, *closed = cues(together)

    assert opened.words == "Hold still, shutter open"
    assert [(mover.place, mover.seconds) for mover in opened.calls[-1].movers] == [
        ("S1", 10),
        ("S2", 13),
        ("S3", 20),
    ]
    assert [(cue.words, cue.after_s) for cue in closed] == [
        ("Shutter closed", 10),
        ("Shutter closed", 13),
        ("Shutter closed, you may move", 20),
    ]


def _step(step: str, starts: int, ends: int, light: str = "any", **other: object) -> CueVisit:
    return replace(CueVisit("G1", 1, step, "S1", starts, ends, light), **other)  # type: ignore[arg-type]


def test_for_a_few_seconds_between_two_plates_nobody_switches_the_lamps_on() -> None:
    pair = [_step("load", 600, 660, "dark"), _step("load", 700, 760, "dark", pass_no=2)]

    assert _at(cues(pair), CallKind.LIGHTS_OFF) == ["09:10:00"]
    assert _at(cues(pair), CallKind.LIGHTS_ALLOWED) == ["09:12:40"]


def test_a_lit_step_between_two_plates_gets_its_light_and_the_lamps_their_afterglow() -> None:
    day = [
        _step("load", 600, 660, "dark"),
        _step("look", 660, 670, "lit", pass_no=3),
        _step("load", 700, 760, "dark", pass_no=2),
    ]

    assert _at(cues(day, afterglow_s=30), CallKind.LIGHTS_OFF) == ["09:09:30", "09:11:10"]
    assert _at(cues(day, afterglow_s=30), CallKind.LIGHTS_ALLOWED) == ["09:11:00", "09:12:40"]


def test_light_in_another_room_switches_nothing_here() -> None:
    day = [
        _step("load", 600, 660, "dark", light_zone="cellar"),
        _step("look", 660, 690, "lit", light_zone="corridor", pass_no=3),
        _step("load", 700, 760, "dark", light_zone="cellar", pass_no=2),
    ]

    assert _at(cues(day), CallKind.LIGHTS_ALLOWED) == ["09:12:40"]


@st.composite
def classes(draw: st.DrawFn) -> list[CueVisit]:
    """Plates at random: chains of steps with and without waits between them, whatever light and stillness they need."""
    visits = []
    for number in range(draw(st.integers(1, 4))):
        at_s = draw(st.integers(0, 300))
        for step in range(draw(st.integers(1, 5))):
            lasts_s = draw(st.integers(1, 90))
            visits.append(
                CueVisit(
                    f"G{number % 3 + 1}",
                    number // 3 + 1,
                    f"step {step}",
                    draw(st.sampled_from(["S1", "S2", "tray"])),
                    at_s,
                    at_s + lasts_s,
                    draw(st.sampled_from(["dark", "dark", "lit", "any"])),
                    draw(st.sampled_from(["still", "moves", "any"])),
                    draw(st.sampled_from(list(EndsBy))),
                    longest_wait_s=draw(st.sampled_from([None, 0, 60])),
                )
            )
            at_s += lasts_s + draw(st.sampled_from([0, 0, 20, 200]))
    return visits


@given(classes(), st.integers(0, 60))
def test_every_visit_begins_with_one_cue_at_its_second(visits: list[CueVisit], afterglow_s: int) -> None:
    found = cues(visits, afterglow_s=afterglow_s)
    begun = [(key, cue.at_s) for cue in found for key in cue.begins]

    assert sorted(begun) == sorted((visit.key, visit.start_s) for visit in visits)
    assert [cue.at_s for cue in found] == sorted(cue.at_s for cue in found)
    assert len({cue.key for cue in found}) == len(found)


@given(classes(), st.integers(0, 60))
def test_lights_are_allowed_only_while_no_dark_step_lasts(visits: list[CueVisit], afterglow_s: int) -> None:
    """Allowed from its call to the next call of lights off; before the first one the lights are on anyway."""
    calls = [(cue.at_s, cue.light) for cue in cues(visits, afterglow_s=afterglow_s) if cue.light]
    windows = dark_windows(visits)

    assert [light for _at, light in calls] == ["off", "allowed"] * (len(calls) // 2)
    offs = [at_s for at_s, light in calls if light == "off"]
    for at_s, light in calls:
        if light == "allowed":
            until = next((off for off in offs if off > at_s), None)
            for opens, closes in windows:
                assert closes <= at_s or (until is not None and opens >= until + afterglow_s)
    assert not windows or offs[0] == windows[0][0] - afterglow_s


@given(classes())
def test_it_is_to_be_held_still_exactly_while_a_still_step_lasts(visits: list[CueVisit]) -> None:
    held: list[list[int]] = []
    for cue in cues(visits):
        kinds = [call.kind for call in cue.calls]
        if CallKind.MOVE in kinds:
            held[-1].append(cue.at_s)
        if CallKind.HOLD_STILL in kinds:
            held.append([cue.at_s])

    assert [tuple(one) for one in held] == list(
        union((visit.start_s, visit.end_s) for visit in visits if visit.still == "still")
    )


@given(classes())
def test_what_is_counted_hangs_on_a_call_before_it(visits: list[CueVisit]) -> None:
    found = cues(visits)
    called = {cue.key: cue for cue in found if not cue.counted_from}

    for cue in found:
        if cue.counted_from:
            assert called[cue.counted_from].at_s + cue.after_s == cue.at_s
            assert cue.after_s > 0


@pytest.mark.parametrize("light", ["lit", "any"])
def test_a_class_without_darkness_calls_no_lights(light: str) -> None:
    assert not any(cue.light for cue in cues([_step("look", 0, 60, light)]))
