"""Line drawings of our own of where the label of an appliance is: a shape by its kind, with the spot marked.

No word stands in a drawing, so it fits every language; `label_place` says beside it what it shows. The spot is told by
its shape, a filled plate in a ring with an arrow, and not by colour alone.
"""

from typing import Final

from ...load.tables.tables import ApplianceClass
from ..text.phrases import Phrases
from .palette import INK, MUTED, REPAIRING

_REFRIGERATOR: Final = """
<path d="M70 14h84v172H70z M70 72h84"/><path d="M70 14 26 26v54l44-8z M70 72 26 86v110l44-10z"/>
<path d="M78 100h68 M78 128h68 M78 158h30v20H78z M114 158h32v20h-32z M78 40h68"/>{spot}"""
_CHEST: Final = """
<path d="M40 90h160v92H40z M40 90 56 40h160l-16 50"/><path d="M58 182v10 M182 182v10 M52 166h20"/>{spot}"""
_WASHER: Final = """
<path d="M66 16h116v172H66z M66 46h116 M76 25h34v12H76z"/><circle cx="160" cy="31" r="7"/>
<circle cx="124" cy="112" r="44"/><circle cx="124" cy="112" r="33"/><path d="M84 92 34 72v84l50-24"/>
<circle cx="50" cy="114" r="5"/>{spot}"""
_DISHWASHER: Final = """
<path d="M70 16h116v132H70z M80 26h96v112H80z"/><path d="M70 148h116l28 42H42z"/>
<path d="M88 64h80 M88 100h80 M92 64v16 M108 64v16 M124 64v16 M140 64v16 M156 64v16"/>{spot}"""
_COOKER: Final = """
<path d="M62 34h120v142H62z M62 60h120 M72 176v12 M172 176v12"/>
<path d="M78 34v-8h24v8 M140 34v-8h24v8"/><circle cx="82" cy="47" r="5"/><circle cx="102" cy="47" r="5"/>
<circle cx="142" cy="47" r="5"/><circle cx="162" cy="47" r="5"/><path d="M72 70h100v58H72z"/>
<path d="M50 142h144l10 38H40z" fill="white"/><path d="M104 164h36"/>{spot}"""
_BUILT_IN: Final = """
<path d="M52 26h144v130H52z M64 56h120v88H64z"/><path d="M64 144h120l26 44H38z" fill="white"/>
<circle cx="78" cy="41" r="6"/><circle cx="170" cy="41" r="6"/><path d="M72 84h104 M72 112h104"/>{spot}"""
_FLAT: Final = """
<path d="M30 60h188v92H30z"/><circle cx="80" cy="92" r="22"/><circle cx="168" cy="92" r="22"/>
<circle cx="80" cy="92" r="12"/><path d="M108 138h40"/><path d="M30 152v18h188v-18"/>{spot}"""
_PANEL: Final = """
<path d="M76 14h100v174H76z"/><path d="M76 86H30v96h46"/><path d="M90 100h72v74H90z M98 160h56 M104 160v-8 M118 160v-8
 M132 160v-8 M146 160v-8"/><path d="M108 14V2h36v12"/>{spot}"""
_TANK: Final = """
<path d="M84 28c0-14 84-14 84 0v146c0 14-84 14-84 0z M84 28c0 14 84 14 84 0"/>
<path d="M104 18V4 M148 18V4 M88 186v8 M164 186v8"/><path d="M108 150h36v20h-36z"/>{spot}"""
_WINDOW_UNIT: Final = """
<path d="M44 50h160v100H44z M44 50l20-18h160l-20 18 M204 50l20-18v100l-20 18"/>
<path d="M58 66h100v68H58z M58 80h100 M58 94h100 M58 108h100 M58 122h100"/>{spot}"""
_OUTSIDE: Final = """
<path d="M58 38h132v140H58z"/><path d="M72 56h104 M72 74h104 M72 92h104 M72 110h104"/>
<path d="M58 38c0-12 132-12 132 0 M190 156h26 M190 166h26 M50 178h148"/>{spot}"""

_KINDS: Final = {
    "freezer_chest": (_CHEST, 70, 172, "back"),
    "dishwasher": (_DISHWASHER, 78, 80, "rim"),
    "range_electric": (_COOKER, 122, 146, "drawer"),
    "range_gas": (_COOKER, 122, 146, "drawer"),
    "oven_electric": (_BUILT_IN, 124, 150, "frame"),
    "cooktop_induction": (_FLAT, 124, 164, "under"),
    "microwave": (_BUILT_IN, 72, 104, "frame"),
    "central_ac": (_OUTSIDE, 168, 160, "outside"),
    "heat_pump_air": (_OUTSIDE, 168, 160, "outside"),
}
"""Drawing, spot and the words of what is drawn, where a kind differs from its group."""

_GROUPS: Final = {
    "cooling": (_REFRIGERATOR, 146, 112, "inside"),
    "laundry": (_WASHER, 124, 150, "door"),
    "kitchen": (_BUILT_IN, 124, 150, "frame"),
    "heating": (_PANEL, 148, 60, "panel"),
    "hot_water": (_TANK, 126, 96, "tank"),
    "air": (_WINDOW_UNIT, 212, 92, "side"),
}


def picture(kind: ApplianceClass) -> str:
    """Draw where the label of a kind is."""
    shape, x, y, _ = _drawn(kind)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 250 204" width="250" height="204" fill="none"'
        f' stroke="{INK}" stroke-width="2.4" stroke-linejoin="round" stroke-linecap="round">'
        f"{shape.format(spot=_spot(x, y))}</svg>"
    )


def label_place(words: Phrases, kind: ApplianceClass) -> str:
    """Say where the label of a kind is, as the drawing shows it."""
    return words.say(f"picture.{_drawn(kind)[3]}")


def _drawn(kind: ApplianceClass) -> tuple[str, int, int, str]:
    return _KINDS.get(kind.kind) or _GROUPS[kind.group]


def _spot(x: int, y: int) -> str:
    """A plate with two lines of print in a ring, and an arrow to it."""
    return (
        f'<circle cx="{x}" cy="{y}" r="21" fill="white" fill-opacity=".7" stroke="{REPAIRING}" stroke-width="3.5"/>'
        f'<rect x="{x - 12}" y="{y - 9}" width="24" height="18" rx="2" fill="{REPAIRING}" stroke="{REPAIRING}"/>'
        f'<path d="M{x - 7} {y - 3}h14 M{x - 7} {y + 3}h9" stroke="white" stroke-width="2"/>'
        f'<path d="M{x + 44} {y + 12}L{x + 25} {y + 5}m9-3-9 3 5 8" stroke="{MUTED}"/>'
    )
