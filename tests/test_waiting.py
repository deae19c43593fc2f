"""Long work says on a terminal that it goes on, and leaves nothing on the line when it is done."""

from __future__ import annotations

import io
import time

import pytest

from debrief import terminal


class Screen(io.StringIO):
    """A terminal that keeps what is written to it."""

    def isatty(self) -> bool:
        return True


def test_work_over_the_quiet_time_is_shown_and_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    monkeypatch.setattr(terminal, "_QUIET_S", 0.01)
    with terminal.waiting("fl\x1bight.csv"):
        until = time.monotonic() + 10
        while "Ctrl-C" not in screen.getvalue() and time.monotonic() < until:
            time.sleep(0.01)
    shown = screen.getvalue()
    assert "fl␛ight.csv" in shown
    assert shown.endswith(" \r")  # the line is wiped


def test_short_work_and_what_is_no_terminal_show_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    for screen in (Screen(), io.StringIO()):
        monkeypatch.setattr("sys.stderr", screen)
        with terminal.waiting("flight.csv"):
            pass
        assert screen.getvalue() == ""


def test_a_failure_goes_through(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr", Screen())
    with pytest.raises(KeyboardInterrupt), terminal.waiting("flight.csv"):
        raise KeyboardInterrupt
