"""Recipes over HTTP: editions, weigh-out lists and strengths."""

from typing import Any

import pytest
from bs4 import BeautifulSoup

from tests.conftest import Visitor
from tests.reading import text_of, typed_in

LINES: dict[str, Any] = {
    "position": ["10", "20", "30"],
    "name": ["sodium carbonate", "sodium hydroxide", ""],
    "amount": ["70 g", "15 g", ""],
    "formula": ["Na₂CO₃", "NaOH", ""],
    "purity": ["", "", ""],
    "density": ["", "", ""],
    "hazards": ["irritates eyes", "burns skin and eyes", ""],
}
HEAD = {
    "volume": "1 L",
    "start": "700 mL",
    "basis": "made up to",
    "water": "distilled",
    "temperature": "20",
    "stand_minutes": "5",
    "life": "90 days",
    "note": "from the lab's old notebook",
}


def _recipe(visitor: Visitor, called: str = "stock B", **changed: Any) -> str:
    """The address of a recipe with one edition."""
    form = visitor.submit("/recipes", name=called).find("form", {"method": "post", "novalidate": True})
    address = str(form["action"])  # type: ignore[index]
    visitor.submit(address, **{**HEAD, **LINES, **changed})
    return address.removesuffix("/next-edition")


def _measured(page: BeautifulSoup) -> list[str]:
    return [text_of(line) for line in page.select("ol.measured > li")]  # type: ignore[arg-type]


def test_a_recipe_is_written_and_read_with_its_strengths(tomas: Visitor) -> None:
    """Hand calculation: 70 g/L ÷ 105.988 g/mol = 0.6605 mol/L and 15 ÷ 39.997 = 0.375 mol/L."""
    page = tomas.page(_recipe(tomas))
    rows = [text_of(row) for row in page.select("tbody tr")]  # type: ignore[arg-type]

    assert rows == [
        "sodium carbonate 70 g 70 g/L, 0.6605 mol/L Na2CO3 irritates eyes",
        "sodium hydroxide 15 g 15 g/L, 0.375 mol/L NaOH burns skin and eyes",
    ]
    assert "Edition 1: from the lab's old notebook" in text_of(page)
    assert "For 1 L, made up to the volume, in distilled water at 20 °C" in text_of(page)
    assert "It stands 5 min after mixing" in text_of(page)
    assert "It keeps 90 days." in text_of(page)
    assert "stock B other bath sodium carbonate, sodium hydroxide 1" in text_of(tomas.page("/recipes"))


def test_a_changed_recipe_is_a_new_edition_and_the_old_one_stays(tomas: Visitor) -> None:
    address = _recipe(tomas)
    changed = {**LINES, "amount": ["60 g", "15 g", ""]}
    tomas.submit(f"{address}/next-edition", **{**HEAD, **changed, "note": "too alkaline"})

    page = tomas.page(address)
    assert "Edition 2: too alkaline" in text_of(page)
    assert "60 g 60 g/L" in text_of(page)
    old = tomas.page(f"{address}/editions/1")
    assert "70 g 70 g/L" in text_of(old)
    assert "This edition is not the latest one" in text_of(old)
    assert "has no edition 3" in text_of(tomas.page(f"{address}/editions/3", 404))


def test_the_form_of_the_next_edition_holds_the_latest_one(tomas: Visitor) -> None:
    page = tomas.page(f"{_recipe(tomas)}/next-edition")

    assert typed_in(page, "volume") == "1 L"
    assert typed_in(page, "start") == "700 mL"
    assert typed_in(page, "temperature") == "20"
    assert typed_in(page, "life") == "90 days"
    assert [field["value"] for field in page.select("input[name=amount]")] == ["70 g", "15 g", "", "", ""]


def test_an_edition_says_why_it_changes_and_changes_something(tomas: Visitor) -> None:
    address = f"{_recipe(tomas)}/next-edition"

    refused = tomas.submit(address, 409, **{**HEAD, **LINES, "note": ""})
    assert "Say in a few words why" in text_of(refused)
    refused = tomas.submit(address, 409, **{**HEAD, **LINES, "note": "again"})
    assert "This is edition 1 unchanged" in text_of(refused)


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("amount", ["a pinch", "15 g", ""], "is not a mass"),
        ("amount", ["", "15 g", ""], "Please write how much"),
        ("amount", ["0 g", "15 g", ""], "That is nothing"),
        ("amount", ["1 part", "15 g", ""], "Parts stand only beside parts"),
        ("name", ["sodium carbonate", "Sodium Carbonate", ""], "stands here twice"),
        ("formula", ["Na2XO3", "NaOH", ""], "is no element"),
        ("position", ["first", "20", "30"], "whole number"),
        ("volume", "1,500", "could mean two things"),
        ("volume", "0 mL", "more than nothing"),
        ("temperature", "boiling", "write a number"),
        ("stand_minutes", "-1", "0 or more"),
        ("life", "for ever", "is no life"),
        ("life", "0 h", "longer than nothing"),
        ("purity", ["101", "", ""], "100 or less"),
        ("density", ["heavy", "", ""], "write a number"),
    ],
)
def test_a_fault_stands_beside_its_field_and_the_typed_text_stays(
    tomas: Visitor, field: str, typed: Any, words: str
) -> None:
    address = f"{_recipe(tomas)}/next-edition"
    page = tomas.submit(address, 422, **{**HEAD, **LINES, "note": "changed", field: typed})

    assert words in text_of(page)
    kept = [str(one["value"]) for one in page.select(f"input[name={field}]")]
    assert kept[:3] == typed if isinstance(typed, list) else kept == [typed]


