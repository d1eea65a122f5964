"""What entries were called before: an old file, link or visit still opens, and the new name is given."""

import functools
import re
from collections.abc import Mapping
from typing import Any, Final

from ..files.rows import rows
from ..tables.tables import data_dir

RENAMED: Final = {row.text("old"): row.text("new") for row in rows(data_dir() / "renamed.csv", "old,new")}
"""Entries of a case, fields of a page and figures of a shop: the old name of each, and the one it has now."""

GONE: Final = "next_failure"
"""What a household used to say of later failures: there is one answer now, so it says nothing any more."""

BOUGHT: Final = re.compile(r"^((?:ranges\.)?replace(?:\.\d+)?)\.unit(?=\.|$)")
"""What is bought, as a path called it before; `unit` is a unit of measure anywhere else."""

NOT_RENAMED: Final = ("household", "carbon", "title")
"""Parts of a case in which nothing has another name."""


@functools.lru_cache(maxsize=10_000)
def name_of_today(path: str) -> str:
    """The path of an entry, or the name of a figure, as it is called now."""
    return BOUGHT.sub(r"\1.appliance", ".".join(RENAMED.get(step, step) for step in path.split(".")))


def entries_of_today(entries: Mapping[str, Any], old: dict[str, str] | None = None) -> dict[str, Any]:
    """The entries by the names of today; `old` takes up each path that had another, with the path it has now or ''.

    What is there by both names is left as it came, so that the reading refuses the old one.
    """
    noted = {} if old is None else old
    home = entries.get("household")
    if isinstance(home, dict) and GONE in home:
        noted[f"household.{GONE}"] = ""
        entries = {**entries, "household": {name: value for name, value in home.items() if name != GONE}}
    return {
        head: inner if head in NOT_RENAMED else _of_today(inner, head, head, noted) for head, inner in entries.items()
    }


def _of_today(inner: Any, path: str, before: str, old: dict[str, str]) -> Any:
    """A part of the entries by its path of today and the one that it came with."""
    if isinstance(inner, list):
        return [_of_today(each, path, before, old) for each in inner]
    if not isinstance(inner, dict):
        return inner
    found: dict[str, Any] = {}
    for name, value in inner.items():
        came, now = f"{before}.{name}", name_of_today(f"{path}.{name}")
        new = now.removeprefix(f"{path}.")
        if new != name and new in inner:
            new, now = name, f"{path}.{name}"
        elif new != name:
            old[came] = now
        found[new] = _of_today(value, now, came, old)
    return found
