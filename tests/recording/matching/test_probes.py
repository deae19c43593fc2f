"""Several probes of one temperature: found, asked about, and made into one channel that says what it is made of."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from debrief.errors import UserError
from debrief.recording.lexicon import match_name, wanted_word
from debrief.recording.matching.joined_probes import join_probes
from debrief.recording.matching.maps import parse_maps
from debrief.recording.model import Recording
from debrief.recording.reader import read
from debrief.session.assessing.file_assessment import Choices, assess_file
from debrief.session.document import assessment_document
from debrief.words.asked import Asked

Write = Callable[..., Path]
RUN = [20.0] * 20 + [20.0 + 30 * i for i in range(24)] + [690.0 - i % 7 for i in range(80)]
NG = [0.0] * 15 + [min(62.0, 1.5 * i) for i in range(109)]


def made(write: Write, columns: dict[str, list[float] | list[str]], **options: object) -> Recording:
    heads = ",".join(f'"{name}"' for name in columns)
    rows = [",".join(str(cell) for cell in row) for row in zip(*columns.values(), strict=True)]
    lines = [f"Time (s),Ng (%),{heads}", *(f"{i},{NG[i]},{row}" for i, row in enumerate(rows))]
    return read(write("\n".join(lines) + "\n"), **options)  # type: ignore[arg-type]


def plus(more: float) -> list[float]:
    return [value + more for value in RUN]


def asked(recording: Recording, channel: str) -> Asked:
    found = [q for q in recording.provenance.questions if isinstance(q, Asked) and q.doubt.channel == channel]
    assert len(found) == 1, recording.provenance.questions
    return found[0]


# --- how it is said -------------------------------------------------------------------------------------


def test_the_way_stands_with_the_channel_so_that_no_column_can_be_taken_for_it(write: Write) -> None:
    names = ["mean(A,B)", "A,B", "itt.mean=A", "A"]
    one, other = parse_maps(["itt.mean=mean(A,B)", "itt.mean=A,B"], names)
    assert [(m.channel, m.joined, m.column) for m in (one, other)] == [("itt", "mean", 0), ("itt", "mean", 1)]
    (alone,) = parse_maps(["itt=itt.mean=A"], names)
    assert (alone.channel, alone.joined, alone.column) == ("itt", "", 2)
    engine = parse_maps(["itt.2.highest=#1:degF", "itt.2.highest=A"], names)
    assert [(m.channel, m.joined) for m in engine] == [("itt.2", "highest")] * 2


@pytest.mark.parametrize(
    ("maps", "words"),
    [
        (["itt.mean=A"], "names a single probe"),
        (["itt.mean=A", "itt.highest=B"], "name the channel itt twice"),
        (["itt.mean=A", "itt=B"], "name the channel itt twice"),
        (["itt.mean=A", "itt.mean=A"], "name one probe twice"),
        (["ng.mean=A", "ng.mean=B"], "one temperature only"),
        (["itt.median=A", "itt.median=B"], "or mean or highest for its probes"),
        (["itt.mean=A", "itt.mean=B", "oat=B"], "one column for two channels"),
    ],
)
def test_what_cannot_be_joined_is_refused_in_words(maps: list[str], words: str) -> None:
    with pytest.raises(UserError, match=words):
        parse_maps(maps, ["A", "B"])


def test_the_channel_says_what_it_is_made_of_and_the_probes_stay(write: Write) -> None:
    columns = {"A (degC)": RUN, "B (degF)": [1.8 * v + 32 + 18 for v in RUN]}
    maps = ["itt.mean=A (degC)", "itt.mean=B (degF)"]
    recording = made(write, columns, maps=maps)
    itt = recording.channels["itt"]
    assert itt.column == 'mean of "A (degC)", "B (degF)"'
    assert itt.map_source == "option"
    assert itt.values == pytest.approx(np.array(RUN) + 5.0)
    assert list(recording.unmapped) == ["A (degC)", "B (degF)", "ITT, spread of the probes"]
    spread = recording.unmapped["ITT, spread of the probes"]
    assert spread.unit == "K"  # in °C a difference would be read as a temperature
    assert spread.values == pytest.approx(np.full(len(RUN), 10.0))
    assert any("in each row in which all of them read" in said for said in recording.provenance.decisions)
    highest = made(write, columns, maps=[text.replace("mean", "highest") for text in maps])
    assert highest.channels["itt"].values == pytest.approx(np.array(RUN) + 10.0)
    said = assessment_document(assess_file(recording.provenance.path, Choices(maps=tuple(maps))))
    assert said["recording"]["channels"]["itt"]["column"] == 'mean of "A (degC)", "B (degF)"'


# --- missing and broken probes --------------------------------------------------------------------------

ROWS = 40
VALUES = arrays(
    np.float64,
    st.tuples(st.integers(1, 5), st.just(ROWS)),
    elements=st.one_of(st.floats(-100, 1800), st.just(np.nan), st.just(2293.7)),
)


@given(VALUES, st.sampled_from(["mean", "highest"]), st.randoms(use_true_random=False))
def test_no_probe_comes_and_goes_within_the_channel(probes: np.ndarray, way: str, order: object) -> None:
    joined = join_probes(list(probes), way, -80, 1700)
    assert {*joined.used, *(one.probe for one in joined.left_out)} == set(range(len(probes)))
    held = np.isfinite(joined.values)
    if joined.used:
        used = probes[list(joined.used)]
        reads = (used >= -80) & (used <= 1700)
        assert np.array_equal(held, reads.all(axis=0))
        made_of = used[:, held].mean(axis=0) if way == "mean" else used[:, held].max(axis=0)
        assert joined.values[held] == pytest.approx(made_of)
    else:
        assert not held.any()
    turned = join_probes(list(probes[::-1]), way, -80, 1700)
    assert turned.values == pytest.approx(joined.values, nan_ok=True)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        ([2293.7] * len(RUN), "reads in 0 of 124 rows only"),
        ([""] * len(RUN), "reads in 0 of 124 rows only"),
        ([20.0] * len(RUN), "stands at 20 °C while the other probes move"),
        (RUN[:60] + [""] * (len(RUN) - 60), "reads in 60 of 124 rows only"),
    ],
)
def test_a_broken_probe_is_left_out_and_that_is_said(broken: list[float], words: str, write: Write) -> None:
    columns = {"A (degC)": RUN, "B (degC)": plus(10), "C (degC)": broken}
    recording = made(write, columns, maps=[f"itt.mean=#{n}:degC" for n in (3, 4, 5)])
    assert recording.channels["itt"].values == pytest.approx(np.array(RUN) + 5.0)
    assert recording.channels["itt"].column == 'mean of "A (degC)", "B (degC)"'
    (flag,) = (flag for flag in recording.quality if flag.kind == "probe_left_out")
    assert words in flag.message
    assert flag.channel == "itt"


def test_a_row_in_which_a_probe_does_not_read_is_no_sample(write: Write) -> None:
    other = [*plus(40.0)[:90], "", *plus(40.0)[91:]]
    recording = made(write, {"A (degC)": RUN, "B (degC)": other}, maps=["itt.mean=#3", "itt.mean=#4"])
    assert recording.channels["itt"].values.size == len(RUN) - 1
    assert 90.0 not in recording.channels["itt"].time_s
    assert any("1 rows in which one" in said for said in recording.provenance.decisions)


@pytest.mark.parametrize(("apart", "is_said"), [(30.0, False), (140.0, True)])
def test_probes_that_are_far_apart_while_hot_are_doubted(apart: float, is_said: bool, write: Write) -> None:
    columns = {"A (degC)": RUN, "B (degC)": plus(apart)}
    recording = made(write, columns, maps=["itt.highest=#3", "itt.highest=#4"])
    said = [flag.message for flag in recording.quality if flag.kind == "probes_apart"]
    assert bool(said) == is_said
    assert all('"A (degC)", "B (degC)" are 140 °C apart while hot' in message for message in said)


# --- what is asked --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "names",
    [
        ("T_PLC_Turbine_Exit_1", "T_PLC_Turbine_Exit_2", "T_NI_Turbine_Exit_1", "T_NI_Turbine_Exit_2"),
        ("EGT 1 (degC)", "EGT 2 (degC)", "EGT 3 (degC)", "EGT 4 (degC)"),
        ("EGT TC1", "EGT TC2", "EGT TC3", "EGT TC4"),
        ("ITT probe 1", "ITT probe 2", "ITT probe 3", "ITT probe 4"),
        ("ITT No. 1", "ITT No. 2", "ITT No. 3", "ITT No. 4"),
        ("Abgastemperatur Fühler 1 [°C]", "Abgastemperatur Fühler 2 [°C]", "Abgastemperatur Fühler 3 [°C]"),
    ],
)
def test_several_probes_are_one_question_with_each_of_them_their_mean_and_the_highest(
    names: tuple[str, ...], write: Write
) -> None:
    recording = made(write, {name: plus(5 * place) for place, name in enumerate(names)})
    assert set(recording.channels) == {"ng"}
    question = asked(recording, "itt")
    assert tuple(column - 2 for column, _ in question.doubt.answers) == tuple(range(len(names)))
    assert question.doubt.probes == tuple(range(2, 2 + len(names)))
    assert f"{5 * (len(names) - 1)} °C apart while hot" in question
    assert "usually" not in question  # they are never further apart
    assert f'--map itt.mean="{names[0]}' in question
    assert len(recording.provenance.questions) == 1


def test_the_options_of_the_question_do_what_it_says(write: Write) -> None:
    columns = {f"T_PLC_Turbine_Exit_{n}": plus(5 * n) for n in (1, 2)}
    question = asked(made(write, columns), "itt")
    assert '--map itt.mean="T_PLC_Turbine_Exit_1:degC" --map itt.mean="T_PLC_Turbine_Exit_2:degC"' in question
    maps = [f"itt.mean=T_PLC_Turbine_Exit_{n}:degC" for n in (1, 2)]
    settled = made(write, columns, maps=maps)
    assert settled.channels["itt"].values == pytest.approx(np.array(RUN) + 7.5)
    assert not settled.provenance.questions


def test_probes_of_each_engine_are_asked_about_by_engine(write: Write) -> None:
    names = [f"ENG{engine} EGT{probe} (degC)" for engine in (1, 2) for probe in (1, 2, 3)]
    rows = {"ENG2 Ng (%)": NG[: len(RUN)], **{name: plus(3 * i) for i, name in enumerate(names)}}
    recording = made(write, rows)
    assert "itt" not in recording.channels
    assert "itt.2" not in recording.channels
    assert [len(asked(recording, key).doubt.probes) for key in ("itt", "itt.2")] == [3, 3]


def test_two_numbered_temperatures_may_be_probes_or_engines(write: Write) -> None:
    question = asked(made(write, {"EGT 1 (degC)": RUN, "EGT 2 (degC)": plus(8)}), "itt")
    assert question.doubt.engines
    assert 'one engine each: --map itt="EGT 1 (degC)" --map itt.2="EGT 2 (degC)"' in question


def test_a_temperature_that_no_name_tells_is_found_by_what_it_shows(write: Write) -> None:
    columns = {
        "T_17": RUN,
        "T_18": [20 + i % 5 for i in range(len(RUN))],
        "P_17": RUN,
        "Case temp (degC)": plus(-5),
    }
    question = asked(made(write, columns), "itt")
    assert [column - 2 for column, _ in question.doubt.answers] == [0, 3]


@pytest.mark.parametrize(
    "name",
    ["ITT set", "Set ITT", "ITT_Max", "Max ITT (degC)", "EGT demand", "TGT target", "ITT command", "EGT limit", "ITT ref",
     "Ref EGT", "EGT bug", "EGT SP 1", "Sollwert Abgastemperatur", "Abgastemperatur Grenze", "Consigne T4", "EGT peak"],
)  # fmt: skip
def test_a_set_point_is_never_offered(name: str, write: Write) -> None:
    assert wanted_word(name)
    alone = made(write, {name: RUN})
    assert set(alone.channels) == {"ng"}
    assert not alone.provenance.questions
    beside = made(write, {name: RUN, "T_PLC_Turbine_Exit_1": RUN, "Turbine Exit spare": plus(4)})
    assert [column for column, _ in asked(beside, "itt").doubt.answers] == [3, 4]


def test_a_part_of_a_name_that_something_else_is_measured_at_is_no_hint(write: Write) -> None:
    recording = made(write, {"T_NI_N2_Front_Bearing_2": plus(-10), "ITT (degC)": RUN, "P_N2_Seal": RUN})
    assert not recording.provenance.questions


@pytest.mark.parametrize(
    ("name", "channel", "engine", "probe"),
    [
        ("EGT TC3", "itt", None, 3),
        ("ENG2 EGT4", "itt", 2, 4),
        ("Triebwerk 1 Abgastemperatur Fühler 2", "itt", 1, 2),
        ("ITT Left 3", "itt", 1, 3),
        ("Oil temp probe 2", "oil_temp", None, 2),
        ("Température turbine sonde 5", "itt", None, 5),
    ],
)
def test_a_probe_has_a_number_of_its_own(name: str, channel: str, engine: int | None, probe: int) -> None:
    match = match_name(name)[0]
    assert (match.channel, match.engine, match.probe) == (channel, engine, probe)


def test_how_far_probes_of_a_file_in_fahrenheit_are_apart_is_said_in_fahrenheit(write: Write) -> None:
    columns = {
        f"T_PLC_Turbine_Exit_{n} (degF)": [1.8 * value + 32.0 for value in plus(10.0 * n)] for n in (1, 2)
    }
    question = asked(made(write, columns), "itt")
    assert "18 °F apart while hot" in question
    assert "°C" not in question
