"""What a measured pH says, and what it doesn't."""

import pytest

from server.core.acidity import is_corrosive, ph_words


@pytest.mark.parametrize(
    ("ph_hundredths", "corrosive"),
    [(0, True), (200, True), (201, False), (1149, False), (1150, True), (1400, True)],
)
def test_an_extreme_ph_is_treated_as_corrosive(ph_hundredths: int, corrosive: bool) -> None:
    """Regulation (EC) No 1272/2008, Annex I, 3.2.3.1.2: pH of 2 or less, 11.5 or more (from memory)."""
    assert is_corrosive(ph_hundredths) is corrosive


def test_a_ph_is_told_as_finely_as_it_was_written() -> None:
    assert [ph_words(ph) for ph in (1250, 1283, 700, 0)] == ["pH 12.5", "pH 12.83", "pH 7", "pH 0"]
