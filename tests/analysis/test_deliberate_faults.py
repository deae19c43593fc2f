"""Every detector has deliberate faults, and each fault makes a check fail that the true analysis passes.

The checks are behaviours with hand-worked values; none compares with what the program said before. A fault
that no longer finds its place in the code fails as well, and has to be pointed at the code as it is.
"""

from __future__ import annotations

import ast
import sys

import pytest

from tests.analysis.fault_making import (
    CHECKS,
    FAULTY,
    FOLDER,
    Analysis,
    Fault,
    faulty_analysis,
    true_analysis,
)
from tests.analysis.faults import (
    aborting,
    arithmetic,
    beginnings,
    duties,
    edging,
    flying,
    judging,
    measuring,
    proofs,
    repeated,
    rules,
    wordings,
)

MODULES = (
    aborting,
    arithmetic,
    beginnings,
    duties,
    edging,
    flying,
    judging,
    measuring,
    proofs,
    repeated,
    rules,
    wordings,
)
PAIRS = [(check, fault) for check in CHECKS for fault in check.faults]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_the_true_analysis_passes(check):
    check.run(true_analysis())


@pytest.mark.parametrize(("check", "fault"), PAIRS, ids=[f"{c.name}-{f}" for c, f in PAIRS])
def test_the_fault_is_caught(check, fault):
    with faulty_analysis(fault) as analysis:
        try:
            check.run(analysis)
        except AssertionError:
            return
    pytest.fail(f"{check.name} does not notice: {fault}")


def test_a_faulty_copy_leaves_the_true_analysis_alone_and_is_gone_afterwards():
    fault = Fault("exceedance", "time_above", "above = v > level", "above = v >= level")
    true = true_analysis()
    with faulty_analysis(fault) as analysis:
        assert analysis.exceedance.time_above(analysis.trace([0, 1, 2], [5, 5, 6]), 5).estimate[0, 0] == 0
        assert true.exceedance.time_above(true.trace([0, 1, 2], [5, 5, 6]), 5).estimate[0, 0] == 1
        assert analysis.atmosphere is true.atmosphere
        assert analysis.assess is not true.assess
    assert not [name for name in sys.modules if name.startswith(FAULTY)]


def test_a_fault_that_has_lost_its_place_is_told():
    fault = Fault("exceedance", "time_above", "no such text", "")
    with pytest.raises(AssertionError, match="stands there 0 times"):
        fault.text()


def test_a_fault_that_changes_nothing_survives():
    """The harness can fail: a change of words only is not noticed by any check of its module."""
    fault = Fault("exceedance", "time_above", "Equal is not above.", "Equal is not above!")
    with faulty_analysis(fault) as analysis:
        for check in CHECKS:
            check.run(analysis)


DETECTORS = (
    "time above: estimate", "time above: low", "time above: high", "gap rule", "peak between samples",
    "half resolution", "rejoin", "zero-second rule", "possible", "certain", "light-off", "idle 3 s",
    "hung: stagnated", "hung: too slow", "stabilisation", "early fuel", "residual heat", "voltage before",
    "voltage while cranking", "no light-off", "burning after the cut", "fuel reintroduced", "starter bridge",
    "generator trimming", "inference of the starter", "inference of light-off", "start window end",
    "window after abort", "run to its end", "duty: run", "duty: rest", "duty: reset", "duty: external",
    "duty: unknown source", "engaged while turning", "spike", "spike protection", "sensor sense", "bands",
    "phases", "beta in flight", "run-down", "source resistance", "verdict order", "sentence",
    "evidence of measures", "air starts", "abort: several cuts", "peak of a start", "two places",
)  # fmt: skip


@pytest.mark.parametrize("detector", DETECTORS)
def test_each_detector_has_a_fault(detector):
    assert [c for c in CHECKS if c.detector == detector and c.faults]


RULES = ("fuel_rules", "engine_rules", "starter_rules")


def makers(module: str) -> set[str]:
    """Return the functions of a module that make an event or a flag."""
    tree = ast.parse((FOLDER / f"{module}.py").read_text(encoding="utf-8"))
    made = {"Event", "rule_event", "QualityFlag"}
    return {
        f.name
        for f in tree.body
        if isinstance(f, ast.FunctionDef)
        and any(isinstance(n, ast.Call) and isinstance(n.func, ast.Name) and n.func.id in made for n in ast.walk(f))
    }  # fmt: skip


@pytest.mark.parametrize("module", [*RULES, "duty", "flight", "limit_event", "sense", "spikes"])
def test_each_function_that_makes_an_event_has_a_fault_of_its_own(module):
    """A new detector without a fault fails here. A flag's wording is not its detector."""
    faulted = {fault.function for _, fault in PAIRS if fault.module == module}
    wording_only = {"spike_flags", "event_from"}
    assert makers(module) - wording_only - faulted == set()


def test_every_check_is_named_once():
    names = [check.name for check in CHECKS]
    assert len(names) == len(set(names))
    assert all(isinstance(check.faults, tuple) and check.faults for check in CHECKS)
    assert isinstance(true_analysis(), Analysis)
