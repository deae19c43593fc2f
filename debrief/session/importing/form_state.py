"""What a person has answered in the import dialog as plain values, so that a crash loses none of it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TypeGuard

from debrief.session.importing.column_choices import NOT_USED, unit_choices
from debrief.session.importing.import_form import ImportForm

_OF_THE_KIND = ("rate_text", "aircraft", "engine_serial")
"""Texts that another file of this kind may need as well."""
_OF_THE_FILE = ("start_text", "altimeter")


def form_state(form: ImportForm) -> dict[str, object]:
    """Return what stands in the form, ready for JSON."""
    proposal = form.proposal
    told, unused, said = form.answered
    return {
        "path": str(proposal.path.resolve()),
        "signature": proposal.signature,
        "sha256": proposal.sha256,
        "columns": [[n, proposal.names[n], channel, unit] for n, (channel, unit) in sorted(told.items())],
        "unused": sorted(unused),
        "said": sorted(said),
        **{name: getattr(form, name) for name in (*_OF_THE_KIND, *_OF_THE_FILE)},
        "engine_serials": {str(n): serial for n, serial in form.engine_serials.items()},
        "profile": form.profile,
        "remember": form.remember,
    }


def put_back(form: ImportForm, state: Mapping[str, object]) -> None:
    """Let the form hold again what stood in one of the same kind of file; what does not fit it is passed over.

    Start and altimeter setting are those of one recording, and come back for the same file only.
    """
    told = {}
    for row in _list(state.get("columns")):
        if isinstance(row, list) and len(row) == 4 and _fits(form, *row):
            told[row[0]] = (row[2], row[3])
    unused = {n for n in _list(state.get("unused")) if _is_column(n, form) and n not in told}
    form.put_back(told, unused, {text for text in _list(state.get("said")) if isinstance(text, str)})
    same_file = state.get("sha256") == form.proposal.sha256
    for name in (*_OF_THE_KIND, *(_OF_THE_FILE if same_file else ())):
        text = state.get(name)
        if isinstance(text, str):
            setattr(form, name, text)
    serials = state.get("engine_serials")
    if isinstance(serials, dict):
        known = {int(n): text for n, text in serials.items() if str(n).isdecimal() and isinstance(text, str)}
        form.engine_serials = {**form.engine_serials, **known}
    profile = state.get("profile")
    if isinstance(profile, str):
        # One that was made meanwhile is known by its name now.
        names = (profile, Path(profile).stem)
        form.profile = next((one for one in names if one in dict(form.proposal.profiles)), form.profile)
    form.remember = state.get("remember") is True


def _list(value: object) -> list[object]:
    return value if isinstance(value, list) else []


def _is_column(number: object, form: ImportForm) -> TypeGuard[int]:
    known = isinstance(number, int) and not isinstance(number, bool)
    return known and number in range(len(form.proposal.columns))


def _fits(form: ImportForm, number: object, name: object, channel: object, unit: object) -> bool:
    if not (_is_column(number, form) and isinstance(channel, str) and isinstance(unit, str)):
        return False
    try:
        units = unit_choices(channel)
    except KeyError:
        return False
    return channel != NOT_USED and form.proposal.names[number] == name and unit in ("", *units)
