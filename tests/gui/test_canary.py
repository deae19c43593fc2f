"""A proof that the nets hold here: an exception in a slot of the window fails its test."""

import pytest
from PySide6.QtCore import QTimer


@pytest.mark.xfail(reason="an exception in a slot must fail the test", strict=True)
def test_an_exception_in_a_slot_fails(desk, qtbot):
    def fail():
        raise RuntimeError("in a slot")

    QTimer.singleShot(0, fail)
    qtbot.wait(50)
