"""Totals, the day a limit was passed, contributions to a month, and the clocks that run."""

from contextlib import nullcontext
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from server.containers.actions import fill_anew, set_out_container
from server.containers.models import OtherWaste, Source, WasteContainer, WasteEntryKind
from server.containers.queries import list_entries
from server.core.container_life import AreaKind, ContainerState
from server.core.measuring import Method
from server.core.waste_rules.rule import Key
from server.core.waste_rules.totals import Masses
from server.data.session import LabSession
from server.limits.actions import count_stream_as, record_determination, report_site_month
from server.limits.models import CountsAs
from server.limits.queries import (
    AREA_LIMITS,
    AreaHeld,
    find_contribution,
    find_exceeded_on,
    list_areas_held,
    list_clocks,
)
from server.pickups.actions import book_pickup
from server.pours.actions import reverse_entry
from server.refusal import Refusal
from server.rules.queries import find_rules
from server.shelves.actions import carry_container
from server.transfers.actions import transfer
from tests.casts import MORNING
from tests.limits.shelf import TODAY, L, Shelf, days_ago

ZONE = "Europe/Berlin"
FEBRUARY = date(2027, 2, 1)
MOST = Decimal("208197648.12")


def _clocks(session: LabSession) -> list[tuple[str, str, date]]:
    return [(one.of, one.clock.title, one.due) for one in list_clocks(session, TODAY, zone=ZONE)]


def _contribution(session: LabSession, month: date = FEBRUARY) -> Masses:
    return find_contribution(session, month, rules=find_rules(session, TODAY), zone=ZONE)


def _determine(session: LabSession, container_id: int, at: datetime, said: str = "D002") -> None:
    record_determination(
        session, container_id, ph_hundredths=None, temperature_decicelsius=None, silver_ug_per_l=None,
        chromium_ug_per_l=None, said=said, sampled_at=at, origin="waste office", note="", by="Tomas", now=at,
    )  # fmt: skip


def _exceeded_on(session: LabSession, held: AreaHeld, limit: Decimal) -> date | None:
    return find_exceeded_on(session, [held], limit=limit, counted=AREA_LIMITS[0], zone=ZONE)


def _carry(session: LabSession, shelf: Shelf, container: WasteContainer, to: str, days: int) -> None:
    area = shelf.area(session, to, AreaKind.CENTRAL)
    carry_container(session, container.id, area_id=area.id, by="Tomas", now=days_ago(days))


def _other(
    session: LabSession, area_id: int | None, volume_ul: int, since: date, gone_on: date | None = None
) -> None:
    session.add(
        OtherWaste(
            area_id=area_id, course="Etching", contents="spent acid", volume_ul=volume_ul, mass_mg=volume_ul,
            since=since, gone_on=gone_on, entered_at=MORNING, entered_by="Tomas",
        )
    )  # fmt: skip
    session.flush()


def test_an_area_s_total_is_of_all_its_containers_streams_and_courses(
    session: LabSession, shelf: Shelf
) -> None:
    area = shelf.area(session)
    for name, volume in (("one", 90 * L), ("two", 60 * L)):
        shelf.enter(session, shelf.container(session, name, area), volume)
    shelf.enter(session, shelf.container(session, "loose"), 7 * L)
    _other(session, area.id, 5 * L, TODAY)
    _other(session, area.id, 3 * L, days_ago(9).date(), TODAY)

    held = list_areas_held(session)

    assert [(one.name, one.volume_ul(), one.mass_mg()) for one in held] == [
        ("under the sink", 155 * L, 155 * L),
        ("in no area", 7 * L, 7 * L),
    ]


