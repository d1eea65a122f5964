"""The report of published figures: what it tells of a few small tests, and that nothing is left out unsaid."""

import csv
import subprocess
import sys
from pathlib import Path

import pytest
from published import NOT_EXPRESSED, not_expressed

HERE = Path(__file__).parent
Outcome = tuple[int, str, list[dict[str, str]]]

SMALL = """
import numpy as np
import pytest

ORDER = [2, 0, 1]
near = pytest.approx


@pytest.mark.published("Tables of interest, p. 3", "interest-3", "interest-4")
def test_numbers():
    assert 1.05**2 == near(1.10, abs=0.005)
    assert np.array([1.05, 1.1025]) == near(np.array([1.05, 1.10]), abs=0.005)
    np.testing.assert_allclose([2.0, 4.0], 2 * np.array([1.0, 2.0]), rtol=0.1, atol=0.5)


@pytest.mark.parametrize("worth", [pytest.param(8.0, marks=pytest.mark.published("Exercise 7"))])
def test_texts(worth):
    order = ORDER
    assert order == ORDER
    assert worth / 2 == 4


@pytest.mark.published("Appendix B")
@pytest.mark.parametrize("got", [3.0, float("nan")])
def test_gaps(got):
    assert got == near(float("nan"), nan_ok=True)
    assert {"b": None} == near({"b": None})


def test_of_our_own():
    assert 7.5 == near(7.5)
"""


def outcome_of(folder: Path, text: str, *options: str) -> tuple[int, str]:
    """What a run of the tests in a text ends with and prints."""
    (folder / "test_small.py").write_text(text, encoding="utf-8")
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = published\n", encoding="utf-8")
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "published", "-p", "no:cacheprovider", *options],
        cwd=folder,
        env={"PYTHONPATH": str(HERE), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )
    return run.returncode, run.stdout + run.stderr


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The small tests run once: what the run ends with, what it prints, and the comparisons of its file."""
    folder = tmp_path_factory.mktemp("small")
    code, text = outcome_of(folder, SMALL, "--published-to=told.csv")
    with (folder / "told.csv").open(encoding="utf-8", newline="") as file:
        return code, text, [row for row in csv.DictReader(file) if row["ok"] != "not expressed"]


def test_every_comparison_of_a_marked_test_is_told_and_no_other(small: Outcome) -> None:
    code, text, rows = small
    assert code == 1  # one of the gaps is not met
    assert "Tables of interest, p. 3" in text
    assert "7.5" not in text.partition("not expressed, and why")[0]
    numbers = [row for row in rows if row["test"] == "test_small.py::test_numbers"]
    assert [(row["expected"], row["got"], row["error"], row["tolerance"], row["ok"]) for row in numbers] == [
        ("1.1", "1.1025", "0.0025", "0.005", "yes"),
        ("1.05", "1.05", "0", "0.005", "yes"),
        ("1.1", "1.1025", "0.0025", "0.005", "yes"),
        ("2", "2", "0", "0.7", "yes"),
        ("4", "4", "0", "0.9", "yes"),
    ]
    assert {(row["source"], row["rows"]) for row in numbers} == {("Tables of interest, p. 3", "interest-3 interest-4")}


def test_other_assertions_are_told_by_their_text_with_the_values_that_are_known(small: Outcome) -> None:
    texts = [row for row in small[2] if row["source"] == "Exercise 7"]
    assert [row["expected"] for row in texts] == ["order == [2, 0, 1]", "8.0 / 2 == 4"]
    assert {(row["got"], row["tolerance"], row["ok"]) for row in texts} == {("holds", "exact", "yes")}


def test_what_is_not_met_is_told_with_its_reason_and_counted(small: Outcome) -> None:
    _, text, rows = small
    missed, reason, *met = [row for row in rows if row["source"] == "Appendix B"]
    assert (missed["expected"], missed["got"], missed["ok"]) == ("nan", "3", "no")
    assert reason["got"].startswith("failed: ")
    assert [(row["expected"], row["got"], row["ok"]) for row in met] == [("nan", "nan", "yes"), ("None", "None", "yes")]
    assert "11 comparisons in 4 tests with 3 sources, 2 not met" in text
    assert "Appendix B  (2 NOT MET)" in text
    assert "0  with a print that is recalled" in text


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ("    pass", "bears the mark `published` and compared nothing"),
        ("    pytest.skip('no table here')", "skipped: Skipped: no table here"),
        ("    assert 1 + 1 == 2", "TRB-4: is told as not expressed, and is"),
    ],
    ids=["nothing compared", "skipped", "expressed after all"],
)
def test_a_row_that_is_left_out_unsaid_is_an_error(tmp_path: Path, body: str, sentence: str) -> None:
    head = "import pytest\n\n\n@pytest.mark.published('somewhere', 'TRB-4')\ndef test_it():\n"
    code, text = outcome_of(tmp_path, head + body + "\n", "--published")
    assert sentence in text
    assert code == 1 or "skipped" in sentence


def test_a_mark_without_its_source_is_refused(tmp_path: Path) -> None:
    code, text = outcome_of(tmp_path, "import pytest\n\n\n@pytest.mark.published\ndef test_it():\n    assert 1 < 2\n")
    assert code == pytest.ExitCode.USAGE_ERROR
    assert "the mark `published` names its source" in text


def test_nothing_is_told_unless_it_is_asked_for(tmp_path: Path) -> None:
    _, text = outcome_of(tmp_path, SMALL)
    assert "Tables of interest" not in text.replace(SMALL, "")
    assert "not expressed" not in text


def test_rows_that_are_not_expressed_have_each_a_topic_a_source_and_a_reason() -> None:
    absent = not_expressed()
    assert [row["id"] for row in absent if not all(row.values())] == []
    assert len({row["id"] for row in absent}) == len(absent)
    assert NOT_EXPRESSED.read_text("utf-8").splitlines()[0] == "id,topic,source,reason"
