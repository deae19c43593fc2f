"""What every reported number means: the entries of ``resources/definitions.md`` as values.

The page is the one source of titles and of the words for "why?", on screen and on paper. It is read once,
when the first entry is asked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from debrief.resources import resource
from debrief.words.channels import USUAL_NAMES, ChannelNames
from debrief.words.numbers import unit_words

PAGE = "definitions.md"
MEASURE = "measure"
GROUPS: Mapping[str, str] = MappingProxyType(
    {
        "Measures of a start": MEASURE,
        "Measures of a flight": MEASURE,
        "What the history adds": MEASURE,
        "Events": "event",
        "Numbers of an event": "event number",
        "Results of a limit": "limit result",
        "Times of a start": "start time",
        "Kinds of a start": "start kind",
        "Outcomes": "outcome",
        "Contributing factors": "factor",
        "Phases": "phase",
        "Quality flags": "quality",
        "Verdicts": "verdict",
    }
)
"""Headings of the page and the group that their entries belong to. One name may stand in several groups."""

_LABELS = {
    "Title": "title",
    "In words": "in_words",
    "Formula": "formula",
    "Source": "source",
    "Validity": "validity",
    "Null when": "null_when",
}
_LEVEL = re.compile(r"^(time_above|cut_after)_(-?\d+(?:\.\d+)?)(?:_([A-Za-z]+))?$")
_LEVEL_UNIT = "degC"
_ITT = re.compile(r"\bITT\b")
_TRADE = {"oat": "OAT", "ng": "Ng", "np": "Np"}


@dataclass(frozen=True)
class Definition:
    """One entry of the page.

    Attributes
    ----------
    name : str
        As in the data, such as ``fuel_to_light_off``; levels of the profile are filled in.
    group : str
        What it is, one of the values of `GROUPS`.
    title : str
        In words.
    in_words : str
        One plain sentence, before the formula.
    formula : str
        How it is computed, with its unit.
    source : str
        Names from the page's list of sources, separated by "; ".
    validity : str
        Where it holds.
    null_when : str
        What makes it unknown.
    line : int
        Line of its heading on the page.
    """

    name: str
    group: str
    title: str
    in_words: str
    formula: str
    source: str
    validity: str
    null_when: str
    line: int = 0

    @property
    def sources(self) -> tuple[str, ...]:
        """The names of its sources."""
        return tuple(part.strip() for part in self.source.split(";"))


@dataclass(frozen=True)
class Page:
    """The whole page: `sources` by name with their full titles, and the entries in order."""

    sources: Mapping[str, str]
    entries: tuple[Definition, ...]


def parse(text: str) -> Page:
    """Return the page's sources and entries.

    Raises
    ------
    ValueError
        A heading without a group, a label that is unknown, missing or there twice, or a name that stands
        twice in one group; the line is named. The page ships with the program, so this is a fault of it.
    """
    sources: dict[str, str] = {}
    entries: list[Definition] = []
    heading = ""
    for number, line in _joined(text):
        if line.startswith("## "):
            heading = line[3:].strip()
            if heading != "Sources" and heading not in GROUPS:
                raise ValueError(f"line {number}: no group is known for the heading {heading!r}")
        elif line.startswith("### "):
            name, group = line[4:].strip(), GROUPS.get(heading, "")
            if not group or any(e.name == name and e.group == group for e in entries):
                raise ValueError(f"line {number}: {name} stands twice or outside a group")
            entries.append(Definition(name, group, "", "", "", "", "", "", number))
        elif line.startswith("- ") and heading == "Sources":
            name, _, title = line[2:].partition(": ")
            sources[name] = title
        elif line.startswith("- ") and heading:
            label, _, words = line[2:].partition(": ")
            key = _LABELS.get(label)
            if key is None or not entries or not words or getattr(entries[-1], key):
                raise ValueError(f"line {number}: unknown, empty or repeated label {label!r}")
            entries[-1] = Definition(**(vars(entries[-1]) | {key: words}))
    for entry in entries:
        missing = [label for label, key in _LABELS.items() if not getattr(entry, key)]
        if missing:
            raise ValueError(f"line {entry.line}: {entry.name} has no {', '.join(missing)}")
    return Page(MappingProxyType(sources), tuple(entries))


def _joined(text: str) -> Iterable[tuple[int, str]]:
    """Yield (line number, line) with continuation lines, which are indented, joined to their bullet."""
    held: tuple[int, str] | None = None
    for number, line in enumerate(text.splitlines(), 1):
        if held is not None and line.startswith("  ") and line.strip():
            held = (held[0], f"{held[1]} {line.strip()}")
            continue
        if held is not None:
            yield held
        held = (number, line.rstrip())
    if held is not None:
        yield held


@cache
def page() -> Page:
    """Return the page that ships with the program."""
    return parse(resource(PAGE).read_text(encoding="utf-8"))


@cache
def _by_name() -> Mapping[tuple[str, str], Definition]:
    return {(e.group, e.name): e for e in page().entries}


def definition_of(
    name: str, group: str | None = None, names: ChannelNames = USUAL_NAMES
) -> Definition | None:
    """Return the definition of a measure, event kind, outcome, flag, phase or field; None for an unknown one.

    Parameters
    ----------
    name : str
        As in the data. A level of the profile (``time_above_830``) and a second engine's number
        (``run_down.2``) are understood.
    group : str, optional
        One of the values of `GROUPS`; needed where a name means several things (``no_light_off`` is an
        event and an outcome). Without it the first group in the page's order that has the name.
    names : ChannelNames
        What the recording that it is about calls its channels.

    Examples
    --------
    >>> definition_of("time_above_830").title
    'Time above 830 °C'
    >>> definition_of("no_light_off", "outcome").formula
    'fuel was recorded and it never lit.'
    """
    base = name
    stem, _, engine = name.rpartition(".")
    if stem and engine.isdigit() and not _LEVEL.match(name):
        base, names = stem, names.of_engine(int(engine))
    level = _LEVEL.match(base)
    wanted = f"{level[1]}_N" if level else base
    known = _by_name()
    for one in dict.fromkeys(GROUPS.values()) if group is None else (group,):
        found = known.get((one, wanted))
        if found is not None and level:
            shown = f"{level[2]} {unit_words(level[3] or _LEVEL_UNIT)}"
            title = found.title.replace("N °C", shown.replace("-", "\N{MINUS SIGN}"))
            return _called(Definition(**(vars(found) | {"name": base, "title": title})), names)
        if found is not None:
            return _called(found, names)
    return None


def _called(entry: Definition, names: ChannelNames) -> Definition:
    """Return an entry with the temperature, which the page calls ITT, by its name in a recording."""
    if names.itt == USUAL_NAMES.itt:
        return entry
    told = ("title", "in_words", "formula", "validity", "null_when")
    return Definition(**(vars(entry) | {key: _ITT.sub(names.itt, getattr(entry, key)) for key in told}))


def level_name(kind: str, level: float, unit: str = "degC") -> str:
    """Return the name of a measure that holds a level of the profile, such as ``time_above_830``.

    In another unit than the canonical one, in which only what is shown is, the name ends in the unit.
    """
    return f"{kind}_{level:g}" if unit == _LEVEL_UNIT else f"{kind}_{level:g}_{unit}"


def level_of(name: str) -> tuple[str, float] | None:
    """Return ``time_above`` or ``cut_after`` and the level in a measure's name; None for any other."""
    found = _LEVEL.match(name)
    return None if found is None else (found[1], float(found[2]))


def measure_title(name: str, names: ChannelNames = USUAL_NAMES) -> str:
    """Return a measure's title; a name that the page does not have is put into words.

    Beside a recording `names` is what this calls its channels.
    """
    found = definition_of(name, MEASURE, names)
    if found is not None:
        return found.title
    first, *rest = name.replace("_", " ").replace(".", " ").split() or [""]
    trade = _TRADE | {"itt": names.itt}
    return " ".join([trade.get(first, first.capitalize()), *(trade.get(word, word) for word in rest)])


def phase_title(name: str) -> str:
    """Return a phase's name in words."""
    found = definition_of(name, "phase")
    return found.title if found is not None else name.capitalize()


def source_text(definition: Definition) -> str:
    """Return the sources with their full titles, for "why?"."""
    titles = page().sources
    documents = {
        "ICAO Doc 7488",
        "NIST e-Handbook",
        "College Physics",
        "ASTM E1049",
        "Larson and Miller 1952",
    }
    return "; ".join(
        f"{name}: {titles[name].rstrip('.')}" if name in documents else name for name in definition.sources
    )
