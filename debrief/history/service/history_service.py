"""What a window asks of the history: to look at it, to keep a flight, and the values for the paper.

Nothing heavy is imported until one of these is called: each may run away from the event loop.
"""

from __future__ import annotations

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from debrief.errors import UserError
from debrief.history.display_units import ShownHistory
from debrief.home import history_file
from debrief.session.opening.opening_steps import Progress
from debrief.words.channels import USUAL_NAMES, ChannelNames
from debrief.words.display_units import AS_COMPUTED, ShownUnits

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.model import Flight, Note
    from debrief.history.storage.store import Kept_as, Store
    from debrief.history.trends.series import Trend
    from debrief.history.usual.comparing import Comparison
    from debrief.history.usual.start_traces import UsualPlane

    PaperValues = tuple[
        tuple[Note, ...], tuple[Comparison, ...], tuple[Trend, ...], Mapping[tuple[int, int], UsualPlane]
    ]
    """Notes, how unusual the starts are, trends, and what is usual of ITT against Ng for each start."""


_NOBODY: Mapping[str, ChannelNames] = MappingProxyType({})


@dataclass(frozen=True, eq=False)
class HistoryPage:
    """The history as one engine's page.

    Attributes
    ----------
    place : str
        Where the history is, for a person.
    engines : tuple of str
        Those that have starts.
    engine : str or None
        Whose page it is; None for the list of all flights.
    flights : tuple of Flight
        Of that engine, or all; the newest first, undated ones last.
    starts : int
        Starts of that engine.
    trends : tuple of Trend
        Its measures, those that have a point.
    kept : Flight or None
        The open recording, if it is kept.
    total : int
        Flights in the whole history.
    left_out : str
        What has to be said of rows that cannot be right; empty where there is none.
    """

    place: str
    engines: tuple[str, ...] = ()
    engine: str | None = None
    flights: tuple[Flight, ...] = ()
    starts: int = 0
    trends: tuple[Trend, ...] = ()
    kept: Flight | None = None
    total: int = 0
    left_out: str = ""


@dataclass(frozen=True)
class Added:
    """What became of the files that were added.

    Attributes
    ----------
    new, renewed, unchanged : int
        How many were added, assessed anew, and kept already.
    refused, untrended : tuple of (str, str)
        Names of the files that were not kept, or are listed but not trended, and why.
    followed : str
        What has to be said of flights that were kept before and follow; see `assess_what_follows`.
    """

    new: int
    renewed: int
    unchanged: int
    refused: tuple[tuple[str, str], ...] = ()
    untrended: tuple[tuple[str, str], ...] = ()
    followed: str = ""

    @property
    def words(self) -> str:
        """What became of them, in sentences."""
        counts = (
            (self.new, "added"),
            (self.renewed, "assessed anew"),
            (self.unchanged, "already kept, unchanged"),
            (len(self.refused), "not added"),
        )
        said = [f"History: {', '.join(f'{count} {words}' for count, words in counts if count)}."]
        for files, how in ((self.refused, ""), (self.untrended, " is kept and listed, not trended")):
            if files:
                name, why = files[0]
                said.append(f"{name}{how}: {why.rstrip('.')}." if how or name not in why else why)
            if len(files) > 1:
                said.append(f"And {len(files) - 1} more, in the details.")
        return " ".join([*said, *filter(None, [self.followed])])

    @property
    def details(self) -> str:
        """Every file that was not kept or is not trended, a line each; empty where there is none."""
        lines = [f"{name}: not added: {why}" for name, why in self.refused]
        return "\n".join([*lines, *(f"{name}: not trended: {why}" for name, why in self.untrended)])


def engine_names(assessment: Assessment, first: int = 1) -> Mapping[str, ChannelNames]:
    """Return the names under which a recording's engines are trended, that of engine `first` in front.

    Engines without a name are left out. Under each name stands what the recording calls this engine's channels.
    """
    from debrief.history.measures import engine_key

    recording = assessment.recording
    numbers = sorted(recording.engines, key=lambda engine: engine != first)
    keys = ((engine_key(recording.identity, n, len(recording.engines)), assessment.names(n)) for n in numbers)
    return {key: names for key, names in keys if key is not None}


def look(
    sha256: str = "",
    engine: str | None = None,
    default: Mapping[str, ChannelNames] = _NOBODY,
    units: ShownUnits = AS_COMPUTED,
) -> HistoryPage:
    """Return one engine's page of the user's history.

    Parameters
    ----------
    sha256 : str
        Of the open recording; empty without one.
    engine : str, optional
        Whose page: an empty text for all flights. When not given, the first of `default` that is known, else
        all flights.
    default : mapping of str to ChannelNames
        Engines of the open recording; what this calls their channels is what their trends say.
    units : ShownUnits
        In which the trends are shown.

    Raises
    ------
    UserError
        The history cannot be read.
    """
    if not history_file().exists():
        return HistoryPage(str(history_file()))
    from debrief.history.storage.store import Store

    with Store.open() as store:
        flights = store.flights()
        engines = store.engines()
        if engine is None:
            engine = next((name for name in default if name in engines), None)
        elif engine not in engines:
            engine = None
        kept = next((flight for flight in flights if flight.sha256 == sha256), None)
        total = len(flights)
        trends: tuple[Trend, ...] = ()
        starts = 0
        if engine is not None:
            flights = tuple(flight for flight in flights if engine in flight.engines)
            shown = ShownHistory(store, units)
            starts = len(shown.starts(engine))
            trends = tuple(
                one for one in _trends(shown, engine, default.get(engine, USUAL_NAMES)) if one.points
            )
        place, left_out = store.place, store.left_out_words
    ordered = sorted(flights, key=lambda f: (f.start_epoch_s is not None, f.start_epoch_s or 0.0, f.added_at))
    return HistoryPage(
        place, engines, engine, tuple(reversed(ordered)), starts, trends, kept, total, left_out
    )


