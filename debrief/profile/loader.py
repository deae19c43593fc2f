"""Engine profiles from TOML files: read, checked whole, found by name."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, TypeVar, cast

from debrief.errors import UserError
from debrief.home import home
from debrief.profile.fields import ProfileError, Source, Table
from debrief.profile.limits import References, check_channel, read_gauges, read_limits
from debrief.profile.model import (
    OAT_IS,
    AbortRules,
    DutyRow,
    EngineProfile,
    FactorRules,
    FlightRules,
    LifeRules,
    OatIs,
    ShutdownRules,
    StarterRules,
    StartRules,
)
from debrief.profile.naming import own_file, same_name
from debrief.profile.power_check import read_power_checks
from debrief.profile.units import torque_unit
from debrief.resources import resource
from debrief.toml_lines import key_lines
from debrief.words.channels import CANONICAL
from debrief.words.remedies import PROFILE_FILE, advised

FORMAT = "engine-profile/1"

_TOP_KEYS = (
    "format",
    "name",
    "aircraft",
    "revision",
    "source",
    "approved_data",
    "entered_by",
    "entered_on",
    "checked_by",
    "checked_on",
    "engines",
    "engine",
    "start",
    "starter",
    "abort",
    "factors",
    "flight",
    "shutdown",
    "life",
    "power_check",
    "max_rate",
    "gauges",
    "limits",
)
_START_CHOICES = {"fuel_control": ("manual", "automatic"), "air_starts": ("as_ground", "not_judged")}
_START_POSITIVE = frozenset(
    [
        "stable_for_s",
        "idle_ng_pct",
        "light_off_within_s",
        "light_off_rise_c",
        "idle_within_s",
        "hung_for_s",
        "start_window_max_s",
        "nominal_bus_volts",
        "after_cut_rise_c",
    ]
)
_ANY_SIGN = frozenset(
    ["oat_c", "density_altitude_ft", "max_residual_itt_c", "motor_until_itt_c", "settle_itt_c"]
)
_Rules = TypeVar("_Rules", AbortRules, FactorRules, ShutdownRules)
_LARGEST_BYTES = 1_000_000  # a profile is a few kB: more is another file by mistake
_MOST_PARTS = 16
_LONG_KEY = re.compile(
    r"(?<![A-Za-z0-9_-])"
    rf"(?:(?:[A-Za-z0-9_-]++|\"[^\"\n]*+\"|'[^'\n]*+')[ \t]*+\.[ \t]*+){{{_MOST_PARTS}}}"
)
"""A key of more parts than any of a profile: the standard reader's time and memory grow with their square."""


def load(path: str | os.PathLike[str]) -> EngineProfile:
    """Return the engine profile that a TOML file holds.

    Parameters
    ----------
    path : path
        The file. It is only read.

    Raises
    ------
    UserError
        The file cannot be read (`UserError`), or something in it is refused (`ProfileError`, with the key
        path, the line and the reason). Nothing is left out or corrected silently.

    Notes
    -----
    Keys that the file does not have are None in the result: they are not judged. Levels and marks are
    converted once, here, to the canonical unit of their channel.
    """
    file = Path(path)
    try:
        with file.open("rb") as opened:
            data = opened.read(_LARGEST_BYTES + 1)  # a device may have no end
    except FileNotFoundError:
        raise UserError(f"{file}: there is no such engine profile.") from None
    except IsADirectoryError:
        raise UserError(f"{file}: is a folder, not an engine profile: name the TOML file in it.") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise UserError(f"{file}: the engine profile cannot be read: {reason}.") from None
    if len(data) > _LARGEST_BYTES:
        raise UserError(f"{file}: is larger than any engine profile: name a profile in TOML.")
    profile = parse(data, file_name=file.name, path=str(file))
    return replace(profile, namesake=_namesake_of(profile))


