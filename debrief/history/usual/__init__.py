"""What is usual for an engine, and how a start compares."""
