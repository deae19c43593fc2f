"""Reading a large file tells how far it is, can be given up at once, and then leaves nothing behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief import cli
from debrief.recording.csv import csv_arrow, source
from debrief.recording.quality import data_quality
from debrief.recording.reader import read_steps

Write = Callable[..., Path]


def flight(rows: int) -> str:
    lines = (f"{i / 16:.4f},{60 + i % 7 / 10:.1f},{600 + i % 11},{24 + i % 3 / 10:.1f}" for i in range(rows))
    return "time (s),ng (%),itt (degC),bus (V)\n" + "\n".join(lines) + "\n"


@pytest.fixture
def in_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut files into many blocks, as a large one is."""
    monkeypatch.setattr(source, "HEAD_BYTES", 4096)
    monkeypatch.setattr(source, "AT_ONCE_BYTES", 0)
    monkeypatch.setattr(source, "BLOCK_BYTES", 8192)


def open_files(path: Path) -> int:
    """Return how many of this process' open files are this one."""
    folder = Path("/proc/self/fd")
    if not folder.exists():
        pytest.skip("open files cannot be listed here")
    found = 0
    for entry in folder.iterdir():
        try:
            found += os.readlink(entry) == str(path)
        except OSError:
            continue  # the listing's own
    return found


def test_the_progress_moves_many_times_and_never_back(write: Write, in_blocks: None) -> None:
    steps = list(read_steps(write(flight(8000))))
    assert len(set(steps)) > 10
    assert steps == sorted(steps)
    assert (steps[0], steps[-1]) == (0.0, 1.0)


def test_what_is_made_of_the_columns_goes_on_column_by_column(write: Write) -> None:
    names = "".join(f",egt {i} (degC)" for i in range(50))
    rows = "".join(f"{i},{i % 9},600" + f",{i % 7}" * 50 + "\n" for i in range(20))
    steps = list(read_steps(write(f"time (s),ng (%),itt (degC){names}\n{rows}")))
    assert steps == sorted(steps)
    assert steps[-1] == 1.0
    # Looked at, read, told from the others, made a channel of or kept as found: each column, four times.
    assert len([step for step in steps if step > 0.9]) > 4 * 50


def test_giving_up_while_channels_are_judged_leaves_no_thread(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(data_quality, "THREADED_FROM_SAMPLES", 0)
    threads = set(threading.enumerate())
    steps = read_steps(write(flight(8000)))
    while next(steps) < 0.975:
        pass
    assert set(threading.enumerate()) - threads
    steps.close()
    assert set(threading.enumerate()) <= threads


@pytest.mark.parametrize("after", [1, 2, 7, 20])
def test_reading_that_is_given_up_leaves_no_thread_and_no_open_file(
    write: Write, in_blocks: None, after: int
) -> None:
    path = write(flight(8000))
    threads = set(threading.enumerate())
    steps = read_steps(path)
    for _ in range(after):
        next(steps)
    if after > 2:
        assert set(threading.enumerate()) - threads  # it does read with threads of its own
        assert open_files(path) == 1
    steps.close()
    assert set(threading.enumerate()) <= threads
    assert open_files(path) == 0


def test_blocks_that_wait_are_not_parsed_after_giving_up(
    write: Write, in_blocks: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    parsed = []
    go_on = threading.Event()
    parse = csv_arrow.parse

    def slow(*args, **options):
        parsed.append(args)
        if len(parsed) > 2:
            go_on.wait(10)
        return parse(*args, **options)

    monkeypatch.setattr(csv_arrow, "parse", slow)
    steps = read_steps(write(flight(8000)))
    while len(parsed) < 3:
        next(steps)
    begun = len(parsed)
    threading.Timer(0.2, go_on.set).start()
    steps.close()
    # Each of the two threads may have begun one more between the count and the end; the file has many more blocks.
    assert len(parsed) <= max(begun, 4) + 2 < 20


def test_an_interrupted_command_says_so_with_130_and_writes_nothing(
    write: Write,
    in_blocks: None,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def interrupted(*args, **options):
        raise KeyboardInterrupt

    monkeypatch.setattr(csv_arrow, "parse", interrupted)
    path, out = write(flight(8000)), tmp_path / "out.json"
    threads = set(threading.enumerate())
    assert cli.main(["report", str(path), "-o", str(out), "--format", "json"]) == 130
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == "debrief: interrupted\n"
    assert sorted(p.name for p in tmp_path.iterdir()) == [path.name]
    assert set(threading.enumerate()) <= threads


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """165 MB: 10 h at 16 Hz with 40 columns."""
    path = tmp_path_factory.mktemp("large") / "large.csv"
    names = ["time (s)", "ng (%)", "itt (degC)", "bus (V)", *(f"Spare {i} (V)" for i in range(37))]
    tails = [",".join(f"{100 + (i * k) % 997 / 10:.3f}" for k in range(37)) for i in range(1, 500)]
    with path.open("w", encoding="utf-8") as file:
        file.write(",".join(names) + "\n")
        for i in range(576_000):
            file.write(
                f"{i / 16:.4f},{60 + i % 7 / 10:.1f},{600 + i % 11},{24 + i % 3 / 10:.1f},{tails[i % 499]}\n"
            )
    assert path.stat().st_size > 160_000_000
    return path


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.85])
def test_a_large_file_is_given_up_within_a_third_of_a_second(
    large: Path, share: float, capsys: pytest.CaptureFixture[str]
) -> None:
    threads = set(threading.enumerate())
    steps = read_steps(large)
    begun = time.perf_counter()
    longest, told = 0.0, 0
    while next(steps) < share:
        longest, begun = max(longest, time.perf_counter() - begun), time.perf_counter()
        told += 1
    begun = time.perf_counter()
    steps.close()
    took = time.perf_counter() - begun
    with capsys.disabled():
        print(f"\nat {share:.0%}: told {told} times, {longest:.2f} s apart at most, given up in {took:.3f} s")
    assert took < 0.3
    assert longest + took < 0.6  # a wish to stop is seen at the next step only
    assert set(threading.enumerate()) <= threads
    assert open_files(large) == 0


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
@pytest.mark.parametrize("after_s", [1.0, 1.5])
def test_ctrl_c_ends_the_command_within_a_large_file(
    large: Path, after_s: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out.pdf"
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    command = [sys.executable, "-m", "debrief", "report", str(large), "-o", str(out)]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "TMPDIR": str(temporary)},
    )
    time.sleep(after_s)
    assert process.poll() is None
    begun = time.perf_counter()
    process.send_signal(signal.SIGINT)
    printed, said = process.communicate(timeout=20)
    took = time.perf_counter() - begun
    with capsys.disabled():
        print(f"\ninterrupted after {after_s:g} s: ended in {took:.3f} s")
    assert (printed, said) == ("", "debrief: interrupted\n")
    # Interrupted while it still imports, CPython ends itself by the signal, which a shell shows as 130, too.
    assert process.returncode in (130, -signal.SIGINT)
    assert took < 1.0
    assert list(tmp_path.iterdir()) == [temporary]
    assert list(temporary.iterdir()) == []
