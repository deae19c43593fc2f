"""Which channel a column's name means, by the lexicon of trade names, with how sure that is."""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from debrief.resources import resource
from debrief.words.channels import CANONICAL, DISCRETE, ENGINE_CHANNELS, JOINABLE, base_name
from debrief.words.units import QUANTITIES, Unit, find_unit
from debrief.words.visible import without_symbols

SURE, LIKELY, WEAK = 0.95, 0.8, 0.5
ACCEPTED = 0.7
LONG_NAME = 6
"""Letters from which on a name counts as part of a longer one."""
"""From this confidence on a column is matched without asking."""

_FILLERS = frozenset(
    ["engine", "eng", "sensor", "value", "val", "signal", "reading", "measured", "indicated", "actual", "act",
     "data", "avg", "mean", "recorded", "the", "main", "ist", "istwert", "messwert"]
)  # fmt: skip
_PROBE_WORDS = frozenset(
    ["probe", "probes", "tc", "thermocouple", "sonde", "fühler", "fuehler", "messstelle", "harness", "no", "nr", "channel",
     "ch", "kanal", "point"]
)  # fmt: skip
"""Words with which a number is that of a probe."""
_PROBE = re.compile(r"^(?:probe|tc|sonde|ch|kanal)(\d{1,2})$")
_PLAIN_PROBE = re.compile(r"^(.*[a-zäöü])?(\d{1,2})$")
_STATES = frozenset(
    ["on", "run", "open", "active", "engaged", "state", "status", "discrete", "flag", "bit", "switch", "sw"]
)
"""Last words of a switch's name, which tell nothing more."""
_STATE_COST = 0.1
_SAME = {
    "spd": "speed", "sw": "switch", "swt": "switch", "ang": "angle", "posn": "position", "pos": "position",
    "pressure": "press", "prs": "press", "pres": "press", "temperature": "temp", "tmp": "temp", "volt": "volts",
    "voltage": "volts", "amp": "amps", "ampere": "amps", "amperes": "amps", "lvr": "lever", "generator": "gen",
    "battery": "batt", "bat": "batt", "propeller": "prop", "external": "ext", "pwr": "power", "gnd": "ground",
    "grnd": "ground", "altitude": "alt", "wnd": "wind", "direction": "dir", "ignition": "ign",
    "condition": "cond", "indicated": "ind", "tq": "torque", "trq": "torque", "torq": "torque",
    "magnetic": "mag", "outlet": "out", "exit": "out", "inertial": "inert", "separator": "sep",
}  # fmt: skip
"""Abbreviations of one word, brought to one form on both sides."""
_ENGINE_LETTERS = {"l": 1, "r": 2}
_ENGINE_WORDS = {
    "left": 1, "lh": 1, "lhs": 1, "lt": 1, "lft": 1, "port": 1,
    "right": 2, "rh": 2, "rhs": 2, "rt": 2, "rgt": 2, "starboard": 2, "stbd": 2,
}  # fmt: skip
_ORDINALS = {"1st": 1, "first": 1, "2nd": 2, "second": 2, "3rd": 3, "third": 3, "4th": 4, "fourth": 4}
_AFTER_PREFIX = {
    "1": 1, "2": 2, "3": 3, "4": 4, "one": 1, "two": 2, "three": 3, "four": 4, "i": 1, "ii": 2, "iii": 3, "iv": 4,
    "a": 1, "b": 2, "l": 1, "r": 2,
}  # fmt: skip
"""What numbers an engine where the word before it says that it is one."""
_ENGINE_PREFIX = re.compile(r"^(?:e|eng|engine|no|nr|number|triebwerk|tw|moteur|motore)$")
_NUMBER_WORDS = frozenset(["no", "nr", "number"])
_ENGINE_NAMES = frozenset(["engine", "eng", "triebwerk", "tw", "moteur", "motore"])
_GLUED = re.compile(r"^(?:e|eng|engine|no|nr|tw)([1-4])$")
_SIDE_AT_END = re.compile(r"^([a-z]{1,3}\d?)([lr])$")
"""A side behind a short sign of capitals only, such as ``N1R``; it counts where the rest is a sign of the trade."""
_BRACKETED = re.compile(r"^(.*?)\s*[\[({<]\s*([^\[\](){}<>]*?)\s*[\])}>]\s*(.*)$")
_BETWEEN = re.compile(r"[\W_]+")
_SPACES = re.compile(r"[\s_]+")
_SIGN_AT_END = re.compile(r"^(.*\w)\s*(%|°C|°F)$")
_NUMBER_AT_END = re.compile(r"^(.*[a-z])([1-4])$")
_CAMEL = re.compile(r"(?<=[a-zäöü])(?=[A-ZÄÖÜ])|(?<=[A-Z])(?=[A-Z][a-z])")


