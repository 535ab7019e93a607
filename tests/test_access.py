"""Every address, as each role, as a stranger and as a member of another lab."""

from dataclasses import dataclass

import pytest
from fastapi.routing import APIRoute

from server.app import FEATURES
from server.data.session import Database
from server.demo import Furnished, furnish
from server.people import access
from server.web.lights import is_near_plates
from tests.casts import MORNING, Cast
from tests.conftest import Visitor, words
from tests.replans.proposals import add_proposal

ROUTES = {
    route.name: route for feature in FEATURES for route in feature.routes if isinstance(route, APIRoute)
}

# Written by hand, so that a role changed by mistake in a signature is noticed here.
ANYONE = {
    "people.set_up", "people.open_lab", "people.sign_in", "people.enter", "people.leave",
    "people.join", "people.find_class", "people.join_with_code", "people.join_group", "today.today",
    "calendars.fetch", "callings.clock", "tablets.leave_dark_room",
}  # fmt: skip
STUDENT = {name for name, route in ROUTES.items() if route.path.split("/")[1] == "tablet"}
INSTRUCTOR = {name for name in ROUTES if name.startswith("people.")} - ANYONE - {"people.password", "people.change_password"} | {
    "students.section", "students.describe", "students.enter", "students.remove", "students.move", "students.form_groups",
    "students.set_away", "students.student", "students.arrange", "students.names", "students.erase",
    "chemistry.override_end", "stations.add_zone", "stations.add_tray_line", "stations.add_place", "stations.place", "stations.change_place",
    "stations.light_zone", "stations.change_light_zone", "stations.tray_line", "stations.change_tray_line",
    "activities.add", "activities.add_usual", "activities.activity", "activities.change", "activities.remove",
    "what_ifs.work_out", "searches.stop",
    "calendars.calendars", "calendars.add", "calendars.renew", "calendars.withdraw",
    "questions.set_times", "questions.add_period", "questions.remove_period", "questions.add_break", "questions.remove_break",
    "questions.ask_groups", "questions.add_mix", "questions.remove_mix", "questions.set_reserve", "questions.rename",
    "questions.delete", "questions.taking_in", "questions.take_in",
    "replans.propose", "replans.take", "replans.drop",
    "charges.allow_more_plates", "charges.allow_early_pouring",
    "rules.choose", "rules.lay_over",
} | {name for name in ROUTES if name.startswith("marks.")}  # fmt: skip


def _methods(route: APIRoute) -> set[str]:
    return set(route.methods or ())


def _role(route: APIRoute) -> str:
    names = {
        access.anyone: "anyone",
        access.member: "member",
        access.technician: "technician",
        access.instructor: "instructor",
        access.student: "student",
    }
    return next(names[found.call] for found in route.dependant.dependencies if found.call in names)


def test_no_address_is_open_that_should_not_be() -> None:
    assert {name for name, route in ROUTES.items() if _role(route) == "anyone"} == ANYONE


def test_only_tablets_use_the_tablet_s_addresses() -> None:
    assert {name for name, route in ROUTES.items() if _role(route) == "student"} == STUDENT


def test_what_only_an_instructor_may_do() -> None:
    found = {name for name, route in ROUTES.items() if _role(route) == "instructor"}
    plans = {name for name in found if name.startswith("rotations.")}

    assert found - plans == INSTRUCTOR
    assert plans == {
        name for name, route in ROUTES.items() if name.startswith("rotations.") and "POST" in _methods(route)
    }


@dataclass(frozen=True)
class Walk:
    """Addresses filled with the ids of things that exist in the cellar lab."""

    cast: Cast
    things: Furnished
    proposal_id: int

    def address(self, route: APIRoute) -> str:
        ids = {
            "code": self.cast.class_code,
            "section_id": self.cast.section_id,
            "student_id": 1,
            "person_id": 2,
            "place_id": self.things.station_ids[0],
            "station_id": self.things.station_ids[0],
            "kit_id": self.things.kit_id,
            "sheet_id": 1,
            "bottle_id": 1,
            "plate_box_id": self.things.plate_box_id,
            "batch_id": self.things.developer_batch_id,
            "charge_id": self.things.charge_id,
            "rotation_id": self.things.draft_id if "POST" in _methods(route) else self.things.rotation_id,
            "period_id": 1,
            "break_id": 1,
            "zone_id": 1,
            "line_id": 1,
            "mix_id": 1,
            "proposal_id": self.proposal_id,
            "group_id": self.cast.group_ids[0],
            "run_id": self.things.run_id,
            "tablet_id": "demo-run-0",
            "photo_id": self.things.photo_id,
            "slip_id": self.things.slip_id,
            "waste_id": 1,
            "container_id": self.things.container_ids[0],
            "entry_id": 1,
            "stream_id": 1,
            "weighing_id": self.things.weighing_id,
            "pickup_id": self.things.pickup_id,
            "schedule_id": 1,
            "activity_id": self.things.activity_id,
            "reading_id": 1,
            "address_id": self.things.address_id,
            "classes_id": 1,
            "order_id": 1,
            "screen_id": self.things.screen_id,
            "secret": self.things.calendar_secret,
            "recipe_id": self.things.recipe_id,
            "rubric_id": self.things.rubric_id,
            "number": 1,
            "day": "2027-02-17",
            "first": "2027-02-15",
            "last": "2027-02-16",
            "line": "plates",
            "rule_set": "us-small",
        }
        return route.path.format(**ids)


