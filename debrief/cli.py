"""The command line: arguments in, text or files out, one exit code.

What a command needs is imported when it runs, so that ``debrief --help`` answers at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from debrief import __version__
from debrief.arguments import COMMANDS, UsageError, build_parser
from debrief.errors import UserError
from debrief.terminal import (
    complain,
    complain_at_length,
    flush,
    is_utf8,
    prepare_streams,
    say,
    say_data,
    say_lines,
    waiting,
)
from debrief.words.clean import in_lines, one_line
from debrief.words.secrets import hiding, redacted
from debrief.words.visible import visible

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.service.history_service import PaperValues
    from debrief.recording.model import Recording
    from debrief.report.content.reference_start import Reference
    from debrief.session.assessing.starter_rest import Known

DONE, BUG, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130


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
    with hiding(arguments, os.environ):
        return _run(arguments)


def _run(arguments: list[str]) -> int:
    debug = "--debug" in arguments
    try:
        prepare_streams()
        if arguments and arguments[0] not in COMMANDS and Path(arguments[0]).is_file():
            raise UsageError(f"{arguments[0]} is a file: say debrief assess FILE, or debrief open FILE")
        parser = build_parser(_add_history if "history" in arguments else None)
        options = parser.parse_args(arguments)
        code = _RUN[options.command](options)
        flush()
        return code
    except UserError as error:
        complain(error)
        return BAD_INPUT
    except BrokenPipeError:  # as in debrief assess ... | head -1: who read it has what was wanted
        return DONE
    except KeyboardInterrupt:
        complain("interrupted")
        return INTERRUPTED
    except SystemExit as exit_:  # --help and --version end here
        return exit_.code if isinstance(exit_.code, int) else DONE
    except Exception as error:
        return _bug(error, arguments, debug)


# --- the commands -------------------------------------------------------------------------------------


def _open(options: argparse.Namespace) -> int:
    from debrief.report.formats.demo import display_is_named

    if options.beside and not options.file:
        raise UsageError(
            "--beside needs the recording that it is compared with: debrief open FILE --beside OTHER"
        )
    if not display_is_named():
        raise UserError(
            "There is no display for the window here: use debrief assess FILE or debrief report FILE -o OUT."
        )
    if options.beside and not options.file:
        raise UsageError(
            "--beside needs the recording that it is compared with: debrief open FILE --beside OTHER"
        )
    return _show([file for file in (options.file, options.beside) if file])


def _show(files: list[str]) -> int:
    """Show the window until it is closed."""
    import signal
    import threading

    from debrief.gui.app import main as open_window

    if threading.current_thread() is threading.main_thread():
        # Qt's loop runs no Python, so Python's own handler would wait for the next click.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    return open_window(files)


def _assess(options: argparse.Namespace) -> int:
    if options.format == "json" and len(options.files) > 1:
        raise UsageError("--format json takes one file: use --format jsonl for several, one object a line")
    from debrief.session.document import assessment_document, assessment_pieces, json_pieces
    from debrief.session.limits.typed_level import with_levels
    from debrief.session.texts.in_units import in_units
    from debrief.words.display_units import parse_units

    units = parse_units(options.units)
    if options.format != "text" and not units.are_canonical:
        raise UsageError(f"--units goes with text: {options.format} is always in degC, psi, kg/h, ft and kt")
    ascii_only = not is_utf8()
    code = DONE
    for index, path in enumerate(options.files):
        try:
            assessment = with_levels(_assessment(path, options), options.levels)
        except UserError as error:
            code = BAD_INPUT
            complain(error)
            if options.format == "jsonl":
                bad = {"path": redacted(path), "error": one_line(error)}
                say_data(json_pieces(bad, indent=None, ascii_only=ascii_only))
            continue
        if options.format == "text":
            _print_text(
                in_units(assessment, units),
                heading=path if len(options.files) > 1 else None,
                first=index == 0,
            )
        elif options.format == "json":
            say_data(assessment_pieces(assessment, ascii_only=ascii_only))
        else:
            say_data(json_pieces(assessment_document(assessment), indent=None, ascii_only=ascii_only))
    return code


_FORMAT_OF = {f".{name}": name for name in ("csv", "parquet", "json", "png", "svg")}


def _report(options: argparse.Namespace) -> int:
    from debrief.output import check_output
    from debrief.report.content.options import parse_select
    from debrief.report.content.reference_start import parse_reference
    from debrief.report.formats.picture import write_picture
    from debrief.report.formats.write import KIND_OF, write_csv, write_json, write_parquet, write_pdf
    from debrief.session.texts.in_units import in_units
    from debrief.words.display_units import parse_units

    output: str = options.output
    format_: str = options.format or _FORMAT_OF.get(Path(output).suffix.lower(), "pdf")
    selection = parse_select(options.select)  # a wrong word is said before a long file is read
    if format_ == "json" and options.select != "all":
        raise UsageError("--select does not go with json, which always holds everything")
    if format_ != "pdf" and options.history:
        raise UsageError(f"--history goes with pdf, not with {format_}")
    if format_ != "pdf" and options.notes:
        raise UsageError(f"--notes goes with pdf, not with {format_}")
    if options.reference and (format_ != "pdf" or options.reader != "student"):
        raise UsageError("--reference goes with a pdf for a student: say --for student")
    units = parse_units(options.units)
    if format_ in ("csv", "parquet", "json") and not units.are_canonical:
        raise UsageError(f"--units does not go with {format_}, which is always in degC, psi, kg/h, ft and kt")
    sources = {options.file: "the recording"}
    if options.reference:
        sources[parse_reference(options.reference)[0]] = "the recording that is compared with"
    check_output(output, KIND_OF[format_], sources=sources)  # before a long file is read
    pages = 0
    assessment = in_units(_assessment(options.file, options), units)
    if format_ == "pdf":
        notes, usual, trends, planes = (
            _from_history(assessment, options) if options.history else ((), (), (), {})
        )
        if options.notes or options.history:
            from debrief.history.service.notes import notes_in

            notes = notes_in(assessment.recording.provenance.sha256, options.db)
            if options.notes and not notes:
                complain(NO_NOTES)
        reference = _reference(assessment, options) if options.reference else None
        with waiting(output):
            pages = write_pdf(
                assessment,
                output,
                select=options.select,
                reader=options.reader,
                paper=options.paper,
                notes=notes,
                usual=usual,
                trends=trends,
                planes=planes,
                reference=reference,
                printed_on=date.today(),
            )
    elif format_ in ("png", "svg"):
        write_picture(assessment, output, selection=selection, as_svg=format_ == "svg")
    elif format_ == "csv":
        write_csv(assessment, output, select=options.select)
    elif format_ == "parquet":
        write_parquet(assessment, output, select=options.select)
    else:
        write_json(assessment, output)
    # On standard error, since the paper itself may go to standard output.
    count = "" if format_ != "pdf" else f", {pages} page" + ("" if pages == 1 else "s")
    complain(f"{'standard output' if output == '-' else output} written{count}")
    return DONE


NO_NOTES = "No notes are kept for this recording; the paper is without any."


def _from_history(assessment: Assessment, options: argparse.Namespace) -> PaperValues:
    """Return what the history adds to the paper."""
    from debrief.history.service.history_service import paper_values
    from debrief.history.storage.places import require_history
    from debrief.history.storage.store import Store

    require_history(options.db)
    with Store.open(options.db) as store:
        return paper_values(assessment, store)


def _reference(assessment: Assessment, options: argparse.Namespace) -> Reference:
    """Return the start of another recording that a student's starts are compared with, by the same profile."""
    from debrief.report.content.reference_start import other_recording, parse_reference
    from debrief.session.assessing.file_assessment import Choices, assess_file
    from debrief.session.texts.in_units import in_units

    file, number = parse_reference(options.reference)
    same = assessment.profile.path if assessment.profile is not None else ""
    other = assess_file(file, Choices(profile=options.profile or same or None))
    return other_recording(in_units(other, assessment.units), number)


