"""What changes to a rotation would bring, over HTTP, with the real planner in its processes."""

import time as clock
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

import pytest
from bs4 import BeautifulSoup

from server.core.planning import plan, write_class_file
from server.data.session import LabSession
from server.questions.actions import take_in_class_file
from server.rotations.actions import SEED, add_rotation, keep_plan, plan_question, publish, set_plates
from server.rotations.models import Rotation
from server.rotations.queries import list_group_plates
from server.what_ifs.actions import begin_what_ifs, end_what_ifs, keep_outlook
from server.what_ifs.queries import find_set, map_outlooks
from tests.casts import MORNING, Cast
from tests.conftest import Running, Visitor
from tests.core.planning.tuesday import TALK_S, tuesday
from tests.reading import text_of
from tests.rotations.rooms import furnish

InLab = Callable[[], AbstractContextManager[LabSession]]
DAY = date(2027, 2, 16)


@dataclass(frozen=True)
class Asking:
    """Rotations of the cellar lab's section, planned, to ask about."""

    in_lab: InLab
    section_id: int

    def rotation(
        self, *, ends: time = time(12), plates: int = 1, talk_s: int = 0, published: bool = False
    ) -> int:
        with self.in_lab() as session:
            added = add_rotation(
                session, section_id=self.section_id, name="First plates", day=DAY, starts=time(10), ends=ends,
                plates_per_group=plates, now=MORNING, zone="Europe/Berlin",
            )  # fmt: skip
            added.talk_s = talk_s
            session.flush()
            problem = plan_question(session, added.id)
            keep_plan(session, added.id, problem, plan(problem, seconds=2, seed=SEED), seed=SEED, now=MORNING)
            if published:
                publish(session, added.id, now=MORNING)
            return added.id


@pytest.fixture
def asking(in_lab: InLab, cast: Cast) -> Asking:
    with in_lab() as session:
        furnish(session)
    return Asking(in_lab, cast.section_id)


def _rows(page: BeautifulSoup, label: str = "One change at a time") -> dict[str, list[str]]:
    """The cells of each line, by the change's words."""
    return {
        next(iter(row.th.stripped_strings)): [cell.get_text(" ", strip=True) for cell in row.select("td")]
        for row in page.select(f'[aria-label="{label}"] tbody tr')
        if row.th
    }


def _worked_out(visitor: Visitor, rotation: int) -> BeautifulSoup:
    """Ask, and look until all is there."""
    address = f"/rotations/{rotation}/what-if"
    page = visitor.submit(address)
    while page.select_one("#what-if[hx-get]"):
        clock.sleep(0.1)
        page = visitor.page(address)
    return page


def test_what_could_be_changed_is_named_before_it_is_worked_out(mira: Visitor, asking: Asking) -> None:
    page = mira.page(f"/rotations/{asking.rotation(talk_s=480)}/what-if")

    assert "As it is, all 3 plates fit; the first group begins at 10:" in text_of(page)
    assert [line.get_text(strip=True) for line in page.select("#what-if li")][:2] == [
        "The talk moved to the pre-lab",
        "One more station",
    ]
    assert page.select_one("form button")
    assert not page.select("table")


def test_every_change_is_worked_out_and_what_helps_most_stands_first(mira: Visitor, asking: Asking) -> None:
    page = _worked_out(mira, asking.rotation())
    rows, words = _rows(page), text_of(page)
    saved = [cells[1] for cells in rows.values()]

    assert next(iter(rows)) == "One more station"
    assert rows["One more station"][2:] == ["3 of 3", "proven"]
    assert rows["10 more minutes at the end"][1:] == ["nothing", "3 of 3", "proven"]
    assert rows["One group fewer"][2].startswith("1 fewer, 2 of 2")
    assert f"One more station: {saved[0]} sooner" in words
    assert "3 stations instead of 2; the new one is like S1." in words
    assert f"with it = {saved[0]}." in words
    assert "Proven: no plan of the changed class makes more plates" in words


def test_the_answers_stay_for_everybody_and_are_not_worked_out_twice(
    mira: Visitor, tomas: Visitor, asking: Asking
) -> None:
    rotation = asking.rotation()
    first = _rows(_worked_out(mira, rotation))
    with asking.in_lab() as session:
        before = find_set(session, rotation)
        assert begin_what_ifs(session, rotation, now=MORNING) is None
        assert before is not None
        set_id = before.id
    again = mira.submit(f"/rotations/{rotation}/what-if")
    with asking.in_lab() as session:
        after = find_set(session, rotation)

    assert after is not None
    assert after.id == set_id
    assert _rows(again) == first == _rows(tomas.page(f"/rotations/{rotation}/what-if"))
    assert not again.select("#what-if form")


