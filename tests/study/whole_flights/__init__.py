"""Whole invented flights with known phases, steady stretches, loads, taxi and shutdown, against what the program tells of them.

The flights are drawn by their own arithmetic, which shares nothing with the program or with ``debrief.synth``.
"""
