"""Student's t distribution: how far the mean of few measurements may be off.

The finite series for a whole number of degrees of freedom: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4.
"""

from math import atan, cos, pi, sin, sqrt

# Thirty halvings of a stretch of 128 leave less than a ten-millionth.
_HALVINGS, _FARTHEST = 30, 128.0


def share_below(t: float, *, degrees: int) -> float:
    """The share of the distribution below `t`, for `degrees` of freedom from one on.

    >>> round(share_below(2.132, degrees=4), 3)
    0.95
    """
    angle = atan(t / sqrt(degrees))
    term, total = 1.0, 0.0
    if degrees % 2:
        # Two thirds of the angle's cosine to the third, and so on.
        term = cos(angle)
        for power in range(1, degrees - 1, 2):
            total += term
            term *= (power + 1) / (power + 2) * cos(angle) ** 2
        within = 2 / pi * (angle + sin(angle) * total)
    else:
        for power in range(0, degrees - 1, 2):
            total += term
            term *= (power + 1) / (power + 2) * cos(angle) ** 2
        within = sin(angle) * total
    return (1 + within) / 2


def t_that_holds(share: float, *, degrees: int) -> float:
    """The t below which `share` of the distribution lies, for a share from a half up.

    >>> round(t_that_holds(0.95, degrees=9), 3)
    1.833
    """
    low, high = 0.0, _FARTHEST
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if share_below(middle, degrees=degrees) < share:
            low = middle
        else:
            high = middle
    return high
