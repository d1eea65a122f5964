"""A figure in the making: its pieces are gathered and handed to Plotly in one, since each piece it is given later makes
it hold all the earlier ones to its rules again."""

from typing import Any, Final

import numpy as np
import plotly.graph_objects as go

from ...arrays import Floats

ACROSS_ALL: Final = {"yref": "y domain", "y0": 0, "y1": 1}
"""From the bottom of the plot to its top."""


def filled(colour: str, pattern: str, size: int, edge: float = 1) -> dict[str, Any]:
    """How a bar is filled: with a colour, hatched by a pattern, with a white edge."""
    return {"color": colour, "line": {"color": "white", "width": edge}, "pattern": {"shape": pattern, "size": size}}


class Sketch:
    """What a figure is made of; each piece takes Plotly's own attributes."""

    def __init__(self, layout: dict[str, Any]) -> None:
        self._layout = {**layout, "annotations": [], "shapes": []}
        self._traces: list[dict[str, Any]] = []

    def add_scatter(self, **attributes: Any) -> None:
        """Add points, or a line through them."""
        self._traces.append({"type": "scatter", **attributes})

    def add_line(self, x: Floats, y: Floats, colour: str, width: float, dash: str = "", **attributes: Any) -> None:
        """Add a line through points, whole or dashed."""
        line = {"color": colour, "width": width} | ({"dash": dash} if dash else {}) | attributes.pop("line", {})
        self.add_scatter(x=x, y=y, mode="lines", line=line, **attributes)

    def add_point(self, x: float, y: float, symbol: str, colour: str) -> None:
        """Add an open mark at a point."""
        marker = {"symbol": symbol, "size": 13, "color": "white", "line": {"color": colour, "width": 2.5}}
        self.add_scatter(x=np.array([x]), y=np.array([y]), mode="markers", marker=marker)

    def show_legend(self, **legend: Any) -> None:
        """Say beside the plot what is drawn how; a tap on it hides nothing."""
        self.update_layout(showlegend=True, legend=legend, legend_itemclick=False, legend_itemdoubleclick=False)

    def add_bar(self, **attributes: Any) -> None:
        """Add bars."""
        self._traces.append({"type": "bar", **attributes})

    def add_annotation(self, **attributes: Any) -> None:
        """Add a text at a point."""
        self._layout["annotations"].append(attributes)

    def add_shape(self, **attributes: Any) -> None:
        """Add a line or a rectangle."""
        self._layout["shapes"].append(attributes)

    def add_vline(self, x: float, **attributes: Any) -> None:
        """Add an upright line through the whole plot."""
        self.add_shape(type="line", x0=x, x1=x, **ACROSS_ALL, **attributes)

    def add_vrect(self, x0: float, x1: float, **attributes: Any) -> None:
        """Add an upright band through the whole plot."""
        self.add_shape(type="rect", x0=x0, x1=x1, **ACROSS_ALL, **attributes)

    def update_xaxes(self, **attributes: Any) -> None:
        """Set attributes of the axis along."""
        self._layout["xaxis"] = {**self._layout["xaxis"], **attributes}

    def update_yaxes(self, **attributes: Any) -> None:
        """Set attributes of the axis upwards."""
        self._layout["yaxis"] = {**self._layout["yaxis"], **attributes}

    def update_layout(self, **attributes: Any) -> None:
        """Set attributes of the whole."""
        self._layout.update(attributes)

    def figure(self) -> go.Figure:
        """The figure, held to Plotly's rules."""
        return go.Figure(data=self._traces, layout=self._layout)
