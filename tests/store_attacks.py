"""What an attacker makes: an archive put together by hand, and the file of a store changed by another program."""

import contextlib
import hashlib
import json
import sqlite3
import zipfile
from pathlib import Path
from typing import Any

from decide.load.store import schema as store_schema
from decide.load.store.opening import connected, make_url

VISIT = "ExploitVisit00000001"
BOOK, FIGURES_ID = "ExploitBook000000001", "ExploitFigures000001"
NOW = "2026-11-01T08:00:00+00:00"
CASE = '[appliance]\nclass = "refrigerator"\nage = 9\n[household]\nplace = "US"\n[repair]\nquote = 185.5\n'
PAGE = {
    "kind": "refrigerator",
    "age": "9",
    "quote": "185.50",
    "place": "US",
    "fault": "compressor",
    "remaining_life_factor": 1.0,
}
MAPPING = '[columns]\ndate = "date"\nclass = "machine"\nage = "age"\nquote = "quote"\n'
FIGURES = """class,region,quantity,value,low,high,unit,n,from,to,shop,made
refrigerator,US,repair_success_probability,0.9,0.8,0.95,share,41,2020-01-01,2026-01-01,An invented shop,2026-10-31
"""
JOBS = b"date,machine,age,quote\n2026-02-01,fridge,9,185.50\n"

Listed = dict[str, Any]
Files = dict[str, bytes]


def sound(files: Files | None = None, page: Any = PAGE) -> tuple[Listed, Files]:
    """An archive with something of everything, as a list and the files on it."""
    logs = {f"visits/1/{number}-log": content for number, content in enumerate((files or {}).values(), 1)}
    listed = {
        "format": "mendpoint store",
        "layout": 1,
        "written": NOW,
        "visits": [{
            "id": VISIT, "title": "An invented visit", "version": 1, "created": NOW, "changed": NOW, "copy_of": "",
            "case": "visits/1/case.toml", "page": "visits/1/page.json",
            "files": [{"name": name, "path": path} for name, path in zip(files or {}, logs, strict=True)],
        }],
        "books": [{
            "id": BOOK, "name": "jobs.csv", "rows": 1, "size": len(JOBS), "imported": NOW,
            "path": "books/1/1-jobs.csv", "mapping": "books/1/mapping.toml",
        }],
        "mappings": [{"name": "desk", "changed": NOW, "path": "mappings/1.toml"}],
        "figures": [{
            "id": FIGURES_ID, "name": "ours", "dated": "2026-10-31", "used": True, "kept": NOW, "path": "figures/1.csv",
        }],
        "settings": [{"name": "shop_name", "changed": NOW, "picture": False, "path": "settings/1.txt"}],
    }  # fmt: skip
    held = {
        "visits/1/case.toml": CASE.encode(),
        "visits/1/page.json": page if isinstance(page, bytes) else json.dumps(page).encode(),
        "books/1/1-jobs.csv": JOBS,
        "books/1/mapping.toml": MAPPING.encode(),
        "mappings/1.toml": MAPPING.encode(),
        "figures/1.csv": FIGURES.encode(),
        "settings/1.txt": b"An invented shop",
        **logs,
    }
    return listed, held


def archive(path: Path, listed: Listed, files: Files) -> Path:
    """Write it, with digests that are right."""
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in files.items():
            packed.writestr(name, content)
        packed.writestr("manifest.json", json.dumps({**listed, "digests": digests}))
    return path


def old_store(
    folder: Path,
    page: Any = PAGE,
    files: Files | None = None,
    figures: str = FIGURES,
    mapping: str = MAPPING,
    case: str = CASE,
) -> Path:
    """A store as version 0002 wrote it, which knew no seals, without any code of today's; its file."""
    file, when, day = folder / "store.sqlite", "2026-11-01 08:00:00.000000", "2026-10-31"
    folder.mkdir(parents=True, exist_ok=True)
    engine = connected(make_url(f"sqlite:///{file}"), 5)
    with engine.begin() as connection:
        store_schema.migrate(connection, "0002")
    engine.dispose()
    text = page if isinstance(page, str) else json.dumps(page)
    visit = "INSERT INTO visits VALUES (?, 'An invented visit', ?, ?, 1, ?, ?, 'an invented visit', '')"
    edited(file, visit, VISIT, case, text, when, when)
    for name, content in (files or {}).items():
        edited(file, "INSERT INTO visit_files VALUES (?, ?, ?, ?)", VISIT, name, digest(content), content)
    book = "INSERT INTO books VALUES (?, 'jobs.csv', ?, 1, ?, ?, ?, ?)"
    edited(file, book, BOOK, mapping, len(JOBS), digest(JOBS), JOBS, when)
    edited(file, "INSERT INTO mappings VALUES ('desk', ?, ?)", mapping, when)
    edited(file, "INSERT INTO local_figures VALUES (?, 'ours', ?, ?, 1, ?)", FIGURES_ID, figures, day, when)
    edited(file, "INSERT INTO settings VALUES ('shop_name', 'An invented shop', NULL, ?)", when)
    return file


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def edited(file: Path, statement: str, *values: object) -> None:
    """Change the file of a store by another program."""
    with contextlib.closing(sqlite3.connect(file)) as other, other:
        other.execute(statement, values)
