"""What runs down narrow columns: in order, nothing lost, nothing below its room, and what belongs together stays so."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from debrief.report.pdf.columns import GAP, ColumnSet, Piece
from debrief.report.shapes import TINY, Text

WIDTH = 50.0
HEAD = Piece(4.0, [Text(0.0, 3.0, "head", TINY)])


def piece(number: int, height: float, keeps: bool = False, repeats: bool = False) -> Piece:
    return Piece(height, [Text(0.0, 0.0, str(number), TINY)], keeps, HEAD if repeats else None)


def made(rows: list[tuple[float, bool]], repeats: bool, count: int) -> ColumnSet:
    pieces = [
        piece(n, height, keeps and n + 1 < len(rows), repeats) for n, (height, keeps) in enumerate(rows)
    ]
    return ColumnSet(pieces, count, WIDTH)


def columns_of(shapes: list[Text]) -> list[list[Text]]:
    lefts = sorted({shape.x for shape in shapes})
    return [[shape for shape in shapes if shape.x == left] for left in lefts]


ROWS = st.lists(st.tuples(st.floats(1.0, 9.0), st.booleans()), min_size=1, max_size=30)


@given(ROWS, st.booleans(), st.integers(1, 3))
def test_in_its_own_height_all_of_it_stands_in_order_and_nothing_below(
    rows: list[tuple[float, bool]], repeats: bool, count: int
) -> None:
    columns = made(rows, repeats, count)
    shapes = columns.placed(columns.height)
    texts = [shape for shape in shapes if isinstance(shape, Text)]
    assert [int(text.text) for text in texts if text.text != "head"] == list(range(len(rows)))
    assert {text.x for text in texts} <= {n * (WIDTH + GAP) for n in range(count)}
    for text in texts:
        if text.text != "head":
            assert text.y + rows[int(text.text)][0] <= columns.height + 1e-6
    if repeats:
        assert all(column[0].text == "head" for column in columns_of(texts))


@given(ROWS, st.booleans(), st.floats(20.0, 60.0))
def test_over_pages_each_part_fits_and_nothing_is_lost_or_told_twice(
    rows: list[tuple[float, bool]], repeats: bool, room: float
) -> None:
    whole = made(rows, repeats, 2).piece()
    parts = list(whole.parts(15.0, room))
    told = [text.text for part in parts for text in part.drawn() if isinstance(text, Text)]
    assert [int(text) for text in told if text != "head"] == list(range(len(rows)))
    assert parts[0].height <= max(15.0, whole.height)
    assert all(part.height <= room + 1e-6 for part in parts[1:-1])


def test_a_heading_stands_in_the_column_of_what_it_is_over() -> None:
    pieces = [piece(0, 10.0), piece(1, 4.0, keeps=True), piece(2, 10.0), piece(3, 4.0)]
    columns = ColumnSet(pieces, 2, WIDTH)
    texts = [shape for shape in columns.placed(16.0) if isinstance(shape, Text)]
    assert [[text.text for text in column] for column in columns_of(texts)] == [["0"], ["1", "2"]]
    assert columns.taken(16.0) == 3
    assert columns.taken(18.0) == 4


def test_columns_are_as_short_as_they_can_be() -> None:
    columns = made([(5.0, False)] * 9, False, 3)
    assert abs(columns.height - 15.0) < 0.1
