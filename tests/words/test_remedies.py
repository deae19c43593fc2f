"""What to do is worded where it is read: an option on the command line, a button or nothing in the window and on paper."""

from __future__ import annotations

import ast
import pickle
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.analysis import assess
from debrief.cli import main
from debrief.errors import UserError
from debrief.history.storage.store import Store
from debrief.profile.loader import find, find_named
from debrief.recording.reader import read
from debrief.report.content.options import ReportOptions
from debrief.report.content.reference_start import other_recording
from debrief.report.content.whole_report import build
from debrief.report.formats.text import assessment_text
from debrief.session.importing.import_opening import Unsure, open_or_ask
from debrief.steps import done
from debrief.words.asked import hint_of
from debrief.words.remedies import REASON, advised, text_at
from tests.report.test_units import strings

PACKAGE = Path(__file__).parents[2] / "debrief"
DEMOS = Path(__file__).parents[2] / "demo_flights"
OPTION = re.compile(r"(?<![\w-])--[a-z]")
NO_TIME = "ng,itt\n" + "".join(f"{n % 7},{300 + n % 5}\n" for n in range(20))
RISES = "spare,ng,itt\n" + "".join(f"{n * n},{n % 7},{300 + n % 5}\n" for n in range(20))
NO_CHANNEL = "time,spare\n" + "".join(f"{n},{n % 3}\n" for n in range(20))
LEAPS = "time,ng\n" + "".join(f"{n % 3 * 200000},{n % 90}\n" for n in range(62_000))

COMMANDS = ("cli.py", "arguments.py", "bootstrap.py", "history/command/", "words/remedies.py")
"""Where a person is at the command line, and the table of remedies."""
OPTIONS_READ = {
    "history/storage/places.py": "the address that --db gives; the window asks for none",
    "report/content/options.py": "the value of --select; the window gives it as a choice",
    "words/display_units.py": "the value of --units; the window gives it as a choice",
    "recording/matching/maps.py": "the options of a question, which a Doubt keeps apart from its sentence",
    "recording/clock/time_candidates.py": "the options of a question, which a Doubt keeps apart from its sentence",
}


def written(folder: Path, text: str) -> Path:
    """Return a file of the folder with this text."""
    path = folder / "made.csv"
    path.write_text(text, encoding="utf-8")
    return path


def no_history(folder: Path) -> None:
    """Open a database that is none."""
    path = folder / "other.sqlite"
    path.write_bytes(b"no database at all, and long enough to be looked at" * 20)
    Store.open(str(path))


def without_reason(folder: Path) -> None:
    """Leave a start out and say no reason."""
    with Store.open(str(folder / "history.sqlite")) as store:
        store.exclude("0" * 64, 1, " ")


def hot_alone(folder: Path) -> None:
    """Compare with a recording of a hot start alone."""
    other_recording(assess(read(DEMOS / "05_hot_start_aborted_motored.csv"), find("tarn-tg7")))


@pytest.mark.parametrize(
    ("refused", "option"),
    [
        (
            lambda folder: read(written(folder, NO_TIME)),
            "name one with --map time=COLUMN or give .* with --rate HZ",
        ),
        (lambda folder: read(written(folder, RISES)), '"spare" only rises: --map time="#1"'),
        (lambda folder: read(written(folder, NO_CHANNEL)), "name them with --map CHANNEL=COLUMN"),
        (lambda folder: read(written(folder, LEAPS)), "another column with --map time=COLUMN"),
        (lambda folder: find_named("folder/engine.toml"), "give it with --profile"),
        (no_history, "name another one with --db"),
        (without_reason, "say it with --reason"),
        (hot_alone, "such as --reference 05_hot_start_aborted_motored.csv:1"),
    ],
    ids=["no time", "rises", "no channel", "leaps", "profile", "no history", "reason", "reference"],
)
def test_a_refusal_names_an_option_on_the_command_line_alone(
    refused: Callable[[Path], object], option: str, tmp_path: Path
) -> None:
    with pytest.raises(UserError) as caught:
        refused(tmp_path)
    error = pickle.loads(pickle.dumps(caught.value)) if type(caught.value) is UserError else caught.value
    assert re.search(option, error.at("command_line"))
    for words in (str(error), error.at("window"), error.at("paper")):
        assert not OPTION.search(words)
        assert len(words) > 40
        assert "  " not in words


@pytest.mark.parametrize("text", [NO_TIME, RISES, NO_CHANNEL, LEAPS])
def test_the_window_asks_about_a_file_without_naming_an_option(text: str, tmp_path: Path) -> None:
    with pytest.raises(Unsure) as caught:
        done(open_or_ask(written(tmp_path, text)))
    proposal = caught.value.proposal
    told = [str(caught.value), proposal.problem, *(question.text for question in proposal.questions)]
    told += [column.why for column in proposal.columns]
    assert [words for words in told if OPTION.search(words)] == []


def test_the_command_line_prints_its_options(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["assess", str(written(tmp_path, NO_TIME))]) == 2
    assert "--map time=COLUMN or give the samples per second with --rate HZ" in capsys.readouterr().err


def test_without_a_profile_the_text_names_the_option_and_the_paper_none() -> None:
    assessment = assess(read(DEMOS / "01_cool_normal_start.csv"), None)
    assert "--profile NAME" in " ".join(assessment_text(assessment).split())
    assert not OPTION.search(assessment.sentence)
    assert not any(map(OPTION.search, strings(build(assessment, ReportOptions()))))


def test_remedies_are_kept_where_one_text_is_put_into_another() -> None:
    error = UserError(advised("{file}: {why}", file="a.csv", why=advised("say it{how}.", how=REASON)))
    assert error.at("command_line") == "a.csv: say it: say it with --reason."
    assert str(error) == "a.csv: say it."
    assert text_at("words", "command_line") == "words"


def test_no_other_text_names_an_option() -> None:
    found = set()
    for path in sorted(PACKAGE.rglob("*.py")):
        module = path.relative_to(PACKAGE).as_posix()
        if module.startswith(COMMANDS):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        comments = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        texts = (
            node for node in ast.walk(tree) if isinstance(node, ast.Constant) and id(node) not in comments
        )
        if any(isinstance(node.value, str) and OPTION.search(node.value) for node in texts):
            found.add(module)
    assert found == set(OPTIONS_READ)


def test_a_question_at_the_end_of_a_refusal_has_one_full_stop():
    assert hint_of("It only rises.") == hint_of("It only rises") == " It only rises."
    assert hint_of() == ""
