"""What moved: the figures that decide, and the verdicts of a grid of cases, of this tree beside another one.

    python tests/bench/compare.py                   every class and region: value, range, year and standing
    python tests/bench/compare.py TREE              the same of both trees where they differ, then every verdict that
                                                    changed, with what it is put down to, and their counts
    python tests/bench/compare.py TREE --counts     the counts alone

TREE is the path of another checkout; it is asked in a process of its own, with this
Python, by `answer` and `as_data`, which have stood since 0.2.0. A changed verdict is put down to the first group of
`REASONS` whose figures, taken from the other tree, alone bring the other verdict back; to `several` if only all of them
together do; to `the model` if not even that does; and it is a close call where this verdict hangs on the ranges.
"""

import argparse
import csv
import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any, Final

PLACES: Final = ("US", "DE", "RO", "NO")
AGES: Final = (2, 5, 9, 14)
QUOTES: Final = (0.15, 0.3, 0.5)  # of what a new one costs in its place
QUANTITIES: Final = (
    "mean_life", "life_shape", "price", "installation", "electricity_installed", "electricity_new", "gas_installed",
    "gas_new", "service_fee", "labour_rate",
)  # fmt: skip
REASONS: Final = {
    "rate": ("rate", "inflation", "leaving_rate", "price_escalation"),
    "energy price": ("electricity_price", "gas_price", "water_price", "electricity_escalation", "gas_escalation"),
    "life": ("mean_life", "life_shape", "failure_free_years", "hazard_ratio", "remaining_life_factor"),
    "price": ("price", "delivery", "installation", "haul_away", "tax_rate", "warranty"),
    "use": ("electricity", "gas", "water", "efficiency_degradation_rate", "efficiency_degradation_cap"),
    "later repairs": ("maintenance_and_repair", "later_repair_median", "later_repair_log_sd"),
}
"""Groups of entries, in the order in which a changed verdict is put down to them."""

Case = dict[str, Any]
Said = dict[str, Any]


def grid(places: tuple[str, ...] = PLACES) -> list[Case]:
    """Every class in every place, by age and quote."""
    from decide.load.tables.tables import tables

    reference, cases = tables(), []
    for place in places:
        region = reference.region_of(place)
        for known in reference.classes(region):
            new = reference.installed_price(known.kind, region)
            assert new is not None
            for age in AGES:
                for share in QUOTES:
                    unit = {"class": known.kind, "age": age, "fault": "other"}
                    quoted = {"quote": float(round(share * new.value))}
                    cases.append({"appliance": unit, "household": {"place": place}, "repair": quoted})
    return cases


def said(case: Case) -> Said:
    """Verdict, limit and figures taken of one case, or that it is refused."""
    from decide.answers.answer import answer
    from decide.errors import CaseError
    from decide.show.terminal.as_json import as_data

    try:
        found = as_data(answer(case))
    except CaseError as error:
        return {"verdict": "not offered", "limit": None, "taken": {}, "why": str(error)}
    taken = {each["field"]: each["value"] for each in found["defaults_used"]}
    return {"verdict": found["verdict"], "limit": found["repair_limit"], "taken": taken}


def figures() -> dict[str, dict[str, Any]]:
    """The figures of `QUANTITIES`, by class, region and quantity."""
    from decide.load.tables.tables import CURRENCIES, tables

    reference, found = tables(), {}
    for region in CURRENCIES:
        for known in reference.classes(region):
            for name in QUANTITIES:
                each = reference.figure(name, known.kind, region)
                if each is not None:
                    facts = {key: getattr(each, key) for key in ("value", "low", "high", "unit", "year", "status")}
                    found[f"{known.kind},{region},{name}"] = facts
    return found


def of_tree(tree: Path, task: str, cases: list[Case]) -> Any:
    """What another tree says, in a process of its own."""
    env = {**os.environ, "PYTHONPATH": str(tree)}
    command = [sys.executable, __file__, f"--{task}"]
    done = subprocess.run(
        command, input=json.dumps(cases), capture_output=True, text=True, env=env, cwd=tree, check=True
    )
    return json.loads(done.stdout)


