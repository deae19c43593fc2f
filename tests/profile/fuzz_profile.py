"""Throws broken and absurd profiles at the loader, and what it takes at a start.

Run as a script for a long campaign: ``python -m tests.profile.fuzz_profile --count 10000 --seed 1``. It stops at the
first text that makes the loader raise anything but a worded refusal in one line, take more than two seconds or 300 MB,
or that is taken and then makes an assessment fail, warn or take longer than five seconds.
"""

from __future__ import annotations

import argparse
import random
import re
import resource as process
import sys
import time
import warnings
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path

from debrief.analysis import assess
from debrief.errors import UserError
from debrief.profile.loader import parse
from debrief.recording.model import Recording
from debrief.report.formats.text import assessment_text
from debrief.resources import resource
from debrief.session.document import assessment_document, dumps
from debrief.session.session import prepare
from tests.analysis.recording_making import normal_start, recording

MAX_SECONDS, MAX_ASSESS_SECONDS, MAX_MEMORY_MB = 2.0, 5.0, 500
_DATA = Path(__file__).resolve().parent.parent / "data" / "profiles"
_TOKENS = ["[", "]", "[[", "]]", "{", "}", "=", ",", ".", '"', "'", '"""', "\\", "#", "\n", "\r\n", "\r", "\0", "\x1b[8m", "\u202e",
           "nan", "inf", "-inf", "-1", "0", "1e300", "-1e300", "1e-300", "9" * 400, "true", "2031-05-01", "limits", "a.b", "[start]",
           "\U0001f600", "\ufeff", "\t", "above", "below", "seconds", "[]", "{}", "[[0, 1]]"]  # fmt: skip
_NUMBERS = [
    "0",
    "-0.0",
    "1",
    "-1",
    "1e300",
    "-1e300",
    "5e-324",
    "1e9",
    "1e-9",
    "-1e9",
    "nan",
    "inf",
    "58",
    "0.001",
    "100000",
]
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w.])")
_LONG = [
    lambda n: ".".join(["a"] * n) + " = 1\n",
    lambda n: "[" + ".".join(['"a"'] * n) + "]\n",
    lambda n: "x = " + "[" * n + "]" * n + "\n",
    lambda n: "x = " + "{a = " * n + "1" + "}" * n + "\n",
    lambda n: "".join(f"k{k} = {k}\n" for k in range(n)),
    lambda n: "[[limits]]\n" * n,
    lambda n: "".join(f"[t{k}.u.v]\n" for k in range(n)),
    lambda n: 'aircraft = "' + "x" * n + '"\n',
    lambda n: 'aircraft = """' + '"' * n + "\n",
    lambda n: "# " + "-" * n + "\n",
    lambda n: "#\n" * n,
    lambda n: "x = " + "9" * n + "\n",
    lambda n: "engines = [" + '"a",' * n + "]\n",
    lambda n: "[starter]\nduty = [" + "{run_s = 1, rest_s = 1}," * n + "]\n",
]


@cache
def texts() -> tuple[str, ...]:
    """Return the good profiles that are damaged."""
    files = [*sorted(resource("profiles").glob("*.toml")), _DATA / "every_key.toml"]
    return tuple(file.read_text(encoding="utf-8") for file in files)


@cache
def _start() -> Recording:
    return recording(normal_start(peak_c=1050.0), 80)


def a_text(rng: random.Random) -> str:
    """Return a good profile with wounds, with absurd numbers, with rows moved, or with something very long in it."""
    text = rng.choice(texts())
    kind = rng.random()
    if kind < 0.4:  # numbers that nobody writes
        if rng.random() < 0.6:  # one that is only much too large or too small
            number = rng.choice(list(_NUMBER.finditer(text)))
            value = float(number[0]) * 10.0 ** rng.uniform(-6, 6)
            return text[: number.start()] + f"{value:.6g}" + text[number.end() :]
        share = rng.choice([0.02, 0.1, 0.5])
        return _NUMBER.sub(lambda found: rng.choice(_NUMBERS) if rng.random() < share else found[0], text)
    if kind < 0.5:
        size = rng.choice([30, 300, 3000, 30_000])
        return rng.choice(_LONG)(size) + text if rng.random() < 0.5 else text + rng.choice(_LONG)(size)
    if kind < 0.7:  # whole lines
        lines = text.splitlines(keepends=True)
        for _ in range(rng.randint(1, 4)):
            at = rng.randrange(len(lines))
            change = rng.randrange(3)
            if change == 0:
                del lines[at]
            elif change == 1:
                lines.insert(rng.randrange(len(lines)), lines[at])
            else:
                lines[at] = lines[rng.randrange(len(lines))]
        return "".join(lines)
    for _ in range(rng.randint(1, 5)):
        at = rng.randint(0, len(text))
        cut = rng.choice([0, 0, 1, 20])
        text = text[:at] + rng.choice(_TOKENS) * rng.choice([1, 1, 1, 40]) + text[at + cut :]
    return text


def try_one(text: str, judge: bool) -> str:
    """Read one text, and judge a start by it where it is taken; return what became of it."""
    began = time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            profile = parse(text.encode("utf-8", "surrogatepass"), file_name="made.toml")
        except UserError as error:
            words = str(error)
            assert words.startswith("made.toml"), words
            assert len(words) < 2000, f"a message of {len(words)} characters"
            taken = None
        else:
            taken = profile
        took = time.process_time() - began
        assert took < MAX_SECONDS, f"read in {took:.1f} s"
        if taken is None:
            return "refused"
        if not judge:
            return "taken"
        began = time.process_time()
        found = assess(_start(), taken)
        dumps(assessment_document(found))
        assessment_text(found)
        prepare(found)
        took = time.process_time() - began
        assert took < MAX_ASSESS_SECONDS, f"judged in {took:.1f} s"
    return "taken"


def campaign(
    count: int, seed: int, say: Callable[[str], None] = lambda text: None, first: int = 0
) -> Counter[str]:
    """Try `count` texts of this seed; raise on the first that breaks a promise."""
    outcomes: Counter[str] = Counter()
    for number in range(first, first + count):
        rng = random.Random(f"{seed}/{number}")
        text = a_text(rng)
        try:
            outcomes[try_one(text, rng.random() < 0.3)] += 1
        except Exception as error:
            raise AssertionError(f"seed {seed}, text {number}: {type(error).__name__}: {error}") from error
        if number % 1000 == 999:
            memory = process.getrusage(process.RUSAGE_SELF).ru_maxrss // 1024
            say(f"{number + 1} texts, {dict(outcomes)}, {memory} MB")
            assert memory < MAX_MEMORY_MB, f"{memory} MB"
    return outcomes


def main() -> int:
    """Run a campaign from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, default=None, help="the number of one text")
    options = parser.parse_args()
    first, count = (0, options.count) if options.only is None else (options.only, 1)
    outcomes = campaign(count, options.seed, lambda text: print(text, flush=True), first)
    print(f"{count} texts: {dict(outcomes)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
