"""The command line: arguments in, text or files out, one exit code.

What a command needs is imported when it runs, so that ``debrief --help`` answers at once.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from debrief import __version__
from debrief.errors import UserError

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment

COMMANDS = ("open", "assess", "report", "demo", "synth", "history")
DONE, BUG, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130

_DESCRIPTION = """\
Debrief a turbine engine start or flight from its recording: what happened, what was exceeded, and
paper that another person can check. Without a command the window opens."""

_EPILOG = """\
examples:
  debrief                                            open the window
  debrief demo                                       look at an invented hot start
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
file names, else none: then nothing is judged and the verdict is "undetermined". There is no default."""

_REPORT_EPILOG = """\
examples:
  debrief report flight.csv -o flight.pdf
  debrief report flight.csv -o flight.pdf --select start:2 --for student --paper letter
  debrief report flight.csv -o events.csv

The format follows the ending of OUT unless --format says otherwise. The recording is never changed, and
an existing OUT is replaced only when the new one is complete."""

_SYNTH_EPILOG = """\
example:
  debrief synth scenario.toml -o flight.csv

Beside OUT.csv the true times and values go into OUT.truth.json."""


class _UsageError(UserError):
    """The command line was not understood."""


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line each; the caller prints them and exits."""

    def error(self, message: str) -> NoReturn:
        """Raise instead of printing the usage."""
        raise _UsageError(f"{message} (see {self.prog} --help)")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; ``sys.argv[1:]`` if not given.

    Returns
    -------
    int
        0 done, 2 bad input or usage (one line each on standard error), 1 a bug, 130 interrupted.
    """
    arguments = list(sys.argv[1:] if argv is None else argv)
    debug = "--debug" in arguments
    try:
        _prepare_streams()
        if arguments and arguments[0] not in COMMANDS and Path(arguments[0]).is_file():
            raise _UsageError(f"{arguments[0]} is a file: say debrief assess FILE, or debrief open FILE")
        options = _parser(arguments).parse_args(arguments)
        code: int = options.run(options)
        sys.stdout.flush()
        return code
    except UserError as error:
        _complain(error)
        return BAD_INPUT
    except BrokenPipeError:
        _silence_stdout()
        return DONE
    except KeyboardInterrupt:
        _complain("interrupted")
        return INTERRUPTED
    except SystemExit as exit_:  # --help and --version end here
        return exit_.code if isinstance(exit_.code, int) else DONE
    except Exception as error:
        return _bug(error, arguments, debug)


# --- the parser ---------------------------------------------------------------------------------------


def _parser(arguments: Sequence[str]) -> argparse.ArgumentParser:
    parser = _Parser(
        prog="debrief",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"debrief {__version__}")
    _add_debug(parser)
    parser.set_defaults(run=_open, file=None)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    opening = _command(commands, "open", "open the window, with a recording if one is given", _open)
    opening.add_argument(
        "file", nargs="?", metavar="FILE", help="a recording (CSV, .csv.gz, or one in a .zip)"
    )

    assessing = _command(commands, "assess", "say what happened, on standard output", _assess, _ASSESS_EPILOG)
    assessing.add_argument(
        "files", nargs="+", metavar="FILE", help="recordings (CSV, .csv.gz, or one in a .zip)"
    )
    _add_reading(assessing)
    assessing.add_argument(
        "--format",
        choices=("text", "json", "jsonl"),
        default="text",
        help="text for people (the default); json for one file; jsonl for several, one object a line",
    )

    reporting = _command(commands, "report", "write the paper or a table to a file", _report, _REPORT_EPILOG)
    reporting.add_argument("file", metavar="FILE", help="a recording")
    reporting.add_argument("-o", "--output", required=True, metavar="OUT", help="the file to write")
    reporting.add_argument(
        "--format", choices=("pdf", "csv", "json"), help="default: by the ending of OUT, else pdf"
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
        help="whom the paper is for (default: technician)",
    )
    reporting.add_argument("--paper", choices=("a4", "letter"), default="a4", help="default: a4")
    _add_reading(reporting)

    _command(commands, "demo", "look at an invented hot start: the window, or text and a PDF", _demo)

    making = _command(commands, "synth", "make an invented flight from a scenario", _synth, _SYNTH_EPILOG)
    making.add_argument("scenario", metavar="SCENARIO.toml", help="the scenario")
    making.add_argument("-o", "--output", required=True, metavar="OUT.csv", help="the recording to write")

    keeping = _command(commands, "history", "keep flights and look at their trends", _history)
    if any(argument == "history" for argument in arguments):
        from debrief.history.commands import add_arguments

        add_arguments(keeping)
    return parser


def _command(
    commands: argparse._SubParsersAction[_Parser],
    name: str,
    help_: str,
    run: Callable[[argparse.Namespace], int],
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
    parser.set_defaults(run=run)
    _add_debug(parser)
    return parser


def _add_debug(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--debug", action="store_true", default=argparse.SUPPRESS, help="show the traceback of a fault"
    )


def _add_reading(parser: argparse.ArgumentParser) -> None:
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
        "time can be mapped too; may be repeated",
    )
    group.add_argument("--rate", type=_rate, metavar="HZ", help="rows per second, for a file without times")
    group.add_argument("--aircraft", metavar="A", help="registration of the aircraft")
    group.add_argument("--engine-serial", metavar="S", help="serial number of the engine")
    group.add_argument("--start", metavar="ISO", help="when the recording began, as 2031-05-04T09:30")
    group.add_argument(
        "--starter-rest",
        type=_seconds,
        metavar="S",
        help="seconds that the starter had rested when the recording began (else that rest is not judged)",
    )
    group.add_argument(
        "--remembered", action="store_true", help="use the column maps that the window remembered"
    )


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds < 1e9:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds, 0 or more")
    return seconds


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        rate = 0.0
    if not 0 < rate < 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of rows per second above 0")
    return rate


# --- the commands -------------------------------------------------------------------------------------


def _open(options: argparse.Namespace) -> int:
    if sys.platform.startswith("linux") and not any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    ):
        raise UserError(
            "There is no display for the window here: use debrief assess FILE or debrief report FILE -o OUT."
        )
    from debrief.gui.app import main as open_window

    return open_window([options.file] if options.file else [])


def _assess(options: argparse.Namespace) -> int:
    if options.format == "json" and len(options.files) > 1:
        raise _UsageError("--format json takes one file: use --format jsonl for several, one object a line")
    from debrief.session.document import assessment_document, dumps

    ascii_only = _is_not_utf8()
    code = DONE
    for index, path in enumerate(options.files):
        try:
            assessment = _assessment(path, options)
        except UserError as error:
            code = BAD_INPUT
            _complain(error)
            if options.format == "jsonl":
                bad = {"path": path, "error": _one_line(error)}
                print(dumps(bad, indent=None, ascii_only=ascii_only), flush=True)
            continue
        if options.format == "text":
            _print_text(assessment, heading=path if len(options.files) > 1 else None, first=index == 0)
        else:
            indent = 2 if options.format == "json" else None
            document = assessment_document(assessment)
            print(dumps(document, indent=indent, ascii_only=ascii_only), flush=True)
    return code


def _report(options: argparse.Namespace) -> int:
    from debrief.report.options import parse_select
    from debrief.report.write import write_csv, write_json, write_pdf

    output = Path(options.output)
    format_ = options.format or {".csv": "csv", ".json": "json"}.get(output.suffix.lower(), "pdf")
    parse_select(options.select)  # a wrong word is said before a long file is read
    _keep_apart(options.file, output)
    assessment = _assessment(options.file, options)
    if format_ == "pdf":
        write_pdf(assessment, output, select=options.select, reader=options.reader, paper=options.paper)
    elif format_ == "csv":
        write_csv(assessment, output, select=options.select)
    else:
        write_json(assessment, output)
    return DONE


def _demo(options: argparse.Namespace) -> int:
    from debrief.report.demo import demo_flight, has_display, write_demo_report

    flight = demo_flight()
    if has_display():
        from debrief.gui.app import main as open_window

        return open_window([str(flight)])
    assessment = _assessment(str(flight), None)
    print("No display can be opened here, so this is the demo flight as text; all of it is invented.\n")
    _print_text(assessment)
    print(f"\nThe same as a paper: {write_demo_report(assessment)}")
    return DONE


def _synth(options: argparse.Namespace) -> int:
    from debrief.synth import build

    output = Path(options.output)
    _keep_apart(options.scenario, output)
    build(Path(options.scenario), output)
    return DONE


def _history(options: argparse.Namespace) -> int:
    from debrief.history.commands import run

    return run(options)


def _assessment(path: str, options: argparse.Namespace | None) -> Assessment:
    """Return what was found in one file, read and judged as the options say."""
    from debrief.session.assessing import Choices, assess_file

    if options is None:
        return assess_file(path)
    return assess_file(
        path,
        Choices(
            profile=options.profile,
            maps=tuple(options.maps),
            rate_hz=options.rate,
            aircraft=options.aircraft,
            engine_serial=options.engine_serial,
            start_iso=options.start,
            remembered=options.remembered,
            starter_rest_s=options.starter_rest,
        ),
    )


# --- printing -----------------------------------------------------------------------------------------


def _print_text(assessment: Assessment, *, heading: str | None = None, first: bool = True) -> None:
    import shutil

    from debrief.report.text import assessment_text, to_ascii

    width = max(60, min(110, shutil.get_terminal_size((100, 24)).columns))
    text = assessment_text(assessment, width=width)
    if heading is not None:
        text = ("" if first else "\n") + f"{heading}\n{'=' * min(width, len(heading))}\n" + text
    print(to_ascii(text) if _is_not_utf8() else text, end="", flush=True)


def _prepare_streams() -> None:
    """Let no strange character in a file name or header stop the output."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def _is_not_utf8() -> bool:
    return (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "") != "utf8"


