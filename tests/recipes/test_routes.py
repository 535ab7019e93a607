"""Recipes over HTTP: editions, weigh-out lists and strengths."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any
from urllib.parse import urlencode

import pytest
from bs4 import BeautifulSoup

from server.core.recipe import Measure
from server.data.session import LabSession
from server.kits.models import Bottle
from tests.conftest import Visitor
from tests.kits import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]

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


def _list_of(address: str) -> str:
    return f"{address}/editions/1/weigh-out"


def _measured(page: BeautifulSoup) -> list[str]:
    return [text_of(line) for line in page.select("ol.measured > li")]


def test_a_recipe_is_written_and_read_with_its_strengths(tomas: Visitor) -> None:
    """Hand calculation: 70 g/L ÷ 105.988 g/mol = 0.6605 mol/L and 15 ÷ 39.997 = 0.375 mol/L."""
    page = tomas.page(_recipe(tomas))
    rows = [text_of(row) for row in page.select("tbody tr")]

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
        ("name", ["", "sodium hydroxide", ""], "Please write what it is, or clear its amount too"),
        ("amount", ["0 g", "15 g", ""], "That is nothing"),
        ("amount", ["1 part", "15 g", ""], "Parts stand only beside parts"),
        ("amount", ["1:4", "15 g", ""], "is read in two ways"),
        ("amount", ["1+4", "15 g", ""], "each solution on its own line"),
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
    liquids = {**LINES, "amount": ["400 mL", "15 g", ""]}
    refused = tomas.submit(f"{_recipe(tomas, 'acid')}/next-edition", 409, **{**HEAD, **liquids, "note": "x"})
    assert "the liquids are more than the whole volume" in text_of(refused)


def test_two_recipes_never_share_a_name(tomas: Visitor) -> None:
    _recipe(tomas)

    assert "a recipe called Stock B already" in text_of(tomas.submit("/recipes", 409, name="Stock B"))
    assert "Please fill this in" in text_of(tomas.submit("/recipes", 422, name=" "))


def test_capitals_beyond_the_alphabet_of_the_database_are_capitals_too(tomas: Visitor) -> None:
    _recipe(tomas, "Ätzbad")

    for again in ("Ätzbad", "ätzbad", "ÄTZBAD"):
        page = tomas.submit("/recipes", 409, name=again)
        assert f"a recipe called {again} already" in text_of(page)


def test_a_volume_is_weighed_out_in_order_with_its_water(tomas: Visitor) -> None:
    """Hand calculation: 333 mL take 23.31 g and 4.995 g, rounding to a tenth of a gram; 233.1 mL of water first, at least 230 on the graduate."""
    page = tomas.page(f"{_list_of(_recipe(tomas))}?volume=333+mL&balance=0.1+g&graduate=10+mL")

    assert [line.split(" Why")[0] for line in _measured(page)] == [
        "230 mL of water",
        "23.3 g sodium carbonate exactly 23.31 g, rounding −0.0 % irritates eyes",
        "5 g sodium hydroxide exactly 4.995 g, rounding +0.1 % burns skin and eyes",
        "Make up to 333 mL with water.",
        "Let it stand 5 min before it is used.",
        "Label it: what it is, when and by whom it was mixed, and that it keeps 90 days.",
    ]
    assert "70 g for 1 L, scaled to 333 mL, is 23.31 g; in steps of 0.1 g that is −0.0 %" in text_of(page)
    assert "Acid into water, never water into acid" in text_of(page)
    assert "read the SDS of every component first" in text_of(page)


def test_a_coarse_balance_is_told_about(tomas: Visitor) -> None:
    """Hand calculation: 30 mL take 0.45 g of hydroxide; in steps of 0.1 g that is 0.5 g, 11.1 % too much. Half a step is 2 % of 2.5 g, which is in 166.7 mL."""
    page = tomas.page(f"{_list_of(_recipe(tomas))}?volume=30+mL&balance=0.1+g&graduate=1+mL")

    assert "Rounding changes it by +11.1 %. From 166.7 mL on it stays within 2 %." in _measured(page)[2]


def test_less_than_half_a_step_is_said_in_words_and_never_becomes_nothing(tomas: Visitor) -> None:
    """Hand calculation: 3 mL take 0.045 g of hydroxide, which a balance with steps of 0.1 g doesn't show."""
    page = tomas.page(f"{_list_of(_recipe(tomas))}?volume=3+mL&balance=0.1+g&graduate=10+mL")

    assert _measured(page)[0] == "A little of the water, less than the graduate shows"
    assert _measured(page)[2].startswith("0.045 g sodium hydroxide")
    assert (
        "That is less than half a step of 0.1 g and can't be measured here. Take a finer balance"
        in text_of(page)
    )
    assert "make 166.7 mL or more" in text_of(page)