@dataclass(frozen=True)
class Words:
    """Words that stand for the states 1, 0 and 2 of a channel, in lower case."""

    on: frozenset[str] = frozenset()
    off: frozenset[str] = frozenset()
    two: frozenset[str] = frozenset()

    def state(self, text: str) -> float | None:
        """Return the state that a cell's word stands for, or None."""
        folded = " ".join(text.split()).casefold()
        if folded in self.two:
            return 2.0
        return 1.0 if folded in self.on else 0.0 if folded in self.off else None


@dataclass(frozen=True)
class Entry:
    """What the lexicon says of one channel."""

    names: Mapping[str, float]
    """Squeezed name to confidence."""
    highest: Mapping[str, tuple[float, float]]
    """Per unit the range in which a running recording's highest value lies."""
    with_unit: frozenset[str]
    """Squeezed names that are sure where a unit of the channel's quantity is told."""
    signs: Mapping[str, str]
    """Squeezed name to the trade's sign that it is, where that is another than the channel's own."""


@dataclass(frozen=True)
class Lexicon:
    """The lexicon file, ready to be searched."""

    channels: Mapping[str, Entry]
    holders: Mapping[str, tuple[str, ...]]
    """Squeezed name to the channels whose entry holds it."""
    time: Mapping[str, float]
    date: Mapping[str, float]
    date_of_file: frozenset[str]
    """Squeezed names under which a preamble tells the date."""
    months: tuple[tuple[str, ...], ...]
    """Names of each month, from January on."""
    utc_offset: Mapping[str, float]
    identity: Mapping[str, frozenset[str]]
    words: Mapping[str, Words]
    not_measured: frozenset[str]
    """Words, and pairs of words with a blank, of a name that tells what was wanted or allowed."""
    not_measured_last: frozenset[str]
    """Those that say so at the end of a name only."""

    def known_as(self, *keys: str) -> list[str]:
        """Return the channels of which an entry holds one of these squeezed names, in the lexicon's order."""
        found = {channel for key in keys for channel in self.holders.get(key, ())}
        return [channel for channel in self.channels if channel in found] if len(found) > 1 else list(found)

    def words_for(self, channel: str | None) -> Words:
        """Return the state words of a channel, with its own first; the common ones for None."""
        return self.words.get(channel or "") or self.words[""]


@dataclass(frozen=True)
class NameMatch:
    """A reading of a column's name: channel, engine number (None where the name has none), unit, confidence."""

    channel: str
    engine: int | None
    confidence: float
    unit: Unit | None
    plain_number: bool = False
    """Whether the number is a bare one, which may also number the probes of one engine."""
    probe: int | None = None
    """The number of a probe, where the name has one that is surely no engine's."""
    sign: str = ""
    """The trade's sign that the name is (EGT), where that is another than the channel's own (ITT)."""

    @property
    def unit_fits(self) -> bool:
        """Whether the unit, if there is one, can be that of the channel."""
        return _fits(self.unit, self.channel)


def _fits(unit: Unit | None, channel: str) -> bool:
    return unit is None or unit.quantity in QUANTITIES[channel]


def squeeze(text: str) -> str:
    """Return a name without case, spaces, points, dashes and underscores."""
    return _BETWEEN.sub("", without_symbols(text).casefold())


def _unified(tokens: list[str]) -> str:
    return "".join(_SAME.get(token, token) for token in tokens)


