"""Every comparison with a printed figure, told by `pytest --published`: source, expected, got, error.

A test that compares with a print, or with a table or program of others, bears `@pytest.mark.published("source,
locator", "row", ...)`; a row is the key of a check in the tables that the checks were taken from. Within such a test
each number that meets `pytest.approx` or `numpy.testing` is kept as it is compared; any other assertion is told by its
text, with what the test was given in place of names. Rows that no test expresses stand in data/not_expressed.csv, each
with its reason.
"""

import ast
import csv
import inspect
import textwrap
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any, NamedTuple
from unittest.mock import patch

import numpy as np
import pytest

NEAR = type(pytest.approx(0.0))  # arrays, sequences and mappings compare their entries by it
NOT_EXPRESSED = Path(__file__).parent / "data" / "not_expressed.csv"
CONFIDENCE = {
    "second-hand": "with a print that was read in a copy or a quotation",
    "from memory": "with a print that is recalled",
    "own ": "with a reference of our own that shares nothing with the program, and with others' where named",
    "by hand": "with sums done by hand",
}
LONGEST_VALUE = 80  # of a name's value written out in the text of an assertion [characters]


class Row(NamedTuple):
    """One comparison with a print, or the reason why there is none."""

    test: str
    source: str
    rows: str
    expected: str
    got: str
    error: str
    tolerance: str
    ok: bool


class Heard(NamedTuple):
    expected: Any
    got: Any
    tolerance: float


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--published", action="store_true", help="tell every comparison with a published figure")
    parser.addoption("--published-to", type=Path, metavar="=FILE.csv", help="the same, and written to a file")


def pytest_configure(config: pytest.Config) -> None:
    if config.getoption("--published") or config.getoption("--published-to"):
        config.pluginmanager.register(Report(config.getoption("--published-to")), "published-report")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        for mark in item.iter_markers("published"):
            if not mark.args or not all(isinstance(each, str) and each for each in mark.args):
                raise pytest.UsageError(f"{item.nodeid}: the mark `published` names its source")