def test_what_was_asked_to_weigh_out_stays_when_it_cannot_be_read(tomas: Visitor) -> None:
    page = tomas.page(f"{_list_of(_recipe(tomas))}?volume=plenty&balance=0.1+g&graduate=1+mL", 422)

    assert "is not a volume" in text_of(page)
    assert typed_in(page, "volume") == "plenty"
    assert not page.select("ol.measured")


def test_an_empty_list_asks_what_is_to_be_made(tomas: Visitor) -> None:
    address = _list_of(_recipe(tomas))

    assert "What is to be made" in text_of(tomas.page(address))
    assert "Please write a volume, or what is there of a component" in text_of(
        tomas.page(f"{address}?volume=", 422)
    )


def _shelf(**columns: list[str]) -> str:
    empty = {name: ["", ""] for name in ("formula", "purity", "density", "there")}
    return urlencode({"volume": "", **empty, **columns}, doseq=True)


def test_another_hydrate_and_another_purity_are_weighed_instead(tomas: Visitor) -> None:
    """Hand calculation: 70 g × 286.138 ÷ 105.988 = 188.98 g; 15 g ÷ 0.97 = 15.46 g."""
    typed = _shelf(volume=["1 L"], formula=["Na2CO3.10H2O", ""], purity=["", "97"])
    page = tomas.page(f"{_list_of(_recipe(tomas))}?{typed}")

    assert "188.98 g sodium carbonate as Na2CO3·10H2O" in _measured(page)[1]
    assert "15.46 g sodium hydroxide as 97 % pure" in _measured(page)[2]
    assert "times 2.7 for what stands on the shelf" in text_of(page)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"formula": ["NaHCO3", ""]}, "is not another form"),
        ({"formula": ["salt", ""]}, "can't be read"),
        ({"purity": ["0", ""]}, "more than 0"),
        ({"there": ["1:4", ""]}, "is read in two ways"),
        ({"there": ["100 mL", ""]}, "Write down the density"),
        ({"there": ["2 parts", ""]}, "a mass or a volume"),
    ],
)
def test_what_cannot_stand_there_gets_a_sentence_beside_it(
    tomas: Visitor, columns: dict[str, list[str]], words: str
) -> None:
    page = tomas.page(f"{_list_of(_recipe(tomas))}?{_shelf(**{'volume': ['1 L'], **columns})}", 422)

    assert words in text_of(page)
    for name, typed in columns.items():
        assert [field["value"] for field in page.select(f"input[name={name}]")] == typed


def test_what_is_there_says_how_much_can_be_made(tomas: Visitor) -> None:
    """Hand calculation: 12 g of hydroxide at 15 g/L make 800 mL, and 63 g of carbonate at 70 g/L 900 mL."""
    address = _list_of(_recipe(tomas))
    page = tomas.page(f"{address}?{_shelf(there=['63 g', '12 g'])}")

    assert "What is there makes 800 mL; sodium hydroxide runs out first." in text_of(page)
    assert "56 g sodium carbonate" in _measured(page)[1]
    page = tomas.page(f"{address}?{_shelf(volume=['1 L'], there=['63 g', '12 g'])}")
    assert "That is less than 1 L." in text_of(page)
    page = tomas.page(f"{address}?{_shelf(there=['0.001 g', ''])}", 422)
    assert "makes less than the graduate shows" in text_of(page)


def test_a_liquid_called_for_by_mass_may_be_measured_by_volume(tomas: Visitor) -> None:
    """Source: OpenStax, Chemistry 2e, section 3.4: 282 mL of 37.2 % acid of 1.19 g/mL hold 125 g of hydrogen chloride."""
    typed = {
        **LINES,
        "name": ["hydrochloric acid", "", ""],
        "amount": ["125 g", "", ""],
        "formula": ["HCl", "", ""],
    }
    address = _list_of(_recipe(tomas, "acid", **typed))
    asked = {"volume": "1 L", "formula": "", "purity": "37.2", "density": "1.19", "there": "500 mL"}
    page = tomas.page(f"{address}?{urlencode(asked)}")

    assert "282 mL hydrochloric acid" in _measured(page)[1]
    page = tomas.page(f"{address}?{urlencode({**asked, 'there': ''})}")
    assert "336.02 g hydrochloric acid" in _measured(page)[1]
    assert "or 282.4 mL, it is a liquid" in _measured(page)[1]