def test_an_area_is_over_its_most_since_the_day_of_the_pour_that_took_it_there(
    session: LabSession, shelf: Shelf
) -> None:
    area = shelf.area(session)
    one, two = (shelf.container(session, name, area) for name in ("one", "two"))
    shelf.enter(session, one, 150 * L, days_ago(20))
    shelf.enter(session, two, 59 * L, days_ago(12))
    shelf.enter(session, two, -2 * L, days_ago(9), kind=WasteEntryKind.SAMPLE)
    shelf.enter(session, two, 2 * L, days_ago(2))
    shelf.enter(session, two, 1 * L, days_ago(1))
    (held,) = list_areas_held(session)

    assert _exceeded_on(session, held, MOST) == days_ago(2).date()
    assert _exceeded_on(session, held, Decimal(210 * L)) is None


def test_a_transfer_inside_an_area_passes_no_limit(session: LabSession, shelf: Shelf) -> None:
    area = shelf.area(session)
    one, two = (shelf.container(session, name, area) for name in ("one", "two"))
    shelf.enter(session, one, 209 * L, days_ago(20))
    shelf.enter(session, one, -100 * L, days_ago(3), kind=WasteEntryKind.TRANSFER_OUT)
    shelf.enter(session, two, 100 * L, days_ago(3), kind=WasteEntryKind.TRANSFER_IN)
    (held,) = list_areas_held(session)

    assert _exceeded_on(session, held, MOST) == days_ago(20).date()


def test_another_course_s_waste_can_take_an_area_over_its_most(session: LabSession, shelf: Shelf) -> None:
    area = shelf.area(session)
    shelf.enter(session, shelf.container(session, "one", area), 200 * L, days_ago(20))
    _other(session, area.id, 9 * L, days_ago(4).date())
    (held,) = list_areas_held(session)

    assert _exceeded_on(session, held, MOST) == days_ago(4).date()


def test_a_day_is_the_lab_s_own(session: LabSession, shelf: Shelf) -> None:
    """23:30 UTC is half past midnight of the next day in Berlin."""
    area = shelf.area(session)
    shelf.enter(
        session, shelf.container(session, "one", area), 209 * L, datetime(2027, 2, 9, 23, 30, tzinfo=UTC)
    )
    (held,) = list_areas_held(session)

    assert _exceeded_on(session, held, MOST) == date(2027, 2, 10)