class Report:
    """What the marked tests compared, kept while they run and told at the end."""

    def __init__(self, file: Path | None) -> None:
        self.file = file
        self.heard: list[Heard] = []
        self.rows: list[Row] = []
        self.lost_to_follow_up: list[str] = []

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Iterator[None]:
        if item.get_closest_marker("published") is None:
            return (yield)
        self.heard = []
        with ExitStack() as listening:
            for target, name, listen in (
                (NEAR, "__eq__", self._approx),
                (np.testing, "assert_allclose", self._numpy),
                (np.testing, "assert_array_equal", self._numpy),
            ):
                listening.enter_context(patch.object(target, name, listen(getattr(target, name))))
            return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_makereport(self, item: pytest.Item, call: Any) -> Iterator[None]:
        report = yield
        marks = list(item.iter_markers("published"))
        if marks and (report.when == "call" or not report.passed):
            source = "; ".join(mark.args[0] for mark in marks)
            rows = " ".join(row for mark in marks for row in mark.args[1:])
            compared = [_text_of(heard) for heard in self.heard] if report.when == "call" else []
            if report.passed:
                compared += [(text, "holds", "", "exact", True) for text in assertions(item)]
            else:
                compared = list(dict.fromkeys(compared))  # what is not met is compared once more, to be explained
                compared.append(("", f"{report.outcome}: {_reason(report)}", "", "", False))
            told_before = [(item.nodeid, source, rows, *each) for each in compared]
            report.user_properties = [*report.user_properties, ("published", told_before)]
        return report

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        for name, recorded in report.user_properties if report.when == "call" or not report.passed else ():
            if name == "published":
                self.rows += [Row(*each) for each in recorded]
                self.lost_to_follow_up += [] if recorded else [report.nodeid]

    @pytest.hookimpl(tryfirst=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.errors() and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def errors(self) -> list[str]:
        """What makes the report itself wrong."""
        absent = not_expressed()
        expressed = {row for each in self.rows for row in each.rows.split()}
        return [
            *(f"{test}: bears the mark `published` and compared nothing" for test in self.lost_to_follow_up),
            *(f"{row['id']}: is not expressed, and no reason is given" for row in absent if not row["reason"]),
            *(f"{row['id']}: is told as not expressed, and is" for row in absent if row["id"] in expressed),
        ]

    def pytest_terminal_summary(self, terminalreporter: Any) -> None:
        write = terminalreporter.write_line
        absent = not_expressed()
        terminalreporter.section("compared with what was published")
        by_source: dict[str, list[Row]] = {}
        for row in self.rows:
            by_source.setdefault(row.source, []).append(row)
        for source, rows in by_source.items():
            write(f"\n{source}")
            for before, row in zip([None, *rows], rows, strict=False):
                if before is None or before.test != row.test:
                    write(f"  {row.test}" + (f"  [{row.rows}]" if row.rows else ""))
                write(_line(row))
        terminalreporter.section("not expressed, and why")
        for each in absent:
            write(f"{each['id']} ({each['topic']}; {each['source']}): {each['reason']}")
        terminalreporter.section("comparisons by source")
        for source, count in Counter(row.source for row in self.rows).most_common():
            failed = sum(not row.ok for row in by_source[source])
            write(f"{count:6d}  {source}" + (f"  ({failed} NOT MET)" if failed else ""))
        missed = sum(not row.ok for row in self.rows)
        tests = len({row.test for row in self.rows})
        write(
            f"\n{len(self.rows)} comparisons in {tests} tests with {len(by_source)} sources, {missed} not met;"
            f" {len(absent)} rows not expressed"
        )
        for words, means in CONFIDENCE.items():
            write(f"{sum(words in row.source for row in self.rows):6d}  {means}")
        for wrong in self.errors():
            write(f"ERROR {wrong}", red=True)
        if self.file:
            self._write(absent)
            write(f"written to {self.file}")

    def _write(self, absent: list[dict[str, str]]) -> None:
        assert self.file is not None
        with self.file.open("w", encoding="utf-8", newline="") as file:
            table = csv.writer(file)
            table.writerow([*Row._fields, "reason"])
            for row in self.rows:
                table.writerow([*row[:-1], "yes" if row.ok else "no", ""])
            for each in absent:
                table.writerow(["", each["source"], each["id"], "", "", "", "", "not expressed", each["reason"]])

    def _approx(self, plain: Callable[[Any, Any], bool]) -> Callable[[Any, Any], bool]:
        def listening(approx: Any, actual: Any) -> bool:
            if np.ndim(actual) == 0:  # an array is compared entry by entry, each of which comes here
                number = isinstance(approx.expected, int | float | np.number) and np.isfinite(approx.expected)
                self.heard.append(Heard(approx.expected, actual, float(approx.tolerance) if number else 0.0))
            return plain(approx, actual)

        return listening

    def _numpy(self, plain: Callable[..., None]) -> Callable[..., None]:
        def listening(actual: Any, desired: Any, *args: Any, **options: Any) -> None:
            given = inspect.signature(plain).bind(actual, desired, *args, **options)
            given.apply_defaults()
            absolute, relative = given.arguments.get("atol", 0.0), given.arguments.get("rtol", 0.0)
            for got, expected in np.broadcast(actual, desired):
                within = absolute + relative * abs(expected) if relative else absolute
                self.heard.append(Heard(expected, got, within))
            plain(actual, desired, *args, **options)

        return listening


def not_expressed() -> list[dict[str, str]]:
    """Rows of the tables of checks that no test compares with."""
    with NOT_EXPRESSED.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def assertions(item: pytest.Item) -> list[str]:
    """The assertions of a test that compare no numbers within a tolerance, as text with known values in it."""
    function: Any = item.function  # type: ignore[attr-defined]
    given = getattr(item, "funcargs", {})
    known = {**{name: value for name, value in function.__globals__.items() if name.isupper()}, **given}
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    asked = [node.test for node in ast.walk(tree) if isinstance(node, ast.Assert)]
    asked = [test for test in asked if any(isinstance(part, ast.Compare | ast.Call) for part in ast.walk(test))]
    near = {name for name, value in function.__globals__.items() if value is pytest.approx} | {"approx"}
    return [ast.unparse(_Values(known).visit(test)) for test in asked if not near & set(_names(test))]


class _Values(ast.NodeTransformer):
    """Writes short values in the place of names."""

    def __init__(self, known: dict[str, Any]) -> None:
        self.known = known

    def visit_Name(self, node: ast.Name) -> ast.expr:
        value = self.known.get(node.id)
        plain = isinstance(value, int | float | str | tuple | list | dict)
        return ast.Name(repr(value)) if plain and len(repr(value)) <= LONGEST_VALUE else node


def _names(tree: ast.AST) -> Iterable[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Name | ast.Attribute):
            yield node.id if isinstance(node, ast.Name) else node.attr


def _text_of(heard: Heard) -> tuple[str, str, str, str, bool]:
    expected, got, tolerance = heard
    try:
        error = float(got) - float(expected)
    except (TypeError, ValueError):
        return str(expected), str(got), "", "exact", bool(expected == got)
    same = expected == got or (np.isnan(expected) and np.isnan(got))
    within = bool(same or abs(error) <= tolerance)
    return f"{expected:.12g}", f"{got:.12g}", "0" if same else f"{error:.2g}", f"{tolerance:.2g}", within


def _reason(report: pytest.TestReport) -> str:
    crash = getattr(report.longrepr, "reprcrash", None)
    text = crash.message if crash else str(report.longrepr[-1] if isinstance(report.longrepr, tuple) else "")
    return text.splitlines()[0] if text else "no reason given"


def _line(row: Row) -> str:
    mark = "ok" if row.ok else "NOT MET"
    if not row.error:
        return f"    {row.expected} {row.got}  {mark}"
    error = f"error {row.error:>9}  within {row.tolerance:>8}"
    return f"    expected {row.expected:>18}  got {row.got:>18}  {error}  {mark}"
