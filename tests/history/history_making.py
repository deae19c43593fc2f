"""Made assessments for the history's tests: no file is read and nothing is analysed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any

from debrief.analysis.model import Assessment, Event, Measure, Start, StarterRun
from debrief.profile.model import EngineProfile
from debrief.recording.model import Channel, Identity, Provenance, Recording
from debrief.words.sentence import words

FIRST = datetime(2031, 4, 1, 8, 0, tzinfo=UTC)
PROFILE = EngineProfile(name="Tarn TG-7 (training example)", revision="A", sha256="ab" * 32)


def made_start(number: int = 1, **changes: Any) -> Start:
    """A completed battery start that peaks at 742 degC unless told otherwise."""
    values: dict[str, Any] = {
        "number": number,
        "engine": 1,
        "kind": "ground",
        "outcome": "completed",
        "begin_s": 10.0,
        "end_s": 60.0,
        "window_end_s": 60.0,
        "starter_on_s": 10.0,
        "starter_off_s": 45.0,
        "fuel_on_s": 22.0,
        "light_off_s": 26.0,
        "idle_s": 50.0,
        "peak_itt_c": 742.0,
        "peak_itt_s": 31.0,
        "ng_at_fuel_pct": 19.0,
        "max_motoring_ng_pct": 19.5,
        "min_bus_volts": 19.0,
        "rest_bus_volts": 24.4,
        "residual_itt_c": 40.0,
        "starter_runs": (StarterRun(10.0, 45.0, 35.0, 34.9, 35.1, "battery", number),),
    }
    values.update(changes)
    return Start(**values)


def made_assessment(
    name: str = "one.csv",
    *,
    at: datetime | None = FIRST,
    aircraft: str | None = "ZZ-TRN",
    serial: str | None = "TG7-0042",
    starts: Sequence[Start] | None = None,
    events: Sequence[Event] = (),
    profile: EngineProfile | None = PROFILE,
    flight: dict[str, Measure] | None = None,
    engines: int = 1,
    verdict: str = "within",
) -> Assessment:
    """An assessment whose recording's SHA-256 is that of its name."""
    channels = {
        ("ng" if engine == 1 else f"ng.{engine}"): Channel("ng", "%", [0.0, 1.0], [0.0, 10.0])
        for engine in range(1, engines + 1)
    }
    recording = Recording(
        channels=channels,
        duration_s=120.0,
        identity=Identity(
            aircraft=aircraft,
            aircraft_source="preamble" if aircraft else None,
            engine_serial=serial,
            engine_serial_source="preamble" if serial else None,
            start=at,
            start_source="preamble" if at else None,
        ),
        provenance=Provenance(
            path=f"flights/{name}",
            file_name=name,
            sha256=sha256(name.encode()).hexdigest(),
            byte_count=1234,
            rows=1200,
        ),
    )
    return Assessment(
        recording=recording,
        profile=profile,
        starts=tuple(starts) if starts is not None else (made_start(),),
        events=tuple(events),
        limits=(),
        phases=(),
        flight_measures=flight or {},
        not_judged=(),
        quality=(),
        verdict=verdict,  # type: ignore[arg-type]
        sentence=words("Nothing exceeded in what was recorded."),
    )


def made_event(**changes: Any) -> Event:
    """A hot start of 2.9 s above 920 degC."""
    values: dict[str, Any] = {
        "kind": "hot_start",
        "event_class": "engine",
        "engine": 1,
        "severity": "limit",
        "start_s": 30.0,
        "end_s": 33.0,
        "message": "ITT was above 920 °C for 2.9 s.",
        "channel": "itt",
        "peak": 1087.0,
        "unit": "degC",
        "limit_id": "itt-start",
        "start_number": 1,
    }
    values.update(changes)
    return Event(**values)


def series(
    peaks: Sequence[float], *, prefix: str = "flight", days: float = 1.0, **changes: Any
) -> list[Assessment]:
    """One flight a day, each with one start of the given peak ITT."""
    return [
        made_assessment(
            f"{prefix}-{index:03d}.csv",
            at=FIRST + timedelta(days=days * index),
            starts=(made_start(peak_itt_c=peak, **changes),),
        )
        for index, peak in enumerate(peaks)
    ]
