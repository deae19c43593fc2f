import pytest

from debrief.session.lanes.lane_stack import (
    MOST_IN_LANE,
    LaneRow,
    LaneStack,
    layout_from,
    layout_text,
    prepare_lane,
)
from debrief.session.session import prepare
from tests.session import assessment_maker as made


@pytest.fixture
def assessment():
    return made.hot_start()


@pytest.fixture
def stack(assessment):
    return LaneStack(prepare(assessment).lanes)


def test_a_further_channel_joins_a_lane_once_and_can_be_taken_out(stack, assessment):
    speed = prepare_lane(assessment, "ias")
    assert stack.join("itt", speed)
    assert not stack.join("itt", speed)
    assert stack.find("itt").names == ("itt", "ias")
    assert stack.names == ("ng", "itt", "torque", "bus_volts")
    stack.part("itt", "ias")
    assert stack.is_usual


def test_a_lane_holds_only_as_many_channels_as_can_be_told_apart(stack, assessment):
    for name in ("ias", "ng", "bus_volts"):
        assert stack.join("itt", prepare_lane(assessment, name))
    assert len(stack.find("itt").names) == MOST_IN_LANE
    assert not stack.join("itt", prepare_lane(assessment, "torque"))


def test_a_lane_put_at_a_place_leaves_the_order_of_the_others(stack):
    stack.place("bus_volts", 0)
    assert stack.names == ("bus_volts", "ng", "itt", "torque")
    stack.place("bus_volts", 3)
    assert stack.names == ("ng", "itt", "torque", "bus_volts")
    stack.place("itt", 9)
    assert stack.names == ("ng", "itt", "torque", "bus_volts")


def test_lanes_come_back_as_they_were_remembered(stack, assessment):
    stack.place("itt", 0)
    stack.remove("torque")
    stack.join("itt", prepare_lane(assessment, "ias"))
    stack.resize("ng", 3.5)
    rows = layout_from(layout_text(stack.layout))
    other = LaneStack(prepare(assessment).lanes)
    other.arrange(rows, lambda name: prepare_lane(assessment, name))
    assert other.layout == stack.layout
    assert other.find("ng").weight == 3.5
    assert other.find("itt").others[0].envelope is not None


def test_a_remembered_channel_that_is_not_recorded_keeps_its_place(stack, assessment):
    stack.arrange([LaneRow(("oil_temp",)), LaneRow(("itt", "np"))], lambda n: prepare_lane(assessment, n))
    assert stack.layout == (LaneRow(("oil_temp",)), LaneRow(("itt", "np")))
    assert stack.find("oil_temp").envelope is None


@pytest.mark.parametrize(
    "text",
    ["", "no list", "[1, 2]", '[{"names": "itt"}]', '[{"names": ["itt"], "weight": "tall"}]', "null", "{}"],
)
def test_a_remembered_text_that_cannot_be_read_gives_the_usual_lanes(text, stack):
    rows = layout_from(text)
    assert rows == ()
    stack.arrange(rows, lambda name: pytest.fail("nothing to prepare"))
    assert stack.is_usual


def test_the_usual_lanes_come_back_at_once(stack):
    stack.remove("ng")
    stack.resize("itt", 9.0)
    assert not stack.is_usual
    stack.reset()
    assert stack.is_usual
