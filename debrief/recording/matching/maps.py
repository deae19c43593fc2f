"""What a person says about columns: ``itt=Temp 3:degF``, ``time=#1``, ``ng.2=N1 R``, ``none=Spare``.

Several probes of one temperature are one map each, ``itt.mean=EGT 1`` and ``itt.mean=EGT 2``, or ``itt.highest``: the way
stands with the channel, before the first equals sign, where no column's name can be taken for it.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from debrief.errors import UserError
from debrief.recording.csv.dialect import column_name
from debrief.recording.lexicon import split_unit, squeeze
from debrief.words.channels import CANONICAL, ENGINE_CHANNELS, JOINABLE, JOINED, joined_way
from debrief.words.units import QUANTITIES, Unit, find_unit

MAX_NAME = 40
MAX_NAMED = 30
NOT_USED = "none"
"""Stands in the place of a channel for a column that is used for none."""


@dataclass(frozen=True)
class ColumnMap:
    """One map: `channel` (or ``time``) is read from column number `column`, from 0, in `unit` if one is given.

    The channel `NOT_USED` says that the column is used for none and is not to be asked about. With `joined`, ``mean``
    or ``highest``, the column is one of several probes that the channel is made of.
    """

    channel: str
    column: int
    unit: Unit | None
    text: str
    source: str = "option"
    joined: str = ""


def parse_maps(maps: Sequence[str], names: Sequence[str], source: str = "option") -> list[ColumnMap]:
    """Return the maps with their columns found.

    Parameters
    ----------
    maps : sequence of str
        ``CHANNEL=COLUMN`` or ``CHANNEL=COLUMN:UNIT``: split at the first ``=``, and at the last ``:`` only if
        a known unit follows; ``#3`` is the third column. ``none=COLUMN`` says that a column is not used, of
        as many columns as wanted; ``itt.mean=COLUMN`` or ``itt.highest=COLUMN``, of two and more, that they are its probes.
    names : sequence of str
        The file's columns in order.
    source : str
        ``option`` or ``remembered``, kept with the channel.

    Raises
    ------
    UserError
        No ``=``, an unknown channel, an unknown column, a unit that cannot belong to the channel, a channel
        or a column named twice.
    """
    out: list[ColumnMap] = []
    for text in maps:
        channel, equals, right = text.partition("=")
        channel = channel.strip().lower()
        if not equals or not right.strip():
            raise UserError(f'The map "{text}" has no column: write CHANNEL=COLUMN or CHANNEL=COLUMN:UNIT.')
        channel, joined = joined_way(channel)
        channel = _known_channel(channel, text)
        if joined and channel.partition(".")[0] not in JOINABLE:
            raise UserError(
                f'The map "{text}": several probes make one temperature only, which are {", ".join(sorted(JOINABLE))}.'
            )
        column, unit = _column(right.strip(), names, text)
        if channel == NOT_USED and unit is not None:
            raise UserError(f'The map "{text}" says that a column is not used, so it takes no unit.')
        if unit is not None:
            quantities = {"time"} if channel == "time" else QUANTITIES[channel.partition(".")[0]]
            if unit.quantity not in quantities:
                raise UserError(
                    f'The map "{text}" reads {channel} in {unit.name}, which measures {unit.quantity}, not '
                    f"{' or '.join(sorted(quantities))}."
                )
        for other in out:
            if other.channel == channel != NOT_USED and (not joined or joined != other.joined):
                raise UserError(f'The maps "{other.text}" and "{text}" name the channel {channel} twice.')
            if other.column == column and joined and other.channel == channel:
                raise UserError(f'The maps "{other.text}" and "{text}" name one probe twice.')
            if other.column == column and other.channel != channel:
                if NOT_USED in (other.channel, channel):
                    raise UserError(
                        f'The maps "{other.text}" and "{text}" say of one column that it is used and that it is not.'
                    )
                raise UserError(f'The maps "{other.text}" and "{text}" name one column for two channels.')
        out.append(ColumnMap(channel, column, unit, text, source, joined))
    for one in out:
        if one.joined and sum(other.channel == one.channel for other in out) == 1:
            raise UserError(
                f'The map "{one.text}" names a single probe: give each of them, or {one.channel} alone for this one.'
            )
    return out


def _known_channel(channel: str, text: str) -> str:
    base, point, number = channel.partition(".")
    if channel in ("time", NOT_USED):
        return channel
    if base not in CANONICAL:
        near = difflib.get_close_matches(base, [*CANONICAL, "time"], n=1)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise UserError(
            f'The map "{text}" names an unknown channel "{channel}".{hint} Channels: time, {", ".join(CANONICAL)}; '
            "none for a column that is not used."
        )
    if not point:
        return channel
    if base not in ENGINE_CHANNELS:
        raise UserError(
            f'The map "{text}": {base} belongs to no single engine, so it takes no engine number.'
        )
    if number not in ("1", "2", "3", "4"):
        ways = f", or {' or '.join(JOINED)} for its probes" if base in JOINABLE else ""
        raise UserError(f'The map "{text}": after the point stands the engine number, 1 to 4{ways}.')
    return base if number == "1" else channel


def _column(right: str, names: Sequence[str], text: str) -> tuple[int, Unit | None]:
    left, colon, last = right.rpartition(":")
    unit = find_unit(last) if colon and left.strip() else None
    if unit is not None:
        found = find_column(left.strip(), names, text)
        if found is not None:
            return found, unit
    found = find_column(right, names, text)
    if found is not None:
        return found, None
    wanted = left.strip() if unit is not None else right
    raise UserError(f'The map "{text}": there is no column "{wanted}". {columns_told(names, wanted)}')


def columns_told(names: Sequence[str], wanted: str = "") -> str:
    """Return a sentence that names the columns there are, those like the wanted one first."""
    shown = [name for name in names if name]
    close = difflib.get_close_matches(wanted, shown, n=3, cutoff=0.5) if wanted else []
    ordered = list(dict.fromkeys([*close, *shown]))
    tail = f" and {len(ordered) - MAX_NAMED} more" if len(ordered) > MAX_NAMED else ""
    named = [name if len(name) <= MAX_NAME else f"{name[:MAX_NAME]} [...]" for name in ordered[:MAX_NAMED]]
    return "Columns: " + ", ".join(named) + tail + "."


def find_column(wanted: str, names: Sequence[str], text: str) -> int | None:
    """Return the number, from 0, of the column that is meant; None where there is none.

    A name may be given as the file has it or as it is shown. The exact name comes first, then ``#3``, then any case, then the name without its unit; each must fit
    one column only.

    Raises
    ------
    UserError
        Several columns fit.
    """
    wanted = column_name(wanted)
    for key in (lambda name: name, lambda name: " ".join(name.split()).casefold()):
        fits = [i for i, name in enumerate(names) if key(name) == key(wanted)]
        if len(fits) == 1:
            return fits[0]
        if fits:
            places = ", ".join(f"#{i + 1}" for i in fits)
            raise UserError(
                f'The map "{text}": several columns are called "{wanted}": say which by {places}.'
            )
    if wanted.startswith("#") and wanted[1:].isdigit():
        number = int(wanted[1:])
        if not 1 <= number <= len(names):
            raise UserError(
                f'The map "{text}": there is no column {wanted}; the file has {len(names)} columns.'
            )
        return number - 1
    for squeezed in (False, True):
        fits = [
            i
            for i, name in enumerate(names)
            if any(
                (squeeze(base) == squeeze(wanted) if squeezed else base.casefold() == wanted.casefold())
                for base, _ in split_unit(name)
            )
        ]
        if len(fits) == 1 and squeeze(wanted):
            return fits[0]
    return None


def as_option(channel: str, name: str, number: int, unit: str = "", *, unique: bool = True) -> str:
    """Return the option that settles a column: ``--map itt="Temp 3:degF"``.

    A name that cannot be told apart, or that a shell would not pass on, is given by its number.
    """
    plain = unique and name and not any(c in name for c in '"$`\\!\n') and not name.startswith("#")
    column = name if plain else f"#{number + 1}"
    value = f"{column}:{unit}" if unit else column
    return f'--map {channel}="{value}"'
