"""The lanes."""
