"""Calendar addresses over HTTP, read with an independent library."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, time, timedelta
from typing import Any

import icalendar
import pytest
from sqlmodel import select

from server.calendars.actions import KEPT
from server.calendars.models import CalendarAddress
from server.core.planning import whiteboard
from server.data.session import LabSession
from server.people.actions import add_section, enter_students, form_section_groups
from server.rotations.actions import (
    SEED,
    add_period,
    add_rotation,
    keep_plan,
    plan_question,
    publish,
    withdraw,
)
from tests.casts import MORNING, STUDENTS, Cast
from tests.conftest import Running, Visitor
from tests.reading import text_of
from tests.rotations.rooms import furnish

InLab = Callable[[], AbstractContextManager[LabSession]]
Plan = Callable[..., int]


@pytest.fixture
def planned(in_lab: InLab, cast: Cast) -> Plan:
    """Plans and publishes a rotation of three plates in the cellar lab, by hand, and returns its id."""
    with in_lab() as session:
        furnish(session)

    def _planned(
        name: str = "First plates", *, section_id: int | None = None, starts: time = time(10)
    ) -> int:
        with in_lab() as session:
            rotation = add_rotation(
                session, section_id=section_id or cast.section_id, name=name, day=date(2027, 2, 16), starts=starts,
                ends=time(starts.hour + 2), plates_per_group=1, now=MORNING, zone="Europe/Berlin",
            )  # fmt: skip
            _settle(session, rotation.id)
            return rotation.id

    return _planned


def _settle(session: LabSession, rotation_id: int, *, minutes: int = 0) -> None:
    now = MORNING + timedelta(minutes=minutes)
    problem = plan_question(session, rotation_id)
    keep_plan(session, rotation_id, problem, whiteboard(problem), seed=SEED, now=now)
    publish(session, rotation_id, now=now)


def _address(visitor: Visitor, **fields: object) -> str:
    """Give out an address and return its path."""
    page = visitor.submit("/calendars", 200, **{"label": "phone", **fields})
    shown = page.select_one(".address")
    assert shown is not None
    return shown.text.removeprefix(str(visitor.base_url).rstrip("/"))


def _events(visitor: Visitor, path: str) -> list[Any]:
    answer = visitor.get(path)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    return list(icalendar.Calendar.from_ical(answer.content).walk("VEVENT"))


def _told(event: Any) -> tuple[str, str, str]:
    return str(event["SUMMARY"]), event["DTSTART"].dt.isoformat(), event["DTEND"].dt.isoformat()


def test_a_stranger_with_the_address_reads_the_published_periods(
    mira: Visitor, stranger: Visitor, planned: Plan, in_lab: InLab
) -> None:
    planned()
    path = _address(mira)

    [event] = _events(stranger, path)

    assert _told(event) == (
        "Tuesday: First plates",
        "2027-02-16T09:00:00+00:00",
        "2027-02-16T11:00:00+00:00",
    )
    assert str(event["LOCATION"]) == "Cellar lab"
    lines = str(event["DESCRIPTION"]).splitlines()
    assert lines[0] == "3 plates planned in this rotation."
    assert [line.split(":")[0] for line in lines[1:]] == ["G1", "G2", "G3"]
    assert lines[1].startswith("G1: 10:00 to 10:")


def test_no_student_s_name_is_in_a_calendar(mira: Visitor, stranger: Visitor, planned: Plan) -> None:
    planned()
    path = _address(mira)

    for address in (path, f"{path}?group=G1"):
        text = stranger.get(address).text
        assert "BEGIN:VEVENT" in text
        assert not [name for name in STUDENTS if name in text]


def test_a_group_s_calendar_has_an_event_for_each_of_its_plates(
    mira: Visitor, stranger: Visitor, planned: Plan
) -> None:
    planned()
    path = _address(mira)

    [event] = _events(stranger, f"{path}?group=G2")

    assert str(event["SUMMARY"]) == "G2, plate 1: Tuesday, First plates"
    assert str(event["LOCATION"]).endswith(", Cellar lab")
    stays = str(event["DESCRIPTION"]).splitlines()
    assert stays[0].endswith(": align, load, settle, expose, carry")
    assert any("developer, line 1: develop" in stay for stay in stays)
    assert _events(stranger, f"{path}?group=G9") == []


def test_an_address_of_a_section_carries_that_section_s_rotations_only(
    mira: Visitor, stranger: Visitor, planned: Plan, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        wednesday = add_section(session, name="Wednesday")
        enter_students(session, wednesday.id, ("Una Vale", "Pim Roos"))
        form_section_groups(session, wednesday.id, size=2)
    planned("Ours")
    planned("Theirs", section_id=wednesday.id, starts=time(14))

    ours = _events(stranger, _address(mira, section_id=cast.section_id))
    everything = _events(stranger, _address(mira))

    assert [str(one["SUMMARY"]) for one in ours] == ["Tuesday: Ours"]
    assert [str(one["SUMMARY"]) for one in everything] == ["Tuesday: Ours", "Wednesday: Theirs"]


def test_a_calendar_never_carries_another_lab_s_rotations(
    mira: Visitor, noor: Visitor, stranger: Visitor, planned: Plan
) -> None:
    planned()
    path = _address(mira)

    assert _events(stranger, _address(noor)) == []
    assert len(_events(noor, path)) == 1, "who is signed in elsewhere reads what the address carries"


def test_a_rotation_that_is_planned_anew_updates_its_event(
    mira: Visitor, stranger: Visitor, planned: Plan, in_lab: InLab
) -> None:
    rotation_id = planned()
    path = _address(mira)
    [before] = _events(stranger, path)

    with in_lab() as session:
        withdraw(session, rotation_id, now=MORNING)
    assert _events(stranger, path) == [], "what is withdrawn is gone"
    with in_lab() as session:
        add_period(
            session, rotation_id, day=date(2027, 2, 15), starts=time(10), ends=time(12), zone="Europe/Berlin"
        )
        _settle(session, rotation_id, minutes=30)
    first, second = _events(stranger, path)

    assert first["DTSTART"].dt.isoformat() == "2027-02-15T09:00:00+00:00"
    assert str(first["UID"]) == str(before["UID"]) != str(second["UID"])
    assert (int(before["SEQUENCE"]), int(first["SEQUENCE"])) == (0, 1800)
    assert first["LAST-MODIFIED"].dt == first["DTSTAMP"].dt == MORNING + timedelta(minutes=30)


def test_a_calendar_that_has_not_changed_is_not_sent_again(
    mira: Visitor, stranger: Visitor, planned: Plan, in_lab: InLab
) -> None:
    rotation_id = planned()
    path = _address(mira)
    first = stranger.get(path)
    tag = first.headers["etag"]
    assert first.headers["cache-control"] == "private, no-cache"

    for known in (tag, f'"other", W/{tag}', "*"):
        again = stranger.get(path, headers={"If-None-Match": known})
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)

    with in_lab() as session:
        withdraw(session, rotation_id, now=MORNING)
    changed = stranger.get(path, headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["etag"] != tag


def test_an_unknown_address_tells_nothing(mira: Visitor, stranger: Visitor, planned: Plan) -> None:
    planned()
    path = _address(mira)
    mira.submit("/calendars/1/withdraw")

    answers = [stranger.get(address) for address in (path, "/calendar/x.ics", "/calendar/%00.ics")]

    assert {(one.status_code, one.headers["content-type"], one.text) for one in answers} == {
        (
            404,
            "text/plain; charset=utf-8",
            "There is no calendar at this address. Ask who gave it to you for a new one.\n",
        )
    }


def test_an_address_is_shown_once_and_its_secret_is_not_kept(
    mira: Visitor, in_lab: InLab, cast: Cast
) -> None:
    path = _address(mira, label="technician's phone", section_id=cast.section_id)
    secret = path.removeprefix("/calendar/").removesuffix(".ics")

    assert len(secret) == 22, "128 bits in base 64"
    listed = mira.page("/calendars")
    assert "technician's phone Tuesday Tue 16 Feb 2027" in text_of(listed)
    assert secret not in str(listed)
    with in_lab() as session:
        [kept] = session.exec(select(CalendarAddress)).all()
        assert secret not in str(kept.model_dump())


def test_a_renewed_address_ends_the_old_one(mira: Visitor, stranger: Visitor, planned: Plan) -> None:
    planned()
    old = _address(mira)

    page = mira.submit("/calendars/1/renew")
    new = page.select_one(".address").text  # type: ignore[union-attr]

    assert stranger.get(old).status_code == 404
    assert len(_events(stranger, new)) == 1


def test_what_is_longer_past_than_a_year_is_left_out(
    mira: Visitor, stranger: Visitor, server: Running, planned: Plan
) -> None:
    planned()
    path = _address(mira)

    server.clock.instant = MORNING + KEPT
    assert len(_events(stranger, path)) == 1
    server.clock.instant = MORNING + KEPT + timedelta(hours=4)
    assert _events(stranger, path) == []


def test_an_address_without_a_label_is_asked_back(mira: Visitor, cast: Cast) -> None:
    page = mira.submit("/calendars", 422, label=" ", section_id=cast.section_id)

    assert page.select_one("#label-fault").text == "Please fill this in."  # type: ignore[union-attr]
    assert page.select_one("#section_id option[selected]").text == "Tuesday"  # type: ignore[union-attr]
    assert not page.select("table")


def test_only_the_lab_s_instructor_gives_addresses_out(
    mira: Visitor, tomas: Visitor, noor: Visitor, tablet: Visitor
) -> None:
    _address(mira)

    for visitor in (tomas, tablet):
        visitor.page("/calendars", 403)
        visitor.submit("/calendars", 403, label="mine")
    for action in ("renew", "withdraw"):
        noor.submit(f"/calendars/1/{action}", 404)
    assert "No address has been given out yet." in text_of(noor.page("/calendars"))


def test_a_published_rotation_is_a_file_with_an_event_per_period(
    mira: Visitor, tomas: Visitor, planned: Plan, in_lab: InLab
) -> None:
    rotation_id = planned()
    with in_lab() as session:
        withdraw(session, rotation_id, now=MORNING)
    assert not mira.page(f"/rotations/{rotation_id}").select("a[href$='/calendar.ics']")
    assert "Publish it first." in text_of(mira.page(f"/rotations/{rotation_id}/calendar.ics", 409))
    with in_lab() as session:
        add_period(
            session, rotation_id, day=date(2027, 7, 20), starts=time(10), ends=time(11), zone="Europe/Berlin"
        )
        _settle(session, rotation_id)

    answer = tomas.get(f"/rotations/{rotation_id}/calendar.ics")
    events = _events(tomas, f"/rotations/{rotation_id}/calendar.ics")

    assert answer.headers["content-disposition"].startswith("attachment")
    assert [_told(event) for event in events] == [
        ("Tuesday: First plates", "2027-02-16T09:00:00+00:00", "2027-02-16T11:00:00+00:00"),
        ("Tuesday: First plates", "2027-07-20T08:00:00+00:00", "2027-07-20T09:00:00+00:00"),
    ]
    assert [str(event["DESCRIPTION"]).count("\n") for event in events] == [3, 0]
    assert [str(one["UID"]) for one in events] == [str(one["UID"]) for one in _events(mira, _address(mira))]
