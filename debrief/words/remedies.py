"""What a person can do about something, worded for where it is read: an option, a button, or nothing on paper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Literal

Place = Literal["command_line", "window", "paper"]


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing to do. Each wording goes on where the words before it end, and begins with what divides it from them.

    Attributes
    ----------
    command_line : str
        Names the option or the command.
    window : str
        Names the menu or the button, or nothing where the window asks for it by itself.
    paper : str
    """

    command_line: str
    window: str = ""
    paper: str = ""


class Advised(str):
    """A text with remedies. It reads as the window has it, so that who does not ask shows no option; see `at`."""

    __slots__ = ("parts",)

    parts: tuple[str | Remedy, ...]

    def __new__(cls, parts: tuple[str | Remedy, ...]) -> Advised:
        """Return the text of these words and remedies."""
        made = super().__new__(cls, _worded(parts, "window"))
        made.parts = parts
        return made

    def __reduce__(self) -> tuple[type[Advised], tuple[tuple[str | Remedy, ...]]]:
        """Keep the remedies where it is copied or pickled."""
        return Advised, (self.parts,)


def _worded(parts: tuple[str | Remedy, ...], place: Place) -> str:
    return "".join(part if isinstance(part, str) else getattr(part, place) for part in parts)


def text_at(text: str, place: Place) -> str:
    """Return a text as it is worded in a place."""
    return _worded(text.parts, place) if isinstance(text, Advised) else text


def advised(template: str, /, **values: str | Remedy) -> Advised:
    """Return a text from a template with named places, some of them for remedies.

    Examples
    --------
    >>> text = advised("{file} has no time column: name one{how}.", file="a.csv", how=TIME_COLUMN)
    >>> text_at(text, "command_line")
    'a.csv has no time column: name one with --map time=COLUMN.'
    """
    parts: list[str | Remedy] = []
    for literal, name, _, _ in Formatter().parse(template):
        value = "" if name is None else values[name]
        parts += (literal, *(value.parts if isinstance(value, Advised) else (value,)))
    return Advised(tuple(part for part in parts if part))


TIME_COLUMN = Remedy(" with --map time=COLUMN", " in File, Columns")
BY_PLACE = Remedy(', such as --map itt="#2:degC"', " in File, Columns")
"""Of columns without a name."""
COLUMNS = Remedy(" with --map CHANNEL=COLUMN", " in File, Columns")
RATE = Remedy(" with --rate HZ")
PROFILE_FILE = Remedy(
    "if you want that file, give it with --profile",
    "if you want that file, choose it in File, Engine profile",
)
GIVE_A_PROFILE = Remedy(
    'Give one with --profile NAME, or write the line "# engine-profile: NAME" at the top of the file.',
    "Choose the engine's profile to see its starts, what was exceeded, and by how much.",
)
KEEP_BOTH = Remedy(
    "; add it with --keep-both if both are to be kept",
    "; open it and choose Keep both if both are to be kept",
)
OTHER_HISTORY = Remedy("name another one with --db", "move it elsewhere, and a new one is begun")
REASON = Remedy(": say it with --reason")


def other_start(file: str) -> Remedy:
    """Return what to do where a recording has no start to compare with by itself."""
    return Remedy(f"name one, such as --reference {file}:1", "choose another recording")


def whose_options(aircraft: str | None, serials: Mapping[int, str]) -> str:
    """Return the options of the command line that say whose recording it is; serial numbers by engine."""
    options = [] if aircraft is None else [f'--aircraft "{aircraft}"']
    for engine, serial in sorted(serials.items()):
        options.append(f'--engine-serial "{serial if engine == 1 else f"{engine}={serial}"}"')
    return " ".join(options)
