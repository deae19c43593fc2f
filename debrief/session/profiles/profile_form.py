"""An engine profile under a person's hands: the file's text, changed key by key, comments and order kept.

What is right is decided by the profile's own reader alone; the form only writes keys and asks it.
"""

from __future__ import annotations

import contextlib
from collections.abc import MutableMapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from debrief.errors import UserError
from debrief.home import home
from debrief.output import Kind, write_output
from debrief.output.private import private_folder
from debrief.profile.fields import ProfileError
from debrief.profile.loader import FORMAT, parse
from debrief.profile.model import EngineProfile
from debrief.profile.naming import is_shipped
from debrief.session.profiles import profile_fields as known
from debrief.session.profiles.profile_cells import (
    FieldError,
    Value,
    cell_text,
    made_of,
    number_of,
    shown_text,
)
from debrief.session.profiles.profile_fields import Field
from debrief.words.channels import CANONICAL, channel_words
from debrief.words.events import event_title

EMPTY = f'format = "{FORMAT}"\nname = ""\napproved_data = false\n'


@dataclass(frozen=True)
class Section:
    """One table of the profile, as a page of the form.

    Attributes
    ----------
    path : tuple
        Keys to it from the top, with the position inside ``limits`` and ``power_check``.
    part : str
        What it is, for a person.
    fields : tuple of Field
    own : str
        The file's own name of a gauge, a limit or a power check, which can be taken out.
    words : str
        The same in words, where there are any.
    """

    path: tuple[str | int, ...]
    part: str
    fields: tuple[Field, ...]
    own: str = ""
    words: str = ""

    @property
    def removable(self) -> bool:
        """Whether it can be taken out: gauges, limits and power checks."""
        return bool(self.own)

    @property
    def name(self) -> str:
        """The part by the file's own name for it, such as ``Gauge itt``."""
        return f"{self.part} {self.own}".rstrip()

    @property
    def title(self) -> str:
        """What it is in words; of several limits of one kind their own names tell which."""
        if not self.words:
            return self.name
        return f"{self.part}: {self.words}" + (f" ({self.own})" if self.path[0] == "limits" else "")


