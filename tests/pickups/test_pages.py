"""What the pages of pickups say."""

from datetime import date, timedelta

from server.containers.models import OtherWaste
from server.data.session import LabSession
from server.handovers.actions import hand_over, mark_missed
from server.pickups.actions import choose_containers, repeat_pickups
from server.pickups.models import Pickup
from server.pickups.pages import pickup_page, pickups_page
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench
from tests.pickups.booked import BERLIN, FRIDAY, NEXT_FRIDAY, asked, booked

ON_FRIDAY = MORNING + timedelta(days=3)


def _choose(session: LabSession, pickup: Pickup, *container_ids: int) -> None:
    choose_containers(session, pickup.id, container_ids, zone=BERLIN, by="Tomas", now=MORNING)


def test_the_sheet_lists_what_was_measured_and_afterwards_what_was_taken(
    session: LabSession, bench: Bench
) -> None:
    """Container capacities are not acceptable as quantities: instructions to the US waste manifest."""
    carboy = bench.rinse_carboy(session, held_ul=13_200_000)
    other = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup = asked(session, booked(session), carboy.id, other.id)
    page = pickup_page(session, pickup.id, now=MORNING, zone=BERLIN)
    assert [(row.name, row.volume, row.became.words) for row in page.rows] == [
        ("Rinse 1", "13.2 L", "requested"),
        ("Rinse 2", "1 L", "requested"),
    ]
    assert page.total == "2 containers, 14.2 L"
    assert page.requested == "Tue 16 Feb 2027, 08:00, by Tomas"

    hand_over(session, pickup.id, [carboy.id], left={other.id: "no label"}, by="Tomas", now=ON_FRIDAY)
    page = pickup_page(session, pickup.id, now=ON_FRIDAY, zone=BERLIN)
    assert [(row.name, row.volume, row.became.words) for row in page.rows] == [
        ("Rinse 1", "13.2 L", "taken"),
        ("Rinse 2", "1 L", "left: no label"),
    ]
    assert page.total == "1 container, 13.2 L"
    assert "No other pickup is booked" in page.then
    assert page.choices == []


def test_other_courses_take_their_part_of_what_the_collector_takes(session: LabSession, bench: Bench) -> None:
    """40 L at most; 12 L of glaze water leave 28 L: the older 17 L fit, the younger 13.2 L do not."""
    session.add(
        OtherWaste(
            course="Ceramics", contents="glaze water", volume_ul=12 * LITRE, mass_mg=12 * LITRE, since=date(2027, 2, 1),
            entered_at=MORNING, entered_by="Tomas",
        )
    )  # fmt: skip
    old = bench.full_carboy(session, name="Rinse 9")
    old.first_pour_at = MORNING - timedelta(days=20)
    young = bench.rinse_carboy(session, held_ul=13_200_000)
    pickup = booked(session)
    pickup.most_ul, pickup.most_containers = 40 * LITRE, 6
    _choose(session, pickup, old.id, young.id)
    page = pickup_page(session, pickup.id, now=MORNING, zone=BERLIN)

    assert page.share == (
        "The collector takes at most 40 L and 6 containers; other courses on this shelf need 12 L of it. Oldest first, “Rinse 9” with 17 L fit; "
        "beyond it: “Rinse 1”. Take that off the sheet, or ask your waste office whether they take more."
    )
    assert page.others == ["Ceramics: glaze water, 12 L, 12 kg, since Mon 1 Feb 2027"]


def test_a_container_on_another_sheet_is_not_offered(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    first, second = booked(session), booked(session, NEXT_FRIDAY)
    _choose(session, first, carboy.id)

    assert [
        (choice.name, choice.is_on, choice.elsewhere)
        for choice in pickup_page(session, second.id, now=MORNING, zone=BERLIN).choices
    ] == [("Rinse 1", False, "Fri 19 Feb 2027")]
    assert [choice.is_on for choice in pickup_page(session, first.id, now=MORNING, zone=BERLIN).choices] == [
        True
    ]


def test_a_schedule_says_what_it_booked_and_what_it_left_out(session: LabSession) -> None:
    booked(session, date(2027, 3, 5))
    repeat_pickups(
        session, first_day=FRIDAY, every_weeks=2, until_day=date(2027, 3, 19), cut_off_days_before=2, cut_off_clock=MORNING.time().replace(hour=12),
        zone=BERLIN, by="Tomas", now=MORNING,
    )  # fmt: skip
    [schedule] = pickups_page(session, now=MORNING, zone=BERLIN).schedules

    assert schedule.words == (
        "Friday, every other week, from Fri 19 Feb 2027 until Fri 19 Mar 2027; requested until Wednesday 12:00 before. 2 pickups booked."
    )
    assert schedule.left_out == "Not booked by it, or moved since: Fri 5 Mar 2027."


def test_pickups_ahead_and_over_stand_apart_with_how_they_stand(session: LabSession, bench: Bench) -> None:
    missed = asked(session, booked(session), bench.rinse_carboy(session, held_ul=LITRE).id)
    ahead = booked(session, date(2027, 3, 5), date(2027, 3, 3))
    mark_missed(session, missed.id, said="no truck", by="Tomas", now=ON_FRIDAY)
    page = pickups_page(session, now=ON_FRIDAY, zone=BERLIN)

    assert [(row.id, row.stands.words, row.sheet) for row in page.ahead] == [
        (ahead.id, "not requested yet", "1 container, 1 L")
    ]
    assert [(row.id, row.stands.words) for row in page.past] == [(missed.id, "missed: no truck")]
    then = pickup_page(session, missed.id, now=ON_FRIDAY, zone=BERLIN).then
    assert then == "What was left stands on the sheet of Fri 5 Mar 2027."