def parse(data: bytes, *, file_name: str = "profile", path: str = "") -> EngineProfile:
    """Return the engine profile in these bytes of a TOML file; see `load`."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ProfileError(file_name, line, "", "is not UTF-8 text: save it again as UTF-8.") from None
    long_key = _LONG_KEY.search(text)
    if long_key is not None:
        line = text.count("\n", 0, long_key.start()) + 1
        raise ProfileError(
            file_name,
            line,
            "",
            f"a key of more than {_MOST_PARTS} parts with points between them: no profile has it.",
        )
    try:
        tree = tomllib.loads(text)
        lines = key_lines(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(file_name, text, str(error)) from None
    except (RecursionError, ValueError):
        raise ProfileError(
            file_name, None, "", "is no TOML that can be read: nested too deeply, or a number too long."
        ) from None
    source = Source(file_name, tree, lines)
    profile = _read_profile(source, tree, hashlib.sha256(data).hexdigest(), path)
    return replace(profile, text=text.replace("\r\n", "\n"))


def find(name_or_path: str | os.PathLike[str]) -> EngineProfile:
    """Return the profile that a person names, by a path or by a name.

    Parameters
    ----------
    name_or_path : str or path
        What has a separator or the ending ``.toml`` is a path first, where there is such a file. Everything else is a
        name first (see `find_named`), so that nothing in the working folder can take the place of a profile.

    Raises
    ------
    UserError
        There is none (the sentence lists those that there are), or it is refused.
    """
    wanted = os.fspath(name_or_path)
    if not wanted.strip():
        raise UserError(f"An engine profile was asked for by an empty name. {_those_there_are()}")
    is_file = _is_file(wanted)
    is_path = not isinstance(name_or_path, str) or _looks_like_path(wanted) or wanted.endswith(".toml")
    if is_file and is_path:
        return load(wanted)
    profile = _named(wanted)
    if profile is None and is_file:
        return load(wanted)
    if profile is None:
        raise UserError(
            f'There is no engine profile "{wanted}": neither a file nor a name. {_those_there_are()}'
        )
    return profile


def find_named(name: str) -> EngineProfile:
    """Return the profile of this name, of those in the user's folder and those shipped; never any other file.

    Parameters
    ----------
    name : str
        The file name without its ending (``tarn-tg7``) or the `name` in the profile, as a recording may give it. No
        path is made of it. The user's own profiles go before the shipped ones.

    Raises
    ------
    UserError
        There is none, several have the name, it is a path, or it is refused.
    """
    profile = _named(name)
    if profile is not None:
        return profile
    if _looks_like_path(name):
        raise UserError(
            advised(
                "A recording may name a profile, not a file: {how}. {there}",
                how=PROFILE_FILE,
                there=_those_there_are(),
            )
        )
    raise UserError(f"There is no engine profile of that name. {_those_there_are()}")


def _named(wanted: str) -> EngineProfile | None:
    """Return the profile of this file name or `name`; of equal names the exact one, then the user's own."""
    wanted = wanted.strip()
    files = _files()
    stem = wanted.removesuffix(".toml")
    if stem in files:
        return load(files[stem])
    named = [profile for _, profile in catalogue() if same_name(profile.name, wanted)]
    exact = [profile for profile in named if profile.name == wanted]
    own = [profile for profile in exact or named if own_file(profile)]
    if len(own) > 1:
        both = " and ".join(own_file(profile) for profile in own)
        raise UserError(f'{both} both have the name "{own[0].name}": name the profile by its file instead.')
    return next(iter([*own, *exact, *named]), None)


def _is_file(wanted: str) -> bool:
    try:
        return Path(wanted).is_file()
    except (OSError, ValueError):
        return False  # no path at all: it may still be a name


def _looks_like_path(wanted: str) -> bool:
    """Return whether a text is written as a path, of this system or another, or as a URL."""
    return bool(re.match(r"~|[A-Za-z]:", wanted)) or any(mark in wanted for mark in "/\\\0")


def available() -> tuple[tuple[str, str], ...]:
    """Return (file name without ending, name) of the profiles that `find` finds and that are not refused."""
    return tuple((stem, profile.name) for stem, profile in catalogue())


def catalogue() -> tuple[tuple[str, EngineProfile], ...]:
    """Return (file name without ending, profile) of those that `find` finds and that are not refused."""
    out = []
    for stem, file in _files().items():
        try:
            out.append((stem, load(file)))
        except UserError:
            continue  # `find` of that very profile says what is wrong with it
    return tuple(out)


@cache
def _shipped() -> tuple[tuple[str, str, str], ...]:
    """Return file name without ending, name and SHA-256 of the shipped profiles."""
    read = ((file.stem, parse(file.read_bytes())) for file in sorted(resource("profiles").glob("*.toml")))
    return tuple((stem, profile.name, profile.sha256) for stem, profile in read)


