"""Would a test notice? Small faults put into the core in memory, a random sample of each package, and the share killed.

    python tests/bench/mutants.py FOLDER [--each 300] [--seed 1] [--only shop ...] [--seconds 20] [--minutes 600]
        [--tests tests/test_shop.py ...]

A mutant is one change of one place: a comparison, an operator, a number moved by one, a truth value, a condition turned
round, least for most, a result that is not returned, a statement left out. It meets the tests of the fast tier that
reach its line, quickest first, in a fork of a process that has imported everything. What only runs at import (defaults,
constants) meets tests that reach what names it, imported anew in such a fork. Nothing is written into the tree.

`FOLDER` keeps which test reaches which line (`reach`, `took.json`: delete them once tests have changed) and what came
of each mutant (`judged.jsonl`), so that a second run goes on where the first one ended, and with more `--seconds` lets
survivors meet the tests for which there was no time. Hypothesis draws 20 examples.
Needs `coverage`.
"""

import argparse
import ast
import contextlib
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import random
import resource
import select
import signal
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import accumulate, chain, zip_longest
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import coverage
import pytest
from _pytest.runner import runtestprotocol
from scipy.stats import binomtest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("finance", "energy", "economics", "diagnosis", "shop")
HANG, IDLE, MEMORY = 30, 20, 8_000_000_000
"""What a mutant may take beyond its tests' time, in processor time [s]; how many times as long by the clock, since the
machine may have other work; and what it may hold [byte]."""
OPTIONS = [
    "-n",
    "0",
    "-q",
    "-p",
    "no:cacheprovider",
    "--hypothesis-profile",
    "mutants",
    "--tb",
    "no",
    "--no-header",
    "-o",
    "tmp_path_retention_policy=failed",
]

COMPARED: dict[type[ast.cmpop], list[type[ast.cmpop]]] = {
    ast.Lt: [ast.LtE, ast.GtE], ast.LtE: [ast.Lt, ast.Gt], ast.Gt: [ast.GtE, ast.LtE], ast.GtE: [ast.Gt, ast.Lt],
    ast.Eq: [ast.NotEq], ast.NotEq: [ast.Eq], ast.Is: [ast.IsNot], ast.IsNot: [ast.Is],
    ast.In: [ast.NotIn], ast.NotIn: [ast.In],
}  # fmt: skip
COMPUTED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Div, ast.Mod: ast.Mult,
    ast.Pow: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.BitXor: ast.BitAnd,
}  # fmt: skip
PAIRS = [
    ("min", "max"), ("minimum", "maximum"), ("fmin", "fmax"), ("nanmin", "nanmax"), ("argmin", "argmax"),
    ("any", "all"), ("floor", "ceil"), ("zeros", "ones"), ("left", "right"), ("cumsum", "cumprod"),
]  # fmt: skip
SWAPPED = dict(PAIRS) | {second: first for first, second in PAIRS}


