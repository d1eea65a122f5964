"""The colours in which things are drawn, on a screen and on paper alike; no meaning rests on colour alone."""

from typing import Final

INK: Final = "#20302f"
MUTED: Final = "#566462"
RULE: Final = "#dfe5e2"
STOP: Final = "#a3231b"
REPAIRING: Final = "#0f6b62"
OTHERWISE: Final = "#a4501c"
"""Dark teal and burnt orange: apart in hue for every common colour vision, and both readable as text on white."""
