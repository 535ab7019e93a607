"""What Today says about what is next, what runs out and what is due."""

from collections.abc import Sequence
from datetime import date, time, timedelta

import pytest

from server.charges.actions import pour_charge
from server.containers.actions import add_usual_streams, set_out_container
from server.containers.models import Source
from server.containers.queries import list_streams
from server.data.session import LabSession
from server.people.access import Signed
from server.people.models import Role
from server.pickups.actions import book_pickup
from server.plates.actions import correct_plates, log_light, open_plate_box, take_in_plate_box
from server.runs.actions import leave_to_dry
from server.runs.models import Incident
from server.safety.actions import put_right, record_round, record_shelf_round
from server.safety.models import SafetyCheck, ShelfPoint
from server.safety.queries import list_open_findings
from server.stations.models import Bath
from server.stations.queries import list_trays
from server.today.pages import Item, TodayPage, today_page
from tests.casts import MORNING, Cast
from tests.chemistry import mixing
from tests.containers.bench import Bench
from tests.limits.shelf import Shelf, days_ago
from tests.prep.days import furnish, publish_capacity_day, publish_rounds, stock
from tests.runs.room import AT_THE_BELL, add_rack, fill_room, make_plates

NINE = MORNING + timedelta(hours=1)


@pytest.fixture
def mira_signed(cast: Cast) -> Signed:
    return Signed(cast.lab_id, "Cellar lab", "Europe/Berlin", Role.INSTRUCTOR, "Mira")


def _items(items: Sequence[Item]) -> dict[str, tuple[str, str]]:
    return {item.what: (item.state, item.state_words) for item in items}


def _steps(page: TodayPage) -> list[bool]:
    return [step.done for step in page.steps]


def test_a_new_lab_is_led_through_its_first_steps(
    session: LabSession, cast: Cast, mira_signed: Signed
) -> None:
    assert _steps(today_page(session, mira_signed, MORNING)) == [True, False, False, False]

    furnish(session)
    assert _steps(today_page(session, mira_signed, MORNING)) == [True, True, False, False]

    stock(session)
    assert _steps(today_page(session, mira_signed, MORNING)) == [True, True, True, False]

    publish_rounds(session, cast.section_id, name="first", starts_at=NINE)
    assert today_page(session, mira_signed, MORNING).steps == []


def test_the_time_to_the_next_class_is_counted_and_then_the_time_to_its_end(
    session: LabSession, cast: Cast, mira_signed: Signed
) -> None:
    """By hand: the last plate is viewed 8 + 18 + 10 = 36 min after the start."""
    publish_rounds(session, cast.section_id, name="first", starts_at=NINE)

    before = today_page(session, mira_signed, NINE - timedelta(minutes=79, seconds=30)).next_class
    during = today_page(session, mira_signed, NINE + timedelta(minutes=6)).next_class
    after = today_page(session, mira_signed, NINE + timedelta(minutes=36))

    assert before is not None
    assert during is not None
    assert (before.number, before.is_on) == ("1 h 20 min", False)
    assert (before.when, before.groups, before.plates) == ("today, 09:00 to 09:36", "3 groups", "12 plates")
    assert (during.number, during.is_on) == ("30 min", True)
    assert (after.next_class, after.later) == (None, [])


def test_tomorrows_class_is_next_and_a_later_one_is_named(
    session: LabSession, cast: Cast, mira_signed: Signed
) -> None:
    publish_rounds(session, cast.section_id, name="first", starts_at=NINE + timedelta(days=1))

    tomorrow = today_page(session, mira_signed, MORNING).next_class
    early = today_page(session, mira_signed, MORNING - timedelta(days=1))

    assert tomorrow is not None
    assert tomorrow.when.startswith("tomorrow, 09:00")
    assert early.next_class is None
    assert early.later == [("2027-02-17", "Wed 17 Feb 2027")]


def _pour(session: LabSession) -> int:
    batch = mixing.developer(session, 400_000)
    tray = list_trays(session, Bath.DEVELOPER)[0]
    return pour_charge(
        session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=MORNING
    ).id


@pytest.mark.parametrize(
    ("hours", "charge", "batch"),
    [
        (0, ("well", "room for 12 plates"), ("well", "alive")),
        (5.5, ("watch", "30 min left"), ("watch", "30 min left")),
        (6, ("stop", "past its life"), None),
    ],
)
def test_developer_is_worth_a_look_in_its_last_hour(
    session: LabSession,
    mira_signed: Signed,
    hours: float,
    charge: tuple[str, str],
    batch: tuple[str, str] | None,
) -> None:
    furnish(session)
    stock(session)
    _pour(session)

    found = _items(today_page(session, mira_signed, MORNING + timedelta(hours=hours)).runs_out)

    assert found["Working developer in developer, line 1"] == charge
    assert found.get("Working developer, batch 1") == batch


