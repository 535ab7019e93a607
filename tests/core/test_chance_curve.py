"""The chance of having finished as a drawing; the figures are worked by hand."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.chance_curve import HEIGHT, WIDTH, ChanceDrawing, draw_chances

# 10:00 on the wall clock of Berlin in winter.
TEN = datetime(2027, 2, 16, 9, 0, tzinfo=UTC)
RISING = [(1200, 0), (1260, 5), (1320, 15), (1380, 20)]


def _drawn(
    curve: list[tuple[int, int]], *, bell_s: int, marks: tuple[tuple[int, int, str], ...] = ()
) -> ChanceDrawing:
    return draw_chances(curve, marks=marks, bell_s=bell_s, starts_at=TEN, zone="Europe/Berlin")


def test_ten_minutes_fill_the_width() -> None:
    """From 10:20 to the bell at 10:30, so 42 units a minute; 5 of 20 classes are a quarter of the height."""
    drawing = _drawn([*RISING[:-1], (1440, 20)], bell_s=1800)

    assert drawing.line == ((0, 190), (42, 142.5), (84, 47.5), (168, 0), (420, 0))
    assert [(tick.x, tick.label) for tick in drawing.ticks] == [
        (0, "10:20"), (84, "10:22"), (168, "10:24"), (252, "10:26"), (336, "10:28"), (420, "10:30"),
    ]  # fmt: skip
    assert not drawing.is_bell_beyond
    assert [(level.y, level.label) for level in drawing.levels] == [
        (190, "0"), (142.5, "25"), (95, "50"), (47.5, "75"), (0, "100"),
    ]  # fmt: skip
    assert (drawing.bell.x, drawing.bell.words, drawing.bell.on_left) == (420, "period ends 10:30", True)


def test_a_bell_before_the_first_finish_is_drawn_too() -> None:
    """From the bell at 10:18 to 10:23, so 84 units a minute."""
    drawing = _drawn(RISING, bell_s=1080)

    assert (drawing.bell.x, drawing.bell.on_left, drawing.is_bell_beyond) == (0, False, False)
    assert drawing.line[:3] == ((0, 190), (168, 190), (252, 142.5))


@pytest.mark.parametrize(
    ("bell_s", "x", "words"), [(3600, 420, "period ends 11:00 →"), (0, 0, "← period ends 10:00")]
)
def test_a_bell_far_off_stands_in_words_at_its_edge(bell_s: int, x: float, words: str) -> None:
    drawing = _drawn(RISING, bell_s=bell_s)

    assert drawing.is_bell_beyond
    assert (drawing.bell.x, drawing.bell.words) == (x, words)
    assert drawing.line == ((0, 190), (140, 142.5), (280, 47.5), (420, 0))


def test_words_stand_where_the_plot_is_empty() -> None:
    drawing = _drawn(RISING, bell_s=1380, marks=((1230, 10, "tenth"), (1380, 90, "nine of ten")))

    assert [(dot.words, dot.x, dot.y, dot.on_left) for dot in drawing.dots] == [
        ("tenth", 70, 171, False),
        ("nine of ten", 420, 19, True),
    ]


@given(
    st.integers(0, 400),
    st.lists(st.integers(0, 50), min_size=1, max_size=200),
    st.integers(1, 800),
)
def test_the_line_rises_to_the_right_within_the_plot(first: int, more: list[int], bell: int) -> None:
    numbers = [0]
    for step in [*more, 1]:
        numbers.append(numbers[-1] + step)
    curve = [((first + index) * 60, number) for index, number in enumerate(numbers)]
    drawing = _drawn(curve, bell_s=bell * 60)
    across, up = zip(*drawing.line, strict=True)

    assert list(across) == sorted(across)
    assert list(up) == sorted(up, reverse=True)
    assert (up[0], up[-1]) == (HEIGHT, 0)
    assert (across[0], across[-1]) == (0, WIDTH)
    assert 0 <= drawing.bell.x <= WIDTH
    assert all(later.x - tick.x >= 52 for tick, later in zip(drawing.ticks, drawing.ticks[1:], strict=False))
