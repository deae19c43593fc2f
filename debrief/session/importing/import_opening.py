"""Opening a file that may have to be asked about, and opening it as a person said."""

from __future__ import annotations

from collections.abc import Callable, Collection, Generator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from debrief.errors import UserError
from debrief.recording.matching.remembered import Kept
from debrief.recording.model import Channel, Recording
from debrief.session.assessing.file_assessment import Choices
from debrief.session.assessing.starter_rest import Known, nothing_known
from debrief.session.importing.file_proposal import (
    FileProposal,
    as_remembered,
    completed,
    recorded_or_proposed,
    remembered_for,
    table_of,
)
from debrief.session.importing.judgement_gaps import bare_words
from debrief.session.opening.opening_steps import Progress, assess_recording, reading_progress
from debrief.session.session import Session
from debrief.steps import relayed


class Unsure(UserError):
    """The file can be read, but something has to be chosen first; `proposal` says what."""

    def __init__(self, proposal: FileProposal) -> None:
        asked = [question.text for question in proposal.questions if question.matters]
        rest = "It has to be said whose recording it is."
        if not proposal.has_a_lane:
            rest = bare_words([column.channel for column in proposal.columns])
        super().__init__(proposal.problem or " ".join(asked) or rest)
        self.proposal = proposal


@dataclass(frozen=True)
class Accepted:
    """What a person decided about a file.

    Attributes
    ----------
    path : Path
    choices : Choices
    kept : tuple of str
        The channels that the recording is to have; others that the reader finds stay unused.
    remember : bool or None
        Keep the column choices for this kind of file (True), forget them (False), or leave that alone.
    sha256 : str
        Of the file of which it was decided; another one of its name is refused. Empty where none was looked at.
    """

    path: Path
    choices: Choices
    kept: tuple[str, ...]
    remember: bool | None = None
    sha256: str = ""


def open_or_ask(
    path: Path | str, known: Callable[[Recording], Known] = nothing_known, *, asks_whose: bool = False
) -> Generator[Progress, None, Session]:
    """Open a file; yields its progress and returns the session.

    Columns and rate that were remembered for this kind of file are used as remembered, and the session's choices
    say so; only a file without a header is asked about anew, since nothing tells its kind. Whose recording it is
    is never taken from what is remembered: with `asks_whose` that is offered first, else it stays open.

    Raises
    ------
    Unsure
        Something has to be chosen first.
    UserError
        What is wrong with the file.
    """
    file = Path(path)
    read = yield from table_of(file)
    kept = remembered_for(read.dialect)
    choices = as_remembered(kept)
    recording, proposal = yield from recorded_or_proposed(read, choices, kept)
    is_known = bool(kept.maps) and proposal.has_header
    asked = (proposal.is_unsure and not is_known) or (not kept.is_empty and not proposal.has_header)
    if recording is None or asked or (asks_whose and proposal.offer.names_an_engine):
        raise Unsure((yield from completed(read, proposal)))
    del read  # the cells are not needed any more, and a long recording is large
    return (yield from assess_recording(file, recording, choices, known))


def open_as(
    accepted: Accepted, known: Callable[[Recording], Known] = nothing_known
) -> Generator[Progress, None, Session]:
    """Open a file as a person said; yields its progress and returns the session.

    Raises
    ------
    UserError
        What is wrong with the file or with what was said.
    """
    from debrief.recording.identity import with_entered
    from debrief.recording.matching.remembered import Remembered
    from debrief.recording.reader import read_steps

    file, choices = accepted.path, accepted.choices
    steps = read_steps(file, maps=choices.maps, rate_hz=choices.rate_hz)
    recording = yield from relayed(steps, reading_progress(file))
    if accepted.sha256 not in ("", recording.provenance.sha256):
        raise UserError(f"{file.name} changed since its columns were looked at: open it again.")
    recording = with_entered(
        only(recording, accepted.kept),
        aircraft=choices.aircraft,
        engine_serial=choices.engine_serial,
        engine_serials=choices.engine_serials,
        start_iso=choices.start_iso,
        altimeter=choices.altimeter,
        source="entered",
    )
    session = yield from assess_recording(file, recording, choices, known)
    if accepted.remember is not None:
        signature, remembered = recording.provenance.header_signature, Remembered()
        kept = _kept(choices, remembered.kept(signature)) if accepted.remember else Kept()
        remembered.remember(signature, kept)
    return session


def _kept(choices: Choices, before: Kept) -> Kept:
    """Return what is to be kept: the columns and rate as they are now, and whose it is where that was said, else as before."""
    return Kept(
        maps=choices.maps,
        rate_hz=choices.rate_hz,
        profile=choices.profile or before.profile,
        aircraft=choices.aircraft or before.aircraft,
        engine_serial=choices.engine_serial or before.engine_serial,
        engine_serials=choices.engine_serials or before.engine_serials,
        on=date.today().isoformat(),
    )


def forget_steps(signature: str) -> Generator[Progress, None, str]:
    """Forget what is remembered for a kind of file; return its signature.

    Raises
    ------
    UserError
        It could not be written.
    """
    from debrief.recording.matching.remembered import Remembered

    yield Progress("Forgetting")
    Remembered().remember(signature, Kept())
    return signature


def only(recording: Recording, kept: Collection[str]) -> Recording:
    """Return the recording with these channels alone; what a person mapped says that a person did.

    Other channels become columns of their own name, and what was flagged of them goes.

    Raises
    ------
    UserError
        None of the channels holds a value.
    """
    channels: dict[str, Channel] = {}
    unmapped = dict(recording.unmapped)
    for name, channel in recording.channels.items():
        if name in kept:
            source = "entered" if channel.map_source == "option" else channel.map_source
            channels[name] = replace(channel, map_source=source)
            continue
        own = channel.column or name
        if own in unmapped:
            own = f"{own} ({name})"
        unmapped[own] = replace(channel, name=own, map_source="none")
    if not channels:
        name = recording.provenance.file_name
        raise UserError(f"{name}: none of the chosen columns holds a value; choose others.")
    quality = tuple(
        flag
        for flag in recording.quality
        if flag.channel in channels or flag.channel not in recording.channels
    )
    return replace(recording, channels=channels, unmapped=unmapped, quality=quality)