def test_a_recipe_of_thirty_lines_is_too_long(tomas: Visitor) -> None:
    many = {
        name: [f"{typed[0]}{number}" if name == "name" else typed[0] for number in range(30)]
        for name, typed in LINES.items()
    }
    page = tomas.submit(f"{_recipe(tomas)}/next-edition", 422, **{**HEAD, **many})

    assert "at most 20 lines" in text_of(page)


def test_more_water_to_begin_with_than_the_whole_is_refused(tomas: Visitor) -> None:
    refused = tomas.submit(
        f"{_recipe(tomas)}/next-edition", 409, **{**HEAD, **LINES, "note": "x", "start": "2 L"}
    )

    assert "more than the whole volume" in text_of(refused)


def test_two_recipes_never_share_a_name(tomas: Visitor) -> None:
    _recipe(tomas)

    assert "a recipe called Stock B already" in text_of(tomas.submit("/recipes", 409, name="Stock B"))
    assert "Please fill this in" in text_of(tomas.submit("/recipes", 422, name=" "))


def test_a_volume_is_weighed_out_in_order_with_its_water(tomas: Visitor) -> None:
    """Hand calculation: 333 mL take 23.31 g and 4.995 g, rounded to a tenth of a gram; 233.1 mL of water first."""
    page = tomas.page(f"{_recipe(tomas)}?volume=333+mL&balance=0.1+g&graduate=10+mL")

    assert [line.split(" Why")[0] for line in _measured(page)] == [
        "230 mL of water",
        "23.3 g sodium carbonate",
        "5 g sodium hydroxide",
        "Make up to 333 mL with water.",
    ]
    assert "takes 23.31 g; rounded to the step that is −0.0 %" in text_of(page)


def test_a_coarse_balance_is_told_about(tomas: Visitor) -> None:
    """Hand calculation: 30 mL take 0.45 g of hydroxide; in steps of 0.1 g that is 0.5 g, 11.1 % too much."""
    page = tomas.page(f"{_recipe(tomas)}?volume=30+mL&balance=0.1+g&graduate=1+mL")

    assert "0.5 g sodium hydroxide rounding changes it by +11.1 %" in _measured(page)[2]


def test_what_was_asked_to_weigh_out_stays_when_it_cannot_be_read(tomas: Visitor) -> None:
    page = tomas.page(f"{_recipe(tomas)}?volume=plenty&balance=0.1+g&graduate=1+mL", 422)

    assert "is not a volume" in text_of(page)
    assert typed_in(page, "volume") == "plenty"


def test_a_mixture_in_parts_is_measured_and_shows_what_mixing_leaves(tomas: Visitor) -> None:
    """Hand calculation: 1+1 of 70 g/L carbonate and 25 g/L acid are 35 and 12.5 g/L; 250 mL take 125 mL of each."""
    _recipe(tomas, "stock B")
    acid = {"name": ["ascorbic acid", "", ""], "amount": ["25 g", "", ""], "formula": ["C6H8O6", "", ""]}
    _recipe(tomas, "stock A", **acid)
    parts = {"name": ["stock A", "stock B", ""], "amount": ["1 part", "1 part", ""], "formula": ["", "", ""]}
    address = _recipe(tomas, "working developer", **parts)

    page = tomas.page(f"{address}?volume=250+mL&balance=0.1+g&graduate=1+mL")
    assert [line.split(" Why")[0] for line in _measured(page)] == ["125 mL stock A", "125 mL stock B"]
    assert "Mixed in parts, at 20 °C." in text_of(page)
    assert "12.5 g/L ascorbic acid" in text_of(page)
    assert "35 g/L sodium carbonate" in text_of(page)


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ("swap_mass=70+g&called_for=Na2CO3&on_the_shelf=Na2CO3.10H2O", "Weigh 189 g of Na2CO3·10H2O."),
        ("swap_mass=15+g&called_for=NaOH&on_the_shelf=NaOH&swap_purity=97", "Weigh 15.46 g of NaOH."),
        ("strong=1.59&wanted=0.1&diluted_volume=5+L", "Take 314.5 mL and make it up to 5 L with water."),
        (
            "strong=30&wanted=20&with_strength=15&diluted_volume=300+mL",
            "Take 100 mL and make it up to 300 mL with the weaker one.",
        ),
        ("molarity=5.3&molar_formula=NaCl&molar_amount=250+mL", "Weigh 77.43 g and make it up to 250 mL."),
        ("molarity=1.5&molar_formula=KBr&molar_amount=66+g", "369.7 mL of it hold 66 g."),
        (
            "percent=10&density=1.109&percent_amount=1+L&percent_purity=97",
            "Weigh 114.3 g and make it up to 1 L.",
        ),
        ("percent=37.2&density=1.19&percent_amount=125+g", "282.4 mL of it hold 125 g."),
        ("percent=99.5&density=1.05&percent_amount=1+L&percent_formula=C2H4O2", "It is 17.4 mol/L strong."),
    ],
)
def test_strengths_are_computed_as_a_textbook_prints_them(tomas: Visitor, asked: str, answer: str) -> None:
    """Source: OpenStax, Chemistry 2e, sections 3.3 and 3.4 and appendix F; the hydrate by its molar masses."""
    assert answer in text_of(tomas.page(f"/recipes/strengths?{asked}"))


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("swap_mass=70+g&called_for=Na2CO3&on_the_shelf=NaHCO3", "is not another form"),
        ("swap_mass=70+g&called_for=&on_the_shelf=NaHCO3", "Please fill this in"),
        ("strong=1&wanted=2&diluted_volume=5+L", "lie between the two"),
        ("strong=0&wanted=2&diluted_volume=5+L", "more than 0"),
        ("molarity=1&molar_formula=KBr&molar_amount=1+part", "a mass or a volume"),
        ("percent=101&density=1&percent_amount=1+L", "100 or less"),
    ],
)
def test_a_strength_that_cannot_be_gets_a_sentence(tomas: Visitor, asked: str, words: str) -> None:
    assert words in text_of(tomas.page(f"/recipes/strengths?{asked}"))


