"""Mendpoint: whether a broken household appliance is worth repairing, with real economics.

The public API. Each name is loaded when it is first asked for, so that `import decide` costs nothing; errors that any
of them raises are `MendpointError`s. Money is in constant prices of the household's currency, time in years with today
at 0, rates and shares are fractions, costs are positive.

Examples
--------
>>> import decide
>>> found = decide.answer({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}})
>>> found.weighing.verdict, found.weighing.repair_limit > 250
('repair', True)
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from .answers.answer import answer
    from .answers.confidence import decision_confidence
    from .economics.breakeven import breakeven_values
    from .economics.case import Appliance, Case, Option, Quote, vary
    from .economics.household import Household
    from .economics.weigh import weigh
    from .errors import MendpointError
    from .finance import equivalent_annual_cost, present_value
    from .finance.life import Weibull
    from .load.cases.case_file import complete, read_case
    from .shop.weigh_jobs import weigh_jobs

__all__ = [
    "Appliance", "Case", "Household", "MendpointError", "Option", "Quote", "Weibull", "answer",
    "breakeven_values", "complete", "decision_confidence", "equivalent_annual_cost", "present_value", "read_case",
    "vary", "weigh", "weigh_jobs",
]  # fmt: skip

_MODULES: Final = {
    ".answers.answer": ("answer",),
    ".answers.confidence": ("decision_confidence",),
    ".economics.breakeven": ("breakeven_values",),
    ".economics.case": ("Appliance", "Case", "Option", "Quote", "vary"),
    ".economics.household": ("Household",),
    ".economics.weigh": ("weigh",),
    ".errors": ("MendpointError",),
    ".finance": ("equivalent_annual_cost", "present_value"),
    ".life": ("Weibull",),
    ".load.cases.case_file": ("complete", "read_case"),
    ".shop.weigh_jobs": ("weigh_jobs",),
}
"""Where each name stands."""


def __getattr__(name: str) -> Any:
    """Load a public name, or one of the modules `finance` and `life`, when it is first asked for."""
    if name in ("finance", "life"):
        return import_module(f".{name}", __name__)
    for module, names in _MODULES.items():
        if name in names:
            return globals().setdefault(name, getattr(import_module(module, __name__), name))
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
