"""Trays under containers, quantities on a manifest, words on a label."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.waste_rules.container_label import container_label
from server.core.waste_rules.containment import containment, containment_ul
from server.core.waste_rules.finding import Verdict
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import Override, book_on, read_value
from server.core.waste_rules.rule_sets import RULE_SETS
from server.core.waste_rules.shipping import (
    Basis,
    ManifestQuantity,
    ManifestUnit,
    NotForAManifest,
    manifest_quantity,
)

TODAY = date(2026, 9, 1)
L = 1_000_000
SMALL_BOOK = book_on(RULE_SETS["us-small"], TODAY)


@pytest.mark.parametrize(
    ("capacities", "needed"),
    [([20 * L] * 6, 20 * L), ([20 * L] * 25, 50 * L), ([], 0), ([20 * L] * 10, 20 * L), ([15], 15)],
)
def test_a_tray_holds_a_tenth_of_all_or_the_largest(capacities: list[int], needed: int) -> None:
    """40 CFR 264.175(b)(3)."""
    assert containment_ul(capacities_ul=capacities, percent=Decimal(10)) == needed


@given(st.lists(st.integers(1, 200 * L), min_size=1, max_size=40))
def test_a_tray_is_never_smaller_than_either_asks_for(capacities: list[int]) -> None:
    needed = containment_ul(capacities_ul=capacities, percent=Decimal(10))

    assert needed >= max(capacities)
    assert needed * 10 >= sum(capacities)
    assert needed == max(capacities) or (needed - 1) * 10 < sum(capacities)


@pytest.mark.parametrize(
    ("tray_ul", "verdict"),
    [(None, Verdict.MEASURE), (20 * L - 1, Verdict.TOO_LITTLE), (20 * L, Verdict.ENOUGH)],
)
def test_a_tray_that_holds_too_little_is_found(tray_ul: int | None, verdict: Verdict) -> None:
    found = containment(SMALL_BOOK, capacities_ul=[20 * L] * 6, tray_ul=tray_ul)

    assert found.verdict == verdict
    assert found.says.startswith("What stands under them must hold 20 L.")


def test_a_manifest_takes_whole_units() -> None:
    """EPA Form 8700-22, item 11: no decimals."""
    found = [
        manifest_quantity(amount=amount, unit=unit, basis=Basis.MEASURED)
        for amount, unit in (
            (20_600_000, ManifestUnit.LITRES),
            (20_499_999, ManifestUnit.LITRES),
            (20_500_000, ManifestUnit.LITRES),
            (218_500_000, ManifestUnit.KILOGRAMS),
            (218_466_000, ManifestUnit.POUNDS),
            (208_197_648, ManifestUnit.GALLONS),
        )
    ]

    assert [one.words for one in found if isinstance(one, ManifestQuantity)] == [
        "21 L",
        "20 L",
        "21 L",
        "219 K",
        "482 P",
        "55 G",
    ]


@pytest.mark.parametrize(
    ("amount", "basis", "reason"),
    [
        (20 * L, Basis.CAPACITY, "no estimate"),
        (0, Basis.MEASURED, "Nothing is in it"),
        (400_000, Basis.ESTIMATED, "less than half of 1 L"),
    ],
)
def test_a_capacity_is_no_quantity_for_a_manifest(amount: int, basis: Basis, reason: str) -> None:
    """EPA Form 8700-22, item 11: container capacities are not acceptable as estimates."""
    found = manifest_quantity(amount=amount, unit=ManifestUnit.LITRES, basis=basis)

    assert isinstance(found, NotForAManifest)
    assert reason in found.reason


@pytest.mark.parametrize(
    ("key", "words", "facts", "by_rule"),
    [
        ("us-small", "Hazardous Waste", ("an indication of the hazards",), True),
        ("us-large", "Hazardous Waste", ("an indication of the hazards",), True),
        ("us-academic", "Unwanted material", ("what is in it, for whoever comes in an emergency",), True),
        ("us-very-small", "Waste", (), False),
        ("waste-office", "Waste", (), False),
    ],
)
def test_a_label_says_what_its_set_asks_for(
    key: str, words: str, facts: tuple[str, ...], by_rule: bool
) -> None:
    """40 CFR 262.15(a)(5) and 262.206(a)."""
    label = container_label(book_on(RULE_SETS[key], TODAY), vessel_ul=20 * L)

    assert (label.words, label.facts, label.is_by_rule) == (words, facts, by_rule)
    assert label.size is None


def test_the_start_date_of_unwanted_material_may_stand_in_the_log() -> None:
    """40 CFR 262.206(a)(2)."""
    label = container_label(book_on(RULE_SETS["us-academic"], TODAY), vessel_ul=20 * L)

    assert "date on which accumulation began" in label.in_the_log


@pytest.mark.parametrize("key", ["eu", "uk"])
@pytest.mark.parametrize(
    ("vessel_ul", "short_mm", "pictogram_mm"),
    [(2_500_000, 52, 16), (5 * L, 74, 23), (50 * L, 74, 23), (50_100_000, 105, 32)],
)
def test_a_european_label_has_its_codes_and_the_size_for_its_container(
    key: str, vessel_ul: int, short_mm: int, pictogram_mm: int
) -> None:
    """CLP Annex I, table 1.3; Decision 2000/532/EC, chapter 09 01."""
    label = container_label(book_on(RULE_SETS[key], TODAY), vessel_ul=vessel_ul)

    assert label.size is not None
    assert (label.size.short_um, label.size.pictogram_um) == (short_mm * 1000, pictogram_mm * 1000)
    assert any(code.startswith("09 01 05* bleach") for code in label.codes)


def test_a_campus_may_have_one_other_term_for_unwanted_material() -> None:
    override = Override(
        Key.LABEL, read_value(Key.LABEL, "Laboratory waste"), "waste office", date(2026, 1, 1)
    )

    label = container_label(book_on(RULE_SETS["us-academic"], TODAY, [override]), vessel_ul=L)

    assert (label.words, label.rules[0].edition) == ("Laboratory waste", "campus rule from Thu 1 Jan 2026")
