"""Changes in the middle of a class over HTTP, with the real planner."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, time, timedelta

import pytest

from server.core.planning import whiteboard
from server.data.session import LabSession
from server.people.actions import enter_students, form_section_groups
from server.people.queries import list_groups
from server.rotations.actions import SEED, add_rotation, keep_plan, plan_question, publish
from server.rotations.queries import get_plan, list_visits
from server.stations.queries import list_places
from tests.casts import MORNING, Cast
from tests.conftest import Running, Visitor, words
from tests.reading import text_of
from tests.rotations.rooms import furnish

InLab = Callable[[], AbstractContextManager[LabSession]]
DAY = date(2027, 2, 16)
NINE = MORNING + timedelta(hours=1)


@dataclass(frozen=True)
class Class:
    """A published rotation of G1 to G3 on two stations, from nine to twelve."""

    rotation_id: int
    places: dict[str, int]
    groups: dict[str, int]
    in_lab: InLab

    @property
    def address(self) -> str:
        return f"/rotations/{self.rotation_id}/change"

    def starts(self) -> dict[tuple[str, int, str], tuple[str, int]]:
        """Where each visit is, and how many seconds after nine it begins."""
        names = {group_id: name for name, group_id in self.groups.items()}
        with self.in_lab() as session:
            kept = get_plan(session, self.rotation_id)
            assert kept is not None
            return {
                (names[visit.group_id], visit.pass_no, visit.step): (
                    visit.place,
                    round((visit.starts_at - NINE).total_seconds()),
                )
                for visit in list_visits(session, kept.id)
            }


@pytest.fixture
def lesson(in_lab: InLab, cast: Cast, server: Running) -> Class:
    assert server.clock.instant == MORNING
    with in_lab() as session:
        furnish(session)
        made = add_rotation(
            session,
            section_id=cast.section_id,
            name="First plates",
            day=DAY,
            starts=time(9),
            ends=time(12),
            plates_per_group=1,
            now=MORNING,
            zone="Europe/Berlin",
        )
        problem = plan_question(session, made.id)
        keep_plan(session, made.id, problem, whiteboard(problem), seed=SEED, now=MORNING)
        publish(session, made.id, now=MORNING)
        places = {place.name: place.id for place in list_places(session)}
        groups = {group.name: group.id for group in list_groups(session, cast.section_id)}
        return Class(made.id, places, groups, in_lab)


def proposal(visitor: Visitor, lesson: Class, what: str, **typed: object) -> tuple[str, str]:
    """The address of the proposal that a tap brings, and what stands on it."""
    answer = visitor.post(lesson.address, data={"what": what, **typed})
    assert answer.status_code == 200, words(answer)[:500]
    return answer.url.path, words(answer)


def test_a_late_start_is_proposed_and_taken_and_everything_follows(
    mira: Visitor, tomas: Visitor, lesson: Class
) -> None:
    before = lesson.starts()
    where, said = proposal(mira, lesson, "late 10")

    assert "The class begins 10 min late." in said
    assert "0 groups move, 3 stay" in said
    assert lesson.starts() == before

    page = mira.submit(f"{where}/take")

    assert page.select_one("table .state.well") is not None
    assert lesson.starts() == {key: (place, second + 600) for key, (place, second) in before.items()}
    assert "Changed at 08:00." in text_of(tomas.page(f"/rotations/{lesson.rotation_id}/sheet"))
    assert "The plan was changed at 08:00." in text_of(tomas.page(f"/rotations/{lesson.rotation_id}"))
    assert tomas.get(f"/rotations/{lesson.rotation_id}/chance").status_code == 200
    assert (
        tomas.get(f"/rotations/{lesson.rotation_id}/visits.csv")
        .text.splitlines()[1]
        .startswith("2027-02-16,09:10:00")
    )


def test_the_plan_before_stays_readable(mira: Visitor, tomas: Visitor, lesson: Class) -> None:
    where, _said = proposal(mira, lesson, "late 10")
    mira.submit(f"{where}/take")
    history = text_of(tomas.page(lesson.address))

    assert "The class begins 10 min late." in history
    assert "Tue 16 Feb 2027, 08:00 by Mira" in history
    assert "09:10" in text_of(tomas.page(where))
    assert "The plan before" in text_of(tomas.page(f"{where}?plan=old"))
    first = tomas.page(f"{where}?plan=old").select_one("#by-group tbody tr td")
    assert first is not None
    assert first.text == "09:00"


def test_a_proposal_that_is_left_changes_nothing(mira: Visitor, lesson: Class) -> None:
    before = lesson.starts()
    where, _said = proposal(mira, lesson, "late 10")
    page = mira.submit(f"{where}/drop")

    assert "left" in text_of(page)
    assert lesson.starts() == before
    assert mira.post(f"{where}/take").status_code == 409


def test_what_has_begun_stays_when_a_plate_fails(mira: Visitor, lesson: Class, server: Running) -> None:
    """At 09:08 G1 has loaded; its plate fails, and it makes another one after the others."""
    server.clock.instant = NINE + timedelta(minutes=7, seconds=30)
    before = lesson.starts()
    first = next(
        name for name, (_place, second) in ((key[0], at) for key, at in before.items()) if second == 0
    )
    where, said = proposal(mira, lesson, "plate", plate=f"{lesson.groups[first]}-1")

    assert f"Plate 1 of {first} failed and is made again." in said
    assert f"Lost: {first}, plate 1." in said
    assert "1 group makes a plate again" in said

    mira.submit(f"{where}/take")
    after = lesson.starts()

    begun = {key: at for key, at in before.items() if at[1] < 480}
    assert {key: at for key, at in after.items() if at[1] < 480} == begun
    assert (first, 2, "load") in after
    again = mira.post(lesson.address, data={"what": "plate", "plate": f"{lesson.groups[first]}-1"})
    assert again.status_code == 409
    assert "is lost already" in words(again)


def test_a_dead_station_is_used_no_more(mira: Visitor, lesson: Class) -> None:
    where, said = proposal(mira, lesson, f"station {lesson.places['S2']}")
    mira.submit(f"{where}/take")

    assert "S2 is out of order from 08:00 on." in said
    assert {place for key, (place, _minute) in lesson.starts().items() if key[2] == "load"} == {"S1"}


def test_a_station_that_comes_back_is_used_from_then_on(mira: Visitor, lesson: Class) -> None:
    where, said = proposal(mira, lesson, f"station {lesson.places['S2']}", back_at="09:30", at="08:30")

    assert "S2 is out of order from 08:30 to 09:30." in said
    mira.submit(f"{where}/take")
    assert all(minute >= 1800 for place, minute in lesson.starts().values() if place == "S2")


def test_a_spilled_tray_waits_until_it_is_filled_again(mira: Visitor, lesson: Class) -> None:
    developer = next(name for name in lesson.places if name.startswith("developer"))
    where, said = proposal(mira, lesson, f"spill {lesson.places[developer]}", refill_minutes="20", at="09:05")
    mira.submit(f"{where}/take")

    assert f"{developer} is spilled and filled again by 09:25." in said
    assert min(minute for place, minute in lesson.starts().values() if place == developer) >= 1500


def test_an_absent_group_is_left_out(mira: Visitor, lesson: Class) -> None:
    where, said = proposal(
        mira,
        lesson,
        "absent",
        absent_group_id=lesson.groups["G3"],
        joins_group_id=lesson.groups["G2"],
    )
    mira.submit(f"{where}/take")

    assert "One student of G3 is left and joins G2." in said
    assert {key[0] for key in lesson.starts()} == {"G1", "G2"}


def test_a_bell_that_comes_too_early_leaves_plates_out_by_name(mira: Visitor, lesson: Class) -> None:
    where, said = proposal(mira, lesson, "bell", bell_minutes="-160")

    assert "The bell comes 2 h 40 min earlier." in said
    assert re.search(r"No longer fits: G\d, plate 1", said)
    assert "if the bell came" in said
    mira.submit(f"{where}/take")
    assert "does not all fit" in text_of(mira.page(f"/rotations/{lesson.rotation_id}"))


def test_what_a_button_needs_is_asked_back_beside_its_field(mira: Visitor, lesson: Class) -> None:
    for what, field in (("late", "late_minutes"), ("bell", "bell_minutes"), ("absent", "absent_group_id")):
        page = mira.submit(lesson.address, status=422, what=what, at="08:40")
        fault = page.select_one(f"#{field}-fault")
        assert fault is not None, what
        assert page.select_one("#at")["value"] == "08:40"  # type: ignore[index]


def test_what_nobody_can_read_is_refused(mira: Visitor, lesson: Class) -> None:
    for typed in (
        {"what": "nothing"},
        {"what": "late 5", "at": "25:00"},
        {"what": "plate", "plate": "first"},
        {"what": "station"},
        {},
    ):
        assert mira.post(lesson.address, data=typed).status_code == 422, typed


def test_things_that_are_not_in_the_rotation_are_refused(
    mira: Visitor, lesson: Class, cast: Cast, in_lab: InLab
) -> None:
    with in_lab() as session:
        enter_students(session, cast.section_id, ("Gus Penn", "Hal Reed"))
        session.flush()
        form_section_groups(session, cast.section_id, size=2)
        newest = max(group.id for group in list_groups(session, cast.section_id))
    assert mira.post(lesson.address, data={"what": "station 9999"}).status_code == 404
    assert mira.post(lesson.address, data={"what": "plate", "plate": "9999-1"}).status_code == 404
    if newest not in lesson.groups.values():
        answer = mira.post(lesson.address, data={"what": "absent", "absent_group_id": newest})
        assert answer.status_code == 409
        assert "makes no plate in this rotation" in words(answer)


def test_another_lab_s_things_are_not_here(noor: Visitor, mira: Visitor, lesson: Class, cast: Cast) -> None:
    where, _said = proposal(mira, lesson, "late 10")

    assert noor.get(lesson.address).status_code == 404
    assert noor.get(where).status_code == 404
    assert noor.post(f"{where}/take").status_code == 404
    assert noor.post(lesson.address, data={"what": "late 10"}).status_code == 404
    own = {"what": "absent", "absent_group_id": cast.other_group_id}
    assert mira.post(lesson.address, data=own).status_code == 404


def test_a_technician_may_look_and_not_decide(mira: Visitor, tomas: Visitor, lesson: Class) -> None:
    where, _said = proposal(mira, lesson, "late 10")

    assert "Take it" not in text_of(tomas.page(where))
    assert "What happened?" not in text_of(tomas.page(lesson.address))
    assert tomas.post(f"{where}/take").status_code == 403
    assert tomas.post(f"{where}/drop").status_code == 403
    assert tomas.post(lesson.address, data={"what": "late 10"}).status_code == 403


def test_a_proposal_for_a_plan_that_has_changed_since_is_refused(mira: Visitor, lesson: Class) -> None:
    first, _said = proposal(mira, lesson, "late 10")
    second, _said = proposal(mira, lesson, "late 5")
    mira.submit(f"{second}/take")
    answer = mira.post(f"{first}/take")

    assert answer.status_code == 409
    assert "The plan was changed after this was proposed" in words(answer)


def test_a_proposal_of_one_rotation_is_not_another_s(mira: Visitor, lesson: Class) -> None:
    where, _said = proposal(mira, lesson, "late 10")
    with lesson.in_lab() as session:
        other = add_rotation(
            session,
            section_id=1,
            name="Second plates",
            day=DAY,
            starts=time(14),
            ends=time(15),
            plates_per_group=1,
            now=MORNING,
            zone="Europe/Berlin",
        ).id
    number = where.rsplit("/", 1)[1]

    assert mira.get(f"/rotations/{other}/change/{number}").status_code == 404
    assert mira.get(f"/rotations/{other}/change").status_code == 409


def test_a_proposal_that_waited_too_long_is_refused(mira: Visitor, lesson: Class, server: Running) -> None:
    """Asked at 08:59 for a dead station; at 09:03 what it changes should have begun."""
    server.clock.instant = NINE - timedelta(minutes=1)
    where, _said = proposal(mira, lesson, f"station {lesson.places['S2']}")
    server.clock.instant = NINE + timedelta(minutes=3)
    answer = mira.post(f"{where}/take")

    assert answer.status_code == 409
    assert "was to begin meanwhile" in words(answer)


def test_a_typed_time_is_taken_whenever_it_is(mira: Visitor, lesson: Class, server: Running) -> None:
    """What really happened at 09:01 is entered after class."""
    server.clock.instant = NINE + timedelta(hours=5)
    where, said = proposal(mira, lesson, f"station {lesson.places['S2']}", at="09:01")

    assert "planned anew from 09:01 on" in said
    mira.submit(f"{where}/take")
    assert mira.post(lesson.address, data={"what": "late 5"}).status_code == 409


def test_two_who_tap_at_once_take_one_plan(mira: Visitor, lesson: Class) -> None:
    where, _said = proposal(mira, lesson, "late 10")
    mira.submit(f"{where}/take")
    answer = mira.post(f"{where}/take")

    assert answer.status_code == 409
    assert "was taken already, by Mira" in words(answer)


def test_the_board_follows_the_new_plan_and_leads_to_the_page(
    mira: Visitor, tomas: Visitor, lesson: Class, server: Running
) -> None:
    where, _said = proposal(mira, lesson, "late 10")
    mira.submit(f"{where}/take")
    server.clock.instant = NINE + timedelta(minutes=5)
    board = mira.page(f"/board/{lesson.rotation_id}")

    assert "09:10" in text_of(board)
    assert board.select_one(f'a[href="{lesson.address}"]') is not None
    assert tomas.page(f"/board/{lesson.rotation_id}").select_one(f'a[href="{lesson.address}"]') is None
