"""How an engine changes over time."""
