"""Strengths over HTTP."""

import pytest

from tests.conftest import Visitor
from tests.reading import text_of


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ("swap_mass=70+g&called_for=Na2CO3&on_the_shelf=Na2CO3.10H2O", "Weigh 189 g of Na2CO3·10H2O."),
        ("swap_mass=15+g&called_for=NaOH&on_the_shelf=NaOH&swap_purity=97", "Weigh 15.46 g of NaOH."),
        (
            "strong=1.59&wanted=0.1&diluted_volume=5+L",
            "Take 314.5 mL of 1.59 and make it up to 5 L with water",
        ),
        ("strong=5&taken=0.85+L&wanted=&diluted_volume=1.8+L", "that is 2.361 strong"),
        ("strong=0.45&taken=11+mL&wanted=0.12", "make it up to 41.25 mL"),
        (
            "strong=30&wanted=20&with_strength=15&diluted_volume=300+mL",
            "Take 100 mL of 30 and make it up to 300 mL with the weaker one: that is 20 strong. In parts it is 1+2.",
        ),
        (
            "parts=1%2B4&parts_volume=250+mL&parts_strength=10",
            "Take 50 mL and 200 mL. The first is 2 strong in it.",
        ),
        (
            "strength=5.3&unit=mol%2FL&strength_formula=NaCl&strength_amount=250+mL",
            "Weigh 77.43 g and make it up to 250 mL.",
        ),
        ("strength=1.5&unit=mol%2FL&strength_formula=KBr&strength_amount=66+g", "369.7 mL of it hold 66 g."),
        (
            "strength=10&unit=%25+w%2Fw&strength_density=1.109&strength_amount=1+L&strength_purity=97",
            "Weigh 114.3 g and make it up to 1 L.",
        ),
        (
            "strength=37.2&unit=%25+w%2Fw&strength_density=1.19&strength_amount=125+g",
            "282.4 mL of it hold 125 g.",
        ),
        ("strength=99.5&unit=%25+w%2Fw&strength_density=1.05&strength_formula=C2H4O2", "mol/L 17.4 N 17.4"),
        ("strength=0.9&unit=%25+w%2Fv", "0.9 % w/v are 9 g/L."),
        ("weighed=135+g&weighed_into=775+g", "That is 14.84 % by weight."),
        ("weighed=25.2+g&weighed_into=500+mL&weighed_formula=C2H4O2", "mol/L 0.8393"),
    ],
)
def test_strengths_are_computed_as_a_textbook_prints_them(tomas: Visitor, asked: str, answer: str) -> None:
    """Source: OpenStax, Chemistry 2e, sections 3.3 and 3.4 and appendix F; the hydrate by its molar masses."""
    assert answer in text_of(tomas.page(f"/strengths?{asked}"))


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("swap_mass=70+g&called_for=Na2CO3&on_the_shelf=NaHCO3", "is not another form"),
        ("swap_mass=70+g&called_for=&on_the_shelf=NaHCO3", "Please fill this in"),
        ("strong=1&wanted=2&diluted_volume=5+L", "lie between the two"),
        ("strong=1&wanted=&diluted_volume=5+L", "exactly one of the four"),
        ("strong=0&wanted=2&diluted_volume=5+L", "more than 0"),
        ("strong=1&wanted=0.5&diluted_volume=1:4", "is read in two ways"),
        (
            "parts=1:4&parts_volume=1+L",
            "Please write the one that is meant: 1+4 (1 and 4 parts, 5 in all), or 1+3 (1 in 4 parts)",
        ),
        ("strength=1&unit=mol%2FL", "mol/L needs the formula"),
        ("strength=1&unit=%25+w%2Fw", "needs its density"),
        ("strength=1&unit=spoons", "choose one of the list"),
        ("swap_mass=1+g&called_for=H0&on_the_shelf=H0", "has no atom in it"),
        ("strength=150&unit=%25+w%2Fw&strength_density=1.1", "more than the whole solution holds"),
        ("strength=101&unit=%25+v%2Fv&pure_density=0.79", "more than the whole solution holds"),
        ("strength=1e-999999&unit=g%2FL", "at most 9 digits behind the point"),
        (
            "swap_mass=1+g&called_for=NaOH&on_the_shelf=NaOH&swap_purity=1e-999999",
            "at most 9 digits behind the point",
        ),
        ("strength=1&unit=g%2FL&strength_amount=1+part", "a mass or a volume"),
        ("weighed=1+g&weighed_into=10+g", "other units need the density"),
    ],
)
def test_a_strength_that_cannot_be_gets_a_sentence(tomas: Visitor, asked: str, words: str) -> None:
    assert words in text_of(tomas.page(f"/strengths?{asked}"))