def changes(node: ast.AST) -> Iterator[ast.AST]:  # noqa: C901 - one case a kind of node
    """What may stand in the place of a node: one fault each."""
    match node:
        case ast.Compare(left, ops, comparators):
            for n, op in enumerate(ops):
                for other in COMPARED[type(op)]:
                    yield ast.Compare(left, [*ops[:n], other(), *ops[n + 1 :]], comparators)
        case ast.BinOp(left, op, right) if type(op) in COMPUTED:
            yield ast.BinOp(left, COMPUTED[type(op)](), right)
        case ast.AugAssign(target, op, value) if type(op) in COMPUTED:
            yield ast.AugAssign(target, COMPUTED[type(op)](), value)
            yield ast.Pass()
        case ast.BoolOp(op, values):
            yield ast.BoolOp(ast.And() if isinstance(op, ast.Or) else ast.Or(), values)
        case ast.UnaryOp(ast.Not() | ast.USub() | ast.Invert(), operand):
            yield operand
        case ast.Constant(bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(int(value) | float(value)):
            yield ast.Constant(value + 1)
            if isinstance(value, int) and value:
                yield ast.Constant(value - 1)
        case ast.Constant("left" | "right" as side):
            yield ast.Constant(SWAPPED[side])
        case ast.Name(name) if name in SWAPPED:
            yield ast.Name(SWAPPED[name], ast.Load())
        case ast.Attribute(value, name) if name in SWAPPED:
            yield ast.Attribute(value, SWAPPED[name], ast.Load())
        case ast.If(test) | ast.While(test) | ast.IfExp(test) if not isinstance(test, ast.Compare | ast.UnaryOp):
            turned = {**dict(ast.iter_fields(node)), "test": ast.UnaryOp(ast.Not(), test)}
            yield type(node)(**turned)
        case ast.Return(value) if value is not None:
            yield ast.Return(None)
        case ast.Expr(value) if not isinstance(value, ast.Constant | ast.Yield | ast.YieldFrom):
            yield ast.Pass()
        case ast.Raise() | ast.Continue() | ast.Break():
            yield ast.Pass()
        case ast.Assign([target], value) if not isinstance(target, ast.Name | ast.Tuple) or (
            isinstance(target, ast.Name)
            and target.id in {each.id for each in ast.walk(value) if isinstance(each, ast.Name)}
        ):
            yield ast.Pass()


@dataclass(frozen=True)
class Place:
    """A node in the tree of a file, by what holds it."""

    holder: ast.AST
    field: str
    at: int | None
    node: ast.AST
    statement: ast.stmt
    within: bool
    """In the body of a function; else it runs at import alone."""


def places(holder: ast.AST, statement: ast.stmt | None = None, within: bool = False) -> Iterator[Place]:
    """Every node under one in the order of the text, but for notes of types and docstrings."""
    for field, held in ast.iter_fields(holder):
        if field in ("annotation", "returns"):
            continue
        inside = within or (isinstance(holder, ast.FunctionDef | ast.Lambda) and field == "body")
        for at, node in enumerate(held if isinstance(held, list) else [held]):
            if isinstance(node, ast.AST):
                nearest = node if isinstance(node, ast.stmt) else statement
                if nearest is not None:
                    yield Place(holder, field, at if isinstance(held, list) else None, node, nearest, inside)
                yield from places(node, nearest, inside)


@dataclass(frozen=True)
class Mutant:
    """The change of a file that has a number among all its changes."""

    path: Path
    number: int
    place: Place
    after: ast.AST

    @property
    def name(self) -> str:
        """File, line, what stood there and what stands there now."""
        before, after = (ast.unparse(ast.fix_missing_locations(each)) for each in (self.place.node, self.after))
        at = f"{self.path.relative_to(ROOT).as_posix()}:{self.place.node.lineno}"  # type: ignore[attr-defined]
        return f"{at}  {_short(before)}  ->  {_short(after)}  #{self.number}"

    def compiled(self) -> CodeType:
        """The file with the change in it."""
        tree = ast.parse(self.path.read_text(encoding="utf-8"))
        mutant = next(each for each in _of_tree(self.path, tree) if each.number == self.number)
        place, after = mutant.place, ast.copy_location(mutant.after, mutant.place.node)
        if place.at is None:
            setattr(place.holder, place.field, after)
        else:
            getattr(place.holder, place.field)[place.at] = after
        return compile(ast.fix_missing_locations(tree), str(self.path), "exec", dont_inherit=True)


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 100 else f"{line[:97]}..."


def _of_tree(path: Path, tree: ast.Module) -> Iterator[Mutant]:
    number = 0
    for place in places(tree):
        for after in changes(place.node):
            if place.within or not isinstance(getattr(place.node, "op", None), ast.BitOr):  # else a union of types
                yield Mutant(path, number, place, after)
                number += 1


def files(package: str) -> list[Path]:
    """The modules of a package of the core."""
    return sorted((ROOT / "decide" / package).glob("*.py"))


def mutants(package: str) -> list[Mutant]:
    """All mutants of a package."""
    return [each for path in files(package) for each in _of_tree(path, ast.parse(path.read_text(encoding="utf-8")))]


class Finder(importlib.abc.MetaPathFinder, importlib.abc.InspectLoader):
    """Imports one module with a change in it."""

    def __init__(self, mutant: Mutant) -> None:
        self.name = ".".join(mutant.path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        self.path, self.code = mutant.path, mutant.compiled()

    def find_spec(self, fullname: str, path: object, target: object = None) -> importlib.machinery.ModuleSpec | None:
        """Its own module alone."""
        named = fullname == self.name
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self) if named else None

    def get_code(self, fullname: str) -> CodeType:
        """What is run at import."""
        return self.code

    def get_source(self, fullname: str) -> str:
        """What a reader finds, which has no change in it."""
        return self.path.read_text(encoding="utf-8")


class Plugin:
    """Has pytest collect, and hand over what it collected."""

    def __init__(self, run: Callable[[list[pytest.Item]], None], finder: Finder | None = None) -> None:
        self.run, self.finder = run, finder

    @pytest.hookimpl(tryfirst=True)
    def pytest_configure(self) -> None:
        """Draw the same examples each time, and stop at the first that fails. Slowness is the machine's."""
        if self.finder is not None:
            sys.meta_path.insert(0, self.finder)
        from hypothesis import HealthCheck, Phase, settings

        settings.register_profile(
            "mutants", max_examples=20, derandomize=True, database=None, deadline=None, report_multiple_bugs=False,
            phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck),
        )  # fmt: skip

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In place of running all."""
        self.run(session.items)
        return True


def passes(item: pytest.Item, following: pytest.Item | None) -> bool:
    """Run a test with what it sets up and takes down."""
    return not any(report.failed for report in runtestprotocol(item, nextitem=following, log=False))


def record(folder: Path, tests: Sequence[str]) -> None:
    """Run the fast tier once: which test reaches which lines, and how long it takes where it passes."""
    reach = coverage.Coverage(data_file=str(folder / "reach"), source_pkgs=[f"decide.{each}" for each in PACKAGES])
    took: dict[str, float] = {}

    def run(items: list[pytest.Item]) -> None:
        for n, (item, following) in enumerate(zip(items, [*items[1:], None], strict=True)):
            reach.switch_context(item.nodeid)
            start = time.perf_counter()
            passed = passes(item, following)
            reach.switch_context("")
            if passed:
                took[item.nodeid] = time.perf_counter() - start
            else:
                print("fails without any fault, and is left out:", item.nodeid)
            if n % 1000 == 0:
                print(n, "tests recorded", flush=True)

    reach.start()
    pytest.main([*OPTIONS, f"--basetemp={folder / 'tmp'}", *tests], plugins=[Plugin(run)])
    reach.stop()
    reach.save()
    (folder / "took.json").write_text(json.dumps(took))


@dataclass(frozen=True)
class Reach:
    """Which tests of the fast tier reach which lines of the core."""

    lines: dict[Path, dict[int, set[str]]]
    took: dict[str, float]

    @classmethod
    def read(cls, folder: Path) -> "Reach":
        """What `record` wrote."""
        data = coverage.CoverageData(str(folder / "reach"))
        data.read()
        by_line = {path: data.contexts_by_lineno(str(path)) for package in PACKAGES for path in files(package)}
        took = json.loads((folder / "took.json").read_text())
        known = took.keys() | {""}  # nothing is what runs at import, outside any test
        return cls({path: {n: known & set(t) for n, t in by.items()} for path, by in by_line.items()}, took)

    def at(self, mutant: Mutant) -> set[str]:
        """What runs the place of a mutant."""
        lines, place = self.lines[mutant.path], mutant.place
        return lines.get(place.node.lineno) or lines.get(place.statement.lineno, set())  # type: ignore[attr-defined]

    def at_import(self, mutant: Mutant) -> bool:
        """Whether it runs at import alone."""
        return not mutant.place.within or self.at(mutant) == {""}

    def tests(self, mutant: Mutant) -> list[str]:
        """The tests to meet a mutant, quickest first; one more example of a test counts as so many times as slow."""
        found = self.at(mutant) if not self.at_import(mutant) else set()
        if not mutant.place.within:
            for path, by_line in self.lines.items():
                for line in naming(path).get(named(mutant), ()):
                    found = found | by_line.get(line, set())
        if not found - {""} and self.at_import(mutant):
            found = set().union(*self.lines[mutant.path].values())
        found = found - {""}
        seen: Counter[str] = Counter()
        order = []
        for test in sorted(found, key=lambda test: (self.took[test], test)):
            seen[test.split("[")[0]] += 1
            order.append((self.took[test] * seen[test.split("[")[0]], test))
        return [test for _, test in sorted(order)]


@cache
def naming(path: Path) -> dict[str, set[int]]:
    """The lines of a module that name something, and those of what is defined under a name."""
    lines: dict[str, set[int]] = defaultdict(set)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        match node:
            case ast.Name(name) | ast.Attribute(attr=name):
                lines[name].add(node.lineno)
            case ast.FunctionDef(name) | ast.ClassDef(name):
                lines[name].update(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    return lines


def named(mutant: Mutant) -> str:
    """What a mutant that runs at import gives a value: a constant, a field, a function's default."""
    match mutant.place.statement:
        case ast.Assign([ast.Name(name)]) | ast.AnnAssign(ast.Name(name)) | ast.FunctionDef(name) | ast.ClassDef(name):
            return name
    return ""