def test_a_recipe_without_an_edition_says_what_to_do(tomas: Visitor) -> None:
    form = tomas.submit("/recipes", name="bleach").find("form", {"method": "post", "novalidate": True})
    address = str(form["action"]).removesuffix("/next-edition")  # type: ignore[index]

    assert "Nothing is written yet" in text_of(tomas.page(address))
    assert "bleach other bath none yet" in text_of(tomas.page("/recipes"))
    assert "needs at least one line" in text_of(tomas.submit(f"{address}/next-edition", 409, **HEAD))


def test_a_liquid_by_volume_of_so_many_percent_needs_its_density(tomas: Visitor) -> None:
    typed = {**LINES, "amount": ["70 mL", "15 g", ""], "purity": ["60", "97", ""]}
    address = f"{_recipe(tomas)}/next-edition"
    page = tomas.submit(address, 422, **{**HEAD, **typed, "note": "acid instead"})
    assert "means nothing for a volume without it" in text_of(page)

    tomas.submit(address, **{**HEAD, **typed, "note": "acid instead", "density": ["1.064", "", ""]})
    page = tomas.page(address)
    assert [field["value"] for field in page.select("input[name=purity]")] == ["60", "97", "", "", ""]
    assert [field["value"] for field in page.select("input[name=density]")] == ["1.064", "", "", "", ""]
    assert "60 %, 1.064 g/mL" in text_of(tomas.page(address.removesuffix("/next-edition")))


def test_a_part_has_neither_purity_nor_density(tomas: Visitor) -> None:
    parts = {**LINES, "amount": ["1 part", "1 part", ""], "formula": ["", "", ""], "density": ["1.1", "", ""]}
    page = tomas.submit(f"{_recipe(tomas)}/next-edition", 422, **{**HEAD, **parts, "note": "parts"})

    assert "A part is taken as it stands" in text_of(page)


def test_the_first_recipe_for_a_solution_is_the_usual_one_until_another_is_chosen(tomas: Visitor) -> None:
    first = _recipe(tomas, "copper bleach")
    page = tomas.submit(f"{first}/solution", solution="bleach")
    assert "It makes: bleach, and plans begin with it" in text_of(page)
    second = _recipe(tomas, "iron bleach")
    page = tomas.submit(f"{second}/solution", solution="bleach")
    assert "plans begin with it" not in text_of(page)

    page = tomas.submit(f"{second}/usual")
    assert "It makes: bleach, and plans begin with it" in text_of(page)
    assert "iron bleach bleach usual" in text_of(tomas.page("/recipes"))
    tomas.submit(f"{second}/solution", solution="other bath")
    assert "copper bleach bleach usual" in text_of(tomas.page("/recipes"))


def test_only_a_written_recipe_for_working_developer_or_bleach_is_planned_with(tomas: Visitor) -> None:
    _recipe(tomas, "first bleach")
    stock = _recipe(tomas, "stock C")
    tomas.submit(f"{stock}/solution", solution="stock solution")
    assert "Nothing is planned with a recipe for stock solution" in text_of(
        tomas.submit(f"{stock}/usual", 409)
    )
    assert "choose one of the list" in text_of(tomas.submit(f"{stock}/solution", 422, solution="soup"))
    form = tomas.submit("/recipes", name="empty", solution="bleach").find("form", {"novalidate": True})
    empty = str(form["action"]).removesuffix("/next-edition")  # type: ignore[index]
    assert "has no edition yet" in text_of(tomas.submit(f"{empty}/usual", 409))
