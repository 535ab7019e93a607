"""What a label says of hazards."""

from server.core.hazard_statements import Pictogram
from server.core.label_sizes import Part
from server.core.label_words import CLASSIFICATION, Acidity, Ingredient, hazard_lines

# The two-part developer of the Stony Brook report, mixed in equal parts; codes as in docs/sources.md.
DEVELOPER = (
    Ingredient("metol", "2 g/L", "H302, H317, H373, H410"),
    Ingredient("ascorbic acid", "12.5 g/L", ""),
    Ingredient("sodium carbonate", "35 g/L", "H319"),
    Ingredient("sodium hydroxide", "7.5 g/L", "H290, H314"),
)


def _said(part: Part, ingredients: tuple[Ingredient, ...], *measured: Acidity) -> list[str]:
    return [line.words for line in hazard_lines(ingredients, measured)[0] if line.part == part]


def test_each_ingredient_stands_there_with_its_strength_and_hazards() -> None:
    assert _said(Part.CONTENTS, DEVELOPER) == [
        "metol 2 g/L: H302, H317, H373, H410.",
        "ascorbic acid 12.5 g/L: hazards not noted, see its SDS.",
        "sodium carbonate 35 g/L: H319.",
        "sodium hydroxide 7.5 g/L: H290, H314.",
    ]


def test_the_gravest_signal_word_and_every_statement_stand_there_once() -> None:
    assert _said(Part.SIGNAL, DEVELOPER) == ["Danger"]
    statements = _said(Part.STATEMENT, (*DEVELOPER, Ingredient("more metol", "", "H302")))
    assert statements[0] == "H314 Causes severe skin burns and eye damage."
    assert len(statements) == len(set(statements)) == 7


def test_the_signs_are_those_of_the_ingredients() -> None:
    assert hazard_lines(DEVELOPER, ())[1] == (
        Pictogram.CORROSION,
        Pictogram.HEALTH,
        Pictogram.EXCLAMATION,
        Pictogram.ENVIRONMENT,
    )


def test_the_mixture_is_never_called_harmless() -> None:
    """Whatever is known, the classification of the mixture is for the safety office."""
    for ingredients in (DEVELOPER, (), (Ingredient("water", "", ""),)):
        assert _said(Part.CLASSIFICATION, ingredients) == [CLASSIFICATION]


def test_a_measured_ph_at_either_end_is_treated_as_corrosive() -> None:
    lines, signs = hazard_lines((), [Acidity(1150, 210)])

    assert [line.words for line in lines[:2]] == ["Danger", "pH 11.5 at 21 °C: treat as corrosive."]
    assert signs == (Pictogram.CORROSION,)
    assert _said(Part.CAUTION, (), Acidity(200, 200)) == ["pH 2 at 20 °C: treat as corrosive."]


def test_a_measured_ph_between_them_says_no_more_than_it_is() -> None:
    lines, signs = hazard_lines((), [Acidity(1149, 205)])

    assert [line.words for line in lines] == ["pH 11.49 at 20.5 °C.", CLASSIFICATION]
    assert signs == ()


def test_words_that_are_no_codes_are_printed_as_typed() -> None:
    assert _said(Part.CONTENTS, (Ingredient("bleach", "1 L/L", "stains; H999"),)) == [
        "bleach 1 L/L: H999, stains."
    ]
    assert _said(Part.STATEMENT, (Ingredient("bleach", "", "H999"),)) == ["H999: see the SDS."]