def _demo(options: argparse.Namespace) -> int:
    from debrief.report.formats.demo import demo_flight, has_display, write_demo_report

    flight = demo_flight()
    if has_display():
        return _show([str(flight)])
    assessment = _assessment(str(flight), None)
    say_lines("No display can be opened here, so this is the demo flight as text; all of it is invented.\n\n")
    _print_text(assessment)
    say("")
    say(f"The same as a paper: {write_demo_report(assessment, date.today())}")
    return DONE


def _synth(options: argparse.Namespace) -> int:
    from debrief.synth import build

    if not build(Path(options.scenario), options.output):
        complain(f"The truth is not written beside {options.output}: name a file to have it.")
    return DONE


def _definitions(options: argparse.Namespace) -> int:
    from debrief.session.texts.definitions import definition_of
    from debrief.session.texts.definitions_page import search, to_text

    words = " ".join(options.words)
    named = definition_of(words) if words else None
    entries = search(words) if named is None else (named,)
    if not entries:
        raise UserError(
            f'No definition holds "{words}"; debrief definitions without a word lists all of them.'
        )
    say_lines(to_text(entries))
    return DONE


def _add_history(parser: argparse.ArgumentParser) -> None:
    from debrief.history.command.commands import add_arguments

    add_arguments(parser)


