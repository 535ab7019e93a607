"""What may happen when wastes meet. The chart is EPA-600/2-80-076 (April 1980), read in a public copy."""

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.compatibility import (
    Dissolved,
    GasBound,
    Outcome,
    Waste,
    gas_bound,
    hazards_within,
    meet,
)
from server.core.reactivity_chart import (
    CARBONATE_RULE,
    CHART,
    CODE_WORDS,
    OWN_RULES,
    SULFITE_RULE,
    WORDS,
    Code,
    Group,
    OwnRule,
    Standing,
)

STRENGTHS = st.builds(
    Dissolved,
    st.sampled_from(["Na2SO3", "Na2SO3·7H2O", "K2S2O5", "Na2CO3", "NaHCO3", "KBr"]),
    st.fractions(min_value=0, max_value=300),
)
WASTES = st.builds(
    Waste,
    st.sampled_from(["developer", "bleach", "rinse"]),
    st.frozensets(st.sampled_from(Group), max_size=6),
    st.tuples(STRENGTHS) | st.just(()),
)


def waste_of(*groups: Group, stream: str = "a", dissolved: tuple[Dissolved, ...] = ()) -> Waste:
    return Waste(stream, frozenset(groups), dissolved)


def bound_of(rule: OwnRule, formula: str, grams: int) -> GasBound:
    bound = gas_bound(rule, [Dissolved(formula, Fraction(grams))])
    assert bound is not None
    return bound


@pytest.mark.parametrize(
    ("first", "second", "codes"),
    [
        (Group.CAUSTICS, Group.MINERAL_ACIDS, "H"),
        (Group.PHENOLS, Group.OXIDIZERS, "H,F"),
        (Group.TOXIC_METALS, Group.WATER, "S"),
        (Group.ORGANIC_ACIDS, Group.OXIDIZERS, "H,GT"),
        (Group.OXIDIZING_ACIDS, Group.SULFIDES, "H,F,GF"),
        (Group.COMBUSTIBLES, Group.OXIDIZERS, "H,F,G"),
    ],
)
def test_a_pair_has_the_codes_of_the_chart_whichever_is_named_first(
    first: Group, second: Group, codes: str
) -> None:
    expected = {Code(code) for code in codes.split(",")}

    assert set(meet(waste_of(first), waste_of(second, stream="b")).codes) == expected
    assert set(meet(waste_of(second), waste_of(first, stream="b")).codes) == expected


def test_an_entry_says_how_far_it_can_be_relied_on() -> None:
    """104 with 105 is recalled; the copy's row 105 looks shifted."""
    remembered = CHART[frozenset({Group.OXIDIZERS, Group.REDUCERS})]
    doubted = CHART[frozenset({Group.MINERAL_ACIDS, Group.REDUCERS})]

    assert (set(remembered.codes), remembered.standing) == (
        {Code.HEAT, Code.FIRE, Code.EXPLOSION},
        Standing.MEMORY,
    )
    assert doubted.standing == Standing.DOUBTED
    assert CHART[frozenset({Group.MINERAL_ACIDS, Group.CAUSTICS})].standing == Standing.READ


@pytest.mark.parametrize("other", [group for group in Group if group != Group.WATER_REACTIVE])
def test_what_reacts_with_water_meets_nothing(other: Group) -> None:
    """The chart's row 107."""
    found = meet(waste_of(Group.WATER_REACTIVE), waste_of(other, stream="b"))

    assert Code.WATER_REACTIVE in found.codes


def test_a_blank_in_the_chart_is_no_permission() -> None:
    """1 with 3, and 7 with 10, are blanks of the chart."""
    found = meet(waste_of(Group.MINERAL_ACIDS), waste_of(Group.ORGANIC_ACIDS, stream="b"))

    assert found.is_refused
    assert found.outcome == Outcome.NOT_IN_CHART
    assert found.words == "not in the chart; not known to be harmless"
    assert found.blanks == ((Group.MINERAL_ACIDS, Group.ORGANIC_ACIDS),)
    assert meet(waste_of(Group.AMINES), waste_of(Group.CAUSTICS, stream="b")).is_refused


@pytest.mark.parametrize("groups", [(), (Group.CAUSTICS,)])
def test_a_waste_of_which_nobody_said_anything_is_not_known_to_be_harmless(groups: tuple[Group, ...]) -> None:
    found = meet(waste_of(*groups), waste_of(stream="b"))

    assert found.outcome == Outcome.NOT_IN_CHART
    assert found.reason == "nobody has said what both of them hold"


def test_two_streams_of_the_same_groups_stay_apart_all_the_same() -> None:
    found = meet(waste_of(Group.CAUSTICS), waste_of(Group.CAUSTICS, stream="b"))

    assert found.is_refused
    assert found.reason == "all that is said of either is that it holds the same, and that is no evidence"


