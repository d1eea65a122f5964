"""Line drawings of our own of where the label of an appliance is: a shape by its kind, with the spot marked.

No word stands in a drawing, so it fits every language; `label_place` says beside it what it shows. The spot is told by
its shape, a filled plate in a ring with an arrow, and not by colour alone. The shapes stand in `pictures.toml`.
"""

import functools
import tomllib
from pathlib import Path
from typing import Any

from ...load.tables.tables import ApplianceClass
from ..text.phrases import Phrases
from .palette import INK, MUTED, REPAIRING


def picture(kind: ApplianceClass) -> str:
    """Draw where the label of a kind is: a plate with two lines of print in a ring, and an arrow to it."""
    drawn = _drawn(kind)
    x, y = drawn["x"], drawn["y"]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 250 204" width="250" height="204" fill="none"'
        f' stroke="{INK}" stroke-width="2.4" stroke-linejoin="round" stroke-linecap="round">'
        f"{_drawings()['shapes'][drawn['shape']]}"
        f'<circle cx="{x}" cy="{y}" r="21" fill="white" fill-opacity=".7" stroke="{REPAIRING}" stroke-width="3.5"/>'
        f'<rect x="{x - 12}" y="{y - 9}" width="24" height="18" rx="2" fill="{REPAIRING}" stroke="{REPAIRING}"/>'
        f'<path d="M{x - 7} {y - 3}h14 M{x - 7} {y + 3}h9" stroke="white" stroke-width="2"/>'
        f'<path d="M{x + 44} {y + 12}L{x + 25} {y + 5}m9-3-9 3 5 8" stroke="{MUTED}"/></svg>'
    )


def label_place(words: Phrases, kind: ApplianceClass) -> str:
    """Say where the label of a kind is, as the drawing shows it."""
    return words.say(f"picture.{_drawn(kind)['words']}")


def _drawn(kind: ApplianceClass) -> dict[str, Any]:
    return _drawings()["kinds"].get(kind.kind) or _drawings()["groups"][kind.group]


@functools.cache
def _drawings() -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))
