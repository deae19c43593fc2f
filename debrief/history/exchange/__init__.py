"""Histories out and in."""
