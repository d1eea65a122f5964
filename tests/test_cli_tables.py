"""The commands that list what the tables know."""

from pathlib import Path

from test_cli import run

from decide.load.tables.tables import tables
from decide.show.text.freshness import due


def test_classes_lists_those_of_a_region() -> None:
    for region in ("US", "EU"):
        listed = [line.split()[0] for line in run("classes", "--region", region).stdout.splitlines()]
        assert listed[-len(tables().classes(region)) :] == [kind.kind for kind in tables().classes(region)]
    assert len(run("classes").stdout.splitlines()) > len(tables().classes("EU"))


def test_an_unknown_region_or_class_is_refused_with_those_that_are_known() -> None:
    assert run("classes", "--region", "XX").exit_code == 2
    assert "US, EU" in run("classes", "--region", "XX").stderr
    assert run("sources", "--class", "dishwashr").exit_code == 2
    assert "did you mean dishwasher" in run("sources", "--class", "dishwashr").stderr


def test_sources_lists_every_figure_with_its_source_and_status() -> None:
    reference = tables()
    listed = run("sources").stdout
    head, _, citations = listed.partition("The sources")
    assert head.count("\n") > len(reference.figures) + len(reference.energy_prices)
    squeezed = " ".join(citations.split())
    for key, source in reference.sources.items():
        if any(figure.source.key == key for figure in reference.figures.values()):
            assert f"{key} {' '.join(source.citation.split())}" in squeezed


def test_what_is_due_is_a_line_each_for_table_rows_period_and_what_to_do() -> None:
    head, *lines = run("sources", "--due").stdout.splitlines()
    assert head.split() == ["Table", "Rows", "Period", "What", "to", "do"]
    assert len(lines) == 7
    energy = next(line for line in lines if line.startswith("energy_prices.csv"))
    assert "half-year" in energy
    listed = list(due(tables(), 2030))
    assert ("energy_prices.csv", len(tables().energy_prices)) in [
        each[:2] for each in listed
    ]  # all are of 2026 or older
    money = [each for each in tables().figures.values() if each.price_year.startswith("20")]
    assert ("figures.csv", len(money), "amounts") in [(file, n, what) for file, n, _, what in listed]
    assert list(due(tables(), 1999)) == []


def test_prices_that_are_old_are_asked_for_anew_without_all(tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_text('appliance = { class = "dishwasher", age = 8 }\nhousehold = { place = "US-OH" }\n', "utf-8")
    asked = "take the one in the shop window"
    assert asked in " ".join(run("weigh", case).stdout.split())
    assert asked not in " ".join(run("weigh", case, "--set", "replace.1.price=700").stdout.split())


def test_sources_of_one_class_holds_nothing_else() -> None:
    rows = run("sources", "--class", "dishwasher").stdout.partition("The sources")[0].splitlines()
    kinds = {line.split()[0] for line in rows[1:] if line.strip() and not line.startswith(" ")}
    assert kinds == {"dishwasher"}