def _namesake_of(profile: EngineProfile) -> str:
    """Return the name of the shipped profile for which this other one may be taken; empty where it is that, or none."""
    file = own_file(profile)
    if not file or any(sha256 == profile.sha256 for _, _, sha256 in _shipped()):
        return ""
    stem = Path(file).stem
    alike = (n for s, n, _ in _shipped() if same_name(s, stem) or same_name(n, profile.name))
    return next(alike, "")


def _files() -> dict[str, Path]:
    """Return the profiles' files by stem; the user's own hide shipped ones of the same stem."""
    found: dict[str, Path] = {}
    for folder in (home() / "profiles", resource("profiles")):
        for file in sorted(folder.glob("*.toml")):  # none where the folder is absent
            if file.is_file():
                found.setdefault(file.stem, file)
    return found


def _those_there_are() -> str:
    names = ", ".join(f"{stem} ({name})" for stem, name in available())
    return f"There are: {names}." if names else "There are none."


def _syntax_error(file_name: str, text: str, message: str) -> ProfileError:
    reason, _, place = message.removesuffix(")").rpartition(" (at ")
    numbers = re.fullmatch(r"line (\d+), column (\d+)", place)
    line = int(numbers[1]) if numbers else text.rstrip().count("\n") + 1
    column = f"column {numbers[2]}" if numbers else "at the end of the file"
    return ProfileError(file_name, line, "", f"is not correct TOML, {column}: {reason or message}.")


def _read_profile(source: Source, tree: dict[str, Any], sha256: str, path: str) -> EngineProfile:
    if "format" not in tree:
        source.refuse((), f'the line format = "{FORMAT}" is missing: this is not an engine profile.')
    if tree["format"] != FORMAT:
        source.refuse(("format",), f'this program reads format "{FORMAT}" only.')
    top = Table(source, (), tree, _TOP_KEYS)
    name = top.text("name")
    if name is None:
        source.refuse((), 'the key "name" is missing: a profile has a name, which every report prints.')
    approved = top.flag("approved_data") or False
    origin = top.text("source")
    if approved and origin is None:
        top.refuse("approved_data", 'approved data need the key "source": manual, revision and date.')
    reference_rpm, reference_torque = _read_engine(top.table("engine", ("reference_rpm", "reference_torque")))
    references = References(reference_rpm, reference_torque)
    return EngineProfile(
        name=name,
        revision=top.text("revision") or "",
        aircraft=top.text("aircraft") or "",
        source=origin or "",
        approved_data=approved,
        entered_by=top.text("entered_by") or "",
        entered_on=top.date("entered_on") or "",
        checked_by=top.text("checked_by") or "",
        checked_on=top.date("checked_on") or "",
        engines=top.texts("engines"),
        reference_rpm=MappingProxyType(reference_rpm),
        reference_torque=reference_torque,
        start=_read_start(top),
        starter=_read_starter(top),
        abort=_read_numbers(top, "abort", AbortRules),
        factors=_read_numbers(top, "factors", FactorRules),
        flight=_read_flight(top),
        shutdown=_read_numbers(top, "shutdown", ShutdownRules),
        life=_read_life(top),
        power_checks=read_power_checks(top, references),
        gauges=MappingProxyType(read_gauges(top.table("gauges", None), references)),
        limits=read_limits(top, references),
        max_rate=MappingProxyType(_read_max_rate(top.table("max_rate", None))),
        sha256=sha256,
        path=path,
        lines=MappingProxyType(source.all_lines()),
    )


def _read_engine(table: Table | None) -> tuple[dict[str, float], tuple[float, str] | None]:
    rpm: dict[str, float] = {}
    if table is None:
        return rpm, None
    speeds = table.table("reference_rpm", ("ng", "np"))
    if speeds is not None:
        rpm = {channel: speeds.needed_number(channel, above=0.0) for channel in speeds}
    torque = table.table("reference_torque", ("value", "unit"))
    if torque is None:
        return rpm, None
    full = torque.needed_number("value", above=0.0)
    given = torque.needed_text("unit")
    unit = torque_unit(given)
    if unit is None:
        torque.refuse("unit", f'"{given}" is not a unit of torque known here, such as "lbf ft" or "N m".')
    return rpm, (full, unit)


