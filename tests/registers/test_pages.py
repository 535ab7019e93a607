"""Which part of the ledger the register shows, and what it says of each entry."""

from datetime import date, datetime, timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.containers.models import Source, WasteContainer
from server.containers.queries import list_entries
from server.core.measuring import Method
from server.data.session import LabSession
from server.pours.actions import pour, reverse_entry
from server.refusal import NotFound
from server.registers import pages
from server.registers.forms import Span
from server.registers.pages import RegisterPage, register_page, stretch_of
from server.web.submitted import Submitted
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench
from tests.costs import reading

BERLIN = "Europe/Berlin"
DAYS = st.dates(date(2026, 1, 1), date(2028, 12, 31))


def _shown(session: LabSession, now: datetime = MORNING, **asked: object) -> RegisterPage:
    span = Submitted(asked, {}, Span.model_validate(asked)) if asked else Submitted[Span]()
    return register_page(session, span, lab_name="Cellar lab", now=now, zone=BERLIN)


def _pour(
    session: LabSession, carboy: WasteContainer, volume_ul: int, at: datetime, *, written: datetime
) -> int:
    entry = pour(
        session, container_id=carboy.id, volume_ul=volume_ul, typed=f"{volume_ul} uL", method=Method.GRADUATE,
        source=Source.RINSE, tablet_id=f"pour-{written:%m-%d-%H-%M}", by="Tomas", now=written,
    )  # fmt: skip
    entry.happened_at = at
    session.flush()
    return entry.id


@given(first=DAYS, days=st.integers(0, 800), shown=DAYS)
def test_a_stretch_lies_in_its_span_and_in_one_month(first: date, days: int, shown: date) -> None:
    last = first + timedelta(days=days)
    found = stretch_of(first, last, shown)

    assert first <= found.first <= found.last <= last
    assert (found.first.year, found.first.month) == (found.last.year, found.last.month)
    assert (found.earlier is None) == (found.first == first)
    assert (found.later is None) == (found.last == last)


@given(first=DAYS, days=st.integers(0, 800))
def test_the_stretches_of_a_span_follow_one_another_to_its_end(first: date, days: int) -> None:
    last = first + timedelta(days=days)
    found, seen = stretch_of(first, last, first), 0
    while True:
        seen += (found.last - found.first).days + 1
        if found.later is None:
            break
        assert found.later == found.last + timedelta(days=1)
        following = stretch_of(first, last, found.later)
        assert following.earlier is not None
        assert stretch_of(first, last, following.earlier) == found
        found = following

    assert seen == days + 1


