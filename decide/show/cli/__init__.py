"""The commands."""

import gc
from typing import Final

USUAL_THRESHOLDS: Final = gc.get_threshold()
"""How often what serves pages for months looks for circles; a command is short, and that took a twentieth of it."""
gc.set_threshold(200_000, 20, 100)
