"""What is said of a history whose file is damaged: the file's fault, in words, with what to do.

Nothing here loads the database. `DamagedValue` is raised where something comes out of the file that this
program never writes; `debrief.history.storage.database.told` makes it `DamagedHistory`, which names the place.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from debrief.errors import UserError
from debrief.history.storage.copies import newest_copy


class DamagedValue(Exception):
    """Something in the database that this program never writes there, in a few words."""


class DamagedHistory(UserError):
    """A history that is not what it was when it was written."""


def damaged(place: str, what: str) -> DamagedHistory:
    """Return the error for a damaged history.

    Parameters
    ----------
    place : str
        The file, or the URL of a server's database without its password.
    what : str
        What is damaged, in a few words without a full stop.
    """
    if "://" in place:
        return DamagedHistory(
            f"The history {place} is damaged: {what}. Ask the keeper of the server to put back a copy of it."
        )
    copy = newest_copy(place)
    whole = "" if copy is None else f" The newest whole copy is {copy.file} of {copy.day}."
    return DamagedHistory(
        f"The history {place} is damaged: {what}. `debrief history salvage {place} -o NEW` brings what can "
        f"be read into a new history.{whole}"
    )


@contextmanager
def from_the_file(what: str) -> Iterator[None]:
    """Around code that takes kept text apart, and nothing else: what does not fit there is damage.

    Parameters
    ----------
    what : str
        Which text, as ``the document of one.csv``.
    """
    try:
        yield
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError) as error:
        raise DamagedValue(f"{what} cannot be read") from error
