"""Where the files that ship with the program lie, in a checkout and in an installed wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def resource(name: str) -> Path:
    """Return the path of a shipped file or folder, for example ``profiles/tarn-tg7.toml``.

    Parameters
    ----------
    name : str
        Path below ``resources/`` with forward slashes; ``demo_flights/...`` names the demo flights.

    Raises
    ------
    FileNotFoundError
        The program is installed incompletely.

    Notes
    -----
    A wheel carries the files inside the package (``debrief/_resources``). A checkout and an editable
    install have no such folder, since a copy there would go stale; they use the checkout's own.
    """
    inside = _PACKAGE / "_resources" / name
    if inside.exists():
        return inside
    checkout = _PACKAGE.parent
    beside = checkout / name if name.split("/")[0] == "demo_flights" else checkout / "resources" / name
    if beside.exists():
        return beside
    raise FileNotFoundError(f"The program's file {name} is missing: install Turbine Debrief again.")
