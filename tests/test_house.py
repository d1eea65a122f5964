"""The architecture rules, checked: which layer may import which."""

import ast
import dataclasses
import functools
import importlib
import sys
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "decide"

# The map: a module may import only what stands before its own package, or beside it in the same.
ORDER = [
    "arrays", "errors", "finance", "life", "energy", "economics", "diagnosis", "shop", "load.files", "load.tables",
    "load.meters", "load.cases", "load.jobs", "load.store", "answers", "show.text", "show.charts", "show.pdf",
    "show.terminal", "show.pocket", "show.screens", "show.serve", "show.cli",
]  # fmt: skip
CORE = ORDER[: ORDER.index("load.files")]
MOST_MODULES = 16
MOST_LINES = 500
# The standard library less its doors to the outside world.
QUIET = sys.stdlib_module_names - {
    "csv", "datetime", "io", "json", "logging", "os", "pathlib", "random", "socket", "subprocess", "sys", "time",
    "tomllib", "urllib",
}  # fmt: skip
ALLOWED = QUIET | {"numpy", "scipy", "numpy_financial"}
PATHS = sorted(path for path in PACKAGE.rglob("*.py") if path.name != "__main__.py")


def dotted(path: Path) -> str:
    """Name of a module within the package; that of its folder for an `__init__`."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def place(module: str) -> int:
    """Place of a module's package in the map; the last for what stands over all packages."""
    found = [at for at, package in enumerate(ORDER) if module == package or module.startswith(f"{package}.")]
    return found[0] if found else len(ORDER)


def in_house(path: Path) -> set[str]:
    """Modules of ours that a module imports, function-level imports included."""
    package, found = path.relative_to(PACKAGE).parts[:-1], set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = ".".join([*package[: len(package) - node.level + 1], *(node.module or "").split(".")]).strip(".")
            for alias in node.names:
                full = f"{base}.{alias.name}".strip(".")
                found.add(full if full in NAMES else base)
    return found - {""}


NAMES = {dotted(path) for path in PATHS}


@functools.cache
def graph() -> dict[str, set[str]]:
    return {dotted(path): in_house(path) for path in PATHS}


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


@pytest.mark.parametrize("module", sorted(NAMES))
def test_a_module_imports_only_downwards(module: str) -> None:
    assert {name for name in graph()[module] if place(name) > place(module)} == set()


def test_no_two_modules_need_each_other() -> None:
    """Circles of any length, through imports inside of functions too."""
    done: set[str] = set()

    def walk(module: str, way: tuple[str, ...]) -> None:
        assert module not in way, " -> ".join([*way[way.index(module) :], module])
        if module not in done:
            for name in graph().get(module, ()):
                walk(name, (*way, module))
            done.add(module)

    for module in graph():
        walk(module, ())


@pytest.mark.parametrize("path", [p for p in PATHS if place(dotted(p)) < len(CORE)], ids=dotted)
def test_the_core_knows_no_files_no_clock_and_no_tables(path: Path) -> None:
    assert {name for name in imports(path) if not name.startswith(".")} <= ALLOWED


@pytest.mark.parametrize("path", [p for p in PATHS if place(dotted(p)) < len(CORE)], ids=dotted)
def test_what_the_core_is_given_and_hands_out_cannot_be_changed(path: Path) -> None:
    module = importlib.import_module(f"decide.{dotted(path)}")
    own = [each for each in vars(module).values() if isinstance(each, type) and each.__module__ == module.__name__]
    kept = {each.__name__: each.__dataclass_params__.frozen for each in own if dataclasses.is_dataclass(each)}
    assert {name for name, frozen in kept.items() if not frozen} == set()


@pytest.mark.parametrize("path", [p for p in PATHS if not dotted(p).startswith("show.s")], ids=dotted)
def test_only_the_screens_and_what_starts_them_know_streamlit(path: Path) -> None:
    assert "streamlit" not in imports(path)


def test_no_folder_is_crowded() -> None:
    folders = Counter(path.parent for path in PATHS if path.name != "__init__.py")
    assert {str(folder): n for folder, n in folders.items() if n > MOST_MODULES} == {}


def test_no_module_is_long() -> None:
    lengths = {str(path.relative_to(PACKAGE)): len(path.read_text("utf-8").splitlines()) for path in PATHS}
    assert max(lengths.values()) > MOST_LINES / 2  # they are read
    assert {module: lines for module, lines in lengths.items() if lines > MOST_LINES} == {}


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
