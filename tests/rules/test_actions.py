"""Choosing a rule set and laying campus rules over it."""

from datetime import date, timedelta

import pytest

from server.core.waste_rules.rule import Establishment, Key
from server.data.session import LabSession
from server.refusal import NotFound, Refusal
from server.rules.actions import choose_rule_set, lay_over
from server.rules.queries import find_rules, list_choices, list_overrides
from tests.casts import MORNING

TODAY = MORNING.date()
TOMORROW = TODAY + timedelta(days=1)


def _choose(
    session: LabSession, key: str, day: date, place: Establishment = Establishment.UNIVERSITY
) -> None:
    choose_rule_set(
        session, rule_set=key, establishment=place, is_far=False, from_day=day, by="Mira", now=MORNING
    )


def _lay(session: LabSession, key: Key, value: str, day: date) -> None:
    lay_over(session, rule=key, value=value, reason="the leaflet", from_day=day, by="Mira", now=MORNING)


def test_a_lab_that_has_chosen_nothing_asks_its_waste_office(session: LabSession) -> None:
    kept = find_rules(session, TODAY)

    assert (kept.choice, kept.book.rule_set.key, kept.is_far) == (None, "waste-office", False)


def test_a_set_is_kept_from_its_first_day_on(session: LabSession) -> None:
    _choose(session, "us-small", TODAY)
    _choose(session, "us-large", TOMORROW)

    keys = [
        find_rules(session, day).book.rule_set.key for day in (TODAY - timedelta(days=1), TODAY, TOMORROW)
    ]
    assert keys == ["waste-office", "us-small", "us-large"]


def test_of_two_choices_for_one_day_the_later_decision_counts(session: LabSession) -> None:
    _choose(session, "us-large", TODAY)
    _choose(session, "us-small", TODAY)

    assert find_rules(session, TODAY).book.rule_set.key == "us-small"
    assert len(list_choices(session)) == 2


def test_a_secondary_school_cannot_keep_academic_laboratories(session: LabSession) -> None:
    """40 CFR 262.200."""
    with pytest.raises(Refusal, match="a secondary school can't choose them"):
        _choose(session, "us-academic", TODAY, Establishment.SCHOOL)

    assert list_choices(session) == []


def test_a_set_that_is_not_there_is_not_found(session: LabSession) -> None:
    with pytest.raises(NotFound):
        _choose(session, "moon", TODAY)


def test_a_campus_rule_is_laid_over_the_set_from_its_day_on(session: LabSession) -> None:
    _choose(session, "us-small", TODAY)
    _lay(session, Key.FILL, "80", TOMORROW)

    assert find_rules(session, TODAY).book.find(Key.FILL).words == "90 %"
    assert find_rules(session, TOMORROW).book.find(Key.FILL).words == "80 %"


def test_a_campus_rule_is_taken_back_by_an_empty_one(session: LabSession) -> None:
    _lay(session, Key.FILL, "80", TODAY)
    _lay(session, Key.FILL, "", TOMORROW)

    assert find_rules(session, TODAY).book.find(Key.FILL).words == "80 %"
    assert find_rules(session, TOMORROW).book.find(Key.FILL).words == "90 %"
    assert len(list_overrides(session)) == 2


def test_there_is_nothing_to_take_back_where_no_campus_rule_is(session: LabSession) -> None:
    with pytest.raises(Refusal, match="nothing to take back"):
        _lay(session, Key.FILL, "", TODAY)


def test_a_campus_rule_outlives_a_change_of_the_set(session: LabSession) -> None:
    _lay(session, Key.FULL_DAYS, "3", TODAY)
    _choose(session, "eu", TODAY)

    assert find_rules(session, TODAY).book.find(Key.FULL_DAYS).words == "3 days"


def test_every_campus_rule_that_can_be_typed_can_be_read_again(session: LabSession) -> None:
    typed = {
        Key.AREA_MOST: "200 L",
        Key.LABEL: "Chemical waste\nCall 2222",
        Key.PH_CAUSTIC: "11,5",
        Key.SILVER: "1",
    }
    for key, value in typed.items():
        _lay(session, key, value, TODAY)

    book = find_rules(session, TODAY).book
    assert [book.find(key).words for key in typed] == ["200 L", "Chemical waste; Call 2222", "11.5", "1 mg/L"]


def test_what_cannot_be_read_is_not_laid_over(session: LabSession) -> None:
    with pytest.raises(ValueError, match="whole days"):
        _lay(session, Key.FULL_DAYS, "2.5", TODAY)

    assert list_overrides(session) == []
