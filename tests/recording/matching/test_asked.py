"""Each question of the reader keeps its kind and its answers, so that nobody reads them out of its text."""

from __future__ import annotations

import pickle
import re
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording.clock.time_column import NoTimeColumn
from debrief.recording.matching.maps import parse_maps
from debrief.recording.reader import read
from debrief.session.texts.plain_names import for_window
from debrief.words.asked import Asked
from debrief.words.units import BY_NAME

ASKED = {
    "may_be_too": ("Time (s),Ng (%),ITT (degC),ITT (degF)", "{t},{n},{i},{o}"),
    "none_taken": ("Time (s),Ng (%),EGT left,T5", "{t},{n},{i},{o}"),
    "may_be": ("Time (s),Ng (%),ITT (degC),N2", "{t},{n},{i},1.{t:03d}"),
    "thousands": ("Time (s),N1,ITT (degC),N2", "{t},{n},{i},1.{t:03d}"),
    "not_found": ("Time (s),PLC_N1_Filtered,ITT (degC)", "{t},{n},{i}"),
    "two_times": ("Time (s),Elapsed (s),Ng (%),ITT (degC)", "{t},{n},{n},{i}"),
    "probe_or_engine": ("Time (s),Ng (%),EGT (degC),EGT 2 (degC)", "{t},{n},{i},{o}"),
    "probes": ("Time (s),Ng (%),EGT 1 (degC),EGT 2 (degC)", "{t},{n},{i},{o}"),
}


def made(folder: Path, header: str, row: str) -> Path:
    """Write a recording with this header, of times, speeds and temperatures that rise."""
    rows = [row.format(t=i, n=20 + i / 8, i=300 + i, o=500 + 2 * i) for i in range(240)]
    path = folder / "made.csv"
    path.write_text("\n".join([header, *rows]) + "\n")
    return path


@pytest.mark.parametrize("kind", ASKED)
def test_a_question_has_a_kind_and_the_answers_of_its_options(tmp_path: Path, kind: str) -> None:
    header, row = ASKED[kind]
    questions = read(made(tmp_path, header, row)).provenance.questions
    question = next(q for q in questions if isinstance(q, Asked) and q.doubt.kind == kind)
    options = re.findall(r'--map ([\w.]+)="([^"]*)"', question.partition(", or their mean")[0])
    maps = [parse_maps([f"{channel}={column}"], header.split(","))[0] for channel, column in options]
    told = [(one.column, one.unit.name if one.unit else "") for one in maps]
    assert len(question.doubt.answers) > 0
    assert all(unit == "" or unit in BY_NAME for _, unit in question.doubt.answers)
    if kind != "two_times":  # the option of a time needs no help: the columns stand in the sentence
        assert list(question.doubt.answers) == told
        assert {one.channel for one in maps} == {question.doubt.channel}
    shown = for_window(pickle.loads(pickle.dumps(question)))
    assert "--" not in shown
    assert shown.endswith("To fix: File, Columns.")


def test_a_file_without_times_asks_for_the_column_that_only_rises(tmp_path: Path) -> None:
    path = made(tmp_path, "Tick,Ng (%),ITT (degC)", "{o},{n},{i}")
    with pytest.raises(UserError, match="has no time column") as refused:
        read(path)
    assert isinstance(refused.value, NoTimeColumn)
    assert refused.value.asked is not None
    assert str(refused.value.asked) in refused.value.at("command_line")
    assert (refused.value.asked.doubt.channel, refused.value.asked.doubt.answers) == ("time", ((0, "s"),))


def test_a_file_without_names_is_told_at_once_all_that_is_wanted(tmp_path: Path) -> None:
    path = tmp_path / "bare.csv"
    path.write_text("".join(f"{9 + i * 0.1:.1f},{300 + i},{290 + i}\n" for i in range(60)), encoding="utf-8")
    with pytest.raises(NoTimeColumn) as refused:
        read(path)
    said = refused.value.at("command_line")
    assert "no time column and no names of columns" in said
    assert '--map itt="#2:degC"' in said
    assert (
        '"Column 1" only rises, by 0.1 from row to row: --map time="#1" if it is the time in seconds.' in said
    )
    assert "--" not in str(refused.value)
