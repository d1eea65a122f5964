"""A store written before modules moved into packages and entries got the names of today; all of it is still there.

`data/store_before_the_packages.sqlite` was written by the code of commit b793ecf and holds invented data alone. The
limits beside each visit were those that the same code answered, until the figures moved (DEVELOPERS.md, "Answers
changed").
"""

import json
import shutil
from pathlib import Path

import pytest
from commands import run
from conftest import ROOT
from whole_books import read_jobs

from decide.answers.answer import answer
from decide.load.cases.renamed import RENAMED
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import parse_mapping
from decide.load.jobs.own_figures import BOUNDS, parsed, with_local
from decide.load.store.store import Store
from decide.load.tables.tables import tables

LIMITS = {
    "invented-visit-full-1": 429.0384270581203,
    "invented-visit-door-2": 444.3461670227605,
    "invented-visit-bills-3": 226.63561264966984,
    "invented-visit-again-4": 291.9859070024511,
    "l2jF_fLm_LZwYo5eHQ_6nw": 429.0384270581203,
}


@pytest.fixture
def old_store(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    folder = tmp_path / "before"
    folder.mkdir()
    shutil.copy(ROOT / "tests" / "data" / "store_before_the_packages.sqlite", folder / "store.sqlite")
    monkeypatch.setenv("MENDPOINT_STORE", str(folder))
    return folder


def test_every_visit_is_listed_and_opens_with_the_same_answer(
    old_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Store.open() as store:
        assert {line.id for line in store.visits()} == set(LIMITS)
        assert [line.id for line in store.visits("Österle küche")] == []
        assert [line.id for line in store.visits("ÖSTERLE kitchen")] == ["invented-visit-full-1"]
        for name, limit in LIMITS.items():
            visit = store.visit(name)
            assert not {f'"{old}"' for old in RENAMED if f'"{old}"' in json.dumps(visit.entries)}
            assert not set(visit.page) & set(RENAMED)
            folder = tmp_path / name
            folder.mkdir()
            for file, content in visit.files.items():
                Path(folder, file).write_bytes(content)
            home = {**visit.entries.get("household", {}), "today": "2026-11-30"}  # use goes by the year of manufacture
            found = answer({**visit.entries, "household": home}, folder=folder)
            assert float(found.weighing.repair_limit) == pytest.approx(limit, abs=0.01)
        assert store.visit("l2jF_fLm_LZwYo5eHQ_6nw").copy_of == "invented-visit-full-1"
        assert store.visit("invented-visit-door-2").version == 2


def test_what_had_another_name_keeps_its_value(old_store: Path) -> None:
    with Store.open() as store:
        full, door = store.visit("invented-visit-full-1"), store.visit("invented-visit-door-2")
    assert full.entries["repair"] == {
        "quote": {"parts": 120, "labour_hours": 1.5, "labour_rate": 90},
        "remaining_life_factor": 0.8,
        "repair_success_probability": 0.9,
        "food_loss": 40,
        "planned_replacement_years": 6,
    }
    assert full.entries["replace"] == [
        {
            "price": 900,
            "food_loss_at_later_failures": 30,
            "appliance": {"maintenance_and_repair": 30.0, "failure_free_years": 3.0},
        }
    ]
    assert full.entries["leave"] == {"annual_loss_of_use": 250, "remaining_life_factor": 0.5}
    assert full.entries["ranges"] == {
        "repair.remaining_life_factor": [0.5, 1.2],
        "replace.appliance.maintenance_and_repair": [20.0, 50.0],
    }
    assert (door.page["remaining_life_factor"], door.page["annual_loss_of_use"]) == (0.7, "60")
    assert (door.page["age"], door.page["quote"]) == ("8", "210,50")


def test_the_book_is_mapped_and_the_figures_are_read(old_store: Path) -> None:
    with Store.open() as store:
        [book], [figures] = store.books(), store.local_figures()
        content, mappings, settings = store.book_content(book.id), store.mappings(), store.settings()
    jobs, skipped = read_jobs(open_book(content, book.name), parse_mapping(book.mapping))
    assert (book.name, len(jobs) + len(skipped)) == ("jobs.csv", book.rows)
    assert len(jobs) == 11
    assert mappings == {"desk": book.mapping}
    assert figures.used
    read = parsed(figures.text, figures.name)
    assert {figure.quantity for figure in read} == set(BOUNDS)
    assert with_local(tables(), read).figures["refrigerator", "US", "repair_success_probability"].value == 0.9
    assert settings == {"shop": "Invented “Ö”", "logo": bytes(range(256)), "language": "en"}


def test_the_store_is_sound_and_saves_on(old_store: Path) -> None:
    checked = run("store", "check")
    assert (checked.exit_code, checked.exception) == (0, None), checked.output
    with Store.open() as store:
        assert store.check() == 12  # 5 visits, a file, a book, a mapping, a set of figures, 3 settings
        visit = store.visit("invented-visit-door-2")
        saved = store.save_visit(visit.id, visit.entries, version=visit.version, page=visit.page, files=visit.files)
        assert saved.version in (visit.version, visit.version + 1)
        assert store.visit(visit.id).entries == visit.entries
        assert store.check() == 12