def _read_start(top: Table) -> StartRules:
    names = [field.name for field in fields(StartRules)]
    table = top.table("start", names)
    if table is None:
        return StartRules()
    values: dict[str, Any] = {}
    for name in names:
        if name in _START_CHOICES:
            values[name] = table.choice(name, _START_CHOICES[name])
        elif name in _ANY_SIGN:
            values[name] = table.number(name)
        elif name in _START_POSITIVE:
            values[name] = table.number(name, above=0.0)
        else:
            values[name] = table.number(name, least=0.0)
    rules = StartRules(**values)
    idle = rules.idle_ng_pct
    for name in ("min_fuel_ng_pct", "advised_fuel_ng_pct", "stopped_ng_pct"):
        value = values[name]
        if idle is not None and value is not None and value >= idle:
            table.refuse(name, f"is {value:g}, must be below idle Ng, {idle:g}.")
    low, advised = rules.min_fuel_ng_pct, rules.advised_fuel_ng_pct
    if low is not None and advised is not None and advised < low:
        table.refuse(
            "advised_fuel_ng_pct", f"is {advised:g}, must not be below the least Ng for fuel, {low:g}."
        )
    return rules


def _read_starter(top: Table) -> StarterRules:
    table = top.table("starter", ("duty", "external_duty", "reset_after_s", "reset_counts"))
    if table is None:
        return StarterRules()
    counts = table.choice("reset_counts", ("rest", "successful_start")) or "rest"
    return StarterRules(
        duty=_read_duty(table, "duty"),
        external_duty=_read_duty(table, "external_duty"),
        reset_after_s=table.number("reset_after_s", above=0.0),
        reset_counts=cast(Literal["rest", "successful_start"], counts),
    )


def _read_duty(table: Table, key: str) -> tuple[DutyRow, ...]:
    rows = table.tables(key, ("run_s", "rest_s"))
    if key in table and not rows:
        table.refuse(
            key, "is empty: give at least one row {run_s = ..., rest_s = ...}, or leave the key out."
        )
    return tuple(
        DutyRow(row.needed_number("run_s", above=0.0), row.needed_number("rest_s", least=0.0)) for row in rows
    )


def _read_numbers(top: Table, key: str, rules: type[_Rules]) -> _Rules:
    names = [field.name for field in fields(rules)]
    table = top.table(key, names)
    if table is None:
        return rules()
    return rules(**{name: table.number(name, least=None if name in _ANY_SIGN else 0.0) for name in names})


def _read_flight(top: Table) -> FlightRules:
    table = top.table("flight", [field.name for field in fields(FlightRules)])
    if table is None:
        return FlightRules()
    gate = table.number("flight_gate_power_lever_pct", least=0.0)
    reverse = table.number("reverse_gate_power_lever_pct", least=0.0)
    if gate is not None and reverse is not None and reverse >= gate:
        table.refuse(
            "reverse_gate_power_lever_pct",
            f"is {reverse:g}, must be below the flight gate, {gate:g}: beta lies between them.",
        )
    bands = tuple(table.pairs("avoided_np_rpm"))
    if "avoided_np_rpm" in table and not bands:
        table.refuse("avoided_np_rpm", "is empty: give a band such as [500, 900], or leave the key out.")
    for index, (low, high) in enumerate(bands):
        path = (*table.path, "avoided_np_rpm", index)
        if low < 0 or high <= low:
            table.source.refuse(
                path, f"must rise from 0 or more, such as [500, 900], not {low:g} to {high:g}."
            )
        if index and low <= bands[index - 1][1]:
            table.source.refuse(path, "must lie above the band before it: bands rise and do not touch.")
    return FlightRules(
        table.number("airborne_ias_kt", least=0.0),
        gate,
        reverse,
        bands or None,
        oat_is=cast(OatIs | None, table.choice("oat_is", OAT_IS)),
    )


def _read_life(top: Table) -> LifeRules:
    table = top.table("life", [field.name for field in fields(LifeRules)])
    if table is None:
        return LifeRules()
    factor = table.number("cycle_factor", least=0.0)
    if factor is not None and factor > 1:
        table.refuse(
            "cycle_factor",
            f"is {factor:g}, must not be more than 1: it is the part of a cycle that a further take-off counts.",
        )
    return LifeRules(
        factor,
        table.number("reference_itt_c", above=0.0),
        table.number("larson_miller_c", above=0.0),
        table.number("reference_life_h", above=0.0),
    )


def _read_max_rate(table: Table | None) -> dict[str, float]:
    rates: dict[str, float] = {}
    if table is None:
        return rates
    for channel in table:
        check_channel(table, channel, channel)
        if CANONICAL[channel].startswith("0/1"):
            table.refuse(channel, "is an on/off channel: it has no rate.")
        rates[channel] = table.needed_number(channel, above=0.0)
    return rates
