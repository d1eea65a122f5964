"""The colours in which things are drawn, on a screen and on paper alike; no meaning rests on colour alone."""

from typing import Final

INK: Final = "#20302f"
MUTED: Final = "#566462"
RULE: Final = "#dfe5e2"
STOP: Final = "#a3231b"
REPAIRING: Final = "#0f6b62"
OTHERWISE: Final = "#a4501c"
"""Dark teal and burnt orange: apart in hue for every common colour vision, and both readable as text on white."""

CATEGORY_LOOK: Final = {
    "purchase": ("#2c4a6b", ""),
    "repair": ("#12766b", "/"),
    "electricity": ("#e3ab3c", ""),
    "gas": ("#b65b38", "\\"),
    "water": ("#7db4d6", "."),
    "maintenance_and_repair": ("#735f8e", "x"),
    "other": ("#b8b3a6", "-"),
}
"""Fill and pattern of each category; neighbours differ in lightness too."""

LIGHT_FILLS: Final = frozenset({"electricity", "water", "other"})
"""Fills on which dark text is read."""
