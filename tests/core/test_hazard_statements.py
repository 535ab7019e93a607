"""Hazard codes in words, signs and signal words. The statements are the standard's, from memory; see docs/sources.md."""

import pytest

from server.core.hazard_statements import (
    STATEMENTS,
    Hazards,
    Pictogram,
    Signal,
    by_gravity,
    find_statement,
    pictograms_of,
    read_hazards,
    signal_of,
    statement_words,
)

# The usual codes of photographic chemicals; check each against its own safety data sheet.
OF_SUBSTANCES = {
    "metol": "H302 H317 H373 H410",
    "hydroquinone": "H302 H317 H318 H341 H351 H400",
    "catechol": "H301+H311 H341 H350",
    "pyrogallol": "H302+H312+H332 H341 H412",
    "sodium hydroxide": "H290 H314",
    "sodium carbonate": "H319",
    "copper sulfate": "H302 H318 H410",
    "sodium hydrogen sulfate": "H318",
    "potassium dichromate": "H272 H301 H312 H314 H317 H330 H334 H340 H350 H360 H372 H410",
    "benzoquinone": "H301 H331 H315 H319 H335 H400",
}


@pytest.mark.parametrize("substance", OF_SUBSTANCES)
def test_every_code_of_the_trade_s_chemicals_is_known(substance: str) -> None:
    codes = read_hazards(OF_SUBSTANCES[substance]).codes

    assert codes == tuple(OF_SUBSTANCES[substance].split())
    assert [code for code in codes if find_statement(code) is None] == []


def test_joined_codes_have_one_statement() -> None:
    assert statement_words("H301+H311") == "H301+H311 Toxic if swallowed or in contact with skin."
    assert (
        statement_words("H302+H312+H332")
        == "H302+H312+H332 Harmful if swallowed, in contact with skin or if inhaled."
    )
    assert statement_words("H330") == "H330 Fatal if inhaled."


def test_codes_of_unlike_gravity_are_not_joined() -> None:
    assert find_statement("H301+H312") is None
    assert find_statement("H302+H314") is None


def test_an_unknown_code_is_printed_as_typed_and_refers_to_the_sheet() -> None:
    assert statement_words("H999") == "H999: see the SDS."
    assert signal_of(["H999"]) == Signal.NONE
    assert pictograms_of(["H999"]) == ()


def test_a_code_is_read_however_its_h_is_typed() -> None:
    assert read_hazards("h314; H 302, euh031, h360Fd, h301 + h 311") == Hazards(
        ("H314", "H302", "EUH031", "H360Fd", "H301+H311"), ""
    )


def test_words_beside_the_codes_are_kept() -> None:
    assert read_hazards("H302; H301 + H311, stains, (H317)") == Hazards(
        ("H302", "H301+H311", "H317"), "stains"
    )
    assert read_hazards("burns skin and eyes") == Hazards((), "burns skin and eyes")
    assert read_hazards("H360FD, EUH208") == Hazards(("H360FD", "EUH208"), "")
    assert read_hazards("") == Hazards((), "")


@pytest.mark.parametrize(
    ("substance", "signal", "signs"),
    [
        ("metol", Signal.WARNING, {Pictogram.HEALTH, Pictogram.EXCLAMATION, Pictogram.ENVIRONMENT}),
        ("sodium hydroxide", Signal.DANGER, {Pictogram.CORROSION}),
        ("sodium carbonate", Signal.WARNING, {Pictogram.EXCLAMATION}),
        ("catechol", Signal.DANGER, {Pictogram.SKULL, Pictogram.HEALTH}),
        (
            "copper sulfate",
            Signal.DANGER,
            {Pictogram.CORROSION, Pictogram.EXCLAMATION, Pictogram.ENVIRONMENT},
        ),
        (
            "potassium dichromate",
            Signal.DANGER,
            {
                Pictogram.SKULL,
                Pictogram.CORROSION,
                Pictogram.HEALTH,
                Pictogram.OXIDISER,
                Pictogram.ENVIRONMENT,
            },
        ),
        ("benzoquinone", Signal.DANGER, {Pictogram.SKULL, Pictogram.ENVIRONMENT}),
    ],
)
def test_a_substance_has_its_signal_word_and_signs(
    substance: str, signal: Signal, signs: set[Pictogram]
) -> None:
    codes = read_hazards(OF_SUBSTANCES[substance]).codes

    assert signal_of(codes) == signal
    assert set(pictograms_of(codes)) == signs


def test_the_exclamation_mark_stays_where_no_graver_sign_says_it() -> None:
    """CLP, article 26."""
    assert Pictogram.EXCLAMATION not in pictograms_of(["H314", "H315", "H319"])
    assert Pictogram.EXCLAMATION in pictograms_of(["H314", "H317"])
    assert Pictogram.EXCLAMATION not in pictograms_of(["H334", "H317", "H315"])
    assert Pictogram.EXCLAMATION in pictograms_of(["H334", "H335"])


def test_what_is_dangerous_stands_first_and_nothing_twice() -> None:
    assert by_gravity(["H412", "H302", "H999", "H314", "H302"]) == ["H314", "H302", "H999", "H412"]


def test_a_statement_with_a_sign_but_no_signal_word_is_the_environment_s_alone() -> None:
    assert {one.pictogram for one in STATEMENTS.values() if one.signal == Signal.NONE and one.pictogram} == {
        Pictogram.ENVIRONMENT
    }
