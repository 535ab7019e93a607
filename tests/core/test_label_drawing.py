"""Labels laid out: nothing is cut, nothing overlaps, and what finds no room is named."""

from collections import Counter
from itertools import combinations, pairwise

from hypothesis import given
from hypothesis import strategies as st

from server.core.hazard_statements import Pictogram
from server.core.label_drawing import (
    EDGE,
    Content,
    LabelDrawing,
    Line,
    Measures,
    RuledLine,
    draw_label,
)
from server.core.label_sheets import FORMATS
from server.core.label_sizes import LINE_SPACING, Part

INSTEAD = "More: see the sheet of batch 1."
SMALL = Measures(width=74, height=52, letters=2.4, pictogram=16.1, pictogram_least=10)

lines = st.builds(
    Line,
    part=st.sampled_from(Part),
    words=st.text(st.sampled_from("abc defW m,.ÄÖß漢"), min_size=1, max_size=120).map(
        lambda words: words.strip() or "x"
    ),
    bold=st.booleans(),
    grows=st.sampled_from([1.0, 1.3, 1.6]),
    least=st.sampled_from([0.0, 0.0, 7.14]),
)
contents = st.builds(
    Content,
    lines=st.lists(lines, min_size=1, max_size=25),
    pictograms=st.lists(st.sampled_from(Pictogram), unique=True, max_size=5),
    squares=st.sampled_from([0, 33, 41]),
    instead=st.just(INSTEAD),
)
measures = st.sampled_from(
    [
        Measures(one.width_um / 1000, one.height_um / 1000, letters, pictogram, least)
        for one in FORMATS
        for letters, pictogram, least in ((2.4, 16.1, 10.0), (3.6, 23.0, 23.0))
    ]
)


def _rows(drawing: LabelDrawing) -> str:
    return "".join(text.words for text in drawing.texts).replace(" ", "")


@given(contents, measures)
def test_every_row_and_sign_stands_inside_the_label_and_apart(content: Content, measured: Measures) -> None:
    drawing = draw_label(content, measured)
    boxes = [
        (sign.x - sign.half, sign.y - sign.half, sign.x + sign.half, sign.y + sign.half)
        for sign in drawing.signs
    ]
    if drawing.code:
        code = drawing.code
        boxes.append((code.x, code.y, code.x + code.side, code.y + code.side))
    for text in drawing.texts:
        wide = RuledLine(Line(Part.NAME, text.words, bold=text.bold)).widths[-1] * text.size
        assert wide <= text.room + 1e-6 or len(text.words) == 1
        boxes.append((text.x, text.y - 0.96 * text.size, text.x + text.room, text.y + 0.2 * text.size))

    for left, top, right, bottom in boxes:
        assert left >= EDGE - 1e-6
        assert right <= measured.width - EDGE + 1e-6
        assert top >= EDGE - 1e-6
        assert bottom <= measured.height - EDGE + 0.05 * measured.letters
    for one, other in combinations(boxes, 2):
        assert (
            one[2] <= other[0] + 1e-6
            or other[2] <= one[0] + 1e-6
            or one[3] <= other[1] + 1e-6
            or other[3] <= one[1] + 1e-6
        )


@given(contents, measures)
def test_every_word_is_either_on_the_label_or_named_as_left_off(content: Content, measured: Measures) -> None:
    drawing = draw_label(content, measured)
    said = Counter(_rows(drawing))
    if drawing.left_off and drawing.texts:
        said.subtract(INSTEAD.replace(" ", ""))
    said.update("".join(line.words for line in drawing.left_off).replace(" ", ""))

    assert said == Counter("".join(line.words for line in content.lines).replace(" ", ""))


@given(contents, measures)
def test_letters_are_never_smaller_than_they_must_be(content: Content, measured: Measures) -> None:
    drawing = draw_label(content, measured)

    assert all(text.size >= measured.letters for text in drawing.texts)
    assert drawing.side == 0 or drawing.side >= measured.pictogram_least


def test_letters_grow_where_there_is_room() -> None:
    content = Content([Line(Part.NAME, "Bleach")], (), 0, INSTEAD)

    assert draw_label(content, SMALL).letters == 2 * SMALL.letters


def test_what_matters_least_is_left_off_first() -> None:
    many = [Line(Part.FROM, f"From 200 mL stock {one}.") for one in range(30)]
    content = Content([*many, Line(Part.NAME, "Working developer")], (), 37, INSTEAD)
    drawing = draw_label(content, SMALL)

    assert drawing.left_off
    assert {line.part for line in drawing.left_off} == {Part.FROM}
    assert drawing.texts[-1].words == INSTEAD


def test_pictograms_shrink_before_words_are_left_off_and_no_further_than_they_may() -> None:
    words = [Line(Part.STATEMENT, "Causes severe skin burns and eye damage.") for _ in range(7)]
    content = Content(words, list(Pictogram)[:3], 37, INSTEAD)
    drawing = draw_label(content, SMALL)

    assert drawing.left_off == ()
    assert 10 <= drawing.side < 16


def test_rows_are_a_line_and_a_gap_apart() -> None:
    """Regulation (EU) 2024/2865: at least 120 % of the letter size."""
    content = Content([Line(Part.FROM, "word " * 60)], (), 0, INSTEAD)
    rows = draw_label(content, SMALL).texts

    assert all(b.y - a.y >= LINE_SPACING * a.size - 1e-9 for a, b in pairwise(rows))


def test_words_read_from_afar_are_never_broken_and_small_only_where_they_must_be() -> None:
    name = Line(Part.NAME, "Working developer", bold=True, least=7.14)
    wide, narrow = Measures(99.1, 67.7, 2.4, 16.1, 10), Measures(63.5, 38.1, 2.4, 16.1, 10)
    content = Content([name, Line(Part.ENDS, "Ends 14:00", bold=True, least=7.14)], (), 37, INSTEAD)
    large, small = draw_label(content, wide), draw_label(content, narrow)

    assert large.from_afar
    assert {text.size for text in large.texts} == {7.14}
    assert not small.from_afar
    assert max(text.size for text in small.texts) < 7.14
    assert " ".join(text.words for text in small.texts) == "Working developer Ends 14:00"


def test_signs_that_find_no_room_leave_the_words_on_the_label() -> None:
    content = Content([Line(Part.NAME, "Bleach")], list(Pictogram)[:5], 0, INSTEAD)
    drawing = draw_label(content, Measures(66.7, 25.4, 3.6, 23, 23))

    assert drawing.signs == ()
    assert [text.words for text in drawing.texts] == ["Bleach"]