@cache
def load() -> Lexicon:
    """Return the shipped lexicon."""
    with resource("lexicon.toml").open("rb") as stream:
        raw = tomllib.load(stream)
    channels = {name: _entry(table) for name, table in raw["channels"].items()}
    holders: dict[str, list[str]] = {}
    for channel, entry in channels.items():
        for key in dict.fromkeys((*entry.names, *entry.with_unit)):
            holders.setdefault(key, []).append(channel)
    return Lexicon(
        channels=MappingProxyType(channels),
        holders=MappingProxyType({key: tuple(names) for key, names in holders.items()}),
        time=_names(raw["time"]),
        date=_names(raw["date"]),
        date_of_file=frozenset(map(squeeze, (*raw["date"]["sure"], *raw["date"]["of_file"]))),
        months=tuple(map(tuple, raw["months"]["names"])),
        utc_offset=_names(raw["utc_offset"]),
        identity=MappingProxyType(
            {key: frozenset(map(squeeze, names)) for key, names in raw["identity"].items()}
        ),
        words=_words(raw["words"]),
        not_measured=frozenset(raw["not_measured"]["words"]),
        not_measured_last=frozenset(raw["not_measured"]["last"]),
    )


def _names(table: Mapping[str, list[str]]) -> Mapping[str, float]:
    out: dict[str, float] = {}
    for key, confidence in (("weak", WEAK), ("likely", LIKELY), ("sure", SURE)):
        for name in table.get(key, ()):
            out[squeeze(name)] = confidence
            out.setdefault(_unified(_tokens(name)), confidence)
    return MappingProxyType(out)


def _entry(table: Mapping[str, object]) -> Entry:
    ranges = table.get("max", {})
    assert isinstance(ranges, dict)
    return Entry(
        names=_names(table),  # type: ignore[arg-type]
        highest=MappingProxyType({unit: (float(low), float(high)) for unit, (low, high) in ranges.items()}),
        with_unit=frozenset(_unified(_tokens(name)) for name in table.get("with_unit", ())),  # type: ignore[attr-defined]
        signs=MappingProxyType(
            {
                key: sign
                for sign, names in table.get("signs", {}).items()  # type: ignore[attr-defined]
                for name in (sign, *names)
                for key in (squeeze(name), _unified(_tokens(name)))
            }
        ),
    )


def _words(table: Mapping[str, object]) -> Mapping[str, Words]:
    def fold(words: object) -> frozenset[str]:
        assert isinstance(words, list)
        return frozenset(word.casefold() for word in words)

    on, off = fold(table["on"]), fold(table["off"])
    # A single letter says yes or no only where a state is expected, not in any column of letters.
    long_on, long_off = (frozenset(word for word in words if len(word) > 1) for words in (on, off))
    out = {"": Words(long_on, long_off)}
    for channel in DISCRETE:
        out[channel] = Words(on, off)
    channels = table.get("channels", {})
    assert isinstance(channels, dict)
    for channel, own in channels.items():
        own_on, own_off, two = fold(own.get("on", [])), fold(own.get("off", [])), fold(own.get("two", []))
        out[channel] = Words((on - own_off - two) | own_on, (off - own_on - two) | own_off, two)
    return MappingProxyType(out)


@lru_cache(maxsize=4096)
def split_unit(name: str) -> tuple[tuple[str, str], ...]:
    """Return the ways to split a header into name and unit text, the most explicit first.

    Examples
    --------
    >>> split_unit("ITT (degF)")
    (('ITT', 'degF'),)
    >>> split_unit("P_Oil_psi")
    (('P_Oil_psi', ''), ('P_Oil', 'psi'))
    """
    text = " ".join(without_symbols(name).split())
    bracket = _BRACKETED.match(text)
    if bracket and bracket.group(1):
        before, unit, after = bracket.groups()
        if find_unit(unit) is not None:
            return ((f"{before} {after}".strip(" _-"), unit),)
        words, _, tail = unit.rpartition(" ")
        if words and find_unit(tail) is not None:
            return ((f"{before} {words} {after}".strip(" _-"), tail),)
    out = [(text, "")]
    for separator in (",", "/", ";", ":", " in ", "-"):
        left, found, right = text.rpartition(separator)
        if found and left.strip() and find_unit(right) is not None:
            out.append((left.strip(), right.strip()))
    for spaced in (text, _CAMEL.sub(" ", text)):
        words = [word for word in _SPACES.split(spaced) if word]
        for count in (1, 2):
            tail = " ".join(words[-count:])
            if len(words) > count and find_unit(tail) is not None:
                out.append((spaced[: _tail_start(spaced, words[-count:])].rstrip(" _"), tail))
    glued = _SIGN_AT_END.match(text)
    if glued:
        out.append((glued.group(1), glued.group(2)))
    return tuple(dict.fromkeys(out))


