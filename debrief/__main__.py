"""``python -m debrief`` is the command ``debrief``."""

import sys

from debrief.cli import main

if __name__ == "__main__":
    sys.exit(main())
