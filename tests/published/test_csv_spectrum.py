"""The cases of csv-spectrum 2.0.0 ("csv test data for writing robust csv parsers", BSD-2-Clause) with its answers.

Left out is ``location_coordinates``, whose answer there does not belong to its file.
"""

from __future__ import annotations

import pytest

from debrief.recording import fast
from debrief.recording.dialect import Dialect, detect
from debrief.recording.records import Layout, parse_tolerantly
from debrief.recording.table import Block, TextPiece

CASES: dict[str, tuple[str, list[dict[str, str]]]] = {
    "comma_in_quotes": (
        'first,last,address,city,zip\nJohn,Doe,120 any st.,"Anytown, WW",08123',
        [{"first": "John", "last": "Doe", "address": "120 any st.", "city": "Anytown, WW", "zip": "08123"}],
    ),
    "empty": (
        'a,b,c\n1,"",""\n2,3,4',
        [{"a": "1", "b": "", "c": ""}, {"a": "2", "b": "3", "c": "4"}],
    ),
    "empty_crlf": (
        'a,b,c\r\n1,"",""\r\n2,3,4',
        [{"a": "1", "b": "", "c": ""}, {"a": "2", "b": "3", "c": "4"}],
    ),
    "escaped_quotes": (
        'a,b\n1,"ha ""ha"" ha"\n3,4\n',
        [{"a": "1", "b": 'ha "ha" ha'}, {"a": "3", "b": "4"}],
    ),
    "json": (
        'key,val\n1,"{""type"": ""Point"", ""coordinates"": [102.0, 0.5]}"\n',
        [{"key": "1", "val": '{"type": "Point", "coordinates": [102.0, 0.5]}'}],
    ),
    "newlines": (
        'a,b,c\n1,2,3\n"Once upon \na time",5,6\n7,8,9\n',
        [
            {"a": "1", "b": "2", "c": "3"},
            {"a": "Once upon \na time", "b": "5", "c": "6"},
            {"a": "7", "b": "8", "c": "9"},
        ],
    ),
    # Within a quoted field the reader keeps the line end as a single new line, which the answer has as CRLF.
    "newlines_crlf": (
        'a,b,c\r\n1,2,3\r\n"Once upon \r\na time",5,6\r\n7,8,9\r\n',
        [
            {"a": "1", "b": "2", "c": "3"},
            {"a": "Once upon \na time", "b": "5", "c": "6"},
            {"a": "7", "b": "8", "c": "9"},
        ],
    ),
    "quotes_and_newlines": (
        'a,b\n1,"ha \n""ha"" \nha"\n3,4\n',
        [{"a": "1", "b": 'ha \n"ha" \nha'}, {"a": "3", "b": "4"}],
    ),
    "simple": ("a,b,c\n1,2,3\n", [{"a": "1", "b": "2", "c": "3"}]),
    "simple_crlf": ("a,b,c\r\n1,2,3\r\n", [{"a": "1", "b": "2", "c": "3"}]),
    "utf8": ("a,b,c\n1,2,3\n4,5,ʤ", [{"a": "1", "b": "2", "c": "3"}, {"a": "4", "b": "5", "c": "ʤ"}]),
}


def _rows(blocks: list[Block], dialect: Dialect) -> list[dict[str, str]]:
    rows = []
    for block in blocks:
        columns = []
        for piece in block.pieces:
            assert isinstance(piece, TextPiece)
            columns.append(piece.texts)
        rows += [dict(zip(dialect.names, cells, strict=True)) for cells in zip(*columns, strict=True)]
    return rows


@pytest.mark.parametrize("name", CASES)
def test_both_parsers_give_the_answer(name: str) -> None:
    text, answer = CASES[name]
    data = text.replace("\r\n", "\n").encode()
    dialect = detect(data, name, head_is_all=True)
    assert dialect.delimiter == ","
    body = data.split(b"\n", 1)[1]
    layout = Layout(",", ".", dialect.width, (False,) * dialect.width, frozenset())
    assert _rows([parse_tolerantly(body, 2, layout, name, last=True)], dialect) == answer
    assert _rows(fast.parse(body, 2, layout, name, last=True), dialect) == answer
