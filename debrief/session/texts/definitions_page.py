"""The page of definitions to be read and searched: as simple HTML for the window, as text for the command line."""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import cache
from html import escape
from types import MappingProxyType

from debrief.session.texts.definitions import MEASURE, Definition, page
from debrief.words.channels import base_name, within_sentence
from debrief.words.profile_keys import key_title

LINK = "definition:"
"""Links that begin so lead to an entry: group and name follow."""

INTRODUCTION = (
    "Between two samples of one channel the signal is the straight line that joins them; across a gap nothing is "
    "claimed. A value that sampling limits has bounds, printed in brackets where they decide and behind Why: they cover sampling, resolution and the channel's own noise, not the "
    "accuracy or the lag of the indication. What is not known is never 0. The program informs and never approves."
)
_GROUP_TITLES = {
    "measure": "Measures",
    "event": "Findings",
    "event number": "Numbers of a finding",
    "limit result": "Results of a limit",
    "start time": "Times of a start",
    "start kind": "Kinds of a start",
    "outcome": "Outcomes of a start",
    "factor": "Contributing factors",
    "phase": "Phases",
    "quality": "Data quality",
    "verdict": "Verdicts",
}
_ROWS = (
    ("Formula", "formula"),
    ("Source", "source"),
    ("Where it holds", "validity"),
    ("Not known when", "null_when"),
)
_KINDS = {
    "measure": "measure",
    "event": "finding",
    "event number": "of a finding",
    "limit result": "of a limit",
    "start time": "time of a start",
    "start kind": "kind of a start",
    "outcome": "outcome",
    "factor": "factor",
    "phase": "phase",
    "quality": "data quality",
    "verdict": "verdict",
}
_MARKED = re.compile(r"(the profile's )?`(\w+)`")
WIDTH = 88

OF_CHANNELS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "itt": ("measure", "peak_itt"),
        "ng": ("measure", "ng_at_fuel"),
        "np": ("measure", "highest_np_running"),
        "torque": ("measure", "highest_torque_running"),
        "bus_volts": ("measure", "min_bus_volts"),
        "oil_temp": ("measure", "highest_oil_temp_running"),
        "oil_press": ("event", "oil_press_low"),
        "oat": ("measure", "oat"),
        "palt": ("measure", "pressure_altitude"),
        "starter": ("measure", "starter_total"),
        "fuel_on": ("measure", "fuel_on"),
        "power_lever": ("event", "beta_in_flight"),
        "battery_amps": ("measure", "inrush_current"),
    }
)
"""The group and name of the entry that a channel's lane, or its gauge, leads to."""


def address(entry: Definition) -> str:
    """Return where an entry stands on the page."""
    return f"{entry.group}/{entry.name}"


def group_title(group: str) -> str:
    """Return the heading of a group."""
    return _GROUP_TITLES.get(group, group.capitalize())


def shown_title(entry: Definition) -> str:
    """Return an entry's title; one that another entry has, too, says of which kind it is."""
    return f"{entry.title} ({_KINDS[entry.group]})" if _titles()[entry.title.casefold()] > 1 else entry.title


@cache
def _titles() -> Counter[str]:
    return Counter(entry.title.casefold() for entry in entries_shown())


@cache
def entries_shown() -> tuple[Definition, ...]:
    """Return the entries of the page; a time of a start that is a measure, too, stands there once."""
    measures = {entry.title for entry in page().entries if entry.group == MEASURE}
    return tuple(
        entry for entry in page().entries if not (entry.group == "start time" and entry.title in measures)
    )


def plain_text(text: str) -> str:
    """Return a text of the page as it is shown: the profile's keys and the data's names in words."""
    return _MARKED.sub(lambda found: (found[1] or "the ") + _name_in_words(found[2]), text)


def _name_in_words(name: str) -> str:
    entry = _named().get(name.casefold())
    return within_sentence(entry.title) if entry is not None else key_title(name)[0]


def entry_of_channel(channel: str) -> tuple[str, str] | None:
    """Return group and name of the entry that a channel's lane, or its gauge, leads to."""
    return OF_CHANNELS.get(base_name(channel))


def entry_titled(title: str) -> tuple[str, str] | None:
    """Return group and name of the first entry of a title; None where none has it."""
    return next(
        ((one.group, one.name) for one in entries_shown() if one.title.casefold() == title.casefold()), None
    )


