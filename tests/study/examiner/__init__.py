"""The examiner: recordings that real recorders, sensors and crews make, against what the program says of them.

`engine` makes a flight whose truth is known by construction; `recorder` writes it down as a CSV text, well or
badly; `asking` gives that text to the program as a user would and takes its published JSON; `answers` holds the
targets and prints the tables. Each module of `families` is one subject. Only `asking` knows the program: the
rest uses numpy alone.
"""
