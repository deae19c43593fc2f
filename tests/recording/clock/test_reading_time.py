"""Every form of time, and every way in which a clock goes wrong."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.recording.clock.time_base import printed_resolution, spread, unwrapped
from debrief.recording.clock.time_cell import read_stamp
from debrief.recording.clock.time_cells import read_stamps
from debrief.recording.model import Recording
from debrief.recording.reader import read

Write = Callable[..., Path]


def _read(write: Write, header: str, times: list[str], **options: object) -> Recording:
    columns = header.count(",") + 1
    assert all(t.count(",") + 1 == columns for t in times)
    rows = [f"{t},{10 + i},{20 + i}" for i, t in enumerate(times)]
    return read(write("\n".join([f"{header},ng,itt", *rows]) + "\n"), **options)  # type: ignore[arg-type]


CASES: dict[str, tuple[str, list[str], list[float]]] = {
    "elapsed seconds": ("time", ["0", "0.5", "1.0"], [0, 0.5, 1]),
    "elapsed seconds from another origin": ("Elapsed (s)", ["100", "100.25", "101"], [0, 0.25, 1]),
    "elapsed milliseconds": ("time_ms", ["0", "500", "1500"], [0, 0.5, 1.5]),
    "elapsed milliseconds in brackets": ("Time [ms]", ["0", "500", "1500"], [0, 0.5, 1.5]),
    "elapsed minutes": ("Elapsed min", ["0", "0.5", "1.5"], [0, 30, 90]),
    "elapsed minutes in brackets": ("time (min)", ["0", "0.5", "1.5"], [0, 30, 90]),
    "elapsed hours": ("time (h)", ["0", "0.5", "1.5"], [0, 1800, 5400]),
    "negative elapsed": ("time", ["-2", "-1", "1"], [0, 1, 3]),
    "hh:mm:ss": ("Time", ["09:59:58", "09:59:59", "10:00:01"], [0, 1, 3]),
    "h:mm:ss without leading zero": ("Time", ["9:59:58", "9:59:59", "10:00:01"], [0, 1, 3]),
    "hh:mm:ss.f": ("Time", ["09:59:58.25", "09:59:58.5", "09:59:59.75"], [0, 0.25, 1.5]),
    "hh:mm": ("Time", ["09:58", "09:59", "10:01"], [0, 60, 180]),
    "twelve hours": ("Time", ["11:59:59 AM", "12:00:00 PM", "12:00:02 PM"], [0, 1, 3]),
    "just after midnight in twelve hours": ("Time", ["12:00:00 AM", "12:59:59 AM", "1:00:00 AM"], [0, 3599, 3600]),
    "past midnight": ("Time", ["23:59:58", "23:59:59", "00:00:01"], [0, 1, 3]),
    "elapsed clock beyond a day": ("Elapsed time", ["23:59:59", "24:00:00", "25:00:00"], [0, 1, 3601]),
    "ISO with Z": ("Timestamp", ["2031-05-01T09:30:00Z", "2031-05-01T09:30:00.5Z", "2031-05-01T09:31:00Z"], [0, 0.5, 60]),
    "ISO with offset": ("UTC", ["2031-05-01T09:30:00+02:00", "2031-05-01T09:30:01+02:00", "2031-05-01T09:30:03+02:00"], [0, 1, 3]),
    "ISO with a space and offset": ("_time", ["2031-05-01 09:30:00.180366+00:00", "2031-05-01 09:30:00.522193+00:00", "2031-05-01 09:30:01+00:00"], [0, 0.341827, 0.819634]),
    "ISO over a change of offset": ("time", ["2031-10-26T02:59:59+02:00", "2031-10-26T02:00:00+01:00", "2031-10-26T02:00:02+01:00"], [0, 1, 3]),
    "ISO basic form": ("time", ["20310501T093000Z", "20310501T093001Z", "20310501T093003Z"], [0, 1, 3]),
    "ISO across a leap day": ("time", ["2032-02-28T23:59:59", "2032-02-29T00:00:00", "2032-03-01T00:00:00"], [0, 1, 86401]),
    "day first with points": ("Zeit", ["01.05.2031 09:30:00", "01.05.2031 09:30:01", "02.05.2031 09:30:00"], [0, 1, 86400]),
    "month first shown by a day beyond 12": ("time", ["05/30/2031 23:59:59", "05/31/2031 00:00:00", "05/31/2031 00:00:02"], [0, 1, 3]),
    "named month": ("time", ["01-May-2031 09:30:00", "01-May-2031 09:30:01", "01-May-2031 09:30:03"], [0, 1, 3]),
    "slashes, year first": ("time", ["2031/05/01 09:30:00", "2031/05/01 09:30:01", "2031/05/01 09:30:03"], [0, 1, 3]),
    "date and time columns": ("Date,Time", ["2031-05-01,23:59:59", "2031-05-02,00:00:00", "2031-05-02,00:00:02"], [0, 1, 3]),
    "date and time columns, other way round": ("UTC Time,UTC Date", ["23:59:59.5,01.05.2031", "00:00:00.5,02.05.2031", "00:00:02.5,02.05.2031"], [0, 1, 3]),
    "epoch seconds": ("epoch", ["1935653400", "1935653401", "1935653403"], [0, 1, 3]),
    "epoch seconds with fraction": ("time", ["1935653400.25", "1935653400.5", "1935653403.75"], [0, 0.25, 3.5]),
    "epoch milliseconds": ("timestamp", ["1935653400000", "1935653400500", "1935653403000"], [0, 0.5, 3]),
    "epoch microseconds": ("timestamp", ["1935653400000000", "1935653400500000", "1935653403000000"], [0, 0.5, 3]),
    "spreadsheet days": ("Date/Time", ["47972.3958333333", "47972.3958449074", "47972.3958680556"], [0, 1, 3]),
    "a leap second": ("time", ["2016-12-31T23:59:59Z", "2016-12-31T23:59:60Z", "2017-01-01T00:00:01Z"], [0, 1, 2]),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_every_form_of_time(name: str, write: Write) -> None:
    header, times, expected = CASES[name]
    recording = _read(write, header, times)
    got = recording.channels["ng"].time_s
    assert got == pytest.approx(expected, abs=2e-4 if "spreadsheet" in name else 1e-9)
    assert recording.duration_s == got[-1]
    assert recording.channels["ng"].values.tolist() == [10.0, 11.0, 12.0]


@pytest.mark.parametrize(
    ("header", "cell", "start"),
    [
        (
            "time",
            "2031-05-01T09:30:00+02:00",
            datetime(2031, 5, 1, 9, 30, tzinfo=timezone(timedelta(hours=2))),
        ),
        ("time", "2031-05-01T09:30:00Z", datetime(2031, 5, 1, 9, 30, tzinfo=UTC)),
        ("time", "2031-05-01 09:30:00", datetime(2031, 5, 1, 9, 30)),
        ("UTC Time", "2031-05-01 09:30:00", datetime(2031, 5, 1, 9, 30, tzinfo=UTC)),
        ("epoch", "1935653400", datetime(2031, 5, 4, 9, 30, tzinfo=UTC)),
    ],
)
def test_the_start_is_the_first_rows_instant_aware_only_where_told(
    header: str, cell: str, start: datetime, write: Write
) -> None:
    later = cell.replace("09:30:00", "09:30:01") if ":" in cell else str(int(cell) + 1)
    identity = _read(write, header, [cell, later]).identity
    assert identity.start == start
    assert identity.start is not None
    assert (identity.start.tzinfo is None) == (start.tzinfo is None)
    assert identity.start.utcoffset() == start.utcoffset()
    assert identity.start_source == "column"


def test_a_clock_time_without_a_date_gives_no_start(write: Write) -> None:
    assert _read(write, "time", ["09:30:00", "09:30:01"]).identity.start is None


def test_a_date_that_could_be_read_both_ways_is_asked_for(write: Write) -> None:
    recording = _read(write, "time", ["05/06/2031 09:30:00", "05/06/2031 09:30:01"])
    assert any("day or the month" in q for q in recording.provenance.questions)


def test_steps_of_a_thousand_without_a_unit_are_milliseconds_and_asked_for(write: Write) -> None:
    recording = _read(write, "time", ["0", "1000", "2000", "3000"])
    assert recording.duration_s == 3.0
    assert any("milliseconds" in q and "--map time=" in q for q in recording.provenance.questions)


def test_a_map_settles_the_unit_of_time(write: Write) -> None:
    recording = _read(write, "time", ["0", "1000", "2000"], maps=["time=time:s"])
    assert recording.duration_s == 2000.0
    assert not recording.provenance.questions


@pytest.mark.parametrize(
    ("text", "seconds"), [("time=Stamp", 2.0), ("time=Stamp:ms", 0.002), ("time=#1:min", 120.0)]
)
def test_time_can_be_mapped(text: str, seconds: float, write: Write) -> None:
    assert _read(write, "Stamp", ["0", "1", "2"], maps=[text]).duration_s == pytest.approx(seconds)


def test_a_rate_gives_the_time_where_no_column_does(write: Write) -> None:
    recording = read(write("ng,itt\n10,20\n11,21\n12,22\n"), rate_hz=8.0)
    assert recording.channels["ng"].time_s.tolist() == [0.0, 0.125, 0.25]
    assert recording.provenance.time_source == "stated rate 8 Hz"


def test_a_rate_beside_a_time_column_is_not_used_and_that_is_said(write: Write) -> None:
    recording = _read(write, "time", ["0", "1", "2"], rate_hz=8.0)
    assert recording.duration_s == 2.0
    assert any("8 Hz was not used" in d for d in recording.provenance.decisions)


def test_rows_of_one_second_are_spread_over_it(write: Write) -> None:
    times = ["10:00:00"] * 4 + ["10:00:01"] * 4 + ["10:00:02"] * 4
    recording = _read(write, "time", times)
    assert recording.channels["ng"].time_s == pytest.approx(np.arange(12) * 0.25)
    assert any("9 rows had the time of the row before" in r for r in recording.provenance.repairs)


@pytest.mark.parametrize(
    ("header", "stamp", "step_s", "rows"),
    [
        ("Time", lambda k: f"10:00:{k:02d}.000", 1.0, 4),
        ("Time", lambda k: f"10:00:{k:02d}.0", 1.0, 16),
        ("Time", lambda k: f"10:{k:02d}:00", 60.0, 6),
        ("Time", lambda k: f"2031-05-01T10:{k:02d}:00.000Z", 60.0, 60),
        ("Time", lambda k: f"10:00:{k // 2:02d}.{5 * (k % 2)}00", 0.5, 8),
        ("Time", lambda k: f"10:00:{2 * k:02d}", 2.0, 8),
        ("Time (s)", lambda k: f"{k}.000", 1.0, 4),
        ("Time (s)", lambda k: f"{0.5 * k:.3f}", 0.5, 8),
        ("Time (s)", lambda k: f"{60 * k}", 60.0, 12),
        ("Time (min)", lambda k: f"{k}.00", 60.0, 12),
        ("Time (ms)", lambda k: f"{1000 * k}", 1.0, 4),
        ("epoch", lambda k: f"{1935653400000 + 500 * k}", 0.5, 8),
    ],
)
def test_the_clocks_step_is_that_of_its_values_however_finely_they_are_written(
    header: str, stamp: Callable[[int], str], step_s: float, rows: int, write: Write
) -> None:
    recording = _read(write, header, [stamp(k) for k in range(12) for _ in range(rows)])
    expected = np.arange(12 * rows) * step_s / rows
    np.testing.assert_allclose(recording.channels["itt"].time_s, expected, atol=1e-6)


def test_rows_lost_out_of_a_coarse_clock_move_no_other_second(write: Write) -> None:
    counts = [4, 4, 3, 4, 1, 0, 4, 4]
    times = [f"10:00:{k:02d}.000" for k, count in enumerate(counts) for _ in range(count)]
    time_s = _read(write, "Time", times).channels["itt"].time_s
    expected = [k + j / count for k, count in enumerate(counts) for j in range(count)]
    np.testing.assert_allclose(time_s, expected, atol=1e-9)


def test_fewer_rows_than_two_a_second_are_spread_as_well(write: Write) -> None:
    true = np.arange(60) * 0.75
    time_s = _read(write, "Time", [f"10:00:{int(t):02d}.000" for t in true]).channels["itt"].time_s
    assert np.diff(time_s).min() == pytest.approx(0.5)
    np.testing.assert_allclose(time_s, true, atol=0.76)


def test_a_fine_clock_with_two_rows_of_one_time_keeps_its_step(write: Write) -> None:
    times = [
        "0.000",
        "0.062",
        "0.125",
        "0.188",
        "0.188",
        "0.250",
        "0.312",
        "0.375",
        "0.438",
        "0.500",
        "0.562",
    ]
    time_s = _read(write, "Time (s)", times).channels["itt"].time_s
    assert time_s[4] == pytest.approx(0.1885)
    np.testing.assert_allclose(np.delete(time_s, 4), np.delete(np.array(times, float), 4))


def test_a_first_second_that_is_not_full_ends_where_the_next_begins(write: Write) -> None:
    times = ["10:00:00"] * 2 + ["10:00:01"] * 4 + ["10:00:02"] * 4
    assert _read(write, "time", times).channels["ng"].time_s == pytest.approx(np.arange(10) * 0.25)


def test_a_single_tie_moves_no_other_row(write: Write) -> None:
    got = _read(write, "time", ["0.0", "0.1", "0.1", "0.2", "0.3"]).channels["ng"].time_s
    assert got == pytest.approx([0.0, 0.1, 0.15, 0.2, 0.3])


def test_identical_rows_are_dropped_and_counted(write: Write) -> None:
    text = "time,ng,itt\n0,10,20\n1,11,21\n1,11,21\n2,12,22\n2,12,22\n3,13,23\n"
    recording = read(write(text))
    assert recording.channels["ng"].time_s.tolist() == [0.0, 1.0, 2.0, 3.0]
    assert "2 rows repeat the row before and were dropped: line 4, 6" in recording.provenance.repairs
    assert recording.provenance.rows == 4


def test_a_file_written_twice_over_row_by_row_reads_once(write: Write) -> None:
    text = "time,ng,itt\n" + "".join(f"{i},{10 + i},20\n" * 2 for i in range(6))
    recording = read(write(text))
    assert recording.channels["ng"].time_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]


def test_equal_samples_of_a_standing_engine_within_a_coarse_clock_stay(write: Write) -> None:
    text = "time,ng,itt\n" + "".join(f"10:00:0{s},0,20\n" * 4 for s in range(3))
    text += "10:00:03,1,20\n10:00:03,2,20\n10:00:03,3,20\n10:00:03,4,20\n"
    assert read(write(text)).channels["ng"].time_s == pytest.approx(np.arange(16) * 0.25)


def test_a_clock_stepped_back_keeps_the_order_and_is_told(write: Write) -> None:
    recording = _read(write, "time", ["10:00:05", "10:00:06", "10:00:07", "10:00:02", "10:00:03"])
    assert recording.channels["ng"].time_s == pytest.approx([0, 1, 2, 3, 4])
    assert any("stepped back by 5 s after line 4" in r for r in recording.provenance.repairs)


def test_a_clock_set_forward_by_years_is_repaired_and_told(write: Write) -> None:
    times = ["1980-01-06T00:00:00", "1980-01-06T00:00:01", "2031-05-01T09:30:00", "2031-05-01T09:30:01"]
    recording = _read(write, "time", times)
    assert recording.channels["ng"].time_s == pytest.approx([0, 1, 2, 3])
    assert any("set forward" in r for r in recording.provenance.repairs)


def test_a_pause_is_a_gap_and_no_repair(write: Write) -> None:
    times = [*(str(i) for i in range(20)), *(str(i) for i in range(100, 120))]
    recording = _read(write, "time", times)
    assert recording.duration_s == 119.0
    assert not recording.provenance.repairs
    assert [flag.kind for flag in recording.quality].count("gap") == 1


def test_a_leap_of_a_clock_by_hours_is_told(write: Write) -> None:
    recording = _read(write, "time", ["09:00:00", "09:00:01", "11:00:01", "11:00:02"])
    assert recording.duration_s == 7202.0
    assert any("leaps ahead by 2.0 h after line 3" in d for d in recording.provenance.decisions)


def test_rows_without_a_readable_time_are_left_out_and_counted(write: Write) -> None:
    recording = _read(write, "time", ["0", "", "2", "---", "4"])
    assert recording.channels["ng"].values.tolist() == [10.0, 12.0, 14.0]
    assert "2 of 5 rows had no readable time and were left out: line 3, 5" in recording.provenance.repairs


def test_of_two_time_columns_the_better_is_taken_and_a_disagreement_is_asked(write: Write) -> None:
    text = "clock,elapsed,ng,itt\n" + "".join(f"10:00:{i:02d},{i * 1.1:.1f},{i},{i}\n" for i in range(30))
    recording = read(write(text))
    assert recording.duration_s == pytest.approx(31.9)
    question = next(q for q in recording.provenance.questions if "disagree" in q)
    assert "clock is finer" in question


def test_of_two_time_columns_that_agree_no_question_is_left(write: Write) -> None:
    text = "utc,elapsed,ng,itt\n"
    text += "".join(f"2031-05-01T10:00:{i:02d}Z,{i}.0,{i},{i}\n" for i in range(30))
    recording = read(write(text))
    assert recording.duration_s == 29.0
    assert recording.identity.start == datetime(2031, 5, 1, 10, tzinfo=UTC)
    assert not recording.provenance.questions
    assert "utc" not in recording.unmapped


def test_the_preambles_start_wins_and_a_contradiction_is_asked(write: Write) -> None:
    text = "# start: 2031-05-01T09:00:00Z\ntime,ng,itt\n2031-05-01T10:00:00Z,1,2\n2031-05-01T10:00:01Z,2,3\n"
    recording = read(write(text))
    assert recording.identity.start == datetime(2031, 5, 1, 9, tzinfo=UTC)
    assert any("3600 s apart" in q for q in recording.provenance.questions)


def test_a_preamble_start_that_is_no_instant_is_not_used(write: Write) -> None:
    recording = read(write("# start: last Tuesday\ntime,ng,itt\n0,1,2\n1,2,3\n"))
    assert recording.identity.start is None
    assert any("last Tuesday" in q for q in recording.provenance.questions)


def test_time_that_runs_backwards_is_refused(write: Write) -> None:
    with pytest.raises(UserError, match="runs backwards"):
        _read(write, "time", [str(t) for t in range(9, 0, -1)])


@given(
    st.lists(st.integers(-5, 5), min_size=2, max_size=60),
    st.sampled_from([1.0, 0.1, 0.01]),
)
def test_a_repaired_time_base_always_increases_and_keeps_every_row(steps: list[int], unit: float) -> None:
    raw = np.cumsum([0, *steps]) * unit
    repaired = spread(unwrapped(raw, clock_only=False, resolution_s=unit).time_s, unit).time_s
    assert repaired.size == raw.size
    assert np.all(np.diff(repaired) > 0)


@given(st.lists(st.integers(1, 50), min_size=1, max_size=60))
def test_a_good_time_base_is_not_touched(steps: list[int]) -> None:
    raw = np.cumsum([0, *steps]) * 0.25
    first = unwrapped(raw, clock_only=False, resolution_s=0.25)
    second = spread(first.time_s, 0.25)
    assert not first.repairs
    assert not second.repairs
    assert second.time_s.tolist() == raw.tolist()


@pytest.mark.parametrize(
    ("values", "step"),
    [([0, 1, 2], 1.0), ([0, 0.5, 1.25], 0.01), ([0.1, 0.2, 0.3], 0.1), ([1e9, 1e9 + 0.5], 0.1)],
)
def test_the_printed_resolution(values: list[float], step: float) -> None:
    assert printed_resolution(np.array(values)) == pytest.approx(step)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "abc",
        "25:61:00",
        "2031-13-01T00:00:00Z",
        "2031-02-30",
        "12:00:61",
        "13:00 PM",
        "2031-05-01T00:00:00+25:00",
        "2031-05-01T00:00:00-24:00",
        "2031-05-01T00:00:00+05:75",
    ],
)
def test_what_is_no_time_is_not_read_as_one(text: str) -> None:
    assert read_stamp(text) is None


@given(st.datetimes(min_value=datetime(1971, 1, 1), max_value=datetime(2099, 12, 31)))
def test_every_iso_instant_is_read_to_the_microsecond(instant: datetime) -> None:
    stamp = read_stamp(instant.isoformat())
    assert stamp is not None
    assert stamp.day == instant.date()
    midnight = datetime(instant.year, instant.month, instant.day)
    assert stamp.nanoseconds == (instant - midnight) // timedelta(microseconds=1) * 1000


_SHAPES = [
    "2031-05-01T09:30:00Z", "2031-05-01 09:30:00.123456", "05/30/31 11:30:00 PM", "30.05.2031 23:59:59,5",
    "01-May-2031 09:30:00", "20310501T093000+0530", "23:59:59.25", "23:59", "59:59.5", "23:59:59:250", "2031-05-01",
    "2031-5-1 9:30:00 -03:30", "12:00:00 a.m.",
]  # fmt: skip


@settings(deadline=None)
@given(data=st.data(), shape=st.sampled_from(_SHAPES), month=st.booleans())
def test_many_cells_at_once_read_like_each_by_itself(data: st.DataObject, shape: str, month: bool) -> None:
    digits = st.sampled_from("0123456789")
    cell = st.builds(lambda new: "".join(n if c.isdigit() else c for c, n in zip(shape, new, strict=True)),
                     st.lists(digits, min_size=len(shape), max_size=len(shape)))  # fmt: skip
    texts = data.draw(
        st.lists(st.one_of(cell, st.just(shape), st.sampled_from(["", "x", shape + " "])), max_size=30)
    )
    many = read_stamps(texts, month_first=month)
    for row, text in enumerate(texts):
        one = read_stamp(text, month_first=month)
        assert many.valid[row] == (one is not None), text
        if one is None:
            continue
        assert many.nanoseconds[row] == one.nanoseconds, text
        assert many.dated[row] == (one.day is not None), text
        if one.day is not None:
            assert many.day[row] == one.day.toordinal() - datetime(1970, 1, 1).toordinal(), text
        assert many.zoned[row] == (one.zone is not None), text
        offset = one.zone.utcoffset(None) if one.zone else None
        assert many.offset_s[row] == (offset.total_seconds() if offset else 0), text
        assert many.decimals[row] == one.decimals, text


@pytest.mark.parametrize(
    ("text", "nanoseconds"),
    [("01:30.5", 90_500_000_000), ("100:00.25", 6_000_250_000_000), ("00:00:01:250", 1_250_000_000)],
)
def test_other_forms_of_elapsed_time(text: str, nanoseconds: int) -> None:
    stamp = read_stamp(text)
    assert stamp is not None
    assert stamp.nanoseconds == nanoseconds


def test_minutes_and_seconds_where_the_name_says_so(write: Write) -> None:
    assert _read(write, "Elapsed", ["00:58", "00:59", "01:01"]).duration_s == 3.0


def test_two_part_times_that_could_be_either_are_asked_for(write: Write) -> None:
    recording = _read(write, "Time", ["00:58", "00:59", "01:01"])
    assert recording.duration_s == 180.0
    assert any("hours and minutes" in q for q in recording.provenance.questions)


def test_minutes_that_repeat_are_hours_and_minutes(write: Write) -> None:
    recording = _read(write, "Time", ["00:58", "00:58", "00:59", "00:59"])
    assert not recording.provenance.questions


def test_an_offset_column_makes_the_local_start_aware(write: Write) -> None:
    text = "Lcl Date,Lcl Time,UTC Offset,ng,itt\n"
    text += "".join(f"2031-05-01,09:30:0{i},-05:00,{i},{i}\n" for i in range(3))
    identity = read(write(text)).identity
    assert identity.start == datetime(2031, 5, 1, 9, 30, tzinfo=timezone(timedelta(hours=-5)))
