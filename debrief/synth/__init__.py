"""Invented flights from a small physical model, for the demo and the tests. Shares no code with analysis/."""
