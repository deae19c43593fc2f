"""What can be judged with a profile as it stands, and what cannot, for whoever writes it."""

from __future__ import annotations

from dataclasses import dataclass

from debrief.profile.gaps import absent_keys, all_judged, words_of
from debrief.profile.model import EngineProfile


@dataclass(frozen=True)
class Judged:
    """Something that a complete profile has judged.

    Attributes
    ----------
    what : str
        In words.
    absent : tuple of str
        The keys that the profile lacks for it, with their tables; empty where it is judged.
    """

    what: str
    absent: tuple[str, ...]

    @property
    def words(self) -> str:
        """The same with what is missing, in words."""
        what = self.what[:1].upper() + self.what[1:]
        return f"{what}: no {' and no '.join(words_of(key) for key in self.absent)}" if self.absent else what


def completeness(profile: EngineProfile) -> tuple[Judged, ...]:
    """Return everything that can be judged, each with what the profile lacks for it; what lacks something first."""
    all_of_it = [Judged(what, absent_keys(profile, what)) for what, _ in all_judged(profile)]
    return tuple(sorted(all_of_it, key=lambda one: not one.absent))
