"""A profile under a person's hands: its form, what was typed that the file cannot take, undo, and what is said of it."""

from __future__ import annotations

from dataclasses import dataclass

from debrief.profile.fields import ProfileError
from debrief.profile.model import EngineProfile
from debrief.session.profiles.edit_history import EditHistory
from debrief.session.profiles.profile_cells import FieldError, Value
from debrief.session.profiles.profile_fields import Field
from debrief.session.profiles.profile_form import ProfileForm, Section
from debrief.words.cautions import NOT_APPROVED
from debrief.words.channels import CANONICAL, channel_words, within_sentence

Place = tuple[tuple[str | int, ...], str]
"""The path of a part and the key of a field there; the key is empty for the part as a whole."""

_Unread = dict[Place, tuple[Value, str]]

NEW = "A new profile: begin with its name. What is left out is not judged."


@dataclass(frozen=True)
class Checked:
    """What the profile's own reader says.

    Attributes
    ----------
    profile : EngineProfile or None
        None where something is refused.
    words : str
        For a person.
    place : Place or None
        Where what is wrong stands.
    problem : ProfileError or None
        The refusal, unless something cannot even be written into the file.
    """

    profile: EngineProfile | None
    words: str
    place: Place | None = None
    problem: ProfileError | None = None


class ProfileEdits:
    """One profile that is edited.

    Parameters
    ----------
    form : ProfileForm
    """

    def __init__(self, form: ProfileForm) -> None:
        self.form = form
        self._unread: _Unread = {}
        self._history: EditHistory[tuple[str, _Unread]] = EditHistory((form.text, {}))

    @property
    def is_unsaved(self) -> bool:
        """Whether closing would lose something: a change, or text that the file cannot take."""
        return self.form.is_changed or bool(self._unread)

    # --- edits ------------------------------------------------------------------------------------------

    def value(self, section: Section, field: Field) -> Value:
        """Return what a field shows; what could not be read stays as it was typed until it is mended."""
        kept = self._unread.get((section.path, field.key))
        return kept[0] if kept is not None else self.form.value(section, field)

    def set(self, section: Section, field: Field, value: Value) -> None:
        """Take what was typed into a field."""
        place = (section.path, field.key)
        unread = {one: kept for one, kept in self._unread.items() if one != place}
        try:
            self.form.set(section, field, value)
        except FieldError as error:
            unread[place] = (value, f"{section.title}, {within_sentence(str(error))}")
        self._unread = unread
        self._record(within_sentence(field.title), place)

    def add_gauge(self, channel: str) -> Section:
        """Add a gauge of a channel.

        Raises
        ------
        FieldError
            There is one already.
        """
        section = self.form.add_gauge(channel, CANONICAL[channel])
        self._record(f"gauge: {within_sentence(channel_words(channel))}", (section.path, ""), alone=True)
        return section

    def add_limit(self) -> Section:
        """Add an empty limit."""
        section = self.form.add_limit()
        self._record("another limit", (section.path, ""), alone=True)
        return section

    def add_power_check(self) -> Section:
        """Add a power check without points."""
        section = self.form.add_power_check()
        self._record("another power check", (section.path, ""), alone=True)
        return section

    def remove(self, section: Section) -> None:
        """Take a gauge, a limit or a power check out."""
        gone = section.path
        self.form.remove(section)
        self._unread = {
            _moved_up(place, gone): kept for place, kept in self._unread.items() if place[0] != gone
        }
        self._record(f"{within_sentence(section.title)} taken out", (gone, ""), alone=True)

    def _record(self, what: str, place: Place, *, alone: bool = False) -> None:
        self._history.record((self.form.text, self._unread), what, place)
        if alone:
            self._history.pause()

    # --- undo -------------------------------------------------------------------------------------------

    def pause(self) -> None:
        """Let the next edit be a step of its own."""
        self._history.pause()

    @property
    def undo_words(self) -> str:
        """What `undo` would take back; empty where there is nothing."""
        return self._history.undo_words

    @property
    def redo_words(self) -> str:
        """What `redo` would do again; empty where there is nothing."""
        return self._history.redo_words

    def undo(self) -> Place | None:
        """Take the last step back; return where it was."""
        return self._returned_to(self._history.undo())

    def redo(self) -> Place | None:
        """Do again what was taken back; return where it was."""
        return self._returned_to(self._history.redo())

    def _returned_to(self, place: object) -> Place | None:
        if not isinstance(place, tuple):
            return None
        text, self._unread = self._history.state
        self.form.restore(text)
        return place

    # --- what is said -----------------------------------------------------------------------------------

    def check(self) -> Checked:
        """Have the profile read as it stands."""
        if self._unread:
            place, (_, words) = next(iter(self._unread.items()))
            return Checked(None, words, place)
        try:
            profile = self.form.check()
        except ProfileError as error:
            return self._refused(error)
        limits, gauges = len(profile.limits), len(profile.gauges)
        approved = "" if profile.approved_data else f" {NOT_APPROVED}."
        return Checked(
            profile,
            f"Profile valid: {limits} limit{'' if limits == 1 else 's'}, {gauges} "
            f"gauge{'' if gauges == 1 else 's'}. What is left out is not judged.{approved}",
        )

    def _refused(self, error: ProfileError) -> Checked:
        if self.form.path is None and not self.form.is_changed:
            return Checked(None, NEW, None, error)
        found = self.form.locate(error.key)
        if found is None:
            return Checked(None, str(error), None, error)
        section, field = found
        place = (section.path, field.key if field is not None else "")
        if section.path[:1] == ("limits",):
            allowed = next(one for one in section.fields if one.key == "allowed")
            if not self.form.value(section, allowed):
                words = f"{section.title} needs its levels: give at least one row below Allowed."
                return Checked(None, words, (section.path, "allowed"), error)
        if section.path[:1] == ("power_check",):
            points = next(one for one in section.fields if one.key == "points")
            if not self.form.value(section, points):
                words = f"{section.title} needs its points: give the manual's chart, point by point."
                return Checked(None, words, (section.path, "points"), error)
        part = section.title if field is None else f"{section.title}, {within_sentence(field.title)}"
        line = f" (line {error.line})" if error.line is not None else ""
        return Checked(None, f"{part}{line}: {error.reason}", place, error)


def _moved_up(place: Place, gone: tuple[str | int, ...]) -> Place:
    """Return the place of a field after the part `gone` was taken out: later ones of its list move up by one."""
    path, key = place
    if path[:1] == gone[:1] and isinstance(gone[-1], int) and int(path[1]) > gone[-1]:
        return (path[0], int(path[1]) - 1), key
    return place
