"""What is drawn, and how the score is worked out."""

from __future__ import annotations

import pytest

from tests.mutants.change import ANALYSIS, Mutant, difference, survivors, table


def mutant(old: str, new: str, name: str = "m", folder: str = "starts") -> Mutant:
    return Mutant(name, ANALYSIS / folder / "attempts.py", 12, old, new)


@pytest.mark.parametrize(
    ("old", "new", "crude"),
    [
        ("if a > b:", "if a >= b:", False),
        ("return a - 1.0", "return a - 2.0", False),
        ("if not found:", "if found:", False),
        ("f(a, certain=sure)", "f(a, )", False),  # an argument with a default may be missed by nobody
        ("x = a if b else c", "x = a if (b) and False else c", False),
        ("out = work(a, b)", "out = None", True),
        ("out = work(a, b)", "out = work(a, None)", True),
        ("out = work(a, b)", "out = work(b)", True),
        ('view.channel("itt")', 'view.channel("XXittXX")', True),
    ],
)
def test_a_change_that_leaves_something_out_is_crude(old: str, new: str, crude: bool) -> None:
    assert mutant(old, new).crude is crude


def test_the_place_of_a_change_is_its_first_line() -> None:
    before = ["    a = 1", "    b = f(", "        a,", "        2,", "    )"]
    after = ["    a = 1", "    b = f(", "        a,", "        3,", "    )"]
    assert difference(before, after) == (3, "2,", "3,")


def test_the_interval_is_that_of_wilson() -> None:
    """81 of 263: 0.2553 to 0.3662 (Newcombe 1998, table I, method 3; from memory)."""
    mutants = [mutant("a", "b", str(i)) for i in range(263)]
    results = {m.name: "killed" if i < 81 else "survived" for i, m in enumerate(mutants)}
    assert table(mutants, results)[-1].split("  ")[-1] == "31 % (26 to 37)"


def test_time_out_is_noticed_and_a_change_that_no_test_calls_is_not() -> None:
    mutants = [mutant("a > b", "a >= b", name) for name in ("timeout", "no tests", "killed", "survived")]
    results = {m.name: m.name for m in mutants}
    assert [text.split(" ", 1)[1].splitlines()[0] for text in survivors(mutants, results)] == [
        "no tests no tests",
        "survived survived",
    ]
    assert table(mutants, results)[1].split()[:5] == ["starts", "4", "1", "2", "1"]


def test_each_folder_is_counted_by_itself_and_the_top_has_a_name() -> None:
    top = Mutant("t", ANALYSIS / "verdict.py", 1, "a", "b")
    mutants = [mutant("a", "b", "s"), top]
    lines = table(mutants, {"s": "survived", "t": "killed"})
    assert [line.split()[0] for line in lines] == ["folder", "(top)", "starts", "all"]