def _trends(history: ShownHistory, engine: str, names: ChannelNames) -> tuple[Trend, ...]:
    from debrief.history.measures import USUAL_MEASURES
    from debrief.history.trends.flight_trends import flight_trends
    from debrief.history.trends.series import trend

    of_starts = (trend(history, engine, measure) for measure in USUAL_MEASURES)
    return tuple(one.named(names) for one in (*of_starts, *flight_trends(history, engine)))


def keep(assessment: Assessment, both: bool = False) -> tuple[Kept_as, str]:
    """Keep an assessed recording in the user's history; return how, and what has to be said of those that follow.

    It is kept where the history has it already, from another file, only if `both` are wanted.

    Raises
    ------
    UserError
        The history cannot be written.
    SameFlight
        It has the flight already, from another file.
    """
    from debrief.history.service.earlier_flights import Whose
    from debrief.history.service.later_flights import assess_what_follows
    from debrief.history.storage.store import Store

    with Store.open() as store:
        how = keep_in(store, assessment, both=both)[0]
        return how, assess_what_follows(store, [Whose.of(assessment.recording)]).words


def keep_in(
    store: Store, assessment: Assessment, own: bool = True, both: bool = False
) -> tuple[Kept_as, Flight]:
    """Keep an assessed recording; return how, and the flight as it is kept now.

    Parameters
    ----------
    store : Store
    assessment : Assessment
    own : bool
        Whether it is the user's own history, which takes the notes that were waiting for the flight.
    both : bool
        Keep it also where the history has the flight already, from another file.

    Raises
    ------
    UserError
        The history cannot be written, or the flight was deleted from it at the same time.
    SameFlight
        The history has the flight already, from another file.
    """
    from debrief.history.service.notes import adopt_notes
    from debrief.history.service.same_flights import refuse_same

    provenance = assessment.recording.provenance
    if not both and store.flight(provenance.sha256) is None:
        refuse_same(store, assessment)
    how = store.keep(assessment)
    if own:
        adopt_notes(store, provenance.sha256)
    flight = store.flight(provenance.sha256)
    if flight is None:
        name = provenance.path or provenance.file_name
        raise UserError(f"{name} was deleted from the history by another desk while it was added.")
    return how, flight


def add_files(paths: Sequence[Path]) -> Generator[Progress, None, Added]:
    """Assess recordings and keep them in the user's history, as ``debrief history add`` does.

    Yields before each file, so that it can be stopped between two; what was kept until then stays. Columns are
    read as they were remembered. A file that cannot be kept is told and the rest goes on.
    """
    from debrief.history.service.earlier_flights import Whose, known_in
    from debrief.history.service.later_flights import assess_what_follows
    from debrief.history.storage.store import Store
    from debrief.session.assessing.file_assessment import Choices, assess_knowing, read_recording

    counts: dict[Kept_as, int] = {"new": 0, "renewed": 0, "unchanged": 0}
    refused: list[tuple[str, str]] = []
    untrended: list[tuple[str, str]] = []
    choices = Choices(remembered=True)
    added: list[Whose] = []
    with Store.open() as store:
        for index, path in enumerate(paths):
            words = f"Adding {path.name}, {index + 1} of {len(paths)}"
            yield Progress(words, index / len(paths))
            try:
                known = partial(known_in, store)
                _, assessment = assess_knowing(read_recording(path, choices), choices, known)
                how, flight = keep_in(store, assessment)
                added.append(Whose.of(assessment.recording))
            except UserError as error:
                refused.append((path.name, str(error)))
                continue
            counts[how] += 1
            if flight.untrended:
                untrended.append((path.name, flight.untrended))
        followed = assess_what_follows(store, added).words
    return Added(
        counts["new"], counts["renewed"], counts["unchanged"], tuple(refused), tuple(untrended), followed
    )


def paper_values(assessment: Assessment, store: Store) -> PaperValues:
    """Return what the history adds to the paper of a recording, in the assessment's units."""
    from debrief.history.service.start_history import starts_page

    known = store.engines()
    trends: list[Trend] = []
    for key, names in engine_names(assessment).items():
        if key in known:
            trends += _trends(ShownHistory(store, assessment.units), key, names)
    sha256 = assessment.recording.provenance.sha256
    notes = store.notes(sha256) if store.flight(sha256) is not None else ()
    page = starts_page(assessment, store)
    return notes, page.comparisons, tuple(trends), page.planes


def own_paper_values(assessment: Assessment) -> PaperValues:
    """Return the same from the user's own history; nothing where there is none yet."""
    if not history_file().exists():
        return (), (), (), {}
    from debrief.history.storage.store import Store

    with Store.open() as store:
        return paper_values(assessment, store)
