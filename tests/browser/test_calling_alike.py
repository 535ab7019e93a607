"""Devices count by themselves: what they work out is what the server's core does, for any class and any events."""

from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser

from server.callings.pages import cue_told, standing_told, visits_told
from server.core.calling import Answered, Event, EventKind, answer, replay
from server.core.class_now import Situation, situation
from server.core.standing import ClassPlan, Standing, pending
from server.web.show import ROOT
from tests.core.test_calling import stories

pytestmark = pytest.mark.browser

# What a device takes on before the server has told it.
OWN = [
    kind
    for kind in EventKind
    if kind not in {EventKind.REPEAT, EventKind.LEFT_OUT, EventKind.CAUGHT_UP, EventKind.UNDONE}
]

AS_THE_SERVER = """([told, events, now, alone]) => {
  const { standing } = withOwn(told, events);
  const here = situation(told, standing, now, alone);
  return {
    standing,
    mode: here.mode,
    room: here.room,
    isDark: here.isDark,
    isOver: here.isOver,
    covered: here.covered,
    late: here.late,
    ahead: here.ahead.map(({ cue, due }) => [cue.key, due, cueWords(cue), cue.begins, cue.light, cue.calls.map((call) => [call.kind, call.movers.map(([key]) => key)])]),
    goingOn: here.goingOn.map(({ visit, starts, ends }) => [visit.key, starts, ends]),
    counting: here.counting.map(({ at, kind, visit }) => [at, kind, visit.key]),
  };
}"""


def _told(plan: ClassPlan, standing: Standing, undo: Mapping[str, Any] | None) -> dict[str, Any]:
    return {
        "periods": plan.periods,
        "visits": visits_told(standing.visits),
        "cues": [cue_told(cue) for cue in standing.calls],
        "standing": standing_told(standing),
        "undo": undo,
    }


def _as_the_device(here: Situation, standing: Standing) -> dict[str, Any]:
    return {
        "standing": standing_told(standing),
        "mode": here.mode,
        "room": here.room,
        "isDark": here.is_dark,
        "isOver": here.is_over,
        "covered": list(here.covered),
        "late": here.late_ms,
        "ahead": [
            [
                due.cue.key,
                due.due_ms,
                due.cue.words,
                list(due.cue.begins),
                due.cue.light,
                [[call.kind, [mover.key for mover in call.movers]] for call in due.cue.calls],
            ]
            for due in here.ahead
        ],
        "goingOn": [[stay.visit.key, stay.starts_ms, stay.ends_ms] for stay in here.going_on],
        "counting": [[one.at_ms, one.kind, one.visit.key] for one in here.counting],
    }


def test_a_device_counts_as_the_server_does(chromium: Browser) -> None:
    page = chromium.new_page()
    page.add_script_tag(path=ROOT / "static" / "js" / "calling.js")

    @settings(max_examples=120)
    @given(
        stories(),
        st.lists(st.tuples(st.sampled_from(OWN), st.integers(0, 90_000), st.booleans()), max_size=4),
        st.integers(0, 900_000),
        st.one_of(st.none(), st.integers(0, 200_000)),
    )
    def alike(
        story: tuple[ClassPlan, list[Event]],
        own: list[tuple[EventKind, int, bool]],
        later_ms: int,
        alone_ms: int | None,
    ) -> None:
        plan, events = story
        replayed = replay(plan, events)
        at_ms = max((event.at_ms for event in events), default=0)
        can_undo = replayed.before is not None and replayed.before.visits == replayed.standing.visits
        undo = (
            {"id": replayed.taken[-1].id, "words": "", "standing": standing_told(replayed.before)}
            if can_undo and replayed.before is not None
            else None
        )
        told = _told(plan, replayed.standing, undo)
        said: list[dict[str, object]] = []
        for number, (kind, waits_ms, is_undone) in enumerate(own):
            at_ms += waits_ms
            following = next(iter(pending(replayed.standing)), None)
            key = following.key if kind is EventKind.CALLED and following is not None else ""
            last = replayed.taken[-1].id if replayed.taken else ""
            # A device takes back what it said itself, and before that the last that it was told.
            undoes = last if is_undone and (last.startswith("own") or (can_undo and not said)) else ""
            event = Event(f"own{number}", EventKind.UNDONE if undoes else kind, at_ms, undoes=undoes)
            said.append(
                {"id": event.id, "kind": event.kind, "answers": undoes or key, "at": at_ms, "words": ""}
            )
            found = answer(plan, events, event, cue_key=key)
            if isinstance(found, Answered):
                events = [*events, found.event]
                replayed = replay(plan, events)
        now_ms = at_ms + later_ms
        alone_since = None if alone_ms is None else at_ms + alone_ms
        here = situation(plan, replayed.standing, now_ms=now_ms, alone_since_ms=alone_since)
        found_there = page.evaluate(AS_THE_SERVER, [told, said, now_ms, alone_since])

        assert found_there == _as_the_device(here, replayed.standing)

    alike()
    page.close()
