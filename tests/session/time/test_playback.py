import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.session.time.playback import RATES, Playback


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def _playback(duration=60.0, **kwargs):
    clock = Clock()
    return Playback(duration, clock=clock, **kwargs), clock


def test_position_is_elapsed_time_times_rate_whatever_the_frames():
    playback, clock = _playback()
    playback.set_rate(5.0)
    playback.play()
    clock.now += 0.7
    assert playback.position_s == pytest.approx(3.5)
    clock.now += 3.1
    assert playback.position_s == pytest.approx(19.0)


def test_pausing_keeps_the_position_and_playing_goes_on_from_there():
    playback, clock = _playback()
    playback.play()
    clock.now += 4.0
    playback.pause()
    clock.now += 100.0
    assert playback.position_s == pytest.approx(4.0)
    playback.play()
    clock.now += 1.0
    assert playback.position_s == pytest.approx(5.0)


def test_seeking_while_playing_only_moves_the_origin():
    playback, clock = _playback()
    playback.play()
    clock.now += 4.0
    playback.seek(30.0)
    clock.now += 2.0
    assert playback.playing
    assert playback.position_s == pytest.approx(32.0)


@given(st.floats(0.0, 50.0), st.sampled_from(RATES), st.sampled_from(RATES))
def test_changing_the_rate_never_moves_the_position(elapsed, first, second):
    playback, clock = _playback(duration=10_000.0)
    playback.set_rate(first)
    playback.play()
    clock.now += elapsed
    before = playback.position_s
    playback.set_rate(second)
    assert playback.position_s == pytest.approx(before)


def test_it_stops_at_the_end_and_begins_anew_from_there():
    playback, clock = _playback()
    playback.play()
    clock.now += 61.0
    assert not playback.playing
    assert playback.position_s == 60.0
    playback.play()
    clock.now += 1.0
    assert playback.position_s == pytest.approx(1.0)


def test_the_rate_stays_between_a_quarter_and_twenty():
    playback, _ = _playback()
    playback.set_rate(1000.0)
    assert playback.rate == 20.0
    playback.set_rate(0.0)
    assert playback.rate == 0.25
    playback.change_rate(1)
    assert playback.rate == 0.5


def test_a_loop_repeats_its_range():
    playback, clock = _playback()
    playback.set_loop((10.0, 14.0))
    playback.play()
    assert playback.position_s == pytest.approx(10.0)
    clock.now += 9.0
    assert playback.playing
    assert playback.position_s == pytest.approx(11.0)


def test_an_empty_loop_is_no_loop():
    playback, _ = _playback()
    playback.set_loop((10.0, 10.0))
    assert playback.loop is None


def test_steps_go_from_sample_to_sample_and_stop_at_the_edges():
    playback, _ = _playback(sample_times_s=[0.0, 1.0, 2.5, 3.0])
    playback.seek(1.0)
    playback.step(1)
    assert playback.position_s == 2.5
    playback.step(-1)
    assert playback.position_s == 1.0
    playback.seek(1.7)
    playback.step(1)
    assert playback.position_s == 2.5
    playback.seek(1.7)
    playback.step(-1)
    assert playback.position_s == 1.0
    playback.step(-5)
    assert playback.position_s == 0.0
    playback.step(99)
    assert playback.position_s == 3.0


def test_a_step_pauses():
    playback, _ = _playback(sample_times_s=[0.0, 1.0])
    playback.play()
    playback.step(1)
    assert not playback.playing


def test_seeking_is_clipped_to_the_recording():
    playback, _ = _playback()
    playback.seek(-5.0)
    assert playback.position_s == 0.0
    playback.seek(500.0)
    assert playback.position_s == 60.0
