"""What the window and the paper tell of the flight after the start."""
