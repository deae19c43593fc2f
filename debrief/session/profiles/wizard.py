"""The wizard for a new profile, without its window: answers in a person's words and units, and the profile they make."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from debrief.errors import UserError
from debrief.profile.fields import ProfileError
from debrief.profile.model import EngineProfile
from debrief.resources import resource
from debrief.session.profiles.edit_history import EditHistory
from debrief.session.profiles.profile_cells import FieldError, Row, Value, level_point, level_text, number_of
from debrief.session.profiles.profile_form import ProfileForm, Section, own_folder
from debrief.session.profiles.profile_lines import profile_lines
from debrief.session.profiles.wizard_pages import (
    COUNT,
    FULL_NG,
    FULL_NP,
    FULL_TORQUE,
    PAGES,
    RUNNING,
    RUNNING_ROWS,
    TABLE,
    UNITS,
    Page,
    Quantity,
    Question,
)
from debrief.words.display_units import AS_COMPUTED, shown_units
from debrief.words.durations import seconds_of
from debrief.words.units import BY_NAME, scale

Status = Literal["answered", "skipped", "open"]

_UNNAMED = "New profile"
_SECONDS = {"s": 1.0, "min": 60.0}
_MISSING_SECONDS = "the seconds are missing; 0 means not at any time."


@dataclass(frozen=True)
class Reading:
    """What the answers make.

    Attributes
    ----------
    form : ProfileForm
        The profile's text; what cannot be read is left out.
    profile : EngineProfile or None
        None where it is refused.
    problems : mapping of str to str
        By the key of the question, what is wrong with what was typed.
    """

    form: ProfileForm
    profile: EngineProfile | None
    problems: Mapping[str, str] = field(default_factory=dict)


class Wizard:
    """The answers, with undo. An empty answer is no answer, and nothing is filled in that a person has not seen."""

    def __init__(self) -> None:
        self._history: EditHistory[dict[str, Value]] = EditHistory({COUNT: "total"})
        self._read: tuple[dict[str, Value], Reading] | None = None

    # --- answers ----------------------------------------------------------------------------------------

    @property
    def history(self) -> EditHistory[dict[str, Value]]:
        """For undo and redo; the place of a step is the name of its page."""
        return self._history

    @property
    def is_empty(self) -> bool:
        """Whether nothing was answered yet."""
        return all(self.status(page) == "open" for page in PAGES)

    def value(self, question: Question) -> Value:
        """Return an answer as it was typed."""
        kind = question.field.kind
        empty: Value = () if kind == "rows" else False if kind == "flag" else ""
        return self._history.state.get(question.key, empty)

    def answer(self, page: Page, question: Question, value: Value) -> None:
        """Take an answer."""
        if isinstance(value, tuple) and not any(cell.strip() for row in value for cell in row):
            value = ()
        state = {**self._history.state, question.key: value}
        state.pop(_skip_key(page), None)
        self._history.record(state, question.field.title, f"{page.name}/{question.key}")

    def unit(self, page: Page, quantity: Quantity) -> str:
        """Return the unit that a page is answered in."""
        return str(self._history.state.get(_unit_key(page, quantity), UNITS[quantity][0]))

    def choose_unit(self, page: Page, quantity: Quantity, unit: str) -> None:
        """Read the numbers of a page in another unit; what was typed stays as it is."""
        self._history.record(
            {**self._history.state, _unit_key(page, quantity): unit}, "unit", f"{page.name}/"
        )

    def skip(self, page: Page) -> None:
        """Say that the manual does not have it: the page's answers are gone."""
        state = self._without(page)
        state[_skip_key(page)] = True
        self._history.record(state, f"{page.name}: not in the manual", f"{page.name}/")
        self._history.pause()

    def suggest(self, page: Page) -> None:
        """Fill in what is common, where nothing was answered."""
        in_degf = "temperature" in page.quantities and self.unit(page, "temperature") == "degF"
        common: dict[str, Value] = {
            one.key: level_text(float(one.suggested) * 1.8)
            if in_degf and one.quantity == "rise"
            else one.suggested
            for one in page.questions
            if one.suggested and not self.value(one)
        }
        state = {**self._history.state, **common}
        state.pop(_skip_key(page), None)
        self._history.record(state, "common rules", f"{page.name}/")
        self._history.pause()

    def status(self, page: Page) -> Status:
        """Return whether a page has an answer, was skipped, or is still open."""
        if any(self.value(one) for one in page.questions if one.key != COUNT):
            return "answered"
        return "skipped" if self._history.state.get(_skip_key(page)) else "open"

    def _without(self, page: Page) -> dict[str, Value]:
        keys = {one.key for one in page.questions} - {COUNT}
        return {key: value for key, value in self._history.state.items() if key not in keys}

    # --- what they make ---------------------------------------------------------------------------------

    def read(self) -> Reading:
        """Return the profile that the answers make now."""
        state = self._history.state
        if self._read is None or self._read[0] is not state:
            self._read = state, _Writer(self).read()
        return self._read[1]

    def start_points(self) -> tuple[tuple[float, float], ...]:
        """Return the rows of the start temperature table that can be read, as (level, seconds), rising in level."""
        return tuple(sorted(point for row in self.rows(TABLE) if (point := level_point(row)) is not None))

    def draw(self, points: Sequence[tuple[float, float]]) -> None:
        """Take the start temperature table as it was drawn; rows that cannot be read stay below it."""
        page, question = next((p, q) for p in PAGES for q in p.questions if q.key == TABLE)
        unread = tuple(row for row in self.rows(TABLE) if level_point(row) is None)
        drawn = tuple((level_text(level), level_text(seconds)) for level, seconds in points)
        self.answer(page, question, (*drawn, *unread))

    def rows(self, key: str) -> tuple[Row, ...]:
        """Return an answer of rows, as typed."""
        value = self._history.state.get(key, ())
        return value if isinstance(value, tuple) else ()

    def review(self) -> tuple[str, ...]:
        """Return what the profile holds in words, in the units that were chosen, to be held against the manual once more."""
        profile = self.read().profile
        in_degf = any(
            "temperature" in page.quantities and self.unit(page, "temperature") == "degF" for page in PAGES
        )
        units = shown_units({"temperature": "degF"}) if in_degf else AS_COMPUTED
        return () if profile is None else profile_lines(profile, units)

    # --- saving -----------------------------------------------------------------------------------------

    @property
    def suggested_file(self) -> str:
        """A name for the file, made of the profile's, that no profile has."""
        stem = re.sub(r"[^\w]+", "-", str(self._history.state.get("name", "")).strip().casefold()).strip("-_")
        stem = stem[:60] or "my-engine"
        number, name = 1, stem
        while _is_taken(name):
            number += 1
            name = f"{stem}-{number}"
        return name

    def save(self, file_name: str) -> Path:
        """Write the profile into the folder of a person's own profiles; return its path.

        Raises
        ------
        UserError
            It has no name, an answer cannot be read, there is a profile of that file name, or it cannot be written.
        """
        if not str(self._history.state.get("name", "")).strip():
            raise UserError("The profile has no name yet: every report prints it.")
        reading = self.read()
        if reading.problems:
            raise UserError(next(iter(reading.problems.values())))
        stem = file_name.strip().removesuffix(".toml") or self.suggested_file
        if Path(stem).name != stem or stem.startswith("."):
            raise UserError(f'"{stem}" is not a name of a file: leave out folders.')
        if _is_taken(stem):
            raise UserError(f'There is a profile "{stem}" already: give the file another name.')
        own_folder(make=True)
        reading.form.save(own_folder() / f"{stem}.toml")
        assert reading.form.path is not None
        return reading.form.path


