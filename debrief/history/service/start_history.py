"""What the history adds to the view of the starts: normal ranges, comparisons, and earlier starts to open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from debrief.analysis.model import Assessment, Start
from debrief.history.display_units import shown_values
from debrief.history.measures import Kept, engine_key, start_epoch, start_power
from debrief.history.usual.baseline import Band, usual_band
from debrief.history.usual.kept_curves import curves_of
from debrief.history.usual.start_traces import UsualPlane, usual_plane
from debrief.history.usual.usual_start import UsualStart
from debrief.home import history_file
from debrief.session.comparing.start_curves import StartCurves, StartKey

if TYPE_CHECKING:
    from debrief.history.model import PastStart
    from debrief.history.storage.store import Store
    from debrief.history.usual.comparing import Comparison

UNNAMED = "No normal range: the recording names neither its aircraft nor its engine."
NO_HISTORY = "Add 15 starts to see this engine's normal range: History, Add to history."
_MOST = 60
"""Earlier starts that are offered, the newest ones."""


@dataclass(frozen=True)
class EarlierStart:
    """A start of another kept recording. `date` is as trended, empty where undated."""

    sha256: str
    path: str
    file_name: str
    engine: int
    number: int
    date: str
    outcome: str
    peak_c: float | None
    peak_unit: str = "degC"
    """Unit of `peak_c`: that in which temperatures are shown."""
    curves: StartCurves | None = field(default=None, compare=False, repr=False)
    """Its traces, where they are kept: then it needs no file."""
    values: Mapping[str, Kept] = field(default_factory=dict, compare=False, repr=False)
    """Its numbers, in the units shown."""

    @property
    def is_there(self) -> bool:
        """Whether its file is still where it was kept from."""
        return bool(self.path) and Path(self.path).is_file()


@dataclass(frozen=True, eq=False)
class StartsPage:
    """The history of the starts of one assessment.

    Attributes
    ----------
    planes : mapping of (engine, number) to UsualPlane
        The normal range of ITT against Ng, or why there is none.
    comparisons : tuple of Comparison
        How usual each measure is.
    earlier : tuple of EarlierStart
        Starts of the same engines in other recordings, the newest first.
    usual_starts : mapping of (engine, number) to UsualStart
        What is usual for the engine of each start as a start of its own, or why there is none.
    """

    planes: Mapping[tuple[int, int], UsualPlane] = field(default_factory=lambda: MappingProxyType({}))
    comparisons: tuple[Comparison, ...] = ()
    earlier: tuple[EarlierStart, ...] = ()
    usual_starts: Mapping[tuple[int, int], UsualStart] = field(default_factory=lambda: MappingProxyType({}))

    def plane(self, start: Start) -> UsualPlane:
        """Return the band of a start."""
        return self.planes.get((start.engine, start.number), UsualPlane(NO_HISTORY))

    def usual(self, start: Start) -> dict[str, Comparison]:
        """Return the comparisons of a start by measure."""
        return {
            one.measure: one
            for one in self.comparisons
            if (one.engine, one.start_number) == (start.engine, start.number)
        }


def own_starts_page(assessment: Assessment) -> StartsPage:
    """Return what the user's own history adds; an empty page where there is none yet.

    Raises
    ------
    UserError
        The history cannot be read.
    """
    if not history_file().exists():
        return StartsPage()
    from debrief.history.storage.store import Store

    with Store.open() as store:
        return starts_page(assessment, store)


def starts_page(assessment: Assessment, store: Store) -> StartsPage:
    """Return what an open history adds to the starts of an assessment."""
    from debrief.history.trends.series import date_text
    from debrief.history.usual.comparing import compare

    recording = assessment.recording
    epoch, _ = start_epoch(recording.identity.start)
    sha = recording.provenance.sha256
    paths = {flight.sha256: flight.path for flight in store.flights()}
    planes: dict[tuple[int, int], UsualPlane] = {}
    bands: dict[tuple[int, int], Band] = {}
    earlier: dict[StartKey, tuple[float, EarlierStart]] = {}
    read = {}
    for start in assessment.starts:
        key = engine_key(recording.identity, start.engine, len(recording.engines))
        if key is None:
            planes[(start.engine, start.number)] = UsualPlane(UNNAMED)
            continue
        if key not in read:
            read[key] = (store.starts(key), store.maintenance(key), store.start_traces(key))
        past, actions, traces = read[key]
        begun = start.starter_on_s if start.starter_on_s is not None else start.begin_s
        band = usual_band(
            past,
            "peak_itt",
            engine=key,
            power=start_power(start),
            kind=start.kind,
            judged=(sha, start.engine, start.number),
            judged_at=None if epoch is None else epoch + begun,
            maintenance=actions,
        )
        planes[(start.engine, start.number)] = usual_plane(band, traces).shown(assessment.units)
        bands[(start.engine, start.number)] = band
        for one in past:
            if one.sha256 == sha:
                continue
            date = "" if one.at_epoch_s is None else date_text(one.at_epoch_s)
            values = shown_values(one.values, assessment.units)
            peak = values["peak_itt"].value if "peak_itt" in values else None
            earlier[(one.sha256, one.engine, one.number)] = (
                one.at_epoch_s or 0.0,
                EarlierStart(
                    one.sha256, paths.get(one.sha256, ""), one.file_name, one.engine, one.number, date,
                    one.outcome, peak, assessment.units.of("degC"), values=values,
                ),
            )  # fmt: skip
    newest = sorted(earlier.values(), key=lambda found: (-found[0], found[1].sha256, found[1].number))
    offered = [one for _, one in newest[:_MOST]]
    wanted = {(one.sha256, one.engine, one.number) for one in offered}
    wanted |= {key for band in bands.values() for key in band.members}
    past_starts = {(one.sha256, one.engine, one.number): one for past, _, _ in read.values() for one in past}
    curves = {
        key: _curves(text, key, past_starts[key])
        for key, text in store.start_curves(wanted).items()
        if key in past_starts
    }
    return StartsPage(
        MappingProxyType(planes),
        compare(assessment, store),
        tuple(replace(one, curves=curves.get((one.sha256, one.engine, one.number))) for one in offered),
        MappingProxyType({place: UsualStart(band, curves) for place, band in bands.items()}),
    )


def _curves(text: str, key: StartKey, past: PastStart) -> StartCurves:
    speed = past.values.get("ng_at_fuel")
    return curves_of(text, f"start {past.number} of {past.file_name}", key, speed.value if speed else None)
