"""The rules of the house, checked: who may import whom, and what every public function must say of itself."""

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "decide"

# The map of the pure storey: a module may import only those before it.
ORDER = [
    "arrays", "errors", "discount", "finance", "life", "energy", "energy_us", "energy_eu", "use", "power_log",
    "room", "interval", "metering", "tariff", "case", "landlord", "flows", "cash", "horizon", "weigh", "breakeven",
    "uncertainty", "outcome_distribution", "quotes", "policy", "policy_fit", "again", "checks_first", "bill_ahead",
    "later_repairs", "carbon", "jobs", "weigh_jobs", "job_tally", "records", "spells", "quoting", "warranty",
    "acceptance", "bands",
]  # fmt: skip
# The standard library less its doors to the outside world.
QUIET = sys.stdlib_module_names - {
    "csv", "datetime", "io", "json", "logging", "os", "pathlib", "random", "socket", "subprocess", "sys", "time",
    "tomllib", "urllib",
}  # fmt: skip
STARTS = PACKAGE / "show" / "serve.py"
MODULES = sorted(path.stem for path in PACKAGE.glob("*.py") if not path.stem.startswith("__"))


def imports(path: Path) -> set[str]:
    """Names that a module imports; one of ours is written from the package's root, as `.load.tables`."""
    found: set[str] = set()
    package = ["", *path.relative_to(PACKAGE).parts[:-1]]
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                base = package[: len(package) - node.level + 1] + (node.module.split(".") if node.module else [])
                found |= (
                    {".".join([*base, alias.name]) for alias in node.names} if not node.module else {".".join(base)}
                )
            else:
                found.add((node.module or "").split(".")[0])
    return found


def test_the_map_names_every_pure_module() -> None:
    assert set(MODULES) <= set(ORDER)


@pytest.mark.parametrize("module", MODULES)
def test_a_pure_module_imports_only_what_stands_before_it(module: str) -> None:
    before = {f".{name}" for name in ORDER[: ORDER.index(module)]}
    assert imports(PACKAGE / f"{module}.py") <= QUIET | {"numpy", "scipy", "numpy_financial", "SALib"} | before


@pytest.mark.parametrize("path", sorted((PACKAGE / "load").glob("*.py")), ids=lambda p: p.stem)
def test_the_readers_never_import_the_speakers(path: Path) -> None:
    assert not {name for name in imports(path) if name.startswith(".show") or name == "streamlit"}


@pytest.mark.parametrize("path", sorted({*(PACKAGE / "show").glob("*.py")} - {STARTS}), ids=lambda p: p.stem)
def test_only_the_screens_and_what_starts_them_know_streamlit(path: Path) -> None:
    assert not {name for name in imports(path) if name.startswith(".show.screens") or name == "streamlit"}


def test_the_top_level_holds_nothing_else() -> None:
    shown = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - {"dist", "build"}
    assert shown <= {"README.md", "DEVELOPERS.md", "pyproject.toml", "app.py", "decide", "data", "tests"}


def test_a_class_name_stands_once_in_the_package() -> None:
    places: dict[str, list[str]] = {}
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef):
                places.setdefault(node.name, []).append(path.relative_to(PACKAGE).as_posix())
    assert len(places) > 100
    assert {name: where for name, where in places.items() if len(where) > 1} == {}
