"""Run the truth study: ``python -m tests.study [--simulations N] [--processes P] [--faults]``."""

from __future__ import annotations

import argparse

from tests.study.run import RECORDERS, SEED, study
from tests.study.table import faults, lines


def main() -> None:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(prog="python -m tests.study", description=__doc__)
    parser.add_argument(
        "--simulations", type=int, default=240, help=f"each is written by {RECORDERS} recorders"
    )
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--faults", action="store_true", help="list what was wrong")
    options = parser.parse_args()
    tally = study(options.simulations, options.seed, options.processes)
    print("\n".join(lines(tally)))
    if options.faults:
        print("\n".join(["", *faults(tally)]))


if __name__ == "__main__":
    main()
