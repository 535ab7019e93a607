"""A session's liquids, added up by hand, and balances by their shape."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from server.core.mass_balance import (
    Side,
    Term,
    balance,
    carried_out_ul,
    root_of_squares,
)

IN, GONE, THERE = Side.CAME_IN, Side.GONE, Side.THERE
SESSION = (
    Term("stock A", IN, 1_200_000),
    Term("stock B", IN, 1_200_000),
    Term("rinse water drawn", IN, 6_000_000),
    Term("developer waste", GONE, 2_310_000),
    Term("rinse waste", GONE, 5_850_000),
    Term("evaporated", GONE, 120_000, 60_000, is_assumed=True),
    Term("carried out on plates", GONE, 48 * 400, 48 * 200, is_assumed=True),
)


def test_a_session_is_a_hundred_millilitres_short_and_nobody_need_ask() -> None:
    """Worked by hand: 8.400 L in, 2.310 + 5.850 + 0.120 + 48 × 0.40 mL out; 0.101 L are 1.2 % and below 5 %."""
    found = balance(SESSION)

    assert found.account.came_in == 8_400_000
    assert found.account.gone == 8_299_200
    assert found.difference_ul == 100_800
    assert round(found.account.share, 3) == Fraction("0.012")
    assert found.allowed_ul == 420_000
    assert not found.is_asked_about
    assert found.sentence == "100.8 mL (1.2 % of what came in) is within the 420 mL that measuring may make."


def test_a_difference_is_asked_about_from_above_five_hundredths_on() -> None:
    at_the_limit = Term("more", GONE, 100_800 - 420_000)
    beyond = Term("more", GONE, 100_800 - 420_001)

    assert not balance([*SESSION, at_the_limit]).is_asked_about
    assert balance([*SESSION, beyond]).is_asked_about
    assert "poured without an entry, spilled" in balance([*SESSION, beyond]).sentence


def test_a_small_session_is_asked_about_from_above_a_quarter_of_a_litre_on() -> None:
    def short_of(missing_ul: int) -> bool:
        return balance(
            [Term("drawn", IN, 1_000_000), Term("poured", GONE, 1_000_000 - missing_ul)]
        ).is_asked_about

    assert not short_of(250_000)
    assert short_of(250_001)


def test_more_than_came_in_is_asked_about_in_other_words() -> None:
    found = balance([Term("drawn", IN, 1_000_000), Term("poured", GONE, 2_000_000)])

    assert found.difference_ul == -1_000_000
    assert found.sentence.startswith("1 L more went, or is there, than came in")
    assert "Was water filled in that nobody logged" in found.sentence


def test_what_is_there_still_is_neither_gone_nor_missing() -> None:
    found = balance([Term("mixed", IN, 800_000), Term("poured", GONE, 600_000), Term("left", THERE, 200_000)])

    assert found.difference_ul == 0
    assert found.sentence == "Everything that came in has an entry."


def test_uncertainties_are_kept_and_told_together() -> None:
    """By hand: √(60.0² + 9.6²) = 60.8 mL."""
    found = balance(SESSION)

    assert [term.uncertainty_ul for term in found.terms if term.is_assumed] == [60_000, 9_600]
    assert round(found.uncertainty_ul, -2) == 60_800


def test_a_plate_of_63_5_millimetres_carries_0_40_millilitres() -> None:
    """By hand: two faces of 40.32 cm² at 50 mL/m², which is assumed."""
    assert round(carried_out_ul(plates=1, plate_area_mm2=4032, rate_ul_per_m2=50_000), -1) == 400
    assert round(carried_out_ul(plates=48, plate_area_mm2=4032, rate_ul_per_m2=50_000), -3) == 19_000


def test_independent_uncertainties_are_rounded_up_together() -> None:
    assert root_of_squares([]) == 0
    assert root_of_squares([3, 4]) == 5
    assert root_of_squares([1, 1]) == 2


TERMS = st.lists(
    st.builds(
        Term,
        name=st.sampled_from(["mixed", "drawn", "poured", "left"]),
        side=st.sampled_from(Side),
        amount_ul=st.integers(-1_000_000, 2_000_000_000),
        uncertainty_ul=st.integers(0, 1_000_000),
        is_assumed=st.booleans(),
    )
)


@given(TERMS)
def test_the_terms_and_the_difference_always_add_up(terms: list[Term]) -> None:
    found = balance(terms)
    came_in, gone, there = (sum(term.amount_ul for term in found.on(side)) for side in (IN, GONE, THERE))

    assert came_in == gone + there + found.difference_ul
    assert sum(len(found.on(side)) for side in Side) == len(terms)
    assert found.is_asked_about == (
        abs(found.difference_ul) > max(Fraction(250_000), Fraction(came_in * 5, 100))
    )


@given(st.data())
def test_the_order_of_the_terms_does_not_matter(data: st.DataObject) -> None:
    terms = data.draw(TERMS)
    one, other = balance(terms), balance(data.draw(st.permutations(terms)))

    assert (one.account, one.uncertainty_ul, one.sentence) == (
        other.account,
        other.uncertainty_ul,
        other.sentence,
    )


@given(TERMS)
def test_no_uncertainty_alone_is_more_than_all_together(terms: list[Term]) -> None:
    each = [term.uncertainty_ul for term in terms]

    assert max(each, default=0) <= balance(terms).uncertainty_ul <= sum(each)