def _tail_start(text: str, words: list[str]) -> int:
    at = len(text)
    for word in reversed(words):
        at = text.rfind(word, 0, at)
    return at


def _tokens(name: str) -> list[str]:
    spaced = _CAMEL.sub(" ", without_symbols(name))
    return [token for token in _BETWEEN.split(spaced.casefold()) if token]


@lru_cache(maxsize=4096)
def wanted_word(name: str) -> str:
    """Return the word by which a name tells a set point, target, limit or command; empty for a measurement.

    Examples
    --------
    >>> wanted_word("RPM (setpoint)"), wanted_word("N1_Target"), wanted_word("N1 target gap [%]")
    ('setpoint', 'target', 'target')
    >>> wanted_word("Torque set [%]"), wanted_word("Settling time"), wanted_word("TGT")
    ('set', '', '')
    """
    lexicon = load()
    tokens = _tokens(split_unit(name)[0][0])
    pairs = [" ".join(pair) for pair in itertools.pairwise(tokens)]
    for word in (*tokens, *pairs):
        if word in lexicon.not_measured and (len(tokens) > 1 or word == tokens[0]):
            return word
    for base, _ in split_unit(name):
        tail = _tokens(base)
        while len(tail) > 2 and _is_probe_number(tail[-1]):
            tail.pop()  # of the engine or the probe
        for word in (" ".join(tail[-2:]), *tail[-1:], *tail[:1]):
            if len(tail) > 1 and word in lexicon.not_measured_last:
                return word
    return ""


def measured_name(name: str) -> str:
    """Return a name without the words that tell a set point, target, limit or command."""
    told = load().not_measured | load().not_measured_last
    words = {word for phrase in told for word in phrase.split()}
    return " ".join(token for token in _tokens(name) if token not in words)


MAX_TOKENS = 24
"""In a name of more words none is an engine's number: there are too many ways to read it."""


def _engine_readings(tokens: list[str]) -> list[tuple[list[str], int | None, bool]]:
    """Return the tokens with each possible engine number taken out: (tokens, number, bare number)."""
    out: list[tuple[list[str], int | None, bool]] = [(tokens, None, False)]
    if len(tokens) > MAX_TOKENS:
        return out
    for index, token in enumerate(tokens):
        rest = tokens[:index] + tokens[index + 1 :]
        if not rest:
            continue
        glued = _GLUED.match(token)
        if token in _ENGINE_WORDS:
            out.append((rest, _ENGINE_WORDS[token], False))
        elif glued:
            out.append((rest, int(glued.group(1)), False))
        elif token in _AFTER_PREFIX and index > 0 and _ENGINE_PREFIX.match(tokens[index - 1]):
            # "No. 2" alone may number a probe; "No. 2 engine" does not.
            bare = tokens[index - 1] in _NUMBER_WORDS and not _ENGINE_NAMES.intersection(rest)
            out.append((tokens[: index - 1] + tokens[index + 1 :], _AFTER_PREFIX[token], bare))
        elif token in _ENGINE_LETTERS and (index == 0 or _STATES.issuperset(tokens[index + 1 :])):
            out.append((rest, _ENGINE_LETTERS[token], True))
        elif token in ("1", "2", "3", "4"):
            out.append((rest, int(token), True))
        elif token in _ORDINALS:
            out.append((rest, _ORDINALS[token], True))
    last = tokens[-1] if tokens else ""
    match = _NUMBER_AT_END.match(last)
    if match:
        out.append(([*tokens[:-1], match.group(1)], int(match.group(2)), True))
    side = _SIDE_AT_END.match(last)
    if side and _is_usual_sign(side.group(1)):
        out.append(([*tokens[:-1], side.group(1)], _ENGINE_LETTERS[side.group(2)], True))
    return out


def _numbered_readings(tokens: list[str]) -> Iterator[tuple[list[str], int | None, bool, int | None]]:
    """Yield the readings of `_engine_readings`, and then those in which another number is that of a probe."""
    readings = _engine_readings(tokens)
    yield from ((rest, engine, bare, None) for rest, engine, bare in readings)
    for rest, engine, bare in readings:
        if engine is None or not bare:
            for left, probe in _probe_readings(rest, engine is not None):
                yield left, engine, False, probe