def test_a_stream_joins_itself_whatever_it_holds() -> None:
    bleach = waste_of(Group.MINERAL_ACIDS, Group.OXIDIZERS)

    assert not meet(bleach, bleach).is_refused


def test_developer_and_bleach_give_off_all_that_is_known_of_them() -> None:
    developer = waste_of(
        Group.CAUSTICS, Group.REDUCERS, Group.PHENOLS, Group.CARBONATES, Group.DEVELOPER, stream="developer"
    )
    bleach = waste_of(Group.MINERAL_ACIDS, Group.OXIDIZERS, Group.TOXIC_METALS, Group.BLEACH, stream="bleach")
    found = meet(developer, bleach)

    assert found.words.startswith("explosion, fire, ")
    assert found.reason == f"{found.hazards[0].sentence} from memory"
    assert "EPA-600/2-80-076" in found.reason
    assert {Code.HEAT, Code.FLAMMABLE_GAS, Code.GAS, Code.UNKNOWN} <= set(found.codes)


def test_silver_is_a_toxic_metal_too_and_explodes_with_ammonia() -> None:
    """From memory: silver and ammonia form explosive compounds on standing."""
    silver = waste_of(Group.SILVER)

    assert meet(silver, waste_of(Group.MINERAL_ACIDS, stream="b")).codes == (Code.SOLUBILIZATION,)
    assert meet(silver, waste_of(Group.AMMONIA, stream="b")).codes[0] == Code.EXPLOSION
    assert meet(silver, waste_of(Group.AMINES, stream="b")).codes[0] == Code.EXPLOSION


def test_hypochlorite_gives_toxic_gas_with_acid_and_with_ammonia() -> None:
    """From memory: chlorine and chloramines."""
    cleaner = waste_of(Group.HYPOCHLORITE)

    for other in (Group.MINERAL_ACIDS, Group.ORGANIC_ACIDS, Group.BLEACH, Group.AMMONIA, Group.AMINES):
        assert Code.TOXIC_GAS in meet(cleaner, waste_of(other, stream="b")).codes


@pytest.mark.parametrize("acid", [Group.MINERAL_ACIDS, Group.OXIDIZING_ACIDS, Group.ORGANIC_ACIDS])
def test_sulfite_with_acid_names_the_gas_and_how_much_of_it(acid: Group) -> None:
    """Safety data sheets of sulfites; 5 g/L ÷ 126.037 g/mol = 0.0397 mol, at 24.055 L/mol."""
    developer = waste_of(Group.SULFITES, dissolved=(Dissolved("Na2SO3", Fraction(5)),))
    (hazard,) = meet(developer, waste_of(acid, stream="b")).hazards

    assert hazard.codes == (Code.TOXIC_GAS,)
    assert hazard.gas is not None
    assert float(hazard.gas.moles_per_litre) == pytest.approx(0.0397, rel=0.005)
    assert float(hazard.gas.litres_per_litre) == pytest.approx(0.954, rel=0.005)
    assert float(hazard.gas.grams_per_litre) == pytest.approx(2.54, rel=0.005)
    assert "sulfur dioxide" in hazard.sentence
    assert "0.9543 L from each litre" in hazard.sentence


def test_a_litre_with_little_sulfite_fills_a_still_room_beyond_what_may_be_breathed() -> None:
    """0.954 L in 50 m³ are 19 ppm; the limit at work is 5 ppm in the United States (from memory)."""
    bound = bound_of(SULFITE_RULE, "Na2SO3", 5)

    assert float(bound.ppm_in(waste_ul=1_000_000, room_litres=50_000)) == pytest.approx(19.1, rel=0.005)


@pytest.mark.parametrize(
    ("rule", "formula", "grams", "litres"),
    [
        (SULFITE_RULE, "Na2SO3", 90, 17.2),
        (SULFITE_RULE, "Na2SO3·7H2O", 10, 0.954),
        # Computed by hand: 10 ÷ 190.107 × 2 × 24.055, and 10 ÷ 248.17 × 24.055.
        (SULFITE_RULE, "Na2S2O5", 10, 2.531),
        (SULFITE_RULE, "Na2S2O3·5H2O", 10, 0.969),
        (CARBONATE_RULE, "Na2CO3", 35, 7.94),
        (CARBONATE_RULE, "Na2CO3·H2O", 41, 7.95),
        (CARBONATE_RULE, "NaHCO3", 35, 10.02),
    ],
)
def test_the_most_gas_follows_from_the_salt(rule: OwnRule, formula: str, grams: int, litres: float) -> None:
    """An ideal gas at 20 °C and one atmosphere: 24.055 L/mol."""
    assert float(bound_of(rule, formula, grams).litres_per_litre) == pytest.approx(litres, rel=0.005)