def test_plates_are_compared_with_the_term(session: LabSession, cast: Cast, mira_signed: Signed) -> None:
    """By hand: 39 plates are planned, 52 with the reserve; of 60 plates 8 are free, 45 lack only reserve, 30 lack planned ones."""
    furnish(session)
    box = stock(session, plates=60)
    publish_capacity_day(session, cast.section_id)

    enough = _items(today_page(session, mira_signed, MORNING).runs_out)
    correct_plates(session, box, counted=45, reason="counted", by="Tomas", now=MORNING)
    without_reserve = _items(today_page(session, mira_signed, MORNING).runs_out)
    correct_plates(session, box, counted=30, reason="counted", by="Tomas", now=MORNING)
    short = _items(today_page(session, mira_signed, MORNING).runs_out)

    assert enough["Plates"] == ("well", "enough")
    assert without_reserve["Plates"] == ("watch", "7 short")
    assert short["Plates"] == ("stop", "22 short")


def test_plates_that_expire_before_their_class_are_to_be_ordered(
    session: LabSession, cast: Cast, mira_signed: Signed
) -> None:
    """House example: a box that is good until 31 March does not count for a class on 14 April; 14 April − 1 − 42 days is 2 March."""
    furnish(session)
    stock(session, plates=60, expires_on=date(2027, 3, 31))
    publish_rounds(session, cast.section_id, name="early", starts_at=NINE)
    publish_rounds(session, cast.section_id, name="late", starts_at=NINE + timedelta(days=57))

    weeks_before = _items(today_page(session, mira_signed, MORNING).runs_out)
    a_week_before = _items(today_page(session, mira_signed, MORNING + timedelta(days=7)).runs_out)

    assert weeks_before["Plates"] == ("well", "order by 2 Mar")
    assert a_week_before["Plates"] == ("watch", "order by 2 Mar")


def test_what_stops_stands_before_what_is_well(session: LabSession, mira_signed: Signed) -> None:
    stock(session, expires_on=MORNING.date() - timedelta(days=1))

    states = [item.state for item in today_page(session, mira_signed, MORNING).runs_out]

    assert states == sorted(states, key=["stop", "watch", "well"].index)
    assert states[0] == "stop"


@pytest.mark.parametrize(
    ("held_ul", "expected"),
    [
        (14_399_999, None),
        (14_400_000, ("watch", "80 % full")),
        (18_000_000, ("stop", "100 % full")),
    ],
)
def test_a_container_is_named_from_80_percent_of_its_fill_line_on(
    session: LabSession, mira_signed: Signed, held_ul: int, expected: tuple[str, str] | None
) -> None:
    """By hand: the line of a 20 L carboy is at 18 L, 80 % of it are 14.4 L."""
    add_usual_streams(session)
    rinse = next(stream for stream in list_streams(session) if stream.takes == Source.RINSE)
    set_out_container(
        session, stream_id=rinse.id, name="R1", size_ul=20_000_000, by="Tomas", now=MORNING
    ).held_ul = held_ul

    found = _items(today_page(session, mira_signed, MORNING).runs_out)

    assert found.get("Waste container “R1”") == expected


def test_a_stream_that_will_not_hold_the_classes_is_named(
    session: LabSession, cast: Cast, mira_signed: Signed
) -> None:
    furnish(session)
    publish_capacity_day(session, cast.section_id)
    add_usual_streams(session)
    rinse = next(stream for stream in list_streams(session) if stream.takes == Source.RINSE)
    set_out_container(
        session, stream_id=rinse.id, name="R1", size_ul=20_000_000, by="Tomas", now=MORNING
    ).held_ul = 13_200_000

    page = today_page(session, mira_signed, MORNING)
    item = next(item for item in page.runs_out if item.what == "Waste “Rinse”")

    assert (item.state, item.state_words) == ("stop", "will not hold")
    assert item.detail == "Tue 16 Feb: no room for 1.7 L of “Rinse”: Tuesday, third, 14:00"


def test_a_pickup_is_due_until_it_is_requested_and_too_late_after_its_cut_off(
    session: LabSession, mira_signed: Signed
) -> None:
    pickup = book_pickup(
        session,
        on_day=date(2027, 2, 26),
        request_day=date(2027, 2, 24),
        request_clock=time(12),
        zone="Europe/Berlin",
        by="Tomas",
        now=MORNING,
    )
    session.flush()
    cut_off = pickup.request_by

    def state(days: float) -> tuple[str, str] | None:
        page = today_page(session, mira_signed, cut_off + timedelta(days=days))
        return _items(page.due).get("Pickup on Fri 26 Feb 2027")

    assert state(-3) == ("well", "to request")
    assert state(-1) == ("watch", "to request")
    assert state(1) == ("stop", "not requested in time")
    assert state(4) is None

    pickup.requested_at = MORNING
    assert state(-1) is None