def test_a_class_that_does_not_fit_is_told_what_would_make_room(mira: Visitor, asking: Asking) -> None:
    """Three groups of two plates in little more than half an hour: some are left out, and the page says what brings them in."""
    rotation = asking.rotation(ends=time(10, 36), plates=2, talk_s=480)
    page = _worked_out(mira, rotation)
    rows, words = _rows(page), text_of(page)
    with asking.in_lab() as session:
        asked = find_set(session, rotation)
        assert asked is not None
        outlooks = map_outlooks(session, asked.id)

    placed = outlooks["again"].placed
    assert f"As it is, {placed} of the 6 plates fit" in words
    assert placed < outlooks["minutes-10"].placed
    assert any("more" in cells[2] for cells in rows.values())
    assert rows["10 more minutes at the end"][1] == "–"
    assert f"fit instead of {placed}; the last of them is done at" in words


def test_two_changes_that_make_room_for_everybody_stand_first(
    mira: Visitor, asking: Asking, cast: Cast
) -> None:
    """The class of the first story: 18 plates in 50 min. Only ten more minutes do it alone; the pairs ask less of a lab."""
    with asking.in_lab() as session:
        rotation = take_in_class_file(
            session, section_id=cast.section_id, day=DAY, starts=time(9), class_file=write_class_file(tuesday()),
            now=MORNING, zone="Europe/Berlin",
        )  # fmt: skip
        rotation.talk_s = TALK_S
        rotation_id = rotation.id
    mira.submit(f"/rotations/{rotation_id}/plan")
    page = _worked_out(mira, rotation_id)
    pairs = _rows(page, "Two changes that make room for every plate")
    singles = _rows(page)

    assert [cells[2] for cells in pairs.values()] == ["6 more, 18 of 18"] * 3
    assert list(pairs) == [
        "The talk moved to the pre-lab and a minute less of “settle”",
        "The talk moved to the pre-lab and one more station",
        "A minute less of “settle” and one more station",
    ]
    assert singles["One more station"][1:] == ["–", "4 more, 16 of 18", "proven"]
    assert singles["The talk moved to the pre-lab"][2] == "3 more, 15 of 18"
    assert singles["One more minute at the end"][2] == "12 of 18"
    assert "10 more minutes at the end: 6 plates more, so that all of them fit" in text_of(page)


def test_when_the_plan_changes_the_old_answers_are_gone(mira: Visitor, asking: Asking) -> None:
    rotation = asking.rotation()
    _worked_out(mira, rotation)
    with asking.in_lab() as session:
        group = list_group_plates(session, rotation)[0]
        set_plates(session, rotation, {group.group_id: 2})
    stale = mira.page(f"/rotations/{rotation}/what-if")
    with asking.in_lab() as session:
        problem = plan_question(session, rotation)
        keep_plan(session, rotation, problem, plan(problem, seconds=2, seed=SEED), seed=SEED, now=MORNING)
    fresh = mira.page(f"/rotations/{rotation}/what-if")

    assert "was changed after its plan was made" in text_of(stale)
    assert not stale.select("#what-if table, #what-if form")
    assert not fresh.select("table")
    assert fresh.select("#what-if form")
    assert "As it is, all 4 plates fit" in text_of(fresh)


def test_a_rotation_without_a_plan_can_t_be_asked_about(mira: Visitor, asking: Asking) -> None:
    with asking.in_lab() as session:
        draft = add_rotation(
            session, section_id=asking.section_id, name="Draft", day=DAY, starts=time(10), ends=time(12),
            plates_per_group=1, now=MORNING, zone="Europe/Berlin",
        ).id  # fmt: skip
    page = mira.submit(f"/rotations/{draft}/what-if", status=409)

    assert "There is no plan yet" in text_of(mira.page(f"/rotations/{draft}/what-if"))
    assert "Press Plan first" in text_of(page)


def test_a_published_rotation_may_be_asked_about(mira: Visitor, asking: Asking) -> None:
    rotation = asking.rotation(published=True)

    assert _rows(_worked_out(mira, rotation))
    assert f"/rotations/{rotation}/what-if" in str(mira.page(f"/rotations/{rotation}"))