def test_less_acid_gives_off_less_gas() -> None:
    """35 g/L of carbonate take 0.660 mol of protons; 5 g/L of sodium hydrogen sulfate are 0.0416 mol, so 0.501 L at most."""
    bound = bound_of(CARBONATE_RULE, "Na2CO3", 35)
    acid = Fraction(5) / Fraction("120.054")

    assert float(bound.acid_moles_per_litre) == pytest.approx(0.6604, rel=0.001)
    assert float(bound.limited_to(acid_moles_per_litre=acid)) == pytest.approx(0.501, rel=0.005)
    assert bound.limited_to(acid_moles_per_litre=Fraction(2)) == bound.litres_per_litre


def test_the_acid_that_is_known_in_the_other_waste_limits_the_gas() -> None:
    """The same from the two wastes, whichever is named first: 1.2 mol of citric acid's protons would be enough."""
    developer = waste_of(Group.CARBONATES, dissolved=(Dissolved("Na2CO3", Fraction(35)),))
    bleach = waste_of(Group.MINERAL_ACIDS, stream="b", dissolved=(Dissolved("NaHSO4", Fraction(5)),))
    strong = waste_of(Group.ORGANIC_ACIDS, stream="b", dissolved=(Dissolved("C6H8O7", Fraction(77)),))

    for met, litres in ((bleach, 0.501), (strong, 7.94)):
        for meeting in (meet(developer, met), meet(met, developer)):
            gas = meeting.hazards[0].gas
            assert gas is not None
            assert float(gas.with_equal_volumes) == pytest.approx(litres, rel=0.005)


def test_no_figure_is_made_up_where_no_strength_is_known() -> None:
    found = meet(waste_of(Group.SULFITES), waste_of(Group.MINERAL_ACIDS, stream="b"))

    assert found.hazards[0].gas is None
    assert gas_bound(SULFITE_RULE, [Dissolved("KBr", Fraction(30)), Dissolved("Na2SO3", Fraction(0))]) is None
    assert gas_bound(OWN_RULES[2], [Dissolved("Na2SO3", Fraction(5))]) is None


def test_a_stream_is_asked_about_when_its_own_groups_react() -> None:
    """House example: acid and caustics in one stream are two streams."""
    (hazard,) = hazards_within([Group.MINERAL_ACIDS, Group.CAUSTICS, Group.ORGANIC_ACIDS])[:1]

    assert hazard.words == "heat"
    assert hazards_within([Group.SILVER, Group.TOXIC_METALS]) == ()


def test_containers_of_different_streams_stand_apart() -> None:
    reacts = meet(waste_of(Group.CAUSTICS), waste_of(Group.MINERAL_ACIDS, stream="b"))
    unknown = meet(waste_of(Group.MINERAL_ACIDS), waste_of(Group.ORGANIC_ACIDS, stream="b"))

    assert reacts.keeping.startswith("stand apart")
    assert unknown.keeping.startswith("stand apart")
    assert meet(waste_of(), waste_of()).keeping == "one tray underneath will do"


def test_every_group_and_code_has_words() -> None:
    assert set(WORDS) == set(Group)
    assert set(CODE_WORDS) == set(Code)
    assert [group for group in Group if group.is_of_the_chart] == list(Group)[:13]


@given(WASTES, WASTES)
def test_a_meeting_is_the_same_from_both_sides(first: Waste, second: Waste) -> None:
    assert meet(first, second) == meet(second, first)


@given(WASTES, WASTES)
def test_no_answer_says_that_wastes_may_be_mixed(first: Waste, second: Waste) -> None:
    found = meet(first, second)
    said = f"{found.outcome} {found.words} {found.reason} {found.keeping}"

    assert found.is_refused == (first.stream != second.stream)
    assert not re.search(
        r"\b(safe|compatible|harmless)\b", said.replace("not known to be harmless", ""), re.IGNORECASE
    )


@given(WASTES, WASTES, st.sampled_from(Group))
def test_one_group_more_never_takes_a_hazard_away(first: Waste, second: Waste, more: Group) -> None:
    fuller = Waste(first.stream, first.groups | {more}, first.dissolved)

    assert set(meet(first, second).hazards) <= set(meet(fuller, second).hazards)


@given(WASTES, WASTES)
def test_each_pair_of_groups_is_answered_for(first: Waste, second: Waste) -> None:
    """A pair is a hazard or a blank; silver, ammonia and hypochlorite answer by their wider groups too."""
    found = meet(first, second)
    alone = [
        meet(waste_of(one, stream="a"), waste_of(other, stream="b"))
        for one in first.groups
        for other in second.groups
        if one != other
    ]

    if found.is_refused:
        assert {(one.first, one.second) for one in found.hazards} == {
            (one.first, one.second) for pair in alone for one in pair.hazards
        }
        assert set(found.blanks) == {blank for pair in alone for blank in pair.blanks}