Verdict = tuple[str, str, int]
"""Killed, survived, ...; by which test; after how many."""


def meet(items: list[pytest.Item], seconds: float) -> Verdict:
    """Run tests until one fails or the time is over."""
    start = time.process_time()
    for n, (item, following) in enumerate(zip(items, [*items[1:], None], strict=True)):
        if time.process_time() - start > seconds:
            return "survived", "", n
        if not passes(item, following):
            return "killed", item.nodeid, n + 1
    return "survived", "", len(items)


def forked(run: Callable[[], Verdict], seconds: float) -> Verdict:
    """What came of a run in a fork of this process, which is ended where it hangs."""
    get, put = os.pipe()
    child = os.fork()
    if child == 0:
        os.setpgrp()
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + HANG, int(seconds) + 2 * HANG))
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (1, 2):
            os.dup2(null, stream)
        try:
            verdict = run()
        except BaseException as error:
            verdict = "killed", repr(error)[:200], 0
        os.write(put, json.dumps(verdict).encode())
        os._exit(0)
    os.close(put)
    said = b""
    if select.select([get], [], [], IDLE * (seconds + HANG))[0]:
        said = os.read(get, 10_000)
    os.close(get)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    if said:
        word, test, ran = json.loads(said)
        return word, test, ran
    hung = os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
    return ("timed out", "", 0) if hung else ("killed", "the process died", 0)