class ProfileForm:
    """The text of a profile as fields.

    Parameters
    ----------
    text : str
        TOML.
    path : Path, optional
        Where it was read from.

    Raises
    ------
    UserError
        It is not TOML at all; a profile that is only refused can be opened and mended.
    """

    def __init__(self, text: str = EMPTY, path: Path | None = None) -> None:
        import tomlkit
        from tomlkit.exceptions import TOMLKitError

        self.path = path
        try:
            self._document: Any = tomlkit.parse(text)
        except (TOMLKitError, RecursionError, ValueError) as error:
            name = path.name if path is not None else "profile"
            raise UserError(f"{name} is not correct TOML and cannot be edited here: {error}.") from None
        self._saved = self.text

    @classmethod
    def open(cls, path: Path) -> ProfileForm:
        """Open a file.

        Raises
        ------
        UserError
            It cannot be read, or is no TOML.
        """
        try:
            text = path.read_bytes().decode("utf-8-sig")
        except UnicodeDecodeError:
            raise UserError(f"{path.name} is not UTF-8 text: save it again as UTF-8.") from None
        except OSError as error:
            raise UserError(f"{path} cannot be read: {error.strerror}.") from None
        return cls(text, path)

    @property
    def text(self) -> str:
        """The file as it would be saved."""
        import tomlkit

        return tomlkit.dumps(self._document)

    @property
    def is_changed(self) -> bool:
        """Whether something was changed since it was opened or saved."""
        return self.text != self._saved

    def restore(self, text: str) -> None:
        """Put an earlier text in place of the present one; the file stays the one that it is."""
        import tomlkit

        self._document = tomlkit.parse(text)

    def check(self) -> EngineProfile:
        """Return the profile.

        Raises
        ------
        ProfileError
            What is refused: the key path, the line and the reason.
        """
        name = self.path.name if self.path is not None else "profile"
        return parse(self.text.encode("utf-8"), file_name=name, path=str(self.path or ""))

    # --- its parts --------------------------------------------------------------------------------------

    def sections(self) -> tuple[Section, ...]:
        """Return the pages of the form in the order of the format."""
        out = [
            Section((), "Profile", known.TOP),
            Section(("engine",), "Engine", known.ENGINE),
            Section(("start",), "Start", known.START),
            Section(("starter",), "Starter", known.STARTER),
            Section(("abort",), "Abort", known.ABORT),
            Section(("factors",), "Contributing factors", known.FACTORS),
            Section(("flight",), "Flight", known.FLIGHT),
            Section(("shutdown",), "Shutdown", known.SHUTDOWN),
            Section(("life",), "Use of life", known.LIFE),
            Section(("max_rate",), "Fastest changes", known.MAX_RATE),
        ]
        gauges = self._document.get("gauges")
        if isinstance(gauges, MutableMapping):
            out += [Section(("gauges", name), "Gauge", known.GAUGE, name, _channel(name)) for name in gauges]
        limits = self._document.get("limits")
        if isinstance(limits, list):
            for index, limit in enumerate(limits):
                name = limit.get("id", "") if isinstance(limit, MutableMapping) else ""
                kind = limit.get("event", "") if isinstance(limit, MutableMapping) else ""
                words = event_title(str(kind)) if kind else ""
                out.append(Section(("limits", index), "Limit", known.LIMIT, str(name or index + 1), words))
        checks = self._document.get("power_check")
        if isinstance(checks, list):
            for index, check in enumerate(checks):
                name = check.get("name", "") if isinstance(check, MutableMapping) else ""
                words = str(name or index + 1)
                out.append(Section(("power_check", index), "Power check", known.POWER_CHECK, words, words))
        return tuple(out)

    def value(self, section: Section, field: Field) -> Value:
        """Return what a field holds, as it is shown; empty where the key is absent."""
        table, key = self._place(section, field, make=False)
        raw = table.get(key) if table is not None else None
        if field.kind == "flag":
            return raw is not None and bool(raw)
        if field.kind == "rows":
            rows = raw if isinstance(raw, list) else []
            return tuple(tuple(cell_text(row, column) for column in field.columns) for row in rows)
        return "" if raw is None else shown_text(raw, field)

    def set(self, section: Section, field: Field, value: Value) -> None:
        """Write a field; an empty one takes its key out, which means "not judged".

        Raises
        ------
        FieldError
            It is not what the field takes, such as letters for a number.
        """
        if value == self.value(section, field):
            return  # the file keeps its own spelling
        made = made_of(field, value)
        table, key = self._place(section, field, make=made is not None)
        if table is None:
            return
        if made is None:
            table.pop(key, None)
            if "." in field.key and not table:
                self._drop(section, field.key.split(".")[0])
        else:
            table[key] = made

    def add_gauge(self, channel: str, unit: str) -> Section:
        """Add a gauge of a channel, 0 to 100 of its unit; return its page.

        Raises
        ------
        FieldError
            There is one already.
        """
        import tomlkit

        gauges = self._document.setdefault("gauges", tomlkit.table(is_super_table=True))
        if channel in gauges:
            raise FieldError(f"There is a gauge of {channel} already.")
        table = tomlkit.table()
        table["unit"] = unit
        table["range"] = [0, 100]
        gauges[channel] = table
        return next(one for one in self.sections() if one.path == ("gauges", channel))

    def add_limit(self) -> Section:
        """Add an empty limit, which is refused until it is filled in; return its page."""
        import tomlkit

        limits = self._document.get("limits")
        if limits is None:
            self._document["limits"] = limits = tomlkit.aot()
        table = tomlkit.table()
        taken = {limit.get("id") for limit in limits}
        number = next(n for n in range(len(limits) + 1, len(limits) + 99) if f"limit-{n}" not in taken)
        for key, value in (("id", f"limit-{number}"), ("event", "overtemp"), ("channel", "itt"),
                           ("when", "running"), ("unit", "degC"), ("count", "longest")):  # fmt: skip
            table[key] = value
        limits.append(table)
        return self._last("limits")

    def add_power_check(self) -> Section:
        """Add a power check without points, which is refused until they are filled in; return its page."""
        import tomlkit

        checks = self._document.get("power_check")
        if checks is None:
            self._document["power_check"] = checks = tomlkit.aot()
        table = tomlkit.table()
        taken = {check.get("name") for check in checks}
        table["name"] = next(name for n in range(1, len(checks) + 2) if (name := f"chart {n}") not in taken)
        checks.append(table)
        return self._last("power_check")

    def _last(self, kind: str) -> Section:
        return [one for one in self.sections() if one.path[:1] == (kind,)][-1]

    def remove(self, section: Section) -> None:
        """Take a gauge, a limit or a power check out."""
        if section.removable:
            del self._document[section.path[0]][section.path[1]]

    def locate(self, key: str) -> tuple[Section, Field | None] | None:
        """Return the page and field that a key path of a refusal means, or None for the whole file."""
        best: tuple[int, Section, Field | None] | None = None
        for section in self.sections():
            prefixes = self._printed(section)
            for prefix in prefixes:
                if prefix and key == prefix and (best is None or best[0] < len(prefix)):
                    best = (len(prefix), section, None)
                for field in section.fields:
                    full = f"{prefix}.{field.key}" if prefix else field.key
                    inner = key.startswith((f"{full}.", f"{full}["))
                    if (key == full or inner) and (best is None or best[0] < len(full)):
                        best = (len(full), section, field)
        return None if best is None else best[1:]

    def _printed(self, section: Section) -> tuple[str, ...]:
        """Return how a page's key path may be printed: a limit goes by its id, or by its place."""
        if section.path[:1] not in (("limits",), ("power_check",)):
            return (".".join(str(part) for part in section.path),)
        index = int(section.path[1])
        if section.path[0] == "power_check":
            return (f"power_check[{index + 1}]",)
        limit = self._document["limits"][index]
        name = limit.get("id", "") if isinstance(limit, MutableMapping) else ""
        return (f"limits[{index + 1}]", *((f"limits.{name}",) if name else ()))

    def _place(
        self, section: Section, field: Field, make: bool
    ) -> tuple[MutableMapping[str, Any] | None, str]:
        import tomlkit

        table: Any = self._document
        *inner, key = field.key.split(".")
        for depth, part in enumerate((*section.path, *inner)):
            there = table[part] if isinstance(part, int) else table.get(part)
            if not isinstance(there, MutableMapping | list):
                if not make:
                    return None, key
                there = tomlkit.inline_table() if depth >= len(section.path) else tomlkit.table()
                table[part] = there
                there = table[part]
            table = there
        return table, key

    def _drop(self, section: Section, key: str) -> None:
        table: Any = self._document
        for part in section.path:
            table = table[part]
        table.pop(key, None)

    # --- saving -----------------------------------------------------------------------------------------

    def save(self, path: Path) -> EngineProfile:
        """Check it and write it whole to a file, which may be the one that it was read from or another profile.

        Raises
        ------
        ProfileError
            It is refused; nothing is written.
        UserError
            The place is among the shipped profiles, is another kind of file, or cannot be written; what was there stays.
        """
        file = path if path.suffix else path.with_suffix(".toml")
        if is_shipped(file):
            raise UserError(f"{file.name} would lie among the shipped profiles, which are never changed: "
                            "choose another folder.")  # fmt: skip
        text = self.text
        self.check()
        if file.absolute().is_relative_to(home().absolute()):
            _make_private(file.parent)
        write_output(file, text.encode("utf-8"), Kind.PROFILE, edited=self.path)
        self.path, self._saved = file, text
        return self.check()


def _channel(name: str) -> str:
    return channel_words(name) if name in CANONICAL else ""


def own_folder(make: bool = False) -> Path:
    """Return where a person's own profiles are looked for by name; with `make` it is there where it can be."""
    folder = home() / "profiles"
    if make:
        # A dialog that is sent to a folder that is not there opens anywhere.
        _make_private(folder)
    return folder


def _make_private(folder: Path) -> None:
    with contextlib.suppress(OSError):  # where it cannot be made, saving says why
        private_folder(folder)


__all__ = [
    "EMPTY",
    "FieldError",
    "ProfileError",
    "ProfileForm",
    "Section",
    "Value",
    "number_of",
    "own_folder",
]
