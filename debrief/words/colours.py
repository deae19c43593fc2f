"""The colours by what they stand for: light, dark and high contrast. Screen and paper take them from here.

To add a role, add its field and its colour in each palette.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Palette:
    """Colours (``#RRGGBB``) by what they stand for. Muted text never stands on a tint."""

    name: str
    ground: str
    panel: str
    ink: str
    muted: str
    hairline: str
    grid: str
    selection: str
    speed: str
    temperature: str
    torque: str
    voltage: str
    limit: str
    caution: str
    normal: str
    tint_limit: str
    tint_caution: str
    on_limit: str

    @property
    def tint_possible(self) -> str:
        """Halfway between the panel and the limit's tint."""
        pairs = ((int(one[at : at + 2], 16) for one in (self.panel, self.tint_limit)) for at in (1, 3, 5))
        return "#" + "".join(f"{round(sum(pair) / 2):02X}" for pair in pairs)


LIGHT = Palette(
    name="light",
    ground="#F4F2EC",
    panel="#FCFBF7",
    ink="#20262B",
    muted="#5B646B",
    hairline="#D8D4C8",
    grid="#E8E4DA",
    selection="#E6ECEF",
    speed="#0E62B8",
    temperature="#A3420A",
    torque="#08604A",
    voltage="#74297A",
    limit="#AD1030",
    caution="#7E5B00",
    normal="#2A7247",
    tint_limit="#F6DDD6",
    tint_caution="#F3E8CC",
    on_limit="#FFFFFF",
)
DARK = Palette(
    name="dark",
    ground="#14181B",
    panel="#1C2125",
    ink="#E8E6DF",
    muted="#9AA4AB",
    hairline="#343B40",
    grid="#262C31",
    selection="#262E34",
    speed="#90C2FD",
    temperature="#F2935C",
    torque="#4CC3AC",
    voltage="#C887CC",
    limit="#FF6B63",
    caution="#E5B84B",
    normal="#6CC490",
    tint_limit="#43262A",
    tint_caution="#393221",
    on_limit="#14181B",
)
CONTRAST = Palette(
    name="contrast",
    ground="#000000",
    panel="#000000",
    ink="#FFFFFF",
    muted="#D6D6D6",
    hairline="#8C8C8C",
    grid="#3A3A3A",
    selection="#24364A",
    speed="#7CC4FF",
    temperature="#FFA36B",
    torque="#65ECD1",
    voltage="#C988CC",
    limit="#FF7A72",
    caution="#FFD25E",
    normal="#7FE0A4",
    tint_limit="#4A1518",
    tint_caution="#3D3000",
    on_limit="#000000",
)
PALETTES = {"light": LIGHT, "dark": DARK, "contrast": CONTRAST}
ON_PAPER = replace(LIGHT, name="paper", ground="#FFFFFF", panel="#F7F5EF")
"""The light colours on white."""

COLOUR_ROLE = {"limit": "limit", "possible": "limit", "caution": "caution", "note": "muted"}
"""The role of a finding's sign and words, by severity."""

TINT_ROLE = {
    "limit": "tint_limit",
    "possible": "tint_possible",
    "caution": "tint_caution",
    "note": "selection",
}
"""The role of its stretch, from the worst to the mildest: what is only possible is lighter."""
