"""The profile editor."""
