"""A figure in the making: its pieces are gathered and handed to Plotly in one, since each piece it is given later makes
it hold all the earlier ones to its rules again."""

from typing import Any

import plotly.graph_objects as go

from ...arrays import Floats


def filled(colour: str, pattern: str, size: int, edge: float = 1) -> dict[str, Any]:
    """How a bar is filled: with a colour, hatched by a pattern, with a white edge."""
    return {"color": colour, "line": {"color": "white", "width": edge}, "pattern": {"shape": pattern, "size": size}}


class Sketch:
    """What a figure is made of; each piece of `layout` and `traces` has Plotly's own attributes."""

    def __init__(self, layout: dict[str, Any]) -> None:
        self.layout = {**layout, "annotations": [], "shapes": []}
        self.traces: list[dict[str, Any]] = []

    def add_scatter(self, **attributes: Any) -> None:
        """Add points, or a line through them."""
        self.traces.append({"type": "scatter", **attributes})

    def add_line(self, x: Floats, y: Floats, colour: str, width: float, dash: str = "", **attributes: Any) -> None:
        """Add a line through points, whole or dashed."""
        line = {"color": colour, "width": width} | ({"dash": dash} if dash else {})
        self.add_scatter(x=x, y=y, mode="lines", line=line, **attributes)

    def add_upright(self, kind: str, x0: float, x1: float, **attributes: Any) -> None:
        """Add a line or a band (`rect`) from the bottom of the plot to its top."""
        across = {"yref": "y domain", "y0": 0, "y1": 1}
        self.layout["shapes"].append({"type": kind, "x0": x0, "x1": x1, **across, **attributes})

    def figure(self) -> go.Figure:
        """The figure, held to Plotly's rules."""
        return go.Figure(data=self.traces, layout=self.layout)
