"""A channel as a signal: traces, sets of intervals, time above a level, edges of switches, peaks between samples."""
