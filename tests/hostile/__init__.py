"""Hostile trials of the whole program: ``python -m tests.hostile`` runs all long ones and prints their figures."""