def _probe_readings(tokens: list[str], is_of_engine: bool) -> list[tuple[list[str], int]]:
    """Return the tokens with each possible probe's number taken out: "EGT TC3", and "EGT 3" where the engine is known."""
    out: list[tuple[list[str], int]] = []
    for index, token in enumerate(tokens):
        glued = _PROBE.match(token)
        if glued:
            out.append((tokens[:index] + tokens[index + 1 :], int(glued.group(1))))
        elif token in _PROBE_WORDS and index + 1 < len(tokens) and _is_probe_number(tokens[index + 1]):
            out.append((tokens[:index] + tokens[index + 2 :], int(tokens[index + 1])))
    if not out and is_of_engine and tokens:
        plain = _PLAIN_PROBE.match(tokens[-1])
        if plain:
            out.append(([*tokens[:-1], *filter(None, [plain.group(1)])], int(plain.group(2))))
    return [(rest, number) for rest, number in out if rest]


def _is_probe_number(token: str) -> bool:
    return token.isascii() and token.isdigit() and len(token) <= 2


def _is_usual_sign(token: str) -> bool:
    """Whether a short token is the usual name of something that each engine has."""
    lexicon = load()
    return any(
        lexicon.channels[channel].names.get(token, 0.0) >= LIKELY and channel in ENGINE_CHANNELS
        for channel in lexicon.known_as(token)
    )


def own_name(name: str) -> tuple[str, int | None] | None:
    """Return the channel and the engine of a header in the program's own words; None for any other.

    Examples
    --------
    >>> own_name("itt"), own_name("itt.2"), own_name("ng_rh"), own_name("ITT 2"), own_name("bus_volts")
    (('itt', None), ('itt', 2), ('ng', 2), None, ('bus_volts', None))
    """
    base, point, number = name.partition(".")
    if base in CANONICAL and (not point or (base in ENGINE_CHANNELS and number in ("1", "2", "3", "4"))):
        return base, int(number) if point else None
    base, underscore, side = name.rpartition("_")
    number_ = {**_ENGINE_WORDS, **_ENGINE_LETTERS, "1": 1, "2": 2, "3": 3, "4": 4}.get(side)
    return (base, number_) if underscore and base in ENGINE_CHANNELS and number_ else None


@lru_cache(maxsize=4096)
def match_name(name: str, units_cell: str = "") -> tuple[NameMatch, ...]:
    """Return every channel that a column's name may mean, best first.

    Parameters
    ----------
    name : str
        Header of the column.
    units_cell : str
        What the units row says for it; it takes precedence over a unit in the header.

    Notes
    -----
    The whole name is tried, then without a trailing unit, an engine number, and filler words such as
    "engine" or "sensor" (which costs a little confidence). Confidence is that of the name; a unit that
    cannot belong to the channel shows in `NameMatch.unit_fits`. A name that tells a set point, target, limit
    or command means no measured channel; a state may be known by its command.
    """
    lexicon = load()
    own = own_name(name)
    if own is not None and "." in name:
        return (NameMatch(*own, SURE, find_unit(units_cell) if units_cell.strip() else None),)
    found: dict[tuple[str, int | None], NameMatch] = {}
    wanted = bool(wanted_word(name))
    row_unit = find_unit(units_cell) if units_cell.strip() else None
    for base, unit_text in _sides_in_brackets(split_unit(name)):
        unit = row_unit or (find_unit(unit_text) if unit_text else None)
        for tokens, number, bare, probe in _numbered_readings(_tokens(base)):
            for cost, reduced in _reductions(tokens):
                key, unified = "".join(reduced), _unified(reduced)
                for channel in lexicon.known_as(key, unified):
                    entry = lexicon.channels[channel]
                    if wanted and channel not in DISCRETE:
                        continue
                    if probe is not None and channel not in JOINABLE:
                        continue
                    if cost == _STATE_COST and channel not in DISCRETE:
                        continue
                    confidence = entry.names.get(key) or entry.names.get(unified)
                    if (
                        unit is not None
                        and unified in entry.with_unit
                        and unit.quantity in QUANTITIES[channel]
                    ):
                        confidence = SURE
                    if confidence is None:
                        continue
                    engine = number
                    confidence -= cost
                    if number is not None and channel not in ENGINE_CHANNELS:
                        # "Volts 2" is a second bus, not a second engine; which one is meant must be asked.
                        engine, confidence = None, min(confidence, WEAK)
                    best = found.get((channel, engine))
                    if best is not None and best.unit_fits and not _fits(unit, channel):
                        continue
                    if (
                        best is None
                        or confidence > best.confidence
                        or (confidence == best.confidence and best.unit is None and unit is not None)
                        or (not best.unit_fits and _fits(unit, channel))
                    ):
                        sign = entry.signs.get(key) or entry.signs.get(unified) or ""
                        found[channel, engine] = NameMatch(
                            channel, engine, confidence, unit, bare, probe, sign
                        )
    fitting = {match.channel for match in found.values() if match.unit_fits and match.confidence >= ACCEPTED}
    found = {key: match for key, match in found.items() if match.unit_fits or match.channel not in fitting}
    return tuple(sorted(found.values(), key=_surest_first))


