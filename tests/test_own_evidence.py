"""Questions and readings of a shop's own: added to the shipped ones, and a bad row is refused by its line."""

from pathlib import Path
from typing import Any

import pytest
from test_cli_checks import json_of, run

from decide.answers.diagnosis import diagnose
from decide.errors import ReadError
from decide.load.tables.evidence import COLUMNS, evidence, read_folder
from decide.load.tables.sourced import data_dir
from decide.load.tables.symptoms import symptoms
from decide.show.text.evidence import in_unit
from decide.show.text.words import Words

BASIS = "own,our own jobs,2026,judgement,what we saw in our own jobs"

QUESTION = f"smells_sweet,warm_throughout,*,*,yes;a little;no,owner,20,Does it smell sweet at the back?,{BASIS}"
ANSWERS = (
    f"smells_sweet,fridge_sealed_leak,0.6;0.3;0.1,{BASIS}",
    f"smells_sweet,*,0.02;0.08;0.9,{BASIS}",
)
SNIFFER = "our_leak_ppm,refrigerator,*,leak sniffer,ppm,,5,2,10,technician,none,Sniffer at the coil,A hand from it"
READING = f"{SNIFFER},{BASIS}"
OUTCOMES = (
    f"our_leak_ppm,fridge_sealed_leak,0,0.1,0.1,0.8,{BASIS}",
    f"our_leak_ppm,*,0,0.95,0.03,0.02,{BASIS}",
)
GOOD = {
    "questions.csv": (QUESTION,),
    "answer_likelihoods.csv": ANSWERS,
    "readings.csv": (READING,),
    "reading_likelihoods.csv": OUTCOMES,
}


def folder_with(folder: Path, files: dict[str, tuple[str, ...]]) -> Path:
    for name, rows in files.items():
        (folder / name).write_text("\n".join((COLUMNS[name], *rows)) + "\n", "utf-8")
    return folder


def test_what_a_shop_adds_stands_beside_what_is_shipped_and_counts(tmp_path: Path) -> None:
    listed, asked = read_folder(folder_with(tmp_path, GOOD))
    assert listed is symptoms()
    assert set(asked.questions) == {*evidence().questions, "smells_sweet"}
    settings: dict[str, Any] = {"listed": listed, "asked": asked, "age": 7.0}
    before = diagnose("refrigerator", "warm_throughout", **settings)
    after = diagnose("refrigerator", "warm_throughout", answers={"smells_sweet": "yes"}, **settings)
    sniffed = diagnose("refrigerator", "warm_throughout", readings={"our_leak_ppm": 40.0}, **settings)
    at = before.symptom.ids.index("fridge_sealed_leak")
    assert after.chance[at] > 3 * before.chance[at]
    assert sniffed.chance[at] > 3 * before.chance[at]


def test_the_command_takes_them_in_the_words_of_the_shop(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, GOOD)
    warm = ("checks", "refrigerator", "warm_throughout", "--age", "7", "--folder", folder)
    data = json_of(*warm, "--answer", "smells_sweet=a little", "--reading", "our_leak_ppm=40 ppm")
    assert data["answered"] == {"smells_sweet": "a little"}
    assert data["measured"]["our_leak_ppm"] == {"value": 40.0, "outcome": "above"}
    page = run(*warm, "--answer", "smells_sweet=a little").stdout
    assert "Does it smell sweet at the back? a little" in page
    assert "Sniffer at the coil (our_leak_ppm, ppm)" in page
    assert "With a leak sniffer." in page


def test_a_row_with_a_shipped_key_takes_its_place_with_all_its_likelihoods(tmp_path: Path) -> None:
    files = {
        "questions.csv": (f"lamp_inside,warm_throughout,*,*,yes;no,owner,5,,{BASIS}",),
        "answer_likelihoods.csv": (f"lamp_inside,no_current,0.2;0.8,{BASIS}", f"lamp_inside,*,0.5;0.5,{BASIS}"),
    }
    _, asked = read_folder(folder_with(tmp_path, files))
    assert asked.questions["lamp_inside"].likelihoods == {"no_current": (0.2, 0.8), "*": (0.5, 0.5)}


