"""Numbers in a rule's own unit, and a campus's own values laid over a set."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.waste_rules.quantity import UNITS, Dimension, Quantity
from server.core.waste_rules.rule import SUBJECTS, Key, number
from server.core.waste_rules.rule_book import Override, book_on, read_value, value_words
from server.core.waste_rules.rule_sets import RULE_SETS
from server.core.waste_rules.united_states import SMALL

MAY, JUNE, JULY = date(2026, 5, 1), date(2026, 6, 1), date(2026, 7, 1)


def _fill(text: str, day: date, reason: str = "the waste office's leaflet") -> Override:
    return Override(Key.FILL, read_value(Key.FILL, text), reason, day)


def test_55_gallons_are_exactly_208_litres_and_some() -> None:
    """A US gallon is 231 cubic inches: 55 gal = 208.198 L."""
    assert number(Key.AREA_MOST, "55").exact == Decimal("208197648.12")
    assert number(Key.AREA_ACUTE_LIQUID, "1").exact == Decimal("946352.946")


@given(
    st.integers(1, 10**6), st.sampled_from([pair for pair in UNITS.items() if pair[0] != Dimension.ACIDITY])
)
def test_what_is_written_comes_back_as_it_was_read(
    count: int, units: tuple[Dimension, dict[str, Decimal]]
) -> None:
    dimension, sizes = units
    for unit in sizes:
        quantity = Quantity(Decimal(count), dimension, unit)
        digits, _, named = quantity.words.partition(" ")
        assert (digits, UNITS[dimension][named]) == (str(count), sizes[unit])


def test_a_campus_s_value_holds_from_its_day_on() -> None:
    overrides = [_fill("80", JUNE)]

    assert book_on(SMALL, MAY, overrides).find(Key.FILL).words == "90 %"
    laid = book_on(SMALL, JUNE, overrides).find(Key.FILL)
    assert (laid.words, laid.edition, laid.source) == (
        "80 %",
        "campus rule from Mon 1 Jun 2026",
        "the waste office's leaflet",
    )


def test_of_several_values_the_one_that_began_last_holds() -> None:
    overrides = [_fill("75", JULY), _fill("80", JUNE), _fill("85", JUNE)]

    assert book_on(SMALL, JUNE, overrides).find(Key.FILL).words == "85 %"
    assert book_on(SMALL, JULY, overrides).find(Key.FILL).words == "75 %"


def test_an_empty_value_takes_an_earlier_one_back() -> None:
    overrides = [_fill("80", JUNE), _fill("", JULY)]

    assert book_on(SMALL, JULY, overrides).find(Key.FILL).words == "90 %"


@pytest.mark.parametrize(
    ("key", "typed", "looser"),
    [
        (Key.FILL, "95", True),
        (Key.FILL, "75 %", False),
        (Key.AREA_MOST, "208.2 L", True),
        (Key.AREA_MOST, "208 L", False),
        (Key.CONTAINMENT, "9", True),
        (Key.CONTAINMENT, "20", False),
        (Key.RECORD_YEARS, "2", True),
        (Key.RECORD_YEARS, "5", False),
        (Key.PH_ACID, "1.5", True),
        (Key.PH_CAUSTIC, "11", False),
        (Key.LABEL, "Chemical waste", False),
        (Key.FULL_DAYS, "30", False),
    ],
)
def test_a_value_that_asks_for_less_than_the_set_is_called_looser(key: Key, typed: str, looser: bool) -> None:
    overrides = [Override(key, read_value(key, typed), "so it is here", JUNE)]

    assert book_on(SMALL, JUNE, overrides).find(key).is_looser is looser


def test_a_campus_may_give_a_number_where_the_set_has_none() -> None:
    overrides = [Override(Key.FULL_DAYS, read_value(Key.FULL_DAYS, "3"), "the waste office's leaflet", JUNE)]
    before, after = (book_on(SMALL, day, overrides).find(Key.FULL_DAYS) for day in (MAY, JUNE))

    assert (before.amount, before.words) == (None, "no number: ask the waste office")
    assert after.words == "3 days"


def test_a_rule_that_no_set_and_no_campus_says_anything_of_says_whom_to_ask() -> None:
    found = book_on(RULE_SETS["eu"], JUNE).find(Key.LQG_FROM)

    assert (found.rule, found.value, found.edition) == (None, None, "none")
    assert "Ask the waste office" in found.says
    assert Key.LQG_FROM not in [rule.key for rule in book_on(RULE_SETS["eu"], JUNE).rules]


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        (Key.AREA_MOST, "200 l", "200 L"),
        (Key.AREA_MOST, "50", "50 gal"),
        (Key.SITE_MOST, "500 kg", "500 kg"),
        (Key.PH_CAUSTIC, "11,5", "11.5"),
        (Key.AREA_DAYS, "1 day", "1 day"),
        (Key.AREA_DAYS, "2", "2 days"),
        (Key.SILVER, "0.2 mg/L", "0.2 mg/L"),
        (Key.LABEL, " Chemical waste \n\n Call 2222 ", "Chemical waste; Call 2222"),
        (Key.LABEL, "  ", "no number: ask the waste office"),
    ],
)
def test_a_campus_s_value_is_read_as_people_write_it(key: Key, typed: str, words: str) -> None:
    assert value_words(read_value(key, typed)) == words


@pytest.mark.parametrize(
    ("key", "typed", "sentence"),
    [
        (Key.AREA_DAYS, "soon", "not a number"),
        (Key.AREA_DAYS, "2.5", "whole days"),
        (Key.AREA_DAYS, "4000", "more than any rule says"),
        (Key.AREA_MOST, "5 kg", "gal or qt or L or mL"),
        (Key.SITE_MOST, "1,000", "two things"),
        (Key.FILL, "101", "more than any rule says"),
        (Key.LABEL, "x" * 500, "below 400"),
    ],
)
def test_what_cannot_be_meant_is_asked_back(key: Key, typed: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        read_value(key, typed)


def test_a_rule_of_words_has_no_number() -> None:
    assert SUBJECTS[Key.LABEL].dimension is None
    with pytest.raises(ValueError, match="rule of words"):
        number(Key.LABEL, "1")
