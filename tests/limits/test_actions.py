"""Writing down measurements, the site's months, trays and what streams count as."""

from datetime import date, datetime, timedelta

import pytest

from server.containers.models import WasteEntryKind
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.limits.actions import count_stream_as, measure_tray, record_determination, report_site_month
from server.limits.models import CountsAs, Determination
from server.limits.queries import (
    find_tray_ul,
    list_countings,
    list_determinations,
    list_measured,
    list_site_months,
)
from server.refusal import NotFound, Refusal
from tests.casts import MORNING
from tests.limits.shelf import TODAY, L, Shelf, days_ago


def _measure(
    session: LabSession,
    container_id: int,
    *,
    ph: int | None = None,
    celsius: int | None = None,
    silver: int | None = None,
    said: str = "",
    at: datetime = MORNING,
) -> Determination:
    return record_determination(
        session, container_id, ph_hundredths=ph, temperature_decicelsius=celsius, silver_ug_per_l=silver,
        chromium_ug_per_l=None, said=said, sampled_at=at, origin="electrode", note="", by="Tomas", now=MORNING,
    )  # fmt: skip


def test_a_measurement_keeps_what_the_container_held_when_the_sample_was_taken(
    session: LabSession, shelf: Shelf
) -> None:
    one = shelf.container(session, "one")
    shelf.enter(session, one, 3 * L, days_ago(5))
    wrong = shelf.enter(session, one, L, days_ago(4))
    shelf.enter(session, one, -L, days_ago(4), kind=WasteEntryKind.CORRECTION, reverses=wrong)
    shelf.enter(session, one, 4 * L, days_ago(1))
    found = _measure(session, one.id, ph=1248, celsius=250, at=days_ago(2))

    assert (found.held_ul, found.held_mg) == (3 * L, 3 * L)
    assert list_determinations(session, one.id) == [found]


def test_a_result_may_come_in_after_the_container_was_collected(session: LabSession, shelf: Shelf) -> None:
    one = shelf.container(session, "one")
    shelf.enter(session, one, 3 * L, days_ago(5))
    shelf.enter(session, one, -3 * L, days_ago(2), kind=WasteEntryKind.COLLECTED)
    one.state = ContainerState.COLLECTED

    assert _measure(session, one.id, silver=6000).held_mg == 3 * L


def test_what_came_in_since_a_sample_counts_whatever_went_out(session: LabSession, shelf: Shelf) -> None:
    """By hand: 5 L when it was sampled; then 8 L out and 6 L in, of which 2 L were taken back."""
    one = shelf.container(session, "one")
    shelf.enter(session, one, 5 * L, days_ago(5))
    shelf.enter(session, one, 4 * L, days_ago(3))
    shelf.enter(session, one, -8 * L, days_ago(2), kind=WasteEntryKind.TRANSFER_OUT)
    wrong = shelf.enter(session, one, 2 * L, days_ago(1))
    shelf.enter(session, one, -2 * L, days_ago(1), kind=WasteEntryKind.CORRECTION, reverses=wrong)
    _measure(session, one.id, silver=1000, at=days_ago(4))
    measured = list_measured(session, [one.id])[one.id]

    assert measured.came_in_since_ul(measured.silver) == 4 * L
    assert measured.came_in_since_ul(measured.ph) == 0


def test_the_latest_sample_of_each_kind_counts(session: LabSession, shelf: Shelf) -> None:
    one = shelf.container(session, "one")
    shelf.enter(session, one, 3 * L, days_ago(5))
    _measure(session, one.id, ph=900, celsius=200, at=days_ago(1))
    _measure(session, one.id, silver=100, at=days_ago(2))
    _measure(session, one.id, ph=1300, celsius=200, at=days_ago(3))
    measured = list_measured(session, [one.id])[one.id]

    assert measured.ph is not None
    assert measured.silver is not None
    assert (measured.ph.ph_hundredths, measured.silver.silver_ug_per_l) == (900, 100)
    assert (measured.chromium, measured.said) == (None, None)


@pytest.mark.parametrize(
    ("ph", "celsius", "said", "at", "sentence"),
    [
        (None, None, "", MORNING, "at least one of them"),
        (900, None, "", MORNING, "temperature of the sample"),
        (900, 200, "", MORNING + timedelta(minutes=1), "in the future"),
    ],
)
def test_what_cannot_be_a_measurement_is_refused(
    session: LabSession,
    shelf: Shelf,
    ph: int | None,
    celsius: int | None,
    said: str,
    at: datetime,
    sentence: str,
) -> None:
    one = shelf.container(session, "one")
    shelf.enter(session, one, L)
    with pytest.raises(Refusal, match=sentence):
        _measure(session, one.id, ph=ph, celsius=celsius, said=said, at=at)

    assert list_determinations(session, one.id) == []


def test_nothing_is_measured_in_an_empty_container(session: LabSession, shelf: Shelf) -> None:
    with pytest.raises(Refusal, match="Nothing was in “one” at Tue 16 Feb 2027, 08:00"):
        _measure(session, shelf.container(session, "one").id, ph=900, celsius=200)


def test_a_container_that_is_not_here_is_not_found(session: LabSession) -> None:
    with pytest.raises(NotFound):
        _measure(session, 99, ph=900, celsius=200)


def test_a_later_telling_of_a_month_counts_in_place_of_an_earlier_one(session: LabSession) -> None:
    for mass in (40 * L, 5_500_000 * L):
        report_site_month(
            session, month=TODAY, acute_mg=0, non_acute_mg=mass, spill_mg=0, on_site_mg=None, reached_on=None,
            note="waste office", by="Tomas", now=MORNING,
        )  # fmt: skip

    (told,) = list_site_months(session)
    assert (told.month, told.non_acute_mg) == (TODAY.replace(day=1), 5_500_000 * L)


@pytest.mark.parametrize(
    ("month", "reached_on"), [(date(2027, 3, 1), None), (TODAY, TODAY + timedelta(days=1))]
)
def test_a_month_or_a_day_that_is_still_to_come_is_refused(
    session: LabSession, month: date, reached_on: date | None
) -> None:
    with pytest.raises(Refusal, match="still to come"):
        report_site_month(
            session, month=month, acute_mg=0, non_acute_mg=0, spill_mg=0, on_site_mg=None, reached_on=reached_on,
            note="waste office", by="Tomas", now=MORNING,
        )  # fmt: skip

    assert list_site_months(session) == []


def test_the_latest_measuring_of_a_tray_counts(session: LabSession, shelf: Shelf) -> None:
    area = shelf.area(session)
    assert find_tray_ul(session, area.id) is None
    for volume in (20 * L, 25 * L):
        measure_tray(session, area_id=area.id, tray_ul=volume, by="Tomas", now=MORNING)

    assert find_tray_ul(session, area.id) == 25 * L
    with pytest.raises(NotFound):
        measure_tray(session, area_id=99, tray_ul=L, by="Tomas", now=MORNING)


def test_the_latest_word_on_a_stream_counts(session: LabSession, shelf: Shelf) -> None:
    stream = shelf.stream(session)
    for counts_as in (CountsAs.ACUTE_LIQUID, CountsAs.NON_ACUTE):
        count_stream_as(
            session, stream_id=stream.id, counts_as=counts_as, reason="waste office", by="Mira", now=MORNING
        )

    assert list_countings(session) == {stream.id: CountsAs.NON_ACUTE}