def changed(name: str, old: str, new: str) -> dict[str, tuple[str, ...]]:
    rows = tuple(row.replace(old, new, 1) for row in GOOD[name])
    assert rows != GOOD[name], (name, old)
    return {**GOOD, name: rows}


@pytest.mark.parametrize(
    ("files", "said"),
    [
        (changed("questions.csv", "yes;a little;no", "yes"), "questions.csv line 2: answers must list two or more"),
        (changed("questions.csv", "warm_throughout", "gremlins"), "questions.csv line 2: symptoms must list only"),
        (changed("questions.csv", ",owner,", ",anyone,"), "questions.csv line 2: who must be one of"),
        (changed("questions.csv", ",20,", ",0,"), "questions.csv line 2: seconds must lie above 0"),
        (changed("questions.csv", "Does it smell sweet at the back?", ""), "line 2: smells_sweet is not among"),
        (changed("questions.csv", "what we saw in our own jobs", ""), "line 2: a judgement must give its reason"),
        (changed("answer_likelihoods.csv", "0.6;0.3;0.1", "0.6;0.4"), "line 2: smells_sweet has 3 answers"),
        (changed("answer_likelihoods.csv", "0.6;0.3;0.1", "0.6;0.3;0.2"), "line 2: likelihoods must be above 0"),
        (changed("answer_likelihoods.csv", "0.6;0.3;0.1", "0.6;0.4;0"), "line 2: likelihoods must be above 0"),
        (changed("answer_likelihoods.csv", "0.6;0.3;0.1", "0.6;often;0.1"), "line 2: likelihoods must be a number"),
        (changed("answer_likelihoods.csv", "fridge_sealed_leak", "gremlin"), "line 2: gremlin is no cause"),
        (changed("readings.csv", ",ppm,,5,", ",ppm,,,"), "readings.csv line 2: needs low, high, or both"),
        (changed("readings.csv", ",ppm,,5,", ",ppm,,5000000,"), "line 2: low and high must lie between 0 and 1e+06"),
        (changed("readings.csv", ",ppm,", ",furlong,"), "readings.csv line 2: unit must be one of"),
        (changed("readings.csv", "technician,none", "owner,live"), "line 2: an owner never measures on a live circuit"),
        (changed("readings.csv", "technician,none", "technician,open"), "line 2: circuit must be one of"),
        (changed("reading_likelihoods.csv", "0,0.1,0.1,0.8", "0.1,0.1,0.1,0.7"), "line 2: below must be 0"),
        (changed("reading_likelihoods.csv", "_ppm,*", "_ppm,fridge_sealed_leak"), "line 3: our_leak_ppm"),
        ({"questions.csv": (QUESTION,)}, "questions.csv: no likelihoods are listed for smells_sweet"),
    ],
)  # fmt: skip
def test_a_bad_row_is_refused_by_its_line(files: dict[str, tuple[str, ...]], said: str, tmp_path: Path) -> None:
    with pytest.raises(ReadError) as refused:
        read_folder(folder_with(tmp_path, files))
    assert said in str(refused.value)


def test_a_folder_without_any_of_the_files_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadError):
        read_folder(tmp_path)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_unit_that_a_shop_may_measure_in_has_words_in_every_place(language: str) -> None:
    listed = (data_dir() / "reading_units.csv").read_text("utf-8").splitlines()[2:]
    units = [line.split(",")[0] for line in listed]
    assert {"ohm", "C", "uF", "cm"} <= set(units)
    for region in ("US", "EU"):
        words = Words.of(language, region)
        assert all(in_unit(words, 1.0, unit) for unit in units)
