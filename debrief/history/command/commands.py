"""The command ``debrief history``: arguments, and what each of them does and says.

Nothing heavy is imported until a command runs.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.analysis.verdict import footnotes, next_step
from debrief.arguments import add_reading, add_units
from debrief.errors import UserError
from debrief.history.command.reading import assessed, instant
from debrief.terminal import Account, complain, say, say_data, say_lines, waiting
from debrief.words.secrets import redacted

if TYPE_CHECKING:
    from debrief.history.storage.store import Store

DONE, BAD_INPUT = 0, 2

_EPILOG = """\
examples:
  debrief history add flights/*.csv
  debrief history list
  debrief history trend --engine TG7-0042
  debrief history check flight.csv
  debrief history export backup.jsonl

The history is history.sqlite in the folder of the user's data, or what --db names: a file, or
postgresql://user@host/name for several desks. A flight is known by the SHA-256 of its file: adding it
again is the same flight. A damaged one is named as such and never changed: `debrief history check` says what
is damaged, `debrief history salvage DAMAGED -o NEW` brings out what can be read. A whole copy of a file is
kept beside it each week and before its form changes, the newest four of each; a server's copies are up to whoever
runs it. Undated or unnamed flights are kept and listed, not trended: name them with --start, --aircraft and
--engine-serial. The normal range is not a limit."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``debrief history`` to its parser."""
    parser.epilog = _EPILOG
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.set_defaults(history_command=None)
    commands = parser.add_subparsers(title="history commands", metavar="WHAT", dest="history_command")

    adding = _sub(commands, "add", "assess recordings and keep them")
    adding.add_argument("files", nargs="+", metavar="FILE", help="recordings (CSV, .csv.gz, one in a .zip)")
    adding.add_argument(
        "--keep-both",
        action="store_true",
        help="add a flight that the history has already from another file, with the same engine, start and samples",
    )
    add_reading(adding)
    add_units(adding, "what the text is in")

    listing = _sub(commands, "list", "list the flights that are kept")
    listing.add_argument("--engine", metavar="NAME", help="only flights of this engine")
    listing.add_argument("--format", choices=("text", "json"), default="text", help="default: text")

    trending = _sub(commands, "trend", "say what is normal for an engine and what has shifted")
    trending.add_argument("--engine", metavar="NAME", help="one engine (all engines if not given)")
    trending.add_argument("--measure", metavar="NAME", help="one measure, such as peak_itt, with its starts")
    trending.add_argument("--format", choices=("text", "json"), default="text", help="default: text")
    add_units(trending, "what the text is in")

    checking = _sub(
        commands,
        "check",
        "check that the history is sound; with files: say whether their starts are in the normal range",
    )
    checking.add_argument("files", nargs="*", metavar="FILE", help="recordings; they are not kept")
    add_reading(checking)
    add_units(checking, "what the text is in")

    exporting = _sub(
        commands, "export", "write everything to a file (.jsonl), or the starts as a table (.csv, .parquet)"
    )
    exporting.add_argument("output", metavar="OUT", help="the file to write; - for standard output")
    exporting.add_argument(
        "--format", choices=("jsonl", "csv", "parquet"), help="default: by the ending of OUT"
    )

    merging = _sub(commands, "merge", "bring in another history or an export; it is not changed")
    merging.add_argument(
        "others", nargs="+", metavar="OTHER", help="a history's file or URL, or a .jsonl export"
    )

    salvaging = commands.add_parser(
        "salvage",
        help="bring what can be read of a damaged history into a new one",
        description="Bring what can be read of a damaged history (a file) into a new one; the damaged one is only "
        "read. Says what came out, and which flights are to be added again from their recordings.",
    )
    salvaging.add_argument("--debug", action="store_true", default=argparse.SUPPRESS, help=argparse.SUPPRESS)
    salvaging.add_argument("damaged", metavar="DAMAGED", help="the damaged history, or a copy of it")
    salvaging.add_argument(
        "-o", "--output", required=True, metavar="NEW", help="the new history; nothing may be there"
    )

    deleting = _sub(commands, "delete", "forget flights; their files stay where they are")
    deleting.add_argument("flights", nargs="+", metavar="FLIGHT", help="file name or first digits of SHA-256")
    deleting.add_argument(
        "--yes", action="store_true", help="do it; without this it is only said what would go"
    )

    excluding = _sub(commands, "exclude", "leave a start out of its engine's normal range")
    excluding.add_argument("flight", metavar="FLIGHT", help="file name or first digits of SHA-256")
    excluding.add_argument("start", type=_number, metavar="N", help="number of the start")
    excluding.add_argument("--engine", type=_number, default=1, metavar="N", help="engine of the aircraft")
    excluding.add_argument("--reason", default="", metavar="WORDS", help="why; required")
    excluding.add_argument("--by", default="", metavar="NAME", help="who says so")
    excluding.add_argument("--undo", action="store_true", help="let the start count again")

    servicing = _sub(
        commands,
        "maintenance",
        "note a maintenance action, from which the normal range is learnt anew; list them, take one back",
    )
    servicing.add_argument("engine", metavar="ENGINE", help="as `debrief history list` shows it")
    servicing.add_argument(
        "what", nargs="?", metavar="WORDS", help="what was done; without it they are listed"
    )
    servicing.add_argument(
        "--on", type=instant, metavar="ISO", help="when, as 2031-05-04; required with WORDS"
    )
    servicing.add_argument("--by", default="", metavar="NAME", help="who says so")
    servicing.add_argument("--undo", metavar="ID", help="take the action with this id back")


def _sub(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, help_: str
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(
        name, help=help_, description=help_[0].upper() + help_[1:] + "."
    )
    parser.add_argument("--debug", action="store_true", default=argparse.SUPPRESS, help=argparse.SUPPRESS)
    parser.add_argument("--db", metavar="URL", help="the history: a file, or postgresql://user@host/name")
    return parser


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 10_000):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 1")
    return int(text)


def run(options: argparse.Namespace) -> int:
    """Run the history command that was asked for and return its exit code.

    Raises
    ------
    UserError
        Bad input, or no command.
    """
    commands: dict[str, Callable[[argparse.Namespace], int]] = {
        "add": _add,
        "list": _list,
        "trend": _trend,
        "check": _check,
        "export": _export,
        "merge": _merge,
        "salvage": _salvage,
        "delete": _delete,
        "exclude": _exclude,
        "maintenance": _maintenance,
    }
    if options.history_command is None:
        raise UserError(f"debrief history wants one of {', '.join(commands)} (see debrief history --help)")
    return commands[options.history_command](options)


@contextmanager
def _opened(options: argparse.Namespace) -> Iterator[Store]:
    from debrief.history.storage.places import database_url
    from debrief.history.storage.store import Store

    url = database_url(options.db)
    makes = options.history_command in ("add", "merge") or options.db is None
    if not makes and url.get_backend_name() == "sqlite" and not Path(str(url.database)).exists():
        raise UserError(
            f"There is no history {url.database}: check the name, or make it with debrief history add."
        )
    with Store.open(options.db) as store:
        try:
            yield store
        finally:
            for words in store.said():
                complain(words)


# --- the commands -------------------------------------------------------------------------------------


def _add(options: argparse.Namespace) -> int:
    from dataclasses import replace

    from debrief.history.command.texts import flight_lines
    from debrief.history.service.earlier_flights import Whose
    from debrief.history.service.history_service import keep_in
    from debrief.history.service.later_flights import assess_what_follows
    from debrief.session.texts.in_units import in_units
    from debrief.words.display_units import parse_units

    units = parse_units(options.units)
    if options.start is not None and len(options.files) > 1:
        raise UserError("--start is the instant of one recording: add the files one by one.")
    if options.starter_rest and len(options.files) > 1:
        raise UserError("--starter-rest is the rest before one recording: add the files one by one.")
    account = Account()
    code = DONE
    added: list[Whose] = []
    with _opened(options) as store:
        for path in options.files:
            try:
                with waiting(path):
                    assessment = assessed(path, options, store)
                done, flight = keep_in(store, assessment, own=options.db is None, both=options.keep_both)
            except UserError as error:
                code = BAD_INPUT
                complain(error)
                continue
            words = {"new": "Added", "renewed": "Assessed anew", "unchanged": "Already kept, unchanged"}[done]
            said = replace(flight, sentence=in_units(assessment, units).sentence)
            head, found = flight_lines(said)
            account.tell(f"{words}: {head}", found)
            if step := next_step(assessment.events, assessment.profile):
                account.tell(f"  {step}")
            beside = (
                ""
                if assessment.profile is None
                else footnotes(assessment.not_judged, assessment.recording.has_several_engines)
            )
            if beside:
                account.tell(f"  {beside}")
            if flight.untrended:
                account.tell(f"  Kept and listed, not trended: {flight.untrended}.")
            added.append(Whose.of(assessment.recording))
        followed = assess_what_follows(store, added, options.profile).words
        if followed:
            account.tell(followed)
    return code or account.code


def _list(options: argparse.Namespace) -> int:
    import json
    from dataclasses import asdict

    from debrief.history.command.texts import flight_lines

    with _opened(options) as store:
        flights = [f for f in store.flights() if options.engine is None or options.engine in f.engines]
        if options.engine is not None and not flights:
            _unknown_engine(store, options.engine)
        _say_left_out(store)
        if options.format == "json":
            say_data(json.dumps([asdict(flight) for flight in flights], indent=2, allow_nan=False))
            return DONE
        if not flights:
            say(f"The history {store.place} is empty: add recordings with debrief history add FILE.")
            return DONE
        for flight in flights:
            tail = [f"  Not trended: {flight.untrended}."] if flight.untrended else []
            say_lines("\n".join([*flight_lines(flight), *tail]))
        say(f"{len(flights)} flight{'' if len(flights) == 1 else 's'} in {store.place}")
        if store.engines():
            say(f"Engines: {', '.join(store.engines())}")
    return DONE


def _unknown_engine(store: Store, name: str) -> None:
    known = ", ".join(store.engines()) or "none yet"
    raise UserError(f"The history {store.place} has no engine {name}; it has: {known}.")


def _trend(options: argparse.Namespace) -> int:
    import json

    from debrief.history.command.texts import trend_document, trend_lines
    from debrief.history.display_units import ShownHistory
    from debrief.history.measures import USUAL_MEASURES
    from debrief.history.trends.flight_trends import flight_measure_names, flight_trends
    from debrief.history.trends.series import Trend, trend
    from debrief.words.display_units import parse_units

    units = parse_units(options.units)
    if options.format == "json" and not units.are_canonical:
        raise UserError("--units goes with text: json is always in degC, psi, kg/h, ft and kt.")
    with _opened(options) as store:
        engines = store.engines() if options.engine is None else (options.engine,)
        if options.engine is not None and options.engine not in store.engines():
            _unknown_engine(store, options.engine)
        measures = USUAL_MEASURES if options.measure is None else (options.measure,)
        of_starts = {name for start in store.starts() for name in start.values}
        of_flights = {name for engine in engines for name in flight_measure_names(store, engine)}
        if options.measure is not None and options.measure not in of_starts | of_flights:
            names = ", ".join(sorted(of_starts | of_flights)) or "none yet"
            raise UserError(f"The history has no measure {options.measure}; it has: {names}.")
        found: list[Trend] = []
        shown = ShownHistory(store, units)
        for engine in engines:
            if options.measure is None or options.measure in of_starts:
                found += [trend(shown, engine, name) for name in measures]
            if options.measure is None or options.measure in of_flights:
                found += flight_trends(shown, engine, () if options.measure is None else measures)
        _say_left_out(store)
    if options.format == "json":
        say_data(json.dumps([trend_document(one) for one in found], indent=2, allow_nan=False))
        return DONE
    if not found:
        say(f"Nothing to trend in {store.place}: no dated flight of a named engine is kept.")
    for line in trend_lines(found, with_points=options.measure is not None):
        say(line)
    return DONE


def _check(options: argparse.Namespace) -> int:
    if options.files:
        return _check_files(options)
    from debrief.history.exchange.soundness import file_faults, soundness

    faults = file_faults(options.db)
    for sentence in faults:
        complain(sentence)
    if faults:
        return BAD_INPUT
    with _opened(options) as store:
        wrong = soundness(store)
        for sentence in wrong:
            complain(sentence)
        if wrong:
            return BAD_INPUT
        count = len(store.flights())
        say(f"The history {store.place} is sound: {count} flight{'' if count == 1 else 's'} kept.")
    return DONE


def _check_files(options: argparse.Namespace) -> int:
    from debrief.history.command.texts import comparison_words, nothing_to_compare
    from debrief.history.usual.comparing import compare
    from debrief.session.assessing.user_inputs import stated
    from debrief.session.texts.in_units import in_units
    from debrief.words.display_units import parse_units

    units = parse_units(options.units)
    code = DONE
    with _opened(options) as store:
        for path in options.files:
            try:
                with waiting(path):
                    assessment = in_units(assessed(path, options, store), units)
            except UserError as error:
                code = BAD_INPUT
                complain(error)
                continue
            say(f"{path}: {assessment.sentence}")
            if step := next_step(assessment.events, assessment.profile):
                say(f"  {step}")
            for label, words in stated(assessment):
                say(f"  {label}: {words}.")
            comparisons = compare(assessment, store)
            if not comparisons:
                say(f"  {nothing_to_compare(assessment)}")
            for line in comparison_words(comparisons):
                say(f"  {line}")
        _say_left_out(store)
    return code


def _export(options: argparse.Namespace) -> int:
    from debrief.history.exchange.transfer import export_csv, export_jsonl, export_parquet
    from debrief.output import is_stream

    out: str = options.output
    format_ = options.format or Path(out).suffix.lower().lstrip(".")
    table = {"csv": export_csv, "parquet": export_parquet}.get(format_)
    with _opened(options) as store:
        count = (table or export_jsonl)(store, out)
        # What was asked for is not all there: who makes copies by a script has to know.
        code = BAD_INPUT if _say_left_out(store) else DONE
    words = f"{count} {'start' if table else 'flight'}{'' if count == 1 else 's'} written to"
    if is_stream(out):
        complain(f"{words} {'standard output' if out == '-' else out}")
        return code
    account = Account()
    account.tell(f"{words} {out}")
    return code or account.code


def _merge(options: argparse.Namespace) -> int:
    from debrief.history.exchange.transfer import merge_from

    account = Account()
    code = DONE
    with _opened(options) as store:
        for other in options.others:
            try:
                done = merge_from(store, other)
            except UserError as error:
                code = BAD_INPUT
                complain(error)
                continue
            account.tell(
                f"{redacted(other)}: flights new {done.new}, known {done.known}; notes and marks taken {done.words}."
            )
            if done.beside:
                account.tell(f"  Changed here and there: {done.beside}. What both wrote stays, side by side.")
            if done.left_out:
                complain(f"{redacted(other)}: rows that cannot be right were not taken: {done.left_out}.")
    return code or account.code


def _salvage(options: argparse.Namespace) -> int:
    from debrief.history.exchange.salvage import lost_line, salvage

    found = salvage(Path(options.damaged).expanduser(), Path(options.output).expanduser())
    say(f"{options.output} was made of what can be read in {options.damaged}: {found.words}.")
    if found.left_out:
        rows = "row that cannot be right was" if found.left_out == 1 else "rows that cannot be right were"
        say(f"{found.left_out} {rows} left out.")
    if found.mended:
        say("Values that could not be right, and what stands there now:")
        for line in found.mended:
            say(f"  {line}")
    if found.again:
        say("To be added again from their recordings with debrief history add:")
        for one in found.again:
            say(f"  {lost_line(one)}")
    if found.homeless:
        say("What people wrote of flights that did not come out; write it again when they are added:")
        for line in found.homeless:
            say(f"  {line}")
    say(
        f"The damaged file is as it was. To go on with the new one, move the damaged one away with the files beside "
        f"it (-wal, -shm), and {options.output} to its place."
    )
    if not found.rows["recordings"]:
        complain(f"No flight came out of {options.damaged}: {found.why_no_flight}.")
        return BAD_INPUT
    return DONE


def _delete(options: argparse.Namespace) -> int:
    from debrief.history.command.texts import flight_lines

    account = Account()
    with _opened(options) as store:
        keys = {store.find(name) for name in options.flights}
        for flight in (flight for flight in store.flights() if flight.sha256 in keys):
            notes = len(store.notes(flight.sha256))
            tail = [f"  With {notes} note{'' if notes == 1 else 's'}."] if notes else []
            if options.yes:
                store.delete(flight.sha256)
            what = "Deleted" if options.yes else "Would be deleted"
            head, found = flight_lines(flight)
            account.tell(f"{what}: {head}", found, *tail)
    if not options.yes:
        raise UserError("nothing was deleted: say --yes to do it.")
    return account.code


def _exclude(options: argparse.Namespace) -> int:
    account = Account()
    with _opened(options) as store:
        key = store.find(options.flight)
        if options.undo:
            store.include(key, options.start, engine=options.engine, author=options.by)
            account.tell(f"Start {options.start} of {options.flight} counts again.")
        else:
            store.exclude(key, options.start, options.reason, engine=options.engine, author=options.by)
            account.tell(
                f"Start {options.start} of {options.flight} is left out of the normal range: {options.reason}"
            )
    return account.code


def _maintenance(options: argparse.Namespace) -> int:
    if options.what is not None and (options.undo is not None or options.on is None):
        raise UserError("A maintenance action needs --on with its date; --undo goes without words.")
    account = Account()
    with _opened(options) as store:
        if options.engine not in store.engines():
            _unknown_engine(store, options.engine)
        if options.undo is not None:
            gone = store.withdraw_maintenance(options.engine, options.undo)
            account.tell(
                f"Taken back: {gone.what}. The normal range of {options.engine} is learnt as if it had not been."
            )
        elif options.what is not None:
            key = store.note_maintenance(options.engine, options.on, options.what, author=options.by)
            account.tell(
                f"Noted as {key[:8]}. The normal range of {options.engine} is learnt anew from "
                f"{options.on:%Y-%m-%d %H:%M}."
            )
        else:
            _list_maintenance(store, options.engine)
    return account.code


def _list_maintenance(store: Store, engine: str) -> None:
    from debrief.history.trends.series import date_text

    actions = store.maintenance(engine, withdrawn=True)
    if not actions:
        say(f"No maintenance action of {engine} is noted.")
    for action in actions:
        by = f", {action.author}" if action.author else ""
        back = "  (taken back)" if action.withdrawn else ""
        say(f"{action.action_id[:8]}  {date_text(action.at_epoch_s)}  {action.what}{by}{back}")
    _say_left_out(store)


def _say_left_out(store: Store) -> bool:
    """Say how many rows of the history cannot be right; return whether there is any."""
    if store.left_out:
        complain(store.left_out_words)
    return bool(store.left_out)
