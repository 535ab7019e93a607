"""The sets themselves: every rule with its edition and source, one edition a day, and who may keep which."""

from datetime import date, timedelta
from itertools import combinations

import pytest

from server.core.waste_rules.quantity import Quantity
from server.core.waste_rules.rule import SUBJECTS, THEMES, Establishment, Key, RuleSet
from server.core.waste_rules.rule_book import book_on
from server.core.waste_rules.rule_sets import RULE_SETS
from server.core.waste_rules.united_states import ACADEMIC_LABORATORIES, LARGE, REORDERED, SMALL, VERY_SMALL

TODAY = date(2026, 9, 1)
EVERY_SET = pytest.mark.parametrize("rule_set", RULE_SETS.values(), ids=RULE_SETS)
# Words that would tell somebody a waste is harmless. No rule may say so.
PROMISES = ("non-hazardous", "not hazardous", "harmless", "safe to", "is safe", "compatible")


@EVERY_SET
def test_every_rule_says_where_it_comes_from(rule_set: RuleSet) -> None:
    assert rule_set.rules
    for rule in rule_set.rules:
        assert rule.says.endswith("."), rule
        assert rule.edition, rule
        assert rule.source, rule


@EVERY_SET
def test_a_rule_s_value_is_of_its_subject_s_kind(rule_set: RuleSet) -> None:
    for rule in rule_set.rules:
        dimension = SUBJECTS[rule.key].dimension
        if isinstance(rule.value, Quantity):
            assert rule.value.dimension == dimension
            assert rule.value.exact > 0
        elif rule.value is not None:
            assert dimension is None
            assert all(rule.value)


@EVERY_SET
def test_no_two_editions_of_a_rule_hold_on_the_same_day(rule_set: RuleSet) -> None:
    for one, other in combinations(rule_set.rules, 2):
        if one.key == other.key:
            turns = [day for rule in (one, other) for day in (rule.since, rule.until) if day is not None]
            days = [turn + timedelta(days=step) for turn in turns for step in (-1, 0, 1)]
            assert not any(one.holds_on(day) and other.holds_on(day) for day in days), one.key


@EVERY_SET
def test_no_rule_promises_that_a_waste_is_harmless(rule_set: RuleSet) -> None:
    texts = [rule.says for rule in rule_set.rules] + list(rule_set.cautions)

    assert [text for text in texts if any(word in text.lower() for word in PROMISES)] == []


@EVERY_SET
def test_every_set_asks_for_a_fill_limit_a_tray_and_a_weekly_look(rule_set: RuleSet) -> None:
    book = book_on(rule_set, TODAY)

    assert [book.find(key).words for key in (Key.FILL, Key.CONTAINMENT, Key.INSPECTION_DAYS)] == [
        "90 %",
        "10 %",
        "7 days",
    ]


def test_every_key_has_a_subject() -> None:
    assert set(SUBJECTS) == set(Key)


def test_every_key_stands_under_one_theme() -> None:
    assert sorted(key for keys in THEMES.values() for key in keys) == sorted(Key)


def test_a_secondary_school_is_told_that_it_cannot_choose_academic_laboratories() -> None:
    """40 CFR 262.200: only an eligible academic entity."""
    (reason,) = ACADEMIC_LABORATORIES.refusals(Establishment.SCHOOL)

    assert "a secondary school can't choose them" in reason
    assert ACADEMIC_LABORATORIES.refusals(Establishment.OTHER)
    assert ACADEMIC_LABORATORIES.refusals(Establishment.UNIVERSITY) == ()
    assert ACADEMIC_LABORATORIES.refusals(Establishment.AFFILIATE) == ()


@pytest.mark.parametrize("rule_set", [one for one in RULE_SETS.values() if one.key != "us-academic"])
def test_any_place_may_keep_the_other_sets(rule_set: RuleSet) -> None:
    assert all(rule_set.refusals(place) == () for place in Establishment)


def test_containers_leave_academic_laboratories_within_six_months_before_the_change_and_twelve_after() -> (
    None
):
    """40 CFR 262.208(a): the 2015 edition says six months, the edition of 2026 twelve."""
    days = (date(2015, 7, 1), REORDERED - timedelta(days=1), REORDERED, TODAY)

    assert [book_on(ACADEMIC_LABORATORIES, day).find(Key.REMOVAL_MONTHS).words for day in days] == [
        "6 months",
        "6 months",
        "12 months",
        "12 months",
    ]


def test_a_satellite_label_names_its_hazards_since_the_rules_were_put_in_order_anew() -> None:
    """40 CFR 262.15(a)(5)."""
    before, now = (book_on(SMALL, day) for day in (REORDERED - timedelta(days=1), TODAY))

    assert (before.find(Key.LABEL).lines, before.find(Key.LABEL_FACTS).lines) == (("Hazardous Waste",), ())
    assert now.find(Key.LABEL).lines == ("Hazardous Waste",)
    assert now.find(Key.LABEL_FACTS).lines == ("an indication of the hazards",)


def test_premises_in_england_are_no_longer_registered() -> None:
    """The 500 kg in twelve months ended on 1 April 2016 (Environment Agency)."""
    book = RULE_SETS["uk"]

    assert book_on(book, date(2016, 3, 31)).find(Key.REGISTRATION_FROM).words == "500 kg"
    assert book_on(book, date(2016, 4, 1)).find(Key.REGISTRATION_FROM).amount is None


def test_the_european_codes_are_text_with_their_asterisks() -> None:
    """Decision 2000/532/EC as amended by 2014/955/EU, chapter 09 01."""
    for key in ("eu", "uk"):
        codes = book_on(RULE_SETS[key], TODAY).find(Key.CODES).lines
        assert {"09 01 01*", "09 01 04*", "09 01 05*", "09 01 06*"} <= {
            code.split(" ", 3)[2].join(("09 01 ", "")) for code in codes
        }


@pytest.mark.parametrize(
    ("rule_set", "days", "site"),
    [(VERY_SMALL, None, "6000 kg"), (SMALL, "180 days", "6000 kg"), (LARGE, "90 days", None)],
    ids=["very small", "small", "large"],
)
def test_central_areas_and_sites_have_the_limits_of_their_category(
    rule_set: RuleSet, days: str | None, site: str | None
) -> None:
    """40 CFR 262.14, 262.16 and 262.17."""
    book = book_on(rule_set, TODAY)

    assert [book.find(key).amount and book.find(key).words for key in (Key.CENTRAL_DAYS, Key.SITE_MOST)] == [
        days,
        site,
    ]


def test_the_set_that_asks_names_no_number_of_law() -> None:
    asked = book_on(RULE_SETS["waste-office"], TODAY)

    assert [asked.find(key).amount for key in (Key.AREA_MOST, Key.SITE_MOST, Key.PH_ACID, Key.SILVER)] == [
        None
    ] * 4
    assert "Ask the waste office" in asked.find(Key.AREA_MOST).says


@pytest.mark.parametrize(
    ("key", "years"), [("us-small", "3 years"), ("eu", "3 years"), ("uk", "3 years"), ("waste-office", None)]
)
def test_records_are_kept_for_three_years(key: str, years: str | None) -> None:
    """40 CFR 262.40; guidance of the government of the United Kingdom; Directive 2008/98/EC, article 35, from memory."""
    found = book_on(RULE_SETS[key], TODAY).find(Key.RECORD_YEARS)

    assert (found.amount and found.words) == years
