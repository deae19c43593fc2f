"""What a recording tells of a start only in part is no value that other starts are compared with."""

from dataclasses import replace

from debrief.analysis import assess
from debrief.history.measures import start_values, told_values
from debrief.recording.model import Recording
from debrief.session.document import assessment_document
from tests.analysis.recording_making import PROFILE, normal_start, recording


def test_the_peak_and_the_lowest_voltage_of_a_start_that_was_cut_are_not_kept() -> None:
    whole = recording(normal_start(), 80, 4.0)
    cut = {}
    for name, one in whole.channels.items():
        kept = one.time_s >= 35.0
        cut[name] = replace(one, time_s=one.time_s[kept] - 35.0, values=one.values[kept])
    for made, is_whole in ((whole, True), (Recording(cut, 45.0), False)):
        found = assess(made, PROFILE)
        (start,) = found.starts
        assert start.outcome == "completed"
        assert start.peak_itt_c is not None
        (told,) = assessment_document(found)["starts"]
        for values in (start_values(start), told_values(told)):
            assert {"peak_itt", "min_bus_volts"} & set(values) == (
                {"peak_itt", "min_bus_volts"} if is_whole else set()
            )
