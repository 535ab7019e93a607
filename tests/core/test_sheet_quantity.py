"""Quantities for a request sheet, worked by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.sheet_quantity import How, NoQuantity, SheetQuantity, sheet_quantity

LITRE = 1_000_000
KILO = 1_000_000


def _quantity(
    *,
    held_ul: int = 13_200_000,
    read_ul: int | None = None,
    gross_mg: int | None = None,
    tare_mg: int | None = None,
) -> SheetQuantity | NoQuantity:
    """Of a 20 L can with its line at 18 L; a litre of what is in it weighs 1.05 kg."""
    return sheet_quantity(
        held_ul=held_ul, held_mg=held_ul * 105 // 100, size_ul=20 * LITRE, fill_line_ul=18 * LITRE, density_ug_per_ul=1050,
        read_ul=read_ul, gross_mg=gross_mg, tare_mg=tare_mg,
    )  # fmt: skip


def _known(found: SheetQuantity | NoQuantity) -> SheetQuantity:
    assert isinstance(found, SheetQuantity)
    return found


def test_what_was_poured_stands_on_the_sheet_unless_somebody_measured() -> None:
    found = _known(_quantity())

    assert (found.volume_ul, found.net_mg, found.gross_mg, found.how) == (
        13_200_000,
        13_860_000,
        None,
        How.LEDGER,
    )
    assert _known(_quantity(tare_mg=1_200_000)).gross_mg == 15_060_000


def test_a_weighing_says_what_is_in_it_without_the_container() -> None:
    """15.06 kg − 1.20 kg = 13.86 kg; ÷ 1.05 kg/L = 13.2 L."""
    found = _known(_quantity(gross_mg=15_060_000, tare_mg=1_200_000))

    assert (found.volume_ul, found.net_mg, found.tare_mg, found.gross_mg) == (
        13_200_000,
        13_860_000,
        1_200_000,
        15_060_000,
    )
    assert (found.how, found.differs) == (How.WEIGHED, "")


def test_a_weighing_far_from_the_ledger_is_asked_about() -> None:
    found = _known(_quantity(gross_mg=18 * KILO, tare_mg=1_200_000))

    assert found.volume_ul == 16 * LITRE
    assert "13.2 L" in found.differs


def test_a_weighing_that_is_more_than_the_container_holds_is_refused() -> None:
    """23.45 kg − 1.20 kg = 22.25 kg; ÷ 1.05 kg/L = 21.19 L in a can of 20 L."""
    found = _quantity(gross_mg=23_450_000, tare_mg=1_200_000)

    assert isinstance(found, NoQuantity)
    assert (found.field, "21.19 L" in found.reason) == ("gross", True)


@pytest.mark.parametrize(
    ("gross_mg", "tare_mg", "field"), [(15 * KILO, None, "tare"), (1 * KILO, 1_200_000, "gross")]
)
def test_a_weighing_without_a_net_is_refused(gross_mg: int, tare_mg: int | None, field: str) -> None:
    found = _quantity(gross_mg=gross_mg, tare_mg=tare_mg)

    assert isinstance(found, NoQuantity)
    assert found.field == field


def test_a_capacity_is_no_quantity() -> None:
    """“Container capacities are not acceptable as estimates”: instructions to EPA Form 8700-22, item 11."""
    found = _quantity(read_ul=20 * LITRE)

    assert isinstance(found, NoQuantity)
    assert (found.field, "A capacity is no quantity" in found.reason) == ("read", True)
    assert _known(_quantity(held_ul=20 * LITRE, read_ul=20 * LITRE)).volume_ul == 20 * LITRE


def test_more_than_the_container_holds_is_refused() -> None:
    found = _quantity(read_ul=21 * LITRE)

    assert isinstance(found, NoQuantity)
    assert "20 L to the brim" in found.reason


def test_what_was_read_off_is_weighed_by_the_stream_s_density() -> None:
    found = _known(_quantity(read_ul=13 * LITRE))

    assert (found.volume_ul, found.net_mg, found.how, found.differs) == (
        13 * LITRE,
        13_650_000,
        How.READ_OFF,
        "",
    )
    assert "3.2 L less than was read off" in _known(_quantity(read_ul=16_400_000)).differs
    assert "3.2 L more than was read off" in _known(_quantity(read_ul=10 * LITRE)).differs


def test_a_volume_and_a_weighing_each_stand_for_themselves() -> None:
    found = _known(_quantity(read_ul=13 * LITRE, gross_mg=15_060_000, tare_mg=1_200_000))

    assert (found.volume_ul, found.net_mg, found.how) == (13 * LITRE, 13_860_000, How.WEIGHED)


@given(
    held=st.integers(0, 20 * LITRE),
    read=st.none() | st.integers(1, 25 * LITRE),
    gross=st.none() | st.integers(1, 30 * KILO),
    tare=st.none() | st.integers(1, 3 * KILO),
)
def test_net_and_tare_are_the_gross_and_nothing_exceeds_the_brim(
    held: int, read: int | None, gross: int | None, tare: int | None
) -> None:
    found = _quantity(held_ul=held, read_ul=read, gross_mg=gross, tare_mg=tare)

    if isinstance(found, SheetQuantity):
        assert found.volume_ul <= 20 * LITRE
        assert found.gross_mg is None or found.gross_mg == found.net_mg + (found.tare_mg or 0)