class Bench:
    """The process that has imported everything and collected all tests, and puts mutants before them."""

    def __init__(self, items: list[pytest.Item], reach: Reach, seconds: float) -> None:
        self.items = {item.nodeid: item for item in items}
        self.reach, self.seconds = reach, seconds
        self.sound: dict[str, bool] = {}
        self.functions: dict[str, list[FunctionType]] = defaultdict(list)
        for each in gc.get_objects():
            if type(each) is FunctionType:
                self.functions[each.__code__.co_filename].append(each)
        cached = [each for each in gc.get_objects() if type(each) is type(naming)]
        self.caches = [each for each in cached if each.__module__.startswith("decide")]
        gc.freeze()

    def judge(self, mutant: Mutant) -> tuple[Verdict, int]:
        """What the tests make of a mutant, and how many reach it."""
        tests = [test for test in self.reach.tests(mutant) if test in self.items and self.sound.get(test, True)]
        if not tests:
            return ("not reached", "", 0), 0
        verdict: Verdict = ("cold", "", 0)
        if not self.reach.at_import(mutant):
            verdict = forked(lambda: self.changed(mutant, tests), self.seconds)
        if verdict[0] == "cold":
            verdict = forked(lambda: self.anew(mutant, tests), self.seconds)
        if not self.stands(verdict[1]):
            return self.judge(mutant)
        return verdict, len(tests)

    def stands(self, test: str) -> bool:
        """Whether a test that killed something passes where there is no fault; else it has no say."""
        if test in self.items and test not in self.sound:
            self.sound[test] = forked(lambda: meet([self.items[test]], self.seconds), self.seconds)[0] == "survived"
            if not self.sound[test]:
                print("fails without any fault, and is left out:", test, flush=True)
        return self.sound.get(test, True)

    def changed(self, mutant: Mutant, tests: list[str]) -> Verdict:
        """Give the functions of a module the code of its mutant, and run the tests; cold where that cannot be."""
        before = codes(compile(mutant.path.read_text(encoding="utf-8"), str(mutant.path), "exec", dont_inherit=True))
        after = codes(mutant.compiled())
        done = False
        for function in self.functions[str(mutant.path)]:
            key = (function.__code__.co_qualname, function.__code__.co_firstlineno)
            if before[key] != after[key]:
                if len(before[key]) > 1 or function.__code__.co_freevars != after[key][0].co_freevars:
                    return "cold", "", 0
                function.__code__ = after[key][0]
                done = True
        if not done:
            return "cold", "", 0
        for each in self.caches:
            each.cache_clear()
        return meet([self.items[test] for test in tests], self.seconds)

    def anew(self, mutant: Mutant, tests: list[str]) -> Verdict:
        """Forget the package and its tests, import it with a mutant in its place, collect the tests and run them."""
        for name, module in list(sys.modules.items()):
            if name != "__main__" and (getattr(module, "__file__", None) or "").startswith(str(ROOT)):
                del sys.modules[name]
        total = accumulate(self.reach.took[test] for test in tests)
        tests = [test for test, before in zip(tests, chain([0.0], total)) if before <= self.seconds]  # noqa: B905
        verdict: Verdict = ("killed", "the tests cannot be imported", 0)

        def run(items: list[pytest.Item]) -> None:
            nonlocal verdict
            found = {item.nodeid: item for item in items}
            verdict = meet([found[test] for test in tests], self.seconds)

        pytest.main([*OPTIONS, *sorted({test.split("::")[0] for test in tests})], plugins=[Plugin(run, Finder(mutant))])
        return verdict


