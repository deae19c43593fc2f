"""The truth study: invented flights whose truth is known, against what the analysis says of their recordings.

`flights` invents crews, faults and days; the model of `debrief.synth` runs them at 1 kHz. `recorders` samples
the states as good and bad recorders do. `dense` and `truth` work out what really happened from the states
alone: they use nothing of `debrief.analysis`. `placing` puts the profile's limits just inside and just outside
the truth, so that every kind has as many near misses as events. `judging` compares, `table` prints.
"""