class _Writer:
    """Puts answers into a form; collects what cannot be."""

    def __init__(self, wizard: Wizard) -> None:
        self._wizard = wizard
        self._form = ProfileForm()
        self._problems: dict[str, str] = {}
        self._owners: list[str] = []
        """The question that each limit was made of."""

    def read(self) -> Reading:
        self._put((), "name", _UNNAMED)
        for page in PAGES:
            for question in page.questions:
                try:
                    self._write(page, question)
                except UserError as error:
                    self._problems.setdefault(question.key, str(error))
        self._put((), "source", self._source())
        profile = None
        try:
            profile = self._form.check()
        except ProfileError as error:
            key = self._question_of(error.key)
            self._problems.setdefault(key, f"{self._title(key)}: {error.reason}")
        return Reading(self._form, profile, dict(self._problems))

    def _write(self, page: Page, question: Question) -> None:
        value, key = self._wizard.value(question), question.key
        if not value or key in ("manual", "manual_revision", "manual_date", COUNT, "limits.start.reference"):
            return
        if key == TABLE:
            self._write_table(page)
        elif key == RUNNING:
            self._write_running()
        elif key == "approved_data" and not self._source():
            raise UserError("Approved data need the manual that they come from.")
        elif question.field.kind == "rows":
            self._put(*_split(key), tuple(self._duty(page, question)))
        elif question.field.kind == "number":
            self._put(*_split(key), level_text(self._number(page, question, str(value))))
        else:
            self._put(*_split(key), value if isinstance(value, bool) else str(value).strip())

    def _source(self) -> str:
        """Return manual, revision and date in one text."""
        state = self._wizard.history.state
        manual, revision, dated = (
            str(state.get(key, "")).strip() for key in ("manual", "manual_revision", "manual_date")
        )
        return ", ".join(part for part in (manual, f"revision {revision}" if revision else "", dated) if part)

    # --- numbers ----------------------------------------------------------------------------------------

    def _number(self, page: Page, question: Question, text: str) -> float:
        """Return a typed number in the unit of its key."""
        title = question.field.title
        if question.quantity == "time":
            return self._seconds(page, text, title)
        value = float(number_of(text, title))
        if question.quantity == "speed" and self._wizard.unit(page, "speed") == "rpm":
            full = str(self._wizard.history.state.get(FULL_NG, ""))
            if not full.strip():
                raise UserError(f"{title}: give the Ng that is 100 %, in rpm, too.")
            return 100.0 * value / float(number_of(full, "Ng at 100 %"))
        if question.quantity in ("temperature", "rise") and self._wizard.unit(page, "temperature") == "degF":
            zero = 0.0 if question.quantity == "temperature" else _celsius(0.0)
            return _celsius(value) - zero
        return value

    def _seconds(self, page: Page, text: str, title: str) -> float:
        try:
            return float(number_of(text, title)) * _SECONDS[self._wizard.unit(page, "time")]
        except FieldError:
            pass
        try:
            return seconds_of(text)
        except UserError as error:
            raise UserError(f"{title}: {error}") from None

    def _duty(self, page: Page, question: Question) -> Iterator[Row]:
        for number, (run, rest) in enumerate(self._wizard.value(question), start=1):  # type: ignore[arg-type]
            if not run.strip() and not rest.strip():
                continue
            for text, what in ((run, "the run"), (rest, "the rest after it")):
                if not text.strip():
                    raise UserError(f"{question.field.title}, row {number}: {what} is missing.")
            title = f"{question.field.title}, row {number}"
            yield tuple(level_text(self._seconds(page, text, title)) for text in (run, rest))

    # --- limits -----------------------------------------------------------------------------------------

    def _write_table(self, page: Page) -> None:
        rows = []
        for number, (level, seconds) in enumerate(self._wizard.rows(TABLE), start=1):
            row = self._level(f"Row {number}", level, seconds)
            if row is not None:
                rows.append(row)
        if not rows:
            return
        state = self._wizard.history.state
        self._add_limit(TABLE, "itt-start", {
            "event": "hot_start", "channel": "itt", "when": "start", "unit": self._wizard.unit(page, "temperature"),
            "count": str(state.get(COUNT) or "total"),
            "allowed": tuple((level, "", seconds, "") for level, seconds in sorted(rows, key=_level_of)),
            "reference": str(state.get("limits.start.reference", "")).strip(),
        })  # fmt: skip

    def _write_running(self) -> None:
        rows = self._wizard.rows(RUNNING)
        for (channel, event, words, units), cells in zip(RUNNING_ROWS, rows, strict=False):
            caution, caution_s, limit, limit_s, unit = cells
            found = [
                (row, severity)
                for row, severity in (
                    (self._level(f"{words}, caution", caution, caution_s), "caution"),
                    (self._level(f"{words}, limit", limit, limit_s), "limit"),
                )
                if row is not None
            ]
            if not found:
                continue
            unit = unit or units[0]
            self._check_full(words, channel, unit)
            is_lowest = channel == "oil_press"
            allowed = tuple(
                ("", level, seconds, severity) if is_lowest else (level, "", seconds, severity)
                for (level, seconds), severity in found
            )
            name = re.sub("_", "-", channel)
            self._add_limit(RUNNING, f"{name}-running", {
                "event": event, "channel": channel, "when": "running", "unit": unit, "count": "longest",
                "allowed": allowed,
            })  # fmt: skip

    def _check_full(self, words: str, channel: str, unit: str) -> None:
        """Refuse a level in a unit that is a share of something not given."""
        needed = {
            ("torque", "lbf ft"): f"{FULL_TORQUE}.value", ("torque", "N m"): f"{FULL_TORQUE}.value",
            ("ng", "rpm"): FULL_NG, ("np", "%"): FULL_NP,
        }.get((channel, unit))  # fmt: skip
        if needed is not None and not str(self._wizard.history.state.get(needed, "")).strip():
            raise UserError(f"{words}: give the value that is 100 %, too.")

    def _level(self, what: str, level: str, seconds: str) -> Row | None:
        if not level.strip() and not seconds.strip():
            return None
        if not level.strip():
            raise UserError(f"{what}: the level is missing.")
        if not seconds.strip():
            raise UserError(f"{what}: {_MISSING_SECONDS}")
        return level_text(number_of(level, what)), level_text(number_of(seconds, f"{what}, seconds"))

    def _add_limit(self, owner: str, name: str, values: Mapping[str, Value]) -> None:
        section = self._form.add_limit()
        self._owners.append(owner)
        for key, value in {"id": name, **values}.items():
            self._set(section, key, value)

    # --- the form ---------------------------------------------------------------------------------------

    def _put(self, path: tuple[str, ...], key: str, value: Value) -> None:
        self._set(next(one for one in self._form.sections() if one.path == path), key, value)

    def _set(self, section: Section, key: str, value: Value) -> None:
        self._form.set(section, next(one for one in section.fields if one.key == key), value)

    def _question_of(self, key: str) -> str:
        """Return the question that a key path of a refusal is the answer of."""
        found = self._form.locate(key)
        if found is None:
            return "name"
        section, asked = found
        if section.path[:1] == ("limits",):
            return self._owners[int(section.path[1])]
        name = asked.key if asked is not None else ""
        full = ".".join([*(str(part) for part in section.path), name])
        return "manual" if full == "source" else full

    def _title(self, key: str) -> str:
        known = {one.key: one.field.title for page in PAGES for one in page.questions}
        return known.get(key, key)


def _split(key: str) -> tuple[tuple[str, ...], str]:
    """Return the table of a key, and its name there; of ``engine.reference_rpm.ng`` the latter has a dot."""
    table, dot, name = key.partition(".")
    return ((table,), name) if dot else ((), key)


def _level_of(row: Any) -> float:
    return float(row[0])


def _celsius(fahrenheit: float) -> float:
    return float(scale(fahrenheit, BY_NAME["degF"], BY_NAME["degC"]))


def _unit_key(page: Page, quantity: Quantity) -> str:
    return f"{page.name}/{quantity}"


def _skip_key(page: Page) -> str:
    return f"{page.name}/skipped"


def _is_taken(stem: str) -> bool:
    """Return whether a profile has this file name, one's own or a shipped one, which it would hide."""
    return any((folder / f"{stem}.toml").exists() for folder in (own_folder(), resource("profiles")))