def search(words: str) -> tuple[Definition, ...]:
    """Return the entries that hold every word, one that is called so first, then those with it in the title; all for no word.

    Examples
    --------
    >>> [entry.name for entry in search("peak itt")][0]
    'peak_itt'
    """
    wanted = words.casefold().replace("_", " ").split()
    asked = " ".join(wanted)
    hits: list[tuple[int, int, Definition]] = []
    for number, entry in enumerate(entries_shown()):
        titles = [one.casefold() for one in (entry.title, shown_title(entry))]
        names = [*titles, entry.name.casefold().replace("_", " ")]
        head = " ".join(names)
        rest = f"{entry.in_words} {entry.formula} {entry.validity} {entry.null_when} {entry.source}"
        whole = f"{head} {plain_text(rest)}".casefold().replace("_", " ")
        if all(word in whole for word in wanted):
            better = (
                asked in titles,
                asked in names,
                any(name.startswith(asked) for name in names),
                all(word in head for word in wanted),
                True,
            )
            hits.append((better.index(True) if wanted else 0, number, entry))
    return tuple(entry for _, _, entry in sorted(hits, key=lambda hit: hit[:2]))


def to_html(entries: Sequence[Definition], searched: bool = False) -> str:
    """Return entries as HTML with an anchor each; names of other entries in their texts are links.

    In the page's order they stand under their groups' headings; what was searched stands best first.
    """
    if not entries:
        return "<p>No entry holds these words.</p>"
    parts = [] if searched else [f"<p>{escape(INTRODUCTION)}</p>"]
    group = None
    for entry in entries:
        if not searched and group_title(entry.group) != group:
            group = group_title(entry.group)
            parts.append(f"<h2>{escape(group)}</h2>")
        parts.append(_entry_html(entry))
    if not searched:
        parts.append("<h2>Sources</h2>")
        parts += [
            f'<p><a name="source/{escape(name)}"></a><b>{escape(name)}</b>: {escape(title)}</p>'
            for name, title in page().sources.items()
        ]
    return "".join(parts)


def _entry_html(entry: Definition) -> str:
    rows = "".join(
        f'<tr><td width="130">{label}&nbsp;&nbsp;</td><td>{_linked(getattr(entry, key), entry)}</td></tr>'
        for label, key in _ROWS
    )
    return (
        f'<h3><a name="{escape(address(entry))}"></a>{escape(shown_title(entry))}</h3>'
        f"<p>{escape(entry.in_words)}</p><table cellpadding=3>{rows}</table>"
    )


def _linked(text: str, own: Definition) -> str:
    """Return a text in which each name of another entry is a link to it."""

    def link(found: re.Match[str]) -> str:
        entry = _named()[found[1].casefold()]
        said = within_sentence(entry.title) if "_" in found[1] or found[0].startswith("`") else found[1]
        if entry.title == own.title:
            return escape(said)
        return f'<a href="{LINK}{escape(address(entry))}">{escape(said)}</a>'

    return plain_text(_words().sub(link, escape(text, quote=False)))


@cache
def _words() -> re.Pattern[str]:
    """Return what is a link in a text: a name as in the data, or a title of more than one word."""
    longest = sorted(_named(), key=len, reverse=True)
    return re.compile(
        rf"`?(?<![\w-])({'|'.join(re.escape(one) for one in longest)})(?![\w-])`?", re.IGNORECASE
    )


@cache
def _named() -> dict[str, Definition]:
    """Return the first entry of each name and title in small letters."""
    out: dict[str, Definition] = {}
    for entry in page().entries:
        for one in (entry.name, entry.title.casefold()):
            if "_" in one or " " in one or "-" in one:
                out.setdefault(one.casefold(), entry)
    return out


def to_text(entries: Sequence[Definition], width: int = WIDTH) -> str:
    """Return entries as plain text, wrapped."""
    blocks = []
    for entry in entries:
        lines = [f"{shown_title(entry)} ({entry.name})"]
        lines += textwrap.wrap(entry.in_words, width, initial_indent="  ", subsequent_indent="  ")
        for label, key in _ROWS:
            said = f"{label}: {plain_text(getattr(entry, key))}"
            lines += textwrap.wrap(said, width, initial_indent="  ", subsequent_indent="    ")
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)
