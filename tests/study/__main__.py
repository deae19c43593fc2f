"""The truth study: ``python -m tests.study [FAMILY...] [--faults] [--hold]``.

Without a family all are run. ``detection`` is the study of limits placed just inside and just outside of the
truth, ``flights`` that of whole flights; the others are the examiner's, each with its targets.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.study.examiner import run as examiner
from tests.study.run import RECORDERS, SEED, study
from tests.study.table import faults, lines
from tests.study.whole_flights import judging as whole_flights


def main() -> int:
    """Run the study and print its tables; return 1 only with ``--hold`` and a target that is not met."""
    parser = argparse.ArgumentParser(prog="python -m tests.study", description=__doc__)
    every = ("detection", "flights", *examiner.FAMILIES)
    parser.add_argument("families", nargs="*", metavar="FAMILY", help=f"of {', '.join(every)}; all without")
    parser.add_argument(
        "--simulations", type=int, default=240, help=f"of detection; each is written by {RECORDERS} recorders"
    )
    parser.add_argument("--flights", type=int, default=240, help="how many whole flights are flown")
    parser.add_argument(
        "--scale", type=float, default=1.0, help="how many recordings the other families make"
    )
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument(
        "--faults", action="store_true", help="list what was wrong, by the name that writes it"
    )
    parser.add_argument("--hold", action="store_true", help="fail (1) where a target is not met")
    parser.add_argument("--write", metavar="NAME", help="write the recording of this name and its profile")
    parser.add_argument("-o", "--output", type=Path, default=Path(), help="folder for --write")
    options = parser.parse_args()
    if options.write:
        for path in examiner.write(options.write, options.seed, options.output):
            print(path)
        return 0
    unknown = set(options.families) - set(every)
    if unknown:
        parser.error(f"no such family: {', '.join(sorted(unknown))}; there are {', '.join(every)}")
    wanted = options.families or every
    failed = 0
    if "detection" in wanted:
        tally = study(options.simulations, options.seed, options.processes)
        print("\n".join(lines(tally)))
        wrong = [a for a in tally.answers if a.result in ("FN", "FP")]
        failed += len(wrong) + len(tally.spurious)
        if options.faults:
            print("\n".join(["", *faults(tally)]))
    if "flights" in wanted:
        flown = whole_flights.study(options.flights, options.seed, options.processes)
        print("\n".join(whole_flights.lines(flown, options.faults)))
        failed += len(whole_flights.missed(flown))
    names = [name for name in examiner.FAMILIES if name in wanted]
    failed += examiner.examine(names, options.seed, options.scale, options.processes, options.faults)
    return 1 if options.hold and failed else 0


if __name__ == "__main__":
    sys.exit(main())
