"""A file of two engines, made of a demo flight. No test module."""

from __future__ import annotations

from pathlib import Path

DEMO = Path(__file__).parents[1] / "demo_flights"


def twin(folder: Path) -> Path:
    """Write the normal start with its channels once more, as those of a second engine."""
    lines = (DEMO / "01_cool_normal_start.csv").read_text(encoding="utf-8").splitlines()
    head = next(i for i, line in enumerate(lines) if not line.startswith("#"))
    names = lines[head].split(",")
    own = [
        i
        for i, name in enumerate(names)
        if name.split(" (")[0] in ("Ng", "ITT", "Torque", "Starter", "Fuel on", "Fuel")
    ]
    out = lines[:head]
    for line in lines[head:]:
        cells = line.split(",")
        more = [
            cells[i].replace(" (", " 2 (") + ("" if " (" in cells[i] or line is not lines[head] else " 2")
            for i in own
        ]
        out.append(",".join([*cells, *(more if line is lines[head] else [cells[i] for i in own])]))
    file = folder / "twin.csv"
    file.write_text("\n".join(out) + "\n", encoding="utf-8")
    return file