def test_a_long_ledger_is_read_back_only_as_far_as_needed(session: LabSession, shelf: Shelf) -> None:
    area = shelf.area(session)
    one = shelf.container(session, "one", area, size_ul=600 * L)
    shelf.enter(session, one, 208 * L, days_ago(60))
    for minute in range(600):
        shelf.enter(session, one, L // 100, days_ago(30) + timedelta(minutes=minute))
    (held,) = list_areas_held(session)

    assert _exceeded_on(session, held, MOST) == days_ago(30).date()


def test_what_is_over_a_satellite_area_s_most_is_due_in_three_days(session: LabSession, shelf: Shelf) -> None:
    """40 CFR 262.15(a)(6)."""
    shelf.keep(session, "us-small")
    area = shelf.area(session)
    one = shelf.container(session, "one", area)
    shelf.enter(session, one, 208 * L, days_ago(30))
    assert _clocks(session) == []

    shelf.enter(session, one, L, days_ago(1))

    assert _clocks(session) == [
        ("Area “under the sink”", "what is over this area's most leaves", TODAY + timedelta(days=2))
    ]


def _acute(session: LabSession, stream_id: int, counts_as: CountsAs) -> None:
    count_stream_as(
        session, stream_id=stream_id, counts_as=counts_as, reason="office", by="Mira", now=MORNING
    )


@pytest.mark.parametrize(
    ("counts_as", "words"), [(CountsAs.ACUTE_LIQUID, "acute liquid"), (CountsAs.ACUTE_SOLID, "acute solid")]
)
def test_acute_waste_over_its_most_is_due_in_three_days_too(
    session: LabSession, shelf: Shelf, counts_as: CountsAs, words: str
) -> None:
    """40 CFR 262.15(a): one quart of liquid, or one kilogram of solid acute waste."""
    shelf.keep(session, "us-small")
    one = shelf.container(session, "one", shelf.area(session))
    _acute(session, one.stream_id, counts_as)
    shelf.enter(session, one, 9 * L // 10, days_ago(30))
    assert _clocks(session) == []

    shelf.enter(session, one, L, days_ago(1))

    assert _clocks(session) == [
        (f"Area “under the sink”, {words}", "what is over this area's most leaves", TODAY + timedelta(days=2))
    ]


def test_a_laboratory_s_most_counts_acute_material_too_and_runs_from_its_first_limit(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.208(d): 55 gallons of unwanted material in all, or a quart of reactive acute liquid."""
    shelf.keep(session, "us-academic")
    area = shelf.area(session)
    acute, other = (
        shelf.container(session, "acute", area),
        shelf.container(session, "o", area, source=Source.BLEACH),
    )
    _acute(session, acute.stream_id, CountsAs.ACUTE_SOLID)
    shelf.enter(session, acute, L // 2, days_ago(9))
    shelf.enter(session, other, 208 * L, days_ago(8))
    assert [due for of, _title, due in _clocks(session) if of == "This laboratory"] == [
        TODAY + timedelta(days=2)
    ]

    shelf.enter(session, acute, L, days_ago(5))
    _acute(session, acute.stream_id, CountsAs.ACUTE_LIQUID)
    shelf.enter(session, other, -100 * L, days_ago(4), kind=WasteEntryKind.SPILL)
    assert [due for of, _title, due in _clocks(session) if of == "This laboratory"] == [
        TODAY + timedelta(days=5)
    ]


def test_two_areas_are_not_one(session: LabSession, shelf: Shelf) -> None:
    shelf.keep(session, "us-small")
    for name in ("left", "right"):
        shelf.enter(session, shelf.container(session, name, shelf.area(session, name)), 150 * L, days_ago(3))

    assert _clocks(session) == []


def test_an_academic_laboratory_counts_as_one_and_is_cleared_at_the_next_removal(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.208(d)(1): ten calendar days or the next removal."""
    shelf.keep(session, "us-academic")
    for name in ("left", "right"):
        shelf.enter(session, shelf.container(session, name, shelf.area(session, name)), 150 * L, days_ago(3))
    ten_days = ("This laboratory", "this laboratory is cleared", TODAY + timedelta(days=7))
    assert ten_days in _clocks(session)

    book_pickup(
        session, on_day=TODAY + timedelta(days=3), request_day=TODAY + timedelta(days=2),
        request_clock=MORNING.time(), zone=ZONE, by="Tomas", now=MORNING,
    )  # fmt: skip

    assert ("This laboratory", "this laboratory is cleared", TODAY + timedelta(days=3)) in _clocks(session)


def test_each_container_of_an_academic_laboratory_leaves_within_twelve_months(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.208(a)."""
    shelf.keep(session, "us-academic")
    shelf.enter(session, shelf.container(session, "one", shelf.area(session)), L, days_ago(360))

    assert _clocks(session) == [
        ("“one”", "this container leaves the laboratory", date(2027, 2, 21)),
    ]


@pytest.mark.parametrize(
    ("rule_set", "is_far", "days"),
    [("us-small", False, 180), ("us-small", True, 270), ("us-large", False, 90)],
)
def test_a_central_area_s_clock_runs_from_the_day_it_was_carried_there(
    session: LabSession, shelf: Shelf, rule_set: str, is_far: bool, days: int
) -> None:
    """40 CFR 262.16(b) and 262.17(a): not from the first drop in a satellite area."""
    shelf.keep(session, rule_set, is_far=is_far)
    one = shelf.container(session, "one", shelf.area(session))
    shelf.enter(session, one, L, days_ago(100))
    _carry(session, shelf, one, "store", 10)

    assert _clocks(session) == [
        ("“one”", "it leaves the central area", days_ago(10).date() + timedelta(days=days))
    ]


def _transfer(session: LabSession, source: WasteContainer, target: WasteContainer, at: datetime) -> None:
    transfer(
        session, source.id, to_container_id=target.id, typed="1 L", volume_ul=L, method=Method.GRADUATE,
        tablet_id=f"from-{source.name}", by="Tomas", now=at,
    )  # fmt: skip


def test_days_in_a_central_area_run_on_in_another_one_and_in_another_container(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.17(a): from the first arrival in a central area of the site."""
    shelf.keep(session, "us-large")
    one, two = (
        shelf.container(session, name, shelf.area(session, f"sink of {name}")) for name in ("one", "two")
    )
    for container in (one, two):
        shelf.enter(session, container, L, days_ago(100))
    _carry(session, shelf, one, "store", 60)
    _carry(session, shelf, one, "second store", 5)
    _carry(session, shelf, two, "third store", 4)
    due = days_ago(60).date() + timedelta(days=90)
    assert [one.due for one in list_clocks(session, TODAY, zone=ZONE)] == [due, TODAY + timedelta(days=86)]

    _transfer(session, one, two, days_ago(2))

    assert _clocks(session) == [("“two”", "it leaves the central area", due)]
    reverse_entry(session, one.id, list_entries(session, one.id)[-1].id, reason="no", by="T", now=days_ago(1))
    assert [one.due for one in list_clocks(session, TODAY, zone=ZONE)] == [due, TODAY + timedelta(days=86)]


def test_what_is_poured_over_into_a_central_area_arrives_with_the_pouring(
    session: LabSession, shelf: Shelf
) -> None:
    shelf.keep(session, "us-large")
    one, two = (
        shelf.container(session, name, shelf.area(session, f"sink of {name}")) for name in ("one", "two")
    )
    _carry(session, shelf, two, "store", 60)
    shelf.enter(session, one, L, days_ago(100))
    _transfer(session, one, two, days_ago(2))

    assert _clocks(session) == [
        ("“two”", "it leaves the central area", days_ago(2).date() + timedelta(days=90))
    ]


def test_an_emptied_container_has_no_clock_and_begins_anew(session: LabSession, shelf: Shelf) -> None:
    shelf.keep(session, "us-academic")
    one, two = (
        shelf.container(session, name, shelf.area(session, f"sink of {name}")) for name in ("one", "two")
    )
    shelf.enter(session, one, L, days_ago(300))
    _transfer(session, one, two, days_ago(290))
    one.state, one.full_at = ContainerState.FULL, days_ago(290)
    shelf.lay(session, Key.FULL_DAYS, "3")
    assert [clock.of for clock in list_clocks(session, TODAY, zone=ZONE)] == ["“two”"]

    one.full_at = None
    shelf.enter(session, one, L, days_ago(1))

    assert _clocks(session) == [
        ("“two”", "this container leaves the laboratory", date(2027, 4, 22)),
        ("“one”", "this container leaves the laboratory", date(2028, 2, 15)),
    ]


def test_a_container_filled_in_a_central_area_is_dated_with_its_first_drop(
    session: LabSession, shelf: Shelf
) -> None:
    shelf.keep(session, "us-large")
    one = shelf.container(session, "one", shelf.area(session))
    _carry(session, shelf, one, "store", 30)
    assert _clocks(session) == []
    shelf.enter(session, one, L, days_ago(10))

    assert _clocks(session) == [
        ("“one”", "it leaves the central area", days_ago(10).date() + timedelta(days=90))
    ]


def test_a_vessel_set_out_or_filled_anew_in_a_central_area_is_there_from_then_on(
    session: LabSession, shelf: Shelf
) -> None:
    shelf.keep(session, "us-large")
    store = shelf.area(session, "store", AreaKind.CENTRAL)
    first = set_out_container(
        session, stream_id=shelf.stream(session).id, name="one", size_ul=9 * L, area_id=store.id, by="T", now=days_ago(30)
    )  # fmt: skip
    first.state = ContainerState.WASHED
    second = fill_anew(
        session, first.id, name="two", stream_id=first.stream_id, by="T", now=days_ago(20)
    )  # fmt: skip
    first.state = ContainerState.OPEN
    for container, days in ((first, 25), (second, 10)):
        shelf.enter(session, container, L, days_ago(days))

    assert [(of, due) for of, _title, due in _clocks(session)] == [
        ("“one”", days_ago(25).date() + timedelta(days=90)),
        ("“two”", days_ago(10).date() + timedelta(days=90)),
    ]


def test_unwanted_material_in_a_central_area_waits_four_days_for_its_determination(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.211."""
    shelf.keep(session, "us-academic")
    one = shelf.container(session, "one", shelf.area(session))
    shelf.enter(session, one, L, days_ago(100))
    _carry(session, shelf, one, "store", 1)
    assert _clocks(session) == [("“one”", "what it is is determined", TODAY + timedelta(days=3))]

    _determine(session, one.id, MORNING)
    assert _clocks(session) == []


def test_a_campus_s_days_run_for_full_and_for_old_containers(session: LabSession, shelf: Shelf) -> None:
    shelf.keep(session, "us-small")
    shelf.lay(session, Key.FULL_DAYS, "3")
    shelf.lay(session, Key.REMOVAL_DAYS, "90")
    one = shelf.container(session, "one", shelf.area(session))
    shelf.enter(session, one, 200 * L, days_ago(30))
    one.state, one.full_at = ContainerState.FULL, days_ago(5)

    assert _clocks(session) == [
        ("“one”", "a full container leaves", TODAY - timedelta(days=2)),
        ("“one”", "this container leaves the laboratory", TODAY + timedelta(days=60)),
    ]


def test_a_very_small_generator_s_site_clock_runs_from_the_day_that_was_told(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.14(a)(4)."""
    shelf.keep(session, "us-very-small")
    report_site_month(
        session, month=FEBRUARY, acute_mg=0, non_acute_mg=0, spill_mg=0, on_site_mg=1000 * L,
        reached_on=date(2027, 2, 10), note="waste office", by="Tomas", now=MORNING,
    )  # fmt: skip

    assert _clocks(session) == [("The whole site", "all waste leaves the site", date(2027, 8, 9))]


def test_the_site_s_clock_runs_on_until_less_is_told_to_stand_there(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.14(a)(4): from 1000 kg; a month in which nobody says anything of it ends nothing."""
    shelf.keep(session, "us-very-small")

    def _told(month: int, kg: int | None, reached_on: date | None = None) -> list[date]:
        report_site_month(
            session, month=date(2026, month, 1), acute_mg=0, non_acute_mg=0, spill_mg=0,
            on_site_mg=None if kg is None else kg * L, reached_on=reached_on, note="office", by="Tomas", now=MORNING,
        )  # fmt: skip
        return [due for _of, _title, due in _clocks(session)]

    due = [date(2027, 4, 8)]
    assert _told(10, 1000, date(2026, 10, 10)) == due
    assert _told(11, None) == due
    assert _told(12, 1000) == due
    assert _told(12, 999) == []


def test_what_was_collected_has_no_clock(session: LabSession, shelf: Shelf) -> None:
    shelf.keep(session, "us-academic")
    one = shelf.container(session, "one", shelf.area(session))
    shelf.enter(session, one, L, days_ago(360))
    shelf.enter(session, one, -L, days_ago(1), kind=WasteEntryKind.COLLECTED)
    one.state = ContainerState.COLLECTED

    assert _clocks(session) == []


def test_a_month_s_contribution_is_what_was_poured_in_it(session: LabSession, shelf: Shelf) -> None:
    """Transfers, samples and what dried up change nothing of what was made; a pour that was taken back was none."""
    one, two = (shelf.container(session, name) for name in ("one", "two"))
    shelf.enter(session, one, 5 * L, datetime(2027, 1, 31, 22, 59, tzinfo=UTC))
    shelf.enter(session, one, 2 * L, datetime(2027, 1, 31, 23, 0, tzinfo=UTC))
    wrong = shelf.enter(session, one, 3 * L)
    shelf.enter(session, one, -3 * L, kind=WasteEntryKind.CORRECTION, reverses=wrong)
    out = shelf.enter(session, one, -L, kind=WasteEntryKind.TRANSFER_OUT)
    shelf.enter(session, two, L, kind=WasteEntryKind.TRANSFER_IN)
    shelf.enter(session, one, L, kind=WasteEntryKind.CORRECTION, reverses=out)
    shelf.enter(session, one, -L, kind=WasteEntryKind.EVAPORATION)

    assert _contribution(session) == Masses(non_acute_mg=2 * L)
    assert _contribution(session, date(2027, 1, 1)) == Masses(non_acute_mg=5 * L)


def test_an_academic_laboratory_counts_in_the_month_of_the_determination_and_only_once(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.210(b)(3): not in the month of the pour."""
    shelf.keep(session, "us-academic")
    one = shelf.container(session, "one")
    shelf.enter(session, one, 8 * L, days_ago(40))
    assert _contribution(session, date(2027, 1, 1)) == Masses()

    _determine(session, one.id, days_ago(5))
    shelf.enter(session, one, 2 * L, days_ago(3))
    _determine(session, one.id, days_ago(2))
    shelf.enter(session, one, L, days_ago(1))

    assert _contribution(session, date(2027, 1, 1)) == Masses()
    assert _contribution(session) == Masses(non_acute_mg=10 * L)
    _determine(session, one.id, datetime(2027, 3, 1, 9, 0, tzinfo=UTC))
    assert _contribution(session, date(2027, 3, 1)) == Masses(non_acute_mg=L)


def test_a_determination_counts_on_the_day_it_was_said_and_not_on_its_sample_s(
    session: LabSession, shelf: Shelf
) -> None:
    """40 CFR 262.210(b)(3); sampled in January, said on 3 February, written down on the 16th."""
    shelf.keep(session, "us-academic")
    one = shelf.container(session, "one")
    shelf.enter(session, one, 8 * L, days_ago(40))
    for said_on, refused in ((date(2027, 1, 27), True), (date(2027, 2, 17), True), (date(2027, 2, 3), False)):
        with pytest.raises(Refusal, match="between the sample's day and today") if refused else nullcontext():
            record_determination(
                session, one.id, ph_hundredths=None, temperature_decicelsius=None, silver_ug_per_l=None,
                chromium_ug_per_l=None, said="D002", determined_on=said_on, sampled_at=days_ago(19), origin="office",
                note="", by="Tomas", now=MORNING,
            )  # fmt: skip

    assert _contribution(session, date(2027, 1, 1)) == Masses()
    assert _contribution(session) == Masses(non_acute_mg=8 * L)


def test_a_measurement_alone_is_no_determination(session: LabSession, shelf: Shelf) -> None:
    shelf.keep(session, "us-academic")
    one = shelf.container(session, "one")
    shelf.enter(session, one, 8 * L)
    record_determination(
        session, one.id, ph_hundredths=900, temperature_decicelsius=200, silver_ug_per_l=None, chromium_ug_per_l=None,
        said="", sampled_at=MORNING, origin="strip", note="", by="Tomas", now=MORNING,
    )  # fmt: skip

    assert _contribution(session) == Masses()


def test_acute_waste_and_its_spills_count_apart(session: LabSession, shelf: Shelf) -> None:
    area = shelf.area(session)
    one = shelf.container(session, "one", area)
    count_stream_as(
        session,
        stream_id=one.stream_id,
        counts_as=CountsAs.ACUTE_LIQUID,
        reason="waste office",
        by="Mira",
        now=MORNING,
    )
    shelf.enter(session, one, 2 * L)
    shelf.enter(session, one, -L // 2, kind=WasteEntryKind.SPILL)
    wrong = shelf.enter(session, one, -L // 4, kind=WasteEntryKind.SPILL)
    shelf.enter(session, one, L // 4, kind=WasteEntryKind.CORRECTION, reverses=wrong)
    (held,) = list_areas_held(session)

    assert _contribution(session) == Masses(acute_mg=2 * L, spill_mg=L // 2)
    assert (held.volume_ul(), held.volume_ul(CountsAs.ACUTE_LIQUID)) == (0, 3 * L // 2)
    assert _exceeded_on(session, held, Decimal(L)) is None