def _history(options: argparse.Namespace) -> int:
    from debrief.history.command.commands import run

    return run(options)


_RUN: dict[str, Callable[[argparse.Namespace], int]] = {
    "open": _open,
    "assess": _assess,
    "report": _report,
    "demo": _demo,
    "synth": _synth,
    "history": _history,
    "definitions": _definitions,
}


def _assessment(path: str, options: argparse.Namespace | None) -> Assessment:
    """Return what was found in one file, read and judged as the options say."""
    from functools import partial

    from debrief.session.assessing.file_assessment import (
        Choices,
        assess_file,
        assess_knowing,
        read_as_remembered,
    )

    with waiting(path):
        if options is None:
            return assess_file(path)
        recording, choices = read_as_remembered(path, Choices.of(options))
        return assess_knowing(recording, choices, partial(_known, options=options))[1]


def _known(recording: Recording, options: argparse.Namespace) -> Known:
    """Return what the flights kept and the user tell of the time before a recording; what cannot be read is said.

    Only a history that is named has to be there and sound: nobody asked for the user's own.
    """
    from debrief.history.service.earlier_flights import keep_option, known_before
    from debrief.session.assessing.starter_rest import Known

    try:
        keep_option(recording, options.starter_rest)
        return known_before(recording, options.db)
    except UserError as error:
        if options.db is not None:
            raise
        complain(f"{error} The flights kept tell nothing of the starter's rest.")
        return Known()


# --- printing -----------------------------------------------------------------------------------------


def _print_text(assessment: Assessment, *, heading: str | None = None, first: bool = True) -> None:
    import shutil

    from debrief.report.formats.text import assessment_text, to_ascii

    width = max(60, min(110, shutil.get_terminal_size((100, 24)).columns))
    text = assessment_text(assessment, width=width)
    if heading is not None:
        heading = visible(heading)
        text = ("" if first else "\n") + f"{heading}\n{'=' * min(width, len(heading))}\n" + text
    say_lines(text if is_utf8() else to_ascii(text))


def _bug(error: Exception, arguments: Sequence[str], debug: bool) -> int:
    """Say that the program is at fault and keep the traceback where it can be found."""
    import traceback

    text = "".join(traceback.format_exception(error))
    if debug:
        complain_at_length(text)
        return BUG
    short = one_line(f"{type(error).__name__}: {error}")[:300]
    try:
        from debrief.home import home
        from debrief.output.private import open_private

        log = home() / "logs" / "faults.log"
        stamp = datetime.now().astimezone().isoformat(timespec="seconds")
        with open_private(log) as file:
            file.write(f"{stamp} debrief {__version__} {one_line(arguments)}\n{in_lines(text)}\n")
        where = f"details are in {log}"
    except Exception:
        where = "run it again with --debug for details"
    complain(f"a fault of the program, not of your file: {short}; {where}")
    return BUG


if __name__ == "__main__":
    sys.exit(main())
