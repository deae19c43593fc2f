"""Value types of a recording: channels with their own sample times, identity, provenance, quality."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from debrief.recording.file_lines import FileLines
from debrief.recording.median import median
from debrief.words.channels import DISCRETE, ENGINE_CHANNELS, USUAL_NAMES, ChannelNames, base_name
from debrief.words.engines import engine_of

if TYPE_CHECKING:
    from debrief.words.sentence import Sentence

FloatArray = NDArray[np.float64]


def frozen(array: object) -> FloatArray:
    """Return the values as a read-only, contiguous float64 array (a copy unless it is one already)."""
    out = np.ascontiguousarray(array, dtype=np.float64)
    if out.flags.writeable:
        if out is array or (isinstance(array, np.ndarray) and np.shares_memory(out, array)):
            out = out.copy()
        out.setflags(write=False)
    return out


@dataclass(frozen=True, eq=False)
class Channel:
    """One recorded quantity with its own sample times.

    Attributes
    ----------
    name : str
        Canonical name (`debrief.words.channels.CANONICAL`, with an engine number where there are several engines), or the
        column's own header for a column that no channel matched.
    unit : str
        Unit of `values`: the canonical one, except ``rpm`` or a torque unit where the canonical unit is
        ``%`` and no profile has scaled it yet.
    time_s : (n,) float array
        Seconds from the recording's first sample, strictly increasing. Channels sampled on the same rows
        share one array.
    values : (n,) float array
        Finite values. A cell that was blank is not here: it was not sampled.
    column, column_unit : str
        Header and unit as found in the file.
    map_source : str
        Who matched the column: ``header``, ``option``, ``remembered`` or ``entered``; ``none`` when unmapped.
    confidence : float
        0 to 1, of the match.
    resolution : float or None
        Smallest step the values move in, [unit]; None where it cannot be told.
    sign : str
        The trade's sign that its column calls it by (EGT), where that is another than the usual one (ITT); else empty.
    """

    name: str
    unit: str
    time_s: FloatArray
    values: FloatArray
    column: str = ""
    column_unit: str = ""
    map_source: str = "header"
    confidence: float = 1.0
    resolution: float | None = None
    sign: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "time_s", frozen(self.time_s))
        object.__setattr__(self, "values", frozen(self.values))
        if self.time_s.shape != self.values.shape or self.time_s.ndim != 1:
            raise ValueError(f"channel {self.name}: times {self.time_s.shape}, values {self.values.shape}")

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        """Restore from a pickle; unpickled arrays come back writable and are frozen again."""
        for key, value in state.items():
            object.__setattr__(self, key, frozen(value) if isinstance(value, np.ndarray) else value)

    @property
    def is_discrete(self) -> bool:
        """Whether the value holds until the next sample."""
        return base_name(self.name) in DISCRETE and self.unit.startswith("0/1")

    @property
    def interval_s(self) -> float | None:
        """Median time between samples, [s]; None with fewer than two samples."""
        if self.time_s.size < 2:
            return None
        return median(np.diff(self.time_s))


def names_of(channels: Iterable[Channel]) -> ChannelNames:
    """Return what channels are called: as their columns call them where that is a sign of the trade."""
    return ChannelNames(
        {(base_name(one.name), engine_of(one.name)): one.sign for one in channels if one.sign}
    )


@dataclass(frozen=True)
class Identity:
    """Whose recording it is; each source is ``preamble``, ``column``, ``option``, ``entered`` or None."""

    aircraft: str | None = None
    aircraft_source: str | None = None
    engine_serial: str | None = None
    engine_serial_source: str | None = None
    start: datetime | None = None
    start_source: str | None = None
    engine_serials: Mapping[str, str] = field(default_factory=dict, hash=False)
    """Of the engines from the second on, by the engine's number as text; `engine_serial` is the first's."""
    engine_model: str | None = None
    altimeter_setting_hpa: float | None = None
    """What the altimeter was set to, [hPa]; with it `altitude` gives the pressure altitude."""
    altimeter_setting_step_hpa: float = 1.0
    """The step in which it was told, [hPa]."""
    altimeter_setting_source: str | None = None

    def serial_of(self, engine: int) -> str | None:
        """Return the serial number of an engine; None where none is told."""
        return self.engine_serial if engine == 1 else self.engine_serials.get(str(engine))


@dataclass(frozen=True)
class QualityFlag:
    """One thing about the data that a reader of the result must know.

    `kind` is one of ``gap, dropout, stuck, spike, out_of_range, coarse, ramped_discrete, saturated,
    low_probe, sensor_sense`` and others that a definition in the documentation explains.
    """

    kind: str
    channel: str
    start_s: float
    end_s: float
    message: Sentence


@dataclass(frozen=True)
class Provenance:
    """Where the numbers came from, and everything that was decided or repaired on the way."""

    path: str = ""
    file_name: str = ""
    sha256: str = ""
    byte_count: int = 0
    rows: int = 0
    encoding: str = ""
    delimiter: str = ""
    decimal: str = "."
    time_source: str = ""
    time_column: int | None = None
    header_rows: tuple[str, ...] = ()
    preamble: tuple[str, ...] = ()
    decisions: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    header_signature: str = ""
    fingerprint: str = ""
    """Of the samples, whatever the bytes of the file (`debrief.recording.fingerprint`)."""


_NO_CHANNELS: Mapping[str, Channel] = MappingProxyType({})


@dataclass(frozen=True, eq=False)
class Recording:
    """What was recorded.

    Attributes
    ----------
    channels : mapping of str to Channel
        The channels that were matched, by canonical name.
    unmapped : mapping of str to Channel
        Numeric columns that matched nothing, by their own header, for plotting.
    duration_s : float
        Seconds from the first sample to the last of the whole recording.
    identity, provenance, quality
        See the types.
    profile_name : str or None
        The engine profile that the file's preamble names.
    engines_left : mapping of int to tuple of str
        Engines that columns show by their names while no channel is of them, with these columns.
    lines : FileLines or None
        On which line of the file each sample stands; None where it comes from no file.
    """

    channels: Mapping[str, Channel]
    duration_s: float
    unmapped: Mapping[str, Channel] = field(default_factory=lambda: _NO_CHANNELS)
    identity: Identity = Identity()
    provenance: Provenance = Provenance()
    quality: tuple[QualityFlag, ...] = ()
    profile_name: str | None = None
    engines_left: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    lines: FileLines | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "channels", MappingProxyType(dict(self.channels)))
        object.__setattr__(self, "unmapped", MappingProxyType(dict(self.unmapped)))

    def __getstate__(self) -> dict[str, Any]:
        """Return a picklable state: mapping proxies do not pickle."""
        state = dict(self.__dict__)
        state["channels"] = dict(self.channels)
        state["unmapped"] = dict(self.unmapped)
        return state

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        """Restore from a pickle."""
        for key, value in state.items():
            object.__setattr__(self, key, value)
        self.__post_init__()

    @property
    def engines(self) -> tuple[int, ...]:
        """Engine numbers that have at least one engine channel, in order; ``(1,)`` for a single engine."""
        numbers = set()
        for name in self.channels:
            base, _, number = name.partition(".")
            if base in ENGINE_CHANNELS:
                numbers.add(int(number) if number else 1)
        return tuple(sorted(numbers)) or (1,)

    @property
    def has_several_engines(self) -> bool:
        """Whether it is of more than one engine, also of one that no channel was taken of."""
        return len({*self.engines, *self.engines_left}) > 1

    @cached_property
    def names(self) -> ChannelNames:
        """What its channels are called: as its columns call them where that is a name of the trade."""
        return names_of(self.channels.values())

    @property
    def shared_names(self) -> ChannelNames:
        """What channels are called of whichever engine: by the usual names where two engines have other ones."""
        called = {self.names.of_engine(engine).itt for engine in self.engines}
        return self.names.of_engine(self.engines[0]) if len(called) == 1 else USUAL_NAMES

    def label_name(self, name: str, engine: int) -> str:
        """Return the name under which an engine's channel is shown: of several engines each with its number."""
        base = base_name(name)
        return f"{base}.{engine}" if self.has_several_engines and base in ENGINE_CHANNELS else name

    def get(self, name: str, engine: int = 1) -> Channel | None:
        """Return the channel of this name for this engine, or None where it was not recorded."""
        if base_name(name) in ENGINE_CHANNELS and engine != 1:
            return self.channels.get(f"{name}.{engine}")
        return self.channels.get(name) or self.channels.get(f"{name}.{engine}")

    def with_channels(self, channels: Mapping[str, Channel]) -> Recording:
        """Return the same recording with these channels instead."""
        return replace(self, channels=channels)