def own_sign(channel: str, names: Iterable[str]) -> str:
    """Return the sign by which columns call their channel, where it is another than the usual one and they agree.

    Examples
    --------
    >>> own_sign("itt", ["ENG1_EGT (°C)"]), own_sign("itt", ["ITT"]), own_sign("itt", ["EGT 1", "TIT 2"])
    ('EGT', '', '')
    """
    base = base_name(channel)
    signs = {next((match.sign for match in match_name(name) if match.channel == base), "") for name in names}
    return signs.pop() if len(signs) == 1 else ""


def _surest_first(match: NameMatch) -> tuple[bool, float, bool, int]:
    return not match.unit_fits, -match.confidence, match.engine is None, match.engine or 0


def _sides_in_brackets(ways: tuple[tuple[str, str], ...]) -> list[tuple[str, str]]:
    """Return the ways to split a name, with that in which a bracketed L is a side and no litre."""
    sides = [(f"{base} {unit}", "") for base, unit in ways if unit.casefold() in _ENGINE_LETTERS]
    return [*sides, *ways]


def _reductions(tokens: list[str]) -> list[tuple[float, list[str]]]:
    out = [(0.0, tokens)]
    short = [token for token in tokens if token not in _FILLERS]
    if short and short != tokens:
        out.append((0.05, short))
    if len(short) > 1 and short[-1] in _STATES:
        out.append((_STATE_COST, short[:-1]))
    return out


_CORE = ("ng", "np", "itt", "torque")
"""Channels that are looked for in longer names by all names that are usually theirs."""


@cache
def _sure_keys() -> tuple[tuple[tuple[str, str], ...], dict[str, str]]:
    """Return the sure names of six letters and more, and those of two and more, each with its channel.

    The core channels' likely names count, too, where no other channel has them.
    """
    keys: dict[str, str] = {}
    for least in (SURE, LIKELY):
        for channel, entry in load().channels.items():
            if least == SURE or channel in _CORE:
                for key, confidence in entry.names.items():
                    if confidence >= least and len(key) >= 2:
                        keys.setdefault(key, channel)
    return tuple((key, channel) for key, channel in keys.items() if len(key) >= LONG_NAME), keys


def partial_matches(name: str) -> list[tuple[str, float]]:
    """Return channels whose name is part of a longer column name, with a low confidence; for questions."""
    if wanted_word(name):
        return []
    tokens = set(_tokens(split_unit(name)[-1][0]))
    words = tokens - _FILLERS
    parts = _tokens(name)
    joined, unified = "".join(parts), _unified(parts)
    out: dict[str, float] = {}
    long, any_length = _sure_keys()
    hits = [
        (key, channel)
        for key, channel in long
        if len(joined) >= LONG_NAME and (key in joined or key in unified)
    ]
    hits += [(word, any_length[word]) for word in words if word in any_length]
    for key, channel in hits:
        out[channel] = max(out.get(channel, 0.0), 0.3 * min(1.0, 0.5 + len(key) / max(len(joined), 1)))
    return sorted(out.items(), key=lambda item: -item[1])