def _parts(tomas: Visitor) -> str:
    """The address of a working developer of stock A and stock B, which have recipes too."""
    _recipe(tomas, "stock B")
    acid = {"name": ["ascorbic acid", "", ""], "amount": ["25 g", "", ""], "formula": ["C6H8O6", "", ""]}
    _recipe(tomas, "stock A", **acid)
    empty = ["", "", ""]
    parts = {
        "name": ["stock A", "stock B", ""],
        "amount": ["1 part", "1 part", ""],
        "formula": empty,
        "hazards": empty,
    }
    return _recipe(tomas, "working developer", **parts)


def test_a_mixture_in_parts_is_measured_and_shows_what_mixing_leaves(tomas: Visitor) -> None:
    """Hand calculation: 1+1 of 70 g/L carbonate and 25 g/L acid are 35 and 12.5 g/L; 250 mL take 125 mL of each."""
    address = _parts(tomas)

    page = tomas.page(f"{_list_of(address)}?volume=250+mL")
    assert [line.split(" Why")[0] for line in _measured(page)[:3]] == [
        "125 mL stock A",
        "125 mL stock B",
        "Together that is 250 mL.",
    ]
    page = tomas.page(address)
    assert "Mixed in parts, 1+1, at 20 °C." in text_of(page)
    assert "12.5 g/L ascorbic acid" in text_of(page)
    assert "35 g/L sodium carbonate" in text_of(page)


def test_a_stock_solution_shows_its_strengths_before_and_after_mixing(tomas: Visitor) -> None:
    developer = _parts(tomas)
    stock = tomas.page("/recipes").find("a", string="stock B")
    page = tomas.page(str(stock["href"]))  # type: ignore[index]

    assert "70 g 70 g/L, 0.6605 mol/L" in text_of(page)
    assert "In working developer, mixed 1+1" in text_of(page)
    assert "35 g/L sodium carbonate" in text_of(page)
    unknown = {
        "name": ["stock B", "stock Z", ""],
        "amount": ["1 part", "3 parts", ""],
        "formula": ["", "", ""],
    }
    tomas.submit(f"{developer}/next-edition", **{**HEAD, **LINES, **unknown, "note": "weaker"})
    page = tomas.page(str(stock["href"]))  # type: ignore[index]
    assert "17.5 g/L sodium carbonate" in text_of(page)
    assert "There is no recipe for stock Z" in text_of(page)


def test_what_an_edition_changes_is_said_line_by_line(tomas: Visitor) -> None:
    address = _recipe(tomas)
    changed: dict[str, Any] = {
        **HEAD,
        "note": "softer",
        "temperature": "",
        "position": ["10", "5", "30"],
        "name": ["sodium carbonate", "potassium bromide", ""],
        "amount": ["60 g", "1 g", ""],
        "formula": ["Na2CO3.H2O", "KBr", ""],
        "purity": ["", "", ""],
        "density": ["", "", ""],
        "hazards": ["irritates eyes", "", ""],
    }
    page = tomas.submit(f"{address}/next-edition", **changed)
    told = page.find("h2", string="What changed since edition 1").find_next("ul")  # type: ignore[union-attr]

    assert [text_of(line) for line in told.select("li")] == [  # type: ignore[union-attr]
        "Temperature: 20 °C → not said",
        "sodium hydroxide is no longer in it",
        "potassium bromide is new: 1 g",
        "sodium carbonate, amount: 70 g → 60 g",
        "sodium carbonate, formula: Na2CO3 → Na2CO3·H2O",
    ]
    back = {**HEAD, **LINES, "note": "back to the first", "temperature": "20"}
    page = tomas.submit(f"{address}/next-edition", **back)
    assert "What changed since edition 2" in text_of(page)
    page = tomas.page(f"{address}/editions/3?since=1")
    assert "What changed since edition 1" in text_of(page)
    assert "Nothing: they say the same." in text_of(page)
    assert "has no edition 9" in text_of(tomas.page(f"{address}/editions/3?since=9", 404))