def test_without_days_it_shows_this_month(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    _pour(session, carboy, LITRE, MORNING, written=MORNING - timedelta(days=20))
    _pour(session, carboy, LITRE, MORNING, written=MORNING)
    page = _shown(session)

    assert page.shown == "Mon 1 Feb 2027 to Tue 16 Feb 2027"
    assert [line.after for line in page.lines] == ["2 L"]


def test_a_longer_span_is_shown_a_month_at_a_time(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    for days in (0, 30, 60):
        _pour(session, carboy, LITRE, MORNING, written=MORNING + timedelta(days=days))
    first = _shown(session, first_day="2027-02-10", last_day="2027-04-20")
    second = _shown(session, first_day="2027-02-10", last_day="2027-04-20", shown="2027-03-01")

    assert (first.shown, first.earlier) == ("Wed 10 Feb 2027 to Sun 28 Feb 2027", "")
    assert first.later == "/waste/register?first_day=2027-02-10&last_day=2027-04-20&shown=2027-03-01"
    assert [line.after for line in first.lines] == ["1 L"]
    assert [line.after for line in second.lines] == ["2 L"]
    assert second.earlier.endswith("shown=2027-02-10")


def test_an_entry_stands_where_it_was_written_down_and_says_when_it_happened(
    session: LabSession, bench: Bench
) -> None:
    """So a month that was printed stays true."""
    carboy = bench.rinse_carboy(session)
    _pour(session, carboy, LITRE, MORNING - timedelta(days=20), written=MORNING)
    [line] = _shown(session).lines

    assert (line.happened, line.entered) == ("Wed 27 Jan 2027, 08:00", "Tue 16 Feb 2027, 08:00")
    assert _shown(session, first_day="2027-01-01", last_day="2027-01-31").lines == []


def test_a_reversed_entry_and_its_reversal_name_each_other(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    wrong = _pour(session, carboy, LITRE, MORNING, written=MORNING)
    later = MORNING + timedelta(minutes=5)
    reversal = reverse_entry(session, carboy.id, wrong, reason="poured elsewhere", by="Mira", now=later)

    first, second = _shown(session).lines
    assert first.kind == f"pour, reversed by no. {reversal.id}"
    assert (second.kind, second.note, second.who) == (f"reverses no. {wrong}", "poured elsewhere", "Mira")
    [sums] = _shown(session).sums
    assert (sums.came_in, sums.went_out) == ("0 mL", "0 mL")


def test_the_sums_are_of_the_stretch_and_by_stream(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session)
    for hours, volume_ul in ((0, LITRE), (1, 2 * LITRE), (24 * 20, 4 * LITRE)):
        _pour(session, carboy, volume_ul, MORNING, written=MORNING + timedelta(hours=hours))
    [sums] = _shown(session).sums

    assert (sums.stream, sums.came_in, sums.came_in_mass, sums.went_out) == ("Rinse", "3 L", "3 kg", "0 mL")


def test_one_container_is_found_by_its_name(session: LabSession, bench: Bench) -> None:
    for name in ("Rinse 1", "Rinse 2"):
        bench.rinse_carboy(session, held_ul=LITRE, name=name)

    assert [line.container for line in _shown(session).lines] == ["Rinse 1", "Rinse 2"]
    assert [line.container for line in _shown(session, container="Rinse 2").lines] == ["Rinse 2"]
    with pytest.raises(NotFound, match="no waste container called “Rinse 9”"):
        _shown(session, container="Rinse 9")


def test_a_month_with_many_entries_goes_on_on_further_pages(
    session: LabSession, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "LINES", 3)
    carboy = bench.rinse_carboy(session)
    bench.long_ledger(session, carboy, entries=7)
    seen, after = [], None
    while True:
        page = _shown(session, after=after) if after else _shown(session)
        seen += [line.id for line in page.lines]
        if not page.more:
            break
        after = page.lines[-1].id

    assert seen == [entry.id for entry in list_entries(session, carboy.id)]


def test_an_entry_at_a_page_s_edge_stands_on_one_page(
    session: LabSession, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second entry was written down after the third, as can be where one waited for the other."""
    monkeypatch.setattr(pages, "LINES", 3)
    carboy = bench.rinse_carboy(session)
    bench.long_ledger(session, carboy, entries=5)
    _first, second, third, *_rest = list_entries(session, carboy.id)
    second.entered_at, third.entered_at = third.entered_at, second.entered_at
    session.flush()
    page = _shown(session)
    after = int(parse_qs(urlsplit(page.more).query)["after"][0])

    seen = [line.id for each in (page, _shown(session, after=after)) for line in each.lines]
    assert seen == [entry.id for entry in list_entries(session, carboy.id)]


def test_a_page_reads_no_more_for_a_longer_register(
    session: LabSession, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "LINES", 10)
    costs = []
    for name, entries in (("Rinse 1", 30), ("Rinse 2", 90)):
        bench.long_ledger(session, bench.rinse_carboy(session, name=name), entries=entries)
        session.expunge_all()
        with reading(session) as cost:
            _shown(session, container=name)
        costs.append(cost)

    assert costs[0].rows == costs[1].rows
    assert costs[0].statements == costs[1].statements
