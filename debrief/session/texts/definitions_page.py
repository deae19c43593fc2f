"""The page of definitions to be read and searched: as simple HTML for the window, as text for the command line."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from functools import cache
from html import escape

from debrief.session.texts.definitions import Definition, page

LINK = "definition:"
"""Links that begin so lead to an entry: group and name follow."""

INTRODUCTION = (
    "Between two samples of one channel the signal is the straight line that joins them; across a gap nothing is "
    "claimed. A value that sampling limits has bounds, printed in brackets: they cover sampling, resolution and the channel's own noise, not the "
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
WIDTH = 88


def address(entry: Definition) -> str:
    """Return where an entry stands on the page."""
    return f"{entry.group}/{entry.name}"


def group_title(group: str) -> str:
    """Return the heading of a group."""
    return _GROUP_TITLES.get(group, group.capitalize())


def search(words: str) -> tuple[Definition, ...]:
    """Return the entries that hold every word, those with it in name or title first; all for no word.

    Examples
    --------
    >>> [entry.name for entry in search("peak itt")][0]
    'peak_itt'
    """
    wanted = words.casefold().replace("_", " ").split()
    hits: list[tuple[int, int, Definition]] = []
    for number, entry in enumerate(page().entries):
        head = f"{entry.name} {entry.title}".casefold().replace("_", " ")
        whole = f"{head} {entry.formula} {entry.validity} {entry.null_when} {entry.source}".casefold()
        whole = whole.replace("_", " ")
        if all(word in whole for word in wanted):
            hits.append((0 if all(word in head for word in wanted) else 1, number, entry))
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
    kind = group_title(entry.group)
    rows = "".join(
        f'<tr><td width="130">{label}&nbsp;&nbsp;</td><td>{_linked(getattr(entry, key), entry)}</td></tr>'
        for label, key in _ROWS
    )
    return (
        f'<h3><a name="{escape(address(entry))}"></a>{escape(entry.title)}</h3>'
        f"<p><code>{escape(entry.name)}</code>, {escape(kind.lower())}</p><table cellpadding=3>{rows}</table>"
    )


def _linked(text: str, own: Definition) -> str:
    """Return a text in which each name of another entry is a link to it."""

    def link(found: re.Match[str]) -> str:
        entry = _named()[found[1].casefold()]
        if entry.title == own.title:
            return found[0].strip("`")
        said = entry.title if "_" in found[1] else found[1]
        return f'<a href="{LINK}{escape(address(entry))}">{escape(said)}</a>'

    return _words().sub(link, escape(text, quote=False))


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
        lines = [f"{entry.title} ({entry.name}, {group_title(entry.group).lower()})"]
        for label, key in _ROWS:
            said = f"{label}: {getattr(entry, key)}"
            lines += textwrap.wrap(said, width, initial_indent="  ", subsequent_indent="    ")
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)