def _one_line(error: object) -> str:
    return " ".join(str(error).split())


def _complain(error: object) -> None:
    print(f"debrief: {_one_line(error)}", file=sys.stderr)


def _silence_stdout() -> None:
    """Send the rest of standard output nowhere: who read it has gone away."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _keep_apart(source: str, output: Path) -> None:
    """Refuse to write over what is being read."""
    try:
        same = output.samefile(source)
    except OSError:
        same = False
    if same:
        raise UserError(f"{source} would be overwritten: give -o another name.")


def _bug(error: Exception, arguments: Sequence[str], debug: bool) -> int:
    """Say that the program is at fault and keep the traceback where it can be found."""
    import traceback

    text = "".join(traceback.format_exception(error))
    if debug:
        print(text, file=sys.stderr, end="")
        return BUG
    short = _one_line(f"{type(error).__name__}: {error}")[:300]
    try:
        from debrief.home import home

        folder = home() / "logs"
        folder.mkdir(parents=True, exist_ok=True)
        log = folder / "faults.log"
        stamp = datetime.now().astimezone().isoformat(timespec="seconds")
        with log.open("a", encoding="utf-8", errors="backslashreplace") as file:
            file.write(f"{stamp} debrief {__version__} {list(arguments)!r}\n{text}\n")
        where = f"details are in {log}"
    except Exception:
        where = "run it again with --debug for details"
    _complain(f"a fault of the program, not of your file: {short}; {where}")
    return BUG
