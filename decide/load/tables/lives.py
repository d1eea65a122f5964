"""Lives as they are shipped: the published fits of figures.csv, brought to what a single household may expect.

Two rules, on published fits alone: a delay is taken out with mean and spread kept (`life.without_delay`), and the shape
is drawn half-way, in logarithms, to `life_shape_usual` (`life.drawn_to`). What we judged ourselves stays as it is.
"""

from collections.abc import Mapping
from dataclasses import replace

from ...errors import DataError
from ...finance.life import drawn_to, without_delay
from ..files.rows import ANY
from .sourced import Estimate, Source

USUAL = (ANY, ANY, "life_shape_usual")
JUDGED = "judgement"

Key = tuple[str, str, str]


def aged(figures: Mapping[Key, Estimate], own: Source) -> dict[Key, Estimate]:
    """The figures with each published shape and delay replaced; the fit stands in the note.

    The range holds what the fit's own range and that of the usual shape give, and any other reading of the class.

    Raises `DataError`: a published delay without its scale, or no usual shape to draw to.
    """
    usual = figures.get(USUAL)
    if usual is None or usual.low is None or usual.high is None:
        raise DataError("figures.csv: life_shape_usual is needed, with its range")
    shipped = dict(figures)
    for key, fit in figures.items():
        kind, region, quantity = key
        if quantity != "life_shape" or fit.status == JUDGED:
            continue
        late, scale, other = (
            figures.get((kind, region, name)) for name in ("failure_free_years", "life_scale", "life_shape_other")
        )
        delay = 0.0 if late is None else late.value
        if delay > 0 and scale is None:
            lacks = "figures.csv: {kind} {region}: life_scale of the fit is needed to take its failure_free_years out"
            raise DataError(lacks, kind, region)
        spread, fits = 0.0 if scale is None else scale.value, (fit.low or fit.value, fit.value, fit.high or fit.value)
        like = [without_delay(shape, spread, delay) for shape in fits]
        low, value, high = map(drawn_to, like, (usual.low, usual.value, usual.high))
        read = [] if other is None else [other.value]
        where = f"{fit.source.citation}, {fit.locator} ({fit.status})"
        late_by = f"{delay:g} year{'s' * (delay != 1)}"
        after = f" after {late_by} without an end, so {like[1]:.2f} without that delay" if delay > 0 else ""
        text = f"; another reading gives {other.value:g}: {other.note}" if other is not None else ""
        ends = [round(each, 3) for each in (value, min(low, *read, value), max(high, *read, value))]
        rule = {"source": own, "locator": "rule of lives", "status": JUDGED}
        note = f"published shape {fit.value:g}{after}; half-way, in logarithms, to {usual.value:g}: {where}{text}"
        shipped[key] = replace(fit, value=ends[0], low=ends[1], high=ends[2], note=note, **rule)  # type: ignore[arg-type]
        if late is not None and delay > 0:
            taken_out = f"a published span of {late_by} before which no unit ends is taken out, see life_shape: {where}"
            without = replace(late, value=0.0, note=taken_out, **rule)  # type: ignore[arg-type]
            shipped[kind, region, "failure_free_years"] = without
    return shipped
