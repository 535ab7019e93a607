"""Student's t distribution against a printed table and against scipy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as other

from server.core.student_t import share_below, t_that_holds


@pytest.mark.parametrize(
    ("degrees", "t"), [(1, 6.314), (2, 2.920), (3, 2.353), (4, 2.132), (9, 1.833), (30, 1.697)]
)
def test_the_printed_table_of_one_tail_of_five_percent(degrees: int, t: float) -> None:
    """Upper 5 % points as printed in any statistical table, such as NIST/SEMATECH e-Handbook 1.3.6.7.2."""
    assert t_that_holds(0.95, degrees=degrees) == pytest.approx(t, abs=6e-4)


@given(st.floats(-40, 40), st.integers(1, 120))
def test_it_agrees_with_another_program(t: float, degrees: int) -> None:
    assert share_below(t, degrees=degrees) == pytest.approx(float(other.cdf(t, degrees)), abs=1e-9)