def test_a_technician_may_look_and_not_ask(tomas: Visitor, asking: Asking) -> None:
    rotation = asking.rotation()
    page = tomas.page(f"/rotations/{rotation}/what-if")
    refused = tomas.submit(f"/rotations/{rotation}/what-if", status=403)

    assert "An instructor can have these worked out" in text_of(page)
    assert not page.select("#what-if form")
    assert "Only an instructor can do this" in text_of(refused)


def test_another_lab_s_rotation_is_not_here(noor: Visitor, asking: Asking) -> None:
    rotation = asking.rotation()

    noor.page(f"/rotations/{rotation}/what-if", status=404)
    noor.submit(f"/rotations/{rotation}/what-if", status=404)


def test_the_page_fills_while_answers_come_in(mira: Visitor, asking: Asking) -> None:
    """The part asks for itself every second until all is there; without scripts a link leads to the same."""
    rotation = asking.rotation()
    with asking.in_lab() as session:
        begun = begin_what_ifs(session, rotation, now=MORNING)
        assert begun is not None
        keep_outlook(session, begun, "station", begun.weighed.before)
    address = f"/rotations/{rotation}/what-if"
    page = mira.page(address)
    part = mira.get(address, headers={"HX-Request-Type": "partial", "HX-Request": "true"})
    rows = _rows(page)

    assert f"1 of {len(rows)} worked out …" in text_of(page)
    assert rows["One more station"][1:] == ["nothing", "3 of 3", "proven"]
    assert rows["One group fewer"] == ["…", "…", "…", "not yet"]
    assert part.text.lstrip().startswith('<div id="what-if"')
    assert page.select_one(f'#what-if[hx-get="{address}"]')
    assert page.select_one(f'a[href="{address}"]')


def test_a_search_that_was_cut_short_is_not_called_proof(mira: Visitor, asking: Asking) -> None:
    """Where nothing is known but that more was not found, the page says no more than that."""
    rotation = asking.rotation(ends=time(10, 36), plates=2, talk_s=480)
    with asking.in_lab() as session:
        begun = begin_what_ifs(session, rotation, now=MORNING)
        assert begun is not None
        for change in begun.weighed.asked:
            keep_outlook(session, begun, change.key, replace(begun.weighed.before, bound_s=0, most=False))
        end_what_ifs(session, begun, now=MORNING)
    page = mira.page(f"/rotations/{rotation}/what-if")
    words = text_of(page)

    assert "(the search was cut short before it knew whether more fit)" in words
    assert "Nothing was found that makes the class end sooner" in words
    assert "Nothing of this makes" not in words
    assert _rows(page)["One more station"][1] == "nothing found"
    assert _rows(page)["One more station"][3] == "cut short"


def test_what_was_broken_off_can_be_asked_again(mira: Visitor, server: Running, asking: Asking) -> None:
    """A minute later nobody works on it any more: its server was stopped."""
    rotation = asking.rotation()
    with asking.in_lab() as session:
        begun = begin_what_ifs(session, rotation, now=MORNING)
        assert begun is not None
        assert begin_what_ifs(session, rotation, now=MORNING + timedelta(seconds=59)) is None
    server.clock.instant = MORNING + timedelta(seconds=60)
    page = mira.page(f"/rotations/{rotation}/what-if")

    assert "could not be worked out in time. Ask once more." in text_of(page)
    assert page.select("#what-if form")
    assert "proven" in _rows(_worked_out(mira, rotation))["One more station"]


def test_an_answer_for_a_plan_that_is_gone_is_not_kept(asking: Asking) -> None:
    rotation = asking.rotation()
    with asking.in_lab() as session:
        begun = begin_what_ifs(session, rotation, now=MORNING)
        assert begun is not None
    with asking.in_lab() as session:
        row = session.get(Rotation, rotation)
        assert row is not None
        row.talk_s = 600
        session.flush()
        newer = begin_what_ifs(session, rotation, now=MORNING)
        assert newer is not None
    with asking.in_lab() as session:
        keep_outlook(session, begun, "station", begun.weighed.before)
        end_what_ifs(session, begun, now=MORNING)
    with asking.in_lab() as session:
        current = find_set(session, rotation)
        assert current is not None

        assert (current.id, current.done_at) == (newer.set_id, None)
        assert map_outlooks(session, newer.set_id) == {}