def with_figures(case: Case, taken: dict[str, float], names: tuple[str, ...]) -> Case:
    """A case with some of the figures that another tree takes, as if they had been entered."""
    entered: Case = json.loads(json.dumps(case))
    for path, value in taken.items():
        *heads, name = path.split(".")
        if name not in names or "used" in heads:
            continue
        at: Any = entered
        for head in heads:
            at = at.setdefault(head, [{}])[0] if head == "replace" else at.setdefault(head, {})
        at[name] = value
    return entered


def reason(case: Case, mine: Said, other: Said) -> str:
    """What the other verdict on a case is put down to: a group, `several`, `the model`, or `close call`.

    All figures are entered, so that they have no ranges; a verdict that does not survive that is a close call.
    """
    every = tuple(name for names in REASONS.values() for name in names)
    fixed = with_figures(case, mine["taken"], every)
    if said(fixed)["verdict"] != mine["verdict"]:
        return "close call"
    for group, names in REASONS.items():
        if said(with_figures(fixed, other["taken"], names))["verdict"] == other["verdict"]:
            return group
    whole = said(with_figures(fixed, other["taken"], every))["verdict"] == other["verdict"]
    return "several" if whole else "the model"


def moved(before: dict[str, float], now: dict[str, float], group: str) -> str:
    """The figure of a group that differs most between two trees."""
    names = REASONS.get(group, ())
    both = {path: (before[path], now[path]) for path in before.keys() & now.keys() if path.rpartition(".")[2] in names}
    far = {path: abs(a - b) / max(abs(a), abs(b), 1e-9) for path, (a, b) in both.items()}
    if not far or max(far.values()) == 0:
        return ""
    path = max(sorted(far), key=far.__getitem__)
    return f"{path} {both[path][0]:.4g} to {both[path][1]:.4g}"


def shown(figure: dict[str, Any] | None) -> str:
    if figure is None:
        return "none"
    ends = f" ({figure['low']:.5g} to {figure['high']:.5g})" if figure["low"] is not None else ""
    return f"{figure['value']:.5g}{ends} {figure['unit']}, {figure['year']}, {figure['status']}"


def compared(tree: Path, counts_only: bool, cases: list[Case] | None = None) -> Counter[tuple[str, str, str]]:
    """Print what differs from another tree; the counts of changed verdicts by reason, before and after.

    `cases`: in place of the grid.
    """
    writer = csv.writer(sys.stdout, lineterminator="\n")
    if not counts_only:
        before, now = of_tree(tree, "figures", []), figures()
        writer.writerow(("class", "region", "figure", "before", "after"))
        for key in (*now, *(key for key in before if key not in now)):
            a, b = (None if each is None else shown(each) for each in (before.get(key), now.get(key)))
            if a != b:
                writer.writerow((*key.split(","), a or "none", b or "none"))
        writer.writerow(())
        writer.writerow(("place", "class", "age", "quote", "before", "limit", "after", "limit", "reason", "most of it"))
    cases, counts = cases or grid(), Counter[tuple[str, str, str]]()
    for case, other in zip(cases, of_tree(tree, "answers", cases), strict=True):
        mine = said(case)
        if mine["verdict"] == other["verdict"]:
            counts["unchanged", mine["verdict"], mine["verdict"]] += 1
            continue
        why = "no figures before" if other["verdict"] == "not offered" else reason(case, mine, other)
        counts[why, other["verdict"], mine["verdict"]] += 1
        if not counts_only:
            unit, limits = case["appliance"], (each["limit"] and round(each["limit"]) for each in (other, mine))
            told = (case["household"]["place"], unit["class"], unit["age"], case["repair"]["quote"])
            old, new = limits
            most = moved(other["taken"], mine["taken"], why)
            writer.writerow((*told, other["verdict"], old, mine["verdict"], new, why, most))
    writer.writerow(())
    writer.writerow(("reason", "before", "after", "cases"))
    writer.writerows((*key, n) for key, n in sorted(counts.items(), key=lambda each: (-each[1], each[0])))
    return counts


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("tree", nargs="?", type=Path)
    parser.add_argument("--counts", action="store_true")
    parser.add_argument("--answers", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--figures", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.answers:
        print(json.dumps([said(case) for case in json.load(sys.stdin)]))
    elif asked.figures:
        print(json.dumps(figures()))
    elif asked.tree:
        compared(asked.tree.resolve(), asked.counts)
    else:
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(("class", "region", "figure", "value, range, year, standing"))
        writer.writerows((*key.split(","), shown(each)) for key, each in figures().items())


if __name__ == "__main__":
    main()
