"""Work away from the event loop."""
