"""The arguments of the command line: every command, option and help text. Light, so that help answers at once."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from typing import NoReturn

from debrief import __version__
from debrief.errors import UserError
from debrief.terminal import say_lines
from debrief.words.durations import seconds_of

COMMANDS = ("open", "assess", "report", "demo", "synth", "history", "definitions")

_DESCRIPTION = """\
Debrief a turbine engine start or flight from its recording: what happened, what was exceeded, and
paper that another person can check. Without a command the window opens."""

_EPILOG = """\
examples:
  debrief                                            open the window
  debrief demo                                       try an example hot start
  debrief assess flight.csv --profile tarn-tg7       what happened, in words
  debrief assess flights/*.csv --format jsonl        one JSON object a line
  debrief report flight.csv -o flight.pdf            the paper

exit codes: 0 done, 1 a fault of the program, 2 bad input or usage, 130 interrupted.
DEBRIEF_HOME names the folder of all user data (profiles, history, remembered columns, logs).
The program informs and never approves: the approved manuals and licensed persons decide."""

_ASSESS_EPILOG = """\
examples:
  debrief assess flight.csv
  debrief assess flight.csv --profile my-engine.toml --format json
  debrief assess bench.csv --map itt="Temp 3:degF" --map ng="#4" --rate 10
  debrief assess flights/*.csv --format jsonl > all.jsonl

The profile is the one of --profile, else the one that a line "# engine-profile: NAME" at the top of the
file names, else none: then nothing is judged ("Cannot be told"). There is no default."""

_REPORT_EPILOG = """\
examples:
  debrief report flight.csv -o flight.pdf
  debrief report flight.csv -o flight.pdf --select start:2 --for student --paper letter
  debrief report flight.csv -o flight.pdf --for student --reference good.csv:1 --history
  debrief report flight.csv -o events.csv
  debrief report flight.csv -o events.parquet
  debrief report flight.csv -o start.svg --select start:1

The format follows the ending of OUT unless --format says otherwise. An existing OUT is replaced only if it is
such a report itself, and only when the new one is complete; anything else stays as it is."""

_SYNTH_EPILOG = """\
example:
  debrief synth scenario.toml -o flight.csv

Beside OUT.csv the true times and values go into OUT.truth.json. Both are replaced only while they are as they
were made."""


class UsageError(UserError):
    """The command line was not understood."""


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line each; the caller prints them and exits."""

    def error(self, message: str) -> NoReturn:
        """Raise instead of printing the usage."""
        raise UsageError(f"{message} (see {self.prog} --help)")

    def _print_message(self, message: str, file: object = None) -> None:
        """Print help and version by the one door, where a lost stream is said."""
        say_lines(message)


def build_parser(add_history: Callable[[argparse.ArgumentParser], None] | None) -> argparse.ArgumentParser:
    """Return the parser; the namespace's `command` says which command was given, None for the window.

    Parameters
    ----------
    add_history : callable or None
        Adds the arguments of ``debrief history``; None where that command is not asked for.
    """
    parser = _Parser(
        prog="debrief",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"debrief {__version__}")
    _add_debug(parser)
    parser.set_defaults(command="open", file=None, beside=None)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    opening = _command(commands, "open", "open the window, with a recording if one is given")
    opening.add_argument(
        "file", nargs="?", metavar="FILE", help="a recording (CSV, .csv.gz, or one in a .zip)"
    )
    opening.add_argument(
        "--beside", metavar="OTHER", help="another recording, whose start is compared with the one of FILE"
    )

    assessing = _command(commands, "assess", "say what happened, on standard output", _ASSESS_EPILOG)
    assessing.add_argument(
        "files", nargs="+", metavar="FILE", help="recordings (CSV, .csv.gz, or one in a .zip)"
    )
    add_reading(assessing)
    assessing.add_argument(
        "--format",
        choices=("text", "json", "jsonl"),
        default="text",
        help="text for people (the default); json for one file; jsonl for several, one object a line",
    )

    assessing.add_argument(
        "--time-above",
        dest="levels",
        action="append",
        default=[],
        metavar="CH=LEVEL[UNIT]",
        help='how long a channel was above a level, as itt=800 or oil_temp="230 degF": in total, the longest run and when, '
        "over all and in each start; needs no profile; may be repeated",
    )
    _add_history_url(assessing)
    add_units(assessing, "what the text is in")
    reporting = _command(
        commands, "report", "write the paper, a table or a picture to a file", _REPORT_EPILOG
    )
    reporting.add_argument("file", metavar="FILE", help="a recording")
    reporting.add_argument(
        "-o", "--output", required=True, metavar="OUT", help="the file to write; - for standard output"
    )
    reporting.add_argument(
        "--format",
        choices=("pdf", "csv", "parquet", "json", "png", "svg"),
        help="default: by the ending of OUT, else pdf; csv and parquet are a table of starts and events, png and svg "
        "the lanes alone",
    )
    reporting.add_argument(
        "--select",
        default="all",
        metavar="all|start:N|exceedances",
        help="what goes on the paper: everything (the default), one start, or only what was exceeded",
    )
    reporting.add_argument(
        "--for",
        dest="reader",
        choices=("pilot", "student", "technician"),
        default="technician",
        help="whom the paper is for (default: technician); a student's is one page about one start",
    )
    add_units(reporting, "what paper and picture are in")
    reporting.add_argument("--paper", choices=("a4", "letter"), default="a4", help="default: a4")
    reporting.add_argument(
        "--notes",
        action="store_true",
        help="add the notes on this recording, from the history and those that wait beside the settings (pdf)",
    )
    reporting.add_argument(
        "--history",
        action="store_true",
        help="add notes, trends, and how the starts compare with the engine's own history (pdf)",
    )
    _add_history_url(reporting)
    reporting.add_argument(
        "--reference",
        metavar="FILE[:START]",
        help="compare a student's starts with a start of another recording (default: one of the same recording; "
        "with --history also the usual start of the engine)",
    )
    add_reading(reporting)

    _command(commands, "demo", "try an example hot start: the window, or text and a PDF")

    making = _command(commands, "synth", "make an invented flight from a scenario", _SYNTH_EPILOG)
    making.add_argument("scenario", metavar="SCENARIO.toml", help="the scenario")
    making.add_argument(
        "-o",
        "--output",
        required=True,
        metavar="OUT.csv",
        help="the recording to write; - for standard output",
    )

    defining = _command(commands, "definitions", "say what a reported number or word means")
    defining.add_argument(
        "words", nargs="*", metavar="WORD", help="a name such as peak_itt, or words of it; without: all"
    )
    keeping = _command(commands, "history", "keep flights and look at their trends")
    if add_history is not None:
        add_history(keeping)
    return parser


def _command(
    commands: argparse._SubParsersAction[_Parser],
    name: str,
    help_: str,
    epilog: str | None = None,
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(
        name,
        help=help_,
        description=help_[0].upper() + help_[1:] + ".",
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.set_defaults(command=name)
    _add_debug(parser)
    return parser


def add_units(parser: argparse.ArgumentParser, what: str) -> None:
    """Add the units that a text or a paper is in."""
    parser.add_argument(
        "--units",
        default="",
        metavar="UNIT,...",
        help=f"{what}: degF, bar or kPa, lb/h, m, km/h or mph in place of degC, psi, kg/h, ft, kt; data stay in these",
    )


def _add_history_url(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--db",
        metavar="URL",
        help="the history whose earlier flights of this engine tell when the starter ran last, as for debrief history "
        "(default: your own, if there is one)",
    )


def _add_debug(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--debug", action="store_true", default=argparse.SUPPRESS, help="show the traceback of a fault"
    )


def add_reading(parser: argparse.ArgumentParser) -> None:
    """Add what says how to read a recording and what to hold it against."""
    group = parser.add_argument_group("reading")
    group.add_argument(
        "--profile", metavar="NAME|PATH", help="the engine profile to hold the recording against"
    )
    group.add_argument(
        "--map",
        dest="maps",
        action="append",
        default=[],
        metavar="CH=COLUMN[:UNIT]",
        help='take a channel from a column, for example itt="Temp 3:degF"; #3 is the third column; '
        "time can be mapped too, and none=COLUMN says that a column is not used; itt.mean=COLUMN, once for each probe, "
        "makes a temperature of several, and itt.highest the highest of them; may be repeated",
    )
    group.add_argument("--rate", type=_rate, metavar="HZ", help="rows per second, for a file without times")
    group.add_argument("--aircraft", metavar="A", help="registration of the aircraft")
    group.add_argument(
        "--engine-serial",
        action="append",
        default=[],
        metavar="[N=]S",
        help="serial number of the engine; that of a further engine with its number, as 2=S123; may be repeated",
    )
    group.add_argument("--start", metavar="ISO", help="when the recording began, as 2031-05-04T09:30")
    group.add_argument(
        "--altimeter",
        metavar="SETTING",
        help="altimeter setting of the recorded altitude, as 1013 (hPa) or 29.92 (inHg)",
    )
    group.add_argument(
        "--starter-rest",
        type=_rest,
        action="append",
        default=[],
        metavar="[N=]TIME",
        help="how long the starter had rested when the recording began, as 1800, 30 min, 1:30 or 2 h; that of one engine "
        "with its number, as 2=30min, may be repeated; kept for this recording and used again, until it is said to be "
        "unknown. Else the flights kept in the history tell it",
    )
    group.add_argument(
        "--remembered",
        action="store_true",
        help="use the columns, rate and profile that the window remembered for this kind of file; what it remembered of "
        "aircraft and engine is only said",
    )


def _rest(text: str) -> tuple[int | None, float]:
    """Return the engine, None for all, and seconds; NaN where what was said before is taken back."""
    number, named, rest = text.partition("=")
    engine = int(number) if named and number.strip() in ("1", "2", "3", "4") else None
    told = text if engine is None else rest
    if told.strip().lower() in ("unknown", "none"):
        return engine, math.nan
    try:
        return engine, seconds_of(told)
    except UserError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        rate = 0.0
    if not 0 < rate < 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of rows per second above 0")
    return rate