def walk_through(database: Database, cast: Cast) -> Walk:
    """Fill the cellar lab with one of everything."""
    with database.writing(cast.lab_id) as session:
        things = furnish(session, cast.section_id, zone="Europe/Berlin", now=MORNING, seconds=1)
        return Walk(cast, things, add_proposal(session, things.rotation_id, now=MORNING))


pytestmark = pytest.mark.furnished.with_args(walk_through)


@pytest.fixture
def walk(furnished: Walk) -> Walk:
    return furnished


def _asked(visitor: Visitor, walk: Walk, route: APIRoute) -> tuple[int, str]:
    """Status and what a person reads, without following; a form is sent empty."""
    address = walk.address(route)
    if "GET" in _methods(route):
        answer = visitor.get(address, follow_redirects=False)
    else:
        answer = visitor.post(address, data={}, follow_redirects=False)
    if answer.status_code >= 400:
        assert "text/html" in answer.headers["content-type"], f"{route.name} answers a person without a page"
        assert "Traceback" not in answer.text
    return answer.status_code, words(answer)


def test_a_stranger_is_asked_to_sign_in_everywhere_else(stranger: Visitor, walk: Walk) -> None:
    for name, route in ROUTES.items():
        if name in ANYONE:
            continue
        status, text = _asked(stranger, walk, route)
        if "GET" in _methods(route) and not is_near_plates(route.path):
            assert status == 303, name
        else:
            assert status == 401, name
            assert "Sign in again" in text, name


def test_a_tablet_sees_nothing_of_the_staff_s(tablet: Visitor, walk: Walk) -> None:
    for name, route in ROUTES.items():
        if _role(route) in {"technician", "instructor"}:
            status, text = _asked(tablet, walk, route)
            assert (status, "Only an instructor" in text or "for the lab's staff" in text) == (403, True), (
                name
            )


def test_a_technician_may_do_everything_but_the_instructor_s_and_the_tablet_s(
    tomas: Visitor, walk: Walk
) -> None:
    for name, route in ROUTES.items():
        if name == "people.leave":
            continue
        status, text = _asked(tomas, walk, route)
        if _role(route) in {"instructor", "student"}:
            assert status == 403, name
        else:
            assert status not in {401, 403, 405, 500}, f"{name}: {status} {text[:300]}"


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_an_instructor_may_do_everything_but_the_tablet_s(mira: Visitor, walk: Walk, method: str) -> None:
    for name, route in ROUTES.items():
        if method not in _methods(route) or name == "people.leave":
            continue
        status, text = _asked(mira, walk, route)
        if _role(route) == "student":
            assert status == 403, name
        else:
            assert status not in {401, 403, 405, 500}, f"{name}: {status} {text[:300]}"


def test_a_tablet_s_own_addresses_answer_it(tablet: Visitor, walk: Walk) -> None:
    for name in STUDENT:
        status, text = _asked(tablet, walk, ROUTES[name])
        assert status not in {401, 403, 405, 500}, f"{name}: {status} {text[:300]}"


# Addresses without an id of the lab's show the visitor's own lab.
NOT_BY_ID = ("{code}", "{day}", "{first}", "{last}", "{line}", "{rule_set}")


@pytest.mark.parametrize("other", ["noor", "other_lab_tablet"])
def test_what_belongs_to_another_lab_is_not_here(
    request: pytest.FixtureRequest, walk: Walk, other: str
) -> None:
    visitor: Visitor = request.getfixturevalue(other)
    mine = {"student"} if other == "other_lab_tablet" else {"technician", "instructor", "member"}
    walked = 0
    for name, route in ROUTES.items():
        by_id = "{" in route.path and not all(
            part in NOT_BY_ID for part in route.path.split("/") if "{" in part
        )
        if _role(route) not in mine or not by_id:
            continue
        status, text = _asked(visitor, walk, route)
        assert status == 404, f"{name}: {status} {text[:300]}"
        walked += 1

    assert walked > 0
