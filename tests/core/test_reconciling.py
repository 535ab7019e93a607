"""What is missing at the end of a term, worked by hand."""

from fractions import Fraction

from server.core.reconciling import POUR_TOLERANCE, Account


def test_a_terms_plates_are_two_short() -> None:
    """Worked by hand: bought 90; 71 runs, 9 tests and 2 dropped are 82; 6 stand on the shelf, so 2 are missing."""
    assert Account(came_in=90, gone=71 + 9 + 2, on_hand=6).missing == 2


def test_fifty_millilitres_of_two_litres_may_come_of_pouring() -> None:
    """Worked by hand: 2 L bought, 1.55 L mixed, 0.40 L on the shelf leave 50 mL unexplained: 2.5 %, and 5 % are allowed."""
    stock_a = Account(came_in=2_000_000, gone=1_550_000, on_hand=400_000)

    assert stock_a.missing == 50_000
    assert stock_a.share == Fraction(25, 1000)
    assert stock_a.is_within(POUR_TOLERANCE)
    assert not stock_a.is_within(Fraction(2, 100))


def test_carboys_that_weigh_half_a_litre_less_than_their_pours_agree() -> None:
    """Worked by hand: 31.4 L poured in and 30.9 kg weighed, near enough 30.9 L, differ by 0.5 L: 1.6 %."""
    carboys = Account(came_in=31_400_000, gone=0, on_hand=30_900_000)

    assert round(float(carboys.share), 3) == 0.016
    assert carboys.is_within(POUR_TOLERANCE)


def test_more_than_came_in_is_a_difference_too() -> None:
    assert Account(came_in=30, gone=28, on_hand=3).missing == -1
    assert not Account(came_in=0, gone=0, on_hand=1).is_within(POUR_TOLERANCE)
    assert Account(came_in=0, gone=0, on_hand=0).is_within(POUR_TOLERANCE)
