"""Shipped tables in a folder of one's own, and a row of one of them with other cells."""

import csv
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path

from decide.load.tables.tables import data_dir


def copied(folder: Path, names: Iterable[str]) -> Path:
    """A folder with the shipped tables of these names."""
    for name in names:
        shutil.copy(data_dir() / name, folder / name)
    return folder


def spoil(path: Path, starts: str, changes: Mapping[str, str]) -> int:
    """Change cells of the first row that starts so; returns the line it stands on."""
    lines = path.read_text("utf-8").splitlines()
    heads = next(line for line in lines if not line.startswith("#")).split(",")
    at = next(at for at, line in enumerate(lines) if line.startswith(starts))
    cells = dict(zip(heads, next(csv.reader([lines[at]])), strict=True)) | changes
    lines[at] = ",".join('"' + cell.replace('"', '""') + '"' for cell in cells.values())
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return at + 1
