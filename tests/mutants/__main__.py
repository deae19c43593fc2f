"""Have the tests judge a sample of changes of the analysis: ``python -m tests.mutants [FOLDER...] [--sample N] [--seed S]``.

Needs the extra: ``pip install -e .[test,mutants]``. Each change is judged by the tests that call the changed function, and by
no others; one that takes four times as long and more is timed out, which counts as noticed. What was tried stays in ``mutants/``:
``mutmut show NAME`` shows a change, ``mutmut run NAME`` tries it again.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from mutmut.stats import status_by_exit_code

from tests.mutants.change import ANALYSIS, Mutant, survivors, table
from tests.mutants.drawing import drawn, make

PORTION = 50
"""So many are tried at once: whatever has been tried when it is stopped is a random sample."""


def tried(mutants: Sequence[Mutant]) -> dict[str, str]:
    """Return what became of each mutant that mutmut has tried, by its name."""
    out = {}
    for path in {mutant.path for mutant in mutants}:
        results = json.loads(Path("mutants", f"{path}.meta").read_text(encoding="utf-8"))
        out.update(results["exit_code_by_key"])
    return {m.name: status_by_exit_code[out[m.name]] for m in mutants if out.get(m.name) is not None}


def main() -> None:
    """Try a sample portion by portion; after each, write the survivors and print the table so far."""
    folders = sorted({path.parent.name for path in ANALYSIS.glob("*/__init__.py")})
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("folder", nargs="*", help=f"of {', '.join(folders)}, (top); all if none is named")
    parser.add_argument("--sample", type=int, default=300, help="how many; 0 for all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--crude", action="store_true", help="also where only something is missing")
    options = parser.parse_args()
    if unknown := set(options.folder) - {*folders, "(top)"}:
        parser.error(f"no such folder of the analysis: {', '.join(sorted(unknown))}")
    os.nice(10)
    make()
    Path("mutants", "mutmut-stats.json").unlink(
        missing_ok=True
    )  # tests may have changed: which test calls what is found anew
    sample = drawn(options.folder, options.sample, options.seed, crude=options.crude)
    results: dict[str, str] = {}
    for first in range(0, len(sample), PORTION):
        names = [mutant.name for mutant in sample[first : first + PORTION]]
        command = [Path(sys.executable).with_name("mutmut"), "run", "--max-children", "1", *names]
        run = subprocess.run(command, stdout=subprocess.PIPE, text=True)
        if run.returncode:
            sys.exit(f"mutmut broke off:\n{run.stdout[-4000:]}")
        so_far = sample[: first + PORTION]
        results = tried(so_far)
        print("\n".join([*survivors(so_far, results), "", *table(so_far, results), ""]), flush=True)


if __name__ == "__main__":
    main()
