"""Definitions, why, keys."""