def codes(code: CodeType) -> dict[tuple[str, int], list[CodeType]]:
    """The code of every function of a module, by name and line."""
    found: dict[tuple[str, int], list[CodeType]] = defaultdict(list)
    for each in code.co_consts:
        if isinstance(each, CodeType):
            found[each.co_qualname, each.co_firstlineno].append(each)
            for key, inner in codes(each).items():
                found[key] += inner
    return found


def drawn(each: int, only: Sequence[str], seed: int) -> Iterator[tuple[str, Mutant]]:
    """A random sample of the mutants of each package, the packages in turn."""
    samples = []
    for package in only:
        sample = mutants(package)
        random.Random(f"{seed} {package}").shuffle(sample)
        samples.append([(package, mutant) for mutant in sample[:each]])
    return (pair for row in zip_longest(*samples) for pair in row if pair is not None)


def told(judged: dict[str, dict[str, Any]], only: Sequence[str]) -> None:
    """Print the survivors, then a row for each package; the interval is Wilson's, of 95 %."""
    for name, row in judged.items():
        if row["verdict"] in ("survived", "not reached") and row["package"] in only:
            print(f"{row['verdict']} ({row['ran']} of {row['reach']} tests)  {name}")
    print(
        f"\n{'package':12}{'all':>7}{'drawn':>7}{'killed':>7}{'hung':>6}{'survived':>9}{'not reached':>12}"
        "   share killed"
    )
    for package in only:
        found = Counter(row["verdict"] for row in judged.values() if row["package"] == package)
        if drawn := found.total():
            noticed = found["killed"] + found["timed out"]
            low, high = binomtest(noticed, drawn).proportion_ci(method="wilson")
            print(
                f"{package:12}{len(mutants(package)):7}{drawn:7}{found['killed']:7}{found['timed out']:6}"
                f"{found['survived']:9}{found['not reached']:12}   {noticed / drawn:.3f} ({low:.3f} to {high:.3f})"
            )


def _open(row: dict[str, Any] | None, seconds: float) -> bool:
    """Whether a mutant is still to be judged, or has time for more of its tests than it had."""
    return row is None or (row["verdict"] == "survived" and row["ran"] < row["reach"] and row["limit"] < seconds)


def main() -> None:
    """Read what is asked, record where that is still to do, and judge."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--each", type=int, default=300, help="mutants of a package")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=PACKAGES, default=PACKAGES)
    parser.add_argument("--seconds", type=float, default=20.0, help="of tests for one mutant, in processor time")
    parser.add_argument("--minutes", type=float, default=600.0, help="no mutant is begun after these")
    parser.add_argument("--tests", nargs="+", default=[], help="files and folders of tests, in place of all")
    asked = parser.parse_args()
    folder = asked.folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    os.chdir(ROOT)
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    if not (folder / "took.json").exists():
        record(folder, asked.tests)
        os.execv(sys.executable, [sys.executable, *sys.argv])  # a process that has run nothing yet
    kept = folder / "judged.jsonl"
    rows = [json.loads(line) for line in kept.read_text().splitlines()] if kept.exists() else []
    judged = {row["name"]: row for row in rows}
    until = time.monotonic() + 60 * asked.minutes

    def run(items: list[pytest.Item]) -> None:
        bench = Bench(items, Reach.read(folder), asked.seconds)
        with kept.open("a") as log:
            for package, mutant in drawn(asked.each, asked.only, asked.seed):
                if _open(judged.get(mutant.name), asked.seconds) and time.monotonic() < until:
                    start = time.monotonic()
                    (verdict, test, ran), reach = bench.judge(mutant)
                    row = {"package": package, "name": mutant.name, "verdict": verdict, "test": test, "ran": ran}
                    judged[mutant.name] = row | {
                        "reach": reach,
                        "took": time.monotonic() - start,
                        "limit": asked.seconds,
                    }
                    print(json.dumps(judged[mutant.name]), file=log, flush=True)

    pytest.main([*OPTIONS, f"--basetemp={folder / 'tmp'}", *asked.tests], plugins=[Plugin(run)])
    told(judged, asked.only)


if __name__ == "__main__":
    main()