def test_a_box_that_light_reached_asks_for_a_fog_test(session: LabSession, mira_signed: Signed) -> None:
    box = stock(session)
    open_plate_box(session, box, by="Tomas", now=MORNING)
    log_light(session, clock=time(8), light_zone_id=None, note="", by="Mira", now=MORNING)

    found = [item for item in today_page(session, mira_signed, MORNING).runs_out if "fog" in item.state_words]

    assert [(item.state_words, item.address) for item in found] == [
        ("fog test wanted", f"/stock/plate-boxes/{box}")
    ]
    assert "light incident at 08:00" in found[0].detail


def test_runs_wait_for_their_verdict_and_are_due_from_the_next_day_on(
    session: LabSession, cast: Cast, mira_signed: Signed
) -> None:
    room, rack = fill_room(session), add_rack(session)
    runs = make_plates(
        session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=AT_THE_BELL
    )
    for slot, run in enumerate(runs[6:], start=1):
        leave_to_dry(session, run.id, place_id=rack, slot=slot, by="G1", now=MORNING)

    def line(days: int) -> tuple[str, str, str]:
        page = today_page(session, mira_signed, MORNING + timedelta(days=days))
        item = next(item for item in page.due if item.what == "Verdicts of Tuesday")
        return item.state, item.state_words, item.detail

    counts = "Good so far: 5 of 6 rated, 3 waiting (in R1–R3)."
    assert line(0) == ("well", "to rate when dry", counts)
    assert line(1) == ("watch", "3 due", f"{counts} Due: run 7 (R1), run 8 (R2), run 9 (R3).")


def test_a_dropped_plate_is_no_reminder(session: LabSession, cast: Cast, mira_signed: Signed) -> None:
    run = make_plates(
        session,
        fill_room(session),
        section_id=cast.section_id,
        group_id=cast.group_ids[0],
        verdicts=[None],
    )[0]
    run.incident = Incident.DROPPED
    session.flush()

    page = today_page(session, mira_signed, MORNING + timedelta(days=3))
    assert not [item for item in page.due if item.what.startswith("Verdicts")]


def test_the_eyewash_is_due_a_week_after_it_was_run(session: LabSession, mira_signed: Signed) -> None:
    def state(days: float) -> tuple[str, str] | None:
        page = today_page(session, mira_signed, MORNING + timedelta(days=days))
        return _items(page.due).get("Safety round: eyewash")

    assert state(0) == ("stop", "overdue")

    record_round(session, check_kind=SafetyCheck.EYEWASH, in_order=True, found="", by="Tomas", now=MORNING)
    session.flush()

    assert state(6.9) is None
    assert state(7) == ("stop", "overdue")


def test_what_a_shelf_round_found_is_due_until_it_is_put_right(
    session: LabSession, mira_signed: Signed, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session)
    record_shelf_round(
        session, looks=[(carboy.id, {ShelfPoint.LABEL: "torn"})], note="", tablet_id="round-0001", by="Tomas", now=MORNING
    )  # fmt: skip

    def due() -> dict[str, str]:
        return {item.what: item.state_words for item in today_page(session, mira_signed, MORNING).due}

    assert due()["Waste container “Rinse 1”"] == "not put right"
    put_right(session, list_open_findings(session)[0].finding.id, how="new label", by="Tomas", now=MORNING)
    assert "Waste container “Rinse 1”" not in due()


def _add_box(session: LabSession, name: str, *, sees_red: bool, sees_green: bool) -> int:
    return take_in_plate_box(
        session,
        name=name,
        plates=10,
        width_um=63_500,
        height_um=63_500,
        dose_uj_per_cm2=600,
        sees_red=sees_red,
        sees_green=sees_green,
        sees_blue=True,
        arrived_on=MORNING.date(),
        expires_on=None,
        warm_up_s=3600,
        by="Tomas",
        now=MORNING,
    ).id


def test_waste_that_must_leave_soon_is_due_with_its_day_and_its_rule(
    session: LabSession, mira_signed: Signed
) -> None:
    """Twelve months after 20 February 2026 and after 2 March 2026; 40 CFR 262.208(a)."""
    shelf = Shelf()
    shelf.keep(session, "us-academic")
    for name, days in (("old", 361), ("older", 366), ("new", 350)):
        shelf.enter(session, shelf.container(session, name), 1_000_000, days_ago(days))

    items = _items(today_page(session, mira_signed, MORNING).due)

    assert items["Waste: “old”"] == ("watch", "4 days left")
    assert items["Waste: “older”"] == ("stop", "1 day over")
    assert "Waste: “new”" not in items
