"""The line scanner agrees with the standard TOML reader on what keys there are, and finds their lines."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from debrief.resources import resource
from debrief.toml_lines import KeyPath, key_lines


def paths_of(value: object, path: KeyPath = ()) -> set[KeyPath]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = {path} if path else set()
    for key, item in items:
        found |= paths_of(item, (*path, key))
    return found


def test_lines_of_tables_arrays_dotted_keys_and_multi_line_values() -> None:
    text = "\n".join(
        [
            "# a comment with [brackets] and = signs",
            'first = "a # b"',
            "a.b.c = 1",
            "long = [",
            "  1,  # one",
            "  [2, 3],",
            "]",
            'many = """',
            "x = 1",
            '"""',
            "[[rows]]",
            "id = 'one'",
            "[[rows]]",
            "id = 'two'",
            "inner = {k = [ {deep = true} ], when = 1979-05-27 07:32:00}",
            "[rows.sub]",
            'last."quoted key" = 1',
        ]
    )
    lines = key_lines(text)
    assert lines[("first",)] == 2
    assert lines[("a", "b", "c")] == 3
    assert lines[("long",)] == 4
    assert lines[("long", 0)] == 5
    assert lines[("long", 1, 1)] == 6
    assert lines[("many",)] == 8
    assert lines[("rows",)] == 11
    assert lines[("rows", 0, "id")] == 12
    assert lines[("rows", 1)] == 13
    assert lines[("rows", 1, "inner", "k", 0, "deep")] == 15
    assert lines[("rows", 1, "inner", "when")] == 15
    assert lines[("rows", 1, "sub")] == 16
    assert lines[("rows", 1, "sub", "last", "quoted key")] == 17
    assert set(lines) == paths_of(tomllib.loads(text))


def test_every_key_of_the_shipped_profiles_has_its_line() -> None:
    for file in resource("profiles").glob("*.toml"):
        text = file.read_text(encoding="utf-8")
        lines = key_lines(text)
        assert set(lines) == paths_of(tomllib.loads(text))
        rows = text.split("\n")
        for path, line in lines.items():
            if isinstance(path[-1], str):
                assert path[-1] in rows[line - 1]


_KEYS = st.text("abcXYZ019_-", min_size=1, max_size=6)
_SCALARS = st.one_of(
    st.integers(-5, 10**6).map(str),
    st.sampled_from(["1.5", "true", "nan", "1979-05-27", "07:32:00", "'lit # eral'", "'''a\n''b'''"]),
    st.text('ab"\\#[]{}=,\n é', max_size=8).map(
        lambda text: '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
    ),
    st.text("ab\"#[]{}=,\n '", max_size=8)
    .filter(lambda text: '"""' not in text and not text.endswith('"'))
    .map(lambda text: f'"""{text}"""'),
)


def _values(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.one_of(
        st.lists(inner, max_size=3).map(lambda items: "[ # c ]\n" + " ,\n".join(items) + "\n]"),
        st.dictionaries(_KEYS, inner, max_size=3).map(
            lambda d: "{" + ", ".join(f"{k} = {v}" for k, v in d.items()) + "}"
        ),
    )


@given(st.dictionaries(_KEYS, st.recursive(_SCALARS, _values, max_leaves=8), max_size=4))
def test_the_scanner_sees_the_keys_that_the_standard_reader_sees(tree: dict[str, str]) -> None:
    text = "# head\n" + "\n\n".join(f"{key} = {value}  # tail" for key, value in tree.items())
    assert set(key_lines(text)) == paths_of(tomllib.loads(text))
