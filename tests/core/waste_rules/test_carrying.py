"""Where waste may be carried, set by set."""

from datetime import date

import pytest

from server.core.container_life import AreaKind
from server.core.waste_rules.carrying import why_not_carried
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import Override, RuleBook, book_on, read_value
from server.core.waste_rules.rule_sets import RULE_SETS

TODAY = date(2027, 2, 16)
_S, _C, _L = AreaKind.SATELLITE, AreaKind.CENTRAL, AreaKind.LABORATORY


def _book(rule_set: str, *overrides: Override) -> RuleBook:
    return book_on(RULE_SETS[rule_set], TODAY, overrides)


def _is_carried(book: RuleBook, before: AreaKind | None, after: AreaKind, held_ul: int = 1) -> bool:
    return why_not_carried(book, name="Rinse 1", before=before, after=after, held_ul=held_ul) is None


@pytest.mark.parametrize(
    ("before", "after", "held_ul", "is_carried"),
    [
        (_S, _S, 1, False),
        (_S, _L, 1, False),
        (_S, _C, 1, True),
        (_S, _S, 0, True),
        (_C, _C, 1, True),
        (_C, _S, 1, False),
        (_C, _L, 1, False),
        (_C, _S, 0, True),
        (_L, _L, 1, True),
        (None, _S, 1, True),
    ],
)
@pytest.mark.parametrize("rule_set", ["us-small", "us-large"])
def test_waste_goes_from_a_satellite_area_to_a_central_one_and_never_back(
    rule_set: str, before: AreaKind | None, after: AreaKind, held_ul: int, *, is_carried: bool
) -> None:
    """Between satellite areas waste may not go: EPA, frequent questions, waste.zendesk.com/hc/en-us/articles/212355067."""
    assert _is_carried(_book(rule_set), before, after, held_ul) == is_carried


@pytest.mark.parametrize("rule_set", ["eu", "uk", "waste-office"])
def test_a_rule_of_one_country_hinders_nobody_elsewhere(rule_set: str) -> None:
    assert _is_carried(_book(rule_set), _S, _S)
    assert _is_carried(_book(rule_set), _C, _S)


def test_unwanted_material_does_not_come_back_from_where_four_days_run() -> None:
    """40 CFR 262.211: determined within four calendar days of its arrival."""
    sentence = why_not_carried(_book("us-academic"), name="Rinse 1", before=_C, after=_L, held_ul=1)

    assert sentence is not None
    assert "4 days (40 CFR 262.211)" in sentence


def test_a_campus_s_own_rules_hinder_too() -> None:
    kept = [
        Override(key, read_value(key, typed), "the leaflet", TODAY)
        for key, typed in ((Key.CARRYING, "stays where it arises"), (Key.CENTRAL_DAYS, "60"))
    ]

    for before, why in ((_S, "campus rule from"), (_C, "60 days")):
        sentence = why_not_carried(_book("eu", *kept), name="Rinse 1", before=before, after=_S, held_ul=1)
        assert sentence is not None
        assert why in sentence