def test_a_changed_order_is_a_change_too(tomas: Visitor) -> None:
    address = _recipe(tomas)
    swapped = {**HEAD, **LINES, "position": ["20", "10", "30"], "note": "hydroxide first"}
    page = tomas.submit(f"{address}/next-edition", **swapped)

    assert "Order: sodium hydroxide, sodium carbonate" in text_of(page)


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


@pytest.mark.parametrize(
    "typed",
    [
        {
            "amount": ["5.625 mL", "1234.567 g", ""],
            "purity": ["12.3456", "99.5", ""],
            "density": ["1.064", "", ""],
        },
        {"amount": ["0.001 g", "1.000001 L", ""], "volume": "1.234567 L", "start": "0 mL", "life": "1.5 h"},
        {"basis": "added to", "temperature": "20.5", "life": "", "stand_minutes": "7", "water": "tap"},
        {"amount": ["100 parts", "1 part", ""], "formula": ["", "", ""]},
    ],
)
def test_an_edition_comes_back_from_its_form_as_it_was(tomas: Visitor, typed: dict[str, Any]) -> None:
    """What the form of the next edition shows is sent back unchanged, and is the same edition to the last digit."""
    address = f"{_recipe(tomas, **typed)}/next-edition"
    page = tomas.page(address)
    form = page.find("form", {"method": "post", "action": address})
    fields: dict[str, Any] = {}
    for field in form.select("input[name], select[name]"):  # type: ignore[union-attr]
        chosen = field.select_one("option[selected]") if field.name == "select" else field
        fields.setdefault(str(field["name"]), []).append(str(chosen["value"]))  # type: ignore[index]

    refused = tomas.submit(address, 409, **{**fields, "note": "sent back as it came"})
    assert "This is edition 1 unchanged" in text_of(refused)


def _jar_of_crystals(in_lab: InLab) -> int:
    """A jar of 80 g of soda crystals, 99 % pure, in kit 4; its id."""
    with in_lab() as session:
        of = shelf.kit(session, stock_a_ul=500_000, stock_b_ul=400_000)
        jar = Bottle(
            kit_id=of.id, substance="soda", measure=Measure.MASS, left=80_000, formula="Na2CO3·10H2O"
        )
        jar.purity_ppm = 990_000
        session.add(jar)
        session.flush()
        return jar.id


def test_a_bottle_on_the_shelf_says_what_is_weighed_and_how_far_it_goes(
    tomas: Visitor, in_lab: InLab
) -> None:
    """Hand calculation: a litre takes 70 g × 286.138 ÷ 105.988 ÷ 0.99 = 190.89 g of the crystals, so 80 g make 419 mL."""
    jar = _jar_of_crystals(in_lab)
    address = _list_of(_recipe(tomas))

    offered = [text_of(option) for option in tomas.page(address).select("#bottle_id-1 option")]
    assert offered == ["as written beside", "kit 4: 80 g soda"]
    page = tomas.page(f"{address}?{_shelf(bottle_id=[str(jar), ''])}")
    assert "What is there makes 419.1 mL; sodium carbonate runs out first." in text_of(page)
    assert "79.98 g sodium carbonate as soda of kit 4, Na2CO3·10H2O, 99 %" in _measured(page)[1]


def test_a_bottle_that_is_none_of_the_list_is_refused(tomas: Visitor, in_lab: InLab) -> None:
    jar = _jar_of_crystals(in_lab)
    page = tomas.page(f"{_list_of(_recipe(tomas))}?{_shelf(bottle_id=['', str(jar)])}", 422)

    assert "Please choose a bottle of the list." in text_of(page)


def test_a_whole_kit_is_scaled_to_at_once(tomas: Visitor, in_lab: InLab) -> None:
    """Hand calculation: half a litre of stock A and 400 mL of stock B make 800 mL, mixed 1+1; stock B runs out first."""
    _jar_of_crystals(in_lab)
    address = _list_of(_parts(tomas))
    link = tomas.page(address).find("a", string="kit 4")
    page = tomas.page(str(link["href"]))  # type: ignore[index]

    assert "What is there makes 800 mL; stock B runs out first." in text_of(page)
    assert "400 mL stock A" in _measured(page)[0]
    mixing = tomas.page(str(page.find("a", string="Log the mixing")["href"]))  # type: ignore[index]
    assert typed_in(mixing, "volume") == "800 mL"
