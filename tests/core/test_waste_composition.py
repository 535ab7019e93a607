"""What a waste is made of, adding up to a hundred."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.waste_composition import (
    Part,
    Strong,
    composition_of_mixture,
    composition_text,
    read_composition,
)

LITRE = 1_000_000


def test_a_composition_is_read_line_by_line() -> None:
    parts = read_composition("Water 94,25 %\n\n sodium carbonate 3.5\nCuSO4·5H2O 2.25%\nTraces of silver\n")

    assert parts == (
        Part("Water", 9425),
        Part("sodium carbonate", 350),
        Part("CuSO4·5H2O", 225),
        Part("Traces of silver", None),
    )


def test_nothing_typed_is_no_composition() -> None:
    assert read_composition(" \n ") == ()


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("water 97\nmetol 2", "adds up to 99 %, not 100 %. 1 % is not told of"),
        ("water 97\nmetol 3.5", "adds up to 100.5 %, not 100 %. 0.5 % is too much"),
        ("traces of silver", "adds up to 0 %"),
        ("water 97\nmetol", "“metol” has no share"),
        ("water 95 - 99 %", "has no share"),
        ("water 95 to 100 %", "has no share"),
        ("metol < 1", "has no share"),
        ("metol 1-5", "has no share"),
        ("water 100\nmetol 0", "share of “metol” must be more than nothing"),
        ("water 101", "at most 100 %"),
        ("water 50\nWATER 50", "stands here twice"),
        (f"{'a' * 61} 100", "at most 60 characters"),
        ("\n".join(f"salt {'x' * n} 1" for n in range(21)), "at most 20 lines"),
    ],
)
def test_a_composition_that_does_not_add_up_is_asked_back(text: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        read_composition(text)


def test_baths_poured_together_are_told_as_mixed() -> None:
    """A litre with 50 g of carbonate and 2 g of metol and a litre with 30 g of carbonate, at 1.05 kg/L: 80 g and 2 g in 2100 g."""
    parts = composition_of_mixture(
        [
            Strong(LITRE, {"carbonate": Fraction(50_000), "metol": Fraction(2_000)}),
            Strong(LITRE, {"carbonate": Fraction(30_000), "bromide": Fraction(50)}),
        ],
        density_ug_per_ul=1050,
    )

    assert parts == (
        Part("water", 9609),
        Part("carbonate", 381),
        Part("metol", 10),
        Part("traces of bromide", None),
    )


def test_strengths_that_weigh_more_than_the_whole_say_nothing() -> None:
    heavy = [Strong(LITRE, {"salt": Fraction(1_200_000)})]

    assert composition_of_mixture(heavy, density_ug_per_ul=1000) == ()
    assert composition_of_mixture([], density_ug_per_ul=1000) == ()


@given(
    st.lists(
        st.builds(
            Strong,
            st.integers(1, 20 * LITRE),
            st.dictionaries(
                st.sampled_from(("metol", "carbonate", "water", "bromide")),
                st.fractions(0, 300_000, max_denominator=1000),
            ),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_what_is_proposed_adds_up_and_can_be_typed_as_it_stands(solutions: list[Strong]) -> None:
    parts = composition_of_mixture(solutions, density_ug_per_ul=1000)

    assert read_composition(composition_text(parts)) == parts
