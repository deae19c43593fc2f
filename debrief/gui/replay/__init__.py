"""Playing: the controller, the timeline, the row of buttons."""
