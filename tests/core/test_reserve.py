"""Reserve plates. The worked numbers are house examples computed by hand; the reference is scipy's binomial distribution."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from server.core.reserve import ASSUMED_SUCCESS, FEWEST_RATED, chance_of_enough, fewest_plates, success

SHARES = st.fractions(Fraction(1, 20), 1, max_denominator=60)
CONFIDENCES = st.fractions(0, Fraction(199, 200), max_denominator=200)


@pytest.mark.parametrize(
    ("good", "share", "confidence", "plates", "chance"),
    [
        # A term's order for 36 good ones, and three classes of nine out of one box or each from its own.
        (36, "0.8", "0.9", 49, "0.903"),
        (36, "0.8", "0.95", 51, "0.963"),
        (36, "0.9", "0.9", 43, "0.939"),
        (9, "0.8", "0.9", 13, "0.901"),
        (27, "0.8", "0.9", 38, "0.938"),
    ],
)
def test_as_many_plates_as_worked_by_hand(
    good: int, share: str, confidence: str, plates: int, chance: str
) -> None:
    asked = {"good": good, "share": Fraction(share)}

    assert fewest_plates(**asked, confidence=Fraction(confidence)) == plates  # type: ignore[arg-type]
    assert f"{float(chance_of_enough(**asked, plates=plates)):.3f}" == chance  # type: ignore[arg-type]


def test_the_average_alone_orders_too_few() -> None:
    """House example: 36 ÷ 0.8 = 45 plates are enough in 59 of 100 terms only."""
    assert round(chance_of_enough(plates=45, good=36, share=Fraction(8, 10)) * 100) == 59


def test_classes_with_boxes_of_their_own_need_more_than_with_one_box() -> None:
    """House example: with 13 each all three classes have enough on 73 of 100 days; to be 90 % sure they need 15 each."""
    share, confidence = Fraction(8, 10), Fraction(9, 10)

    assert round(chance_of_enough(plates=13, good=9, share=share) ** 3 * 100) == 73
    assert fewest_plates(good=9, share=share, confidence=confidence, classes=3) == 15
    assert fewest_plates(good=27, share=share, confidence=confidence) == 38


@given(st.integers(0, 80), st.integers(0, 80), SHARES)
def test_the_chance_is_that_of_the_reference_library(plates: int, good: int, share: Fraction) -> None:
    reference = binom.sf(good - 1, plates, float(share))

    assert float(chance_of_enough(plates=plates, good=good, share=share)) == pytest.approx(
        reference, abs=1e-9
    )


@given(st.integers(0, 40), SHARES, CONFIDENCES, st.integers(1, 4))
def test_one_plate_fewer_would_not_do(good: int, share: Fraction, confidence: Fraction, classes: int) -> None:
    plates = fewest_plates(good=good, share=share, confidence=confidence, classes=classes)

    assert plates >= good
    assert chance_of_enough(plates=plates, good=good, share=share) ** classes >= confidence
    if plates > good:
        assert chance_of_enough(plates=plates - 1, good=good, share=share) ** classes < confidence


def test_the_edge_of_a_confidence_is_met_exactly() -> None:
    """By hand: of two plates with an even chance at least one comes out well in three of four cases."""
    half = Fraction(1, 2)

    assert fewest_plates(good=1, share=half, confidence=Fraction(3, 4)) == 2
    assert fewest_plates(good=1, share=half, confidence=Fraction(3, 4) + Fraction(1, 10**30)) == 3


@pytest.mark.parametrize(("share", "confidence"), [("0", "0.9"), ("0.8", "1"), ("1.1", "0.9")])
def test_no_number_of_plates_makes_it_certain(share: str, confidence: str) -> None:
    with pytest.raises(ValueError, match="The share must lie above 0"):
        fewest_plates(good=1, share=Fraction(share), confidence=Fraction(confidence))


def test_fewer_than_five_rated_runs_are_not_counted() -> None:
    found = success(good=0, rated=FEWEST_RATED - 1)

    assert found.is_assumed
    assert found.share == ASSUMED_SUCCESS


@given(st.integers(FEWEST_RATED, 500), st.data())
def test_rated_runs_never_promise_success_nor_failure(rated: int, data: st.DataObject) -> None:
    good = data.draw(st.integers(0, rated))
    found = success(good=good, rated=rated)

    assert not found.is_assumed
    assert 0 < found.share < 1
    lowest, highest = sorted((Fraction(good, rated), ASSUMED_SUCCESS))
    assert lowest <= found.share <= highest
