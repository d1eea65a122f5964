"""The commands that list what the tables know."""

import re

from test_cli import run

from decide.load.tables.tables import tables


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


def test_what_is_due_comes_oldest_first() -> None:
    rows = run("sources", "--due").stdout.partition("The sources")[0]
    years = [int(year) for year in re.findall(r" {2}(\d{4}) {2}(?:read|second|from)", rows)]
    assert len(years) > 50
    assert years == sorted(years)


def test_sources_of_one_class_holds_nothing_else() -> None:
    rows = run("sources", "--class", "dishwasher").stdout.partition("The sources")[0].splitlines()
    kinds = {line.split()[0] for line in rows[1:] if line.strip() and not line.startswith(" ")}
    assert kinds == {"dishwasher"}
