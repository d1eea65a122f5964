"""How well the defaults that decide verdicts are founded: the share that was read at a source, or second-hand.

    python tests/test_standing.py [--table]

prints it by quantity and region, with each default that is a judgement, or a table of all classes with value, range,
year and standing. Of a life drawn from a published shape the
standing is that of the published one, as `data/figures.csv` has it; a price of energy counts for each fuel of a class.
"""

import csv
import sys
from collections.abc import Iterator

import pytest

from decide.load.tables.tables import CURRENCIES, ENERGY, data_dir, tables
from decide.load.tables.usual_bills import later_bills

T = tables()
READ = ("found", "second-hand")
QUANTITIES = ("mean_life", "life_shape", "price", "installation")
OF_A_FUEL = ("installed", "new")
ROWS = {
    (row["class"], row["region"], row["quantity"]): row
    for row in csv.DictReader(
        line for line in (data_dir() / "figures.csv").read_text("utf-8").splitlines() if not line.startswith("#")
    )
}
SHARES = {"US": 0.62, "EU": 0.295}
"""What the tables of 0.3.0 come to; six tenths of the US were wanted. No public price of European appliances could be
read. Of bills, means are published for two classes in the US and three in Europe; no more were found. It may rise."""

Default = tuple[str, str, str, str]
"""Class, quantity, standing, and how a judgement was reached."""


def row_of(kind: str, region: str, quantity: str) -> dict[str, str]:
    keys = ((kind, region), (kind, "*"), ("*", region), ("*", "*"))
    return next(ROWS[*key, quantity] for key in keys if (*key, quantity) in ROWS)


def defaults(region: str) -> Iterator[Default]:
    """Every default that decides a verdict, over all classes of a region."""
    for known in T.classes(region):
        fuels = [fuel for fuel in known.fuels if fuel in ENERGY]
        names = [*QUANTITIES, *(f"{fuel}_{state}" for fuel in fuels for state in OF_A_FUEL)]
        for name in names:
            row = row_of(known.kind, region, name)
            yield known.kind, name, row["status"], row["note"]
        bill = later_bills(known.kind, region, T).median
        yield known.kind, "usual bill", bill.status, bill.note
        for fuel in fuels:
            price = T.energy_price(region, fuel)
            yield known.kind, f"{fuel} price", price.status, price.note


def share(region: str) -> float:
    found = [status in READ for _, _, status, _ in defaults(region)]
    return sum(found) / len(found)


@pytest.mark.parametrize("region", CURRENCIES)
def test_no_fewer_defaults_are_read_than_were(region: str) -> None:
    assert share(region) >= SHARES[region]


@pytest.mark.parametrize("region", CURRENCIES)
def test_every_judgement_says_how_it_was_reached(region: str) -> None:
    unsaid = [(kind, name) for kind, name, status, note in defaults(region) if status not in READ and len(note) < 12]
    assert unsaid == []
    assert {status for _, _, status, _ in defaults(region)} <= {*READ, "judgement"}


def test_what_homes_use_is_what_the_eia_prints() -> None:
    """EIA, National Energy Modeling System, residential input RSUEC: mean of nine divisions, single-family homes."""
    printed = {"refrigerator": 599, "room_ac": 822, "central_ac": 2780, "microwave": 107, "water_heater_electric": 2795}
    for kind, value in printed.items():
        figure = T.figure("electricity_installed", kind, "US")
        assert figure is not None
        assert (figure.value, figure.status, figure.source.key) == (value, "found", "eia_nems")


def print_table() -> None:
    """Every class of each region a line: life, price, use old and new of its fuel, usual bill at a later failure."""
    for region in CURRENCIES:
        print(f"{region} | life [year] | price | use old | use new | usual bill")
        for known in T.classes(region):
            fuel = next((fuel for fuel in ("gas", *known.fuels) if fuel in known.fuels and fuel in ENERGY), "")
            names = ("mean_life", "price", *(f"{fuel}_{state}" for state in OF_A_FUEL))
            found = [T.figure(name, known.kind, region) for name in names]
            cells = [known.kind]
            for each in (*found, later_bills(known.kind, region, T).median):
                ends = f" ({each.low:.4g} to {each.high:.4g})" if each and each.low is not None else ""
                cells.append(f"{each.value:.4g} {each.unit}{ends}, {each.year}, {each.status}" if each else "none")
            print(" | ".join(cells))


def main() -> None:
    if "--table" in sys.argv[1:]:
        print_table()
        return
    for region in CURRENCIES:
        listed = list(defaults(region))
        print(f"{region}: {share(region):.0%} of {len(listed)} read at a source or second-hand")
        for name in dict.fromkeys(name for _, name, _, _ in listed):
            some = [each for each in listed if each[1] == name]
            print(f"  {name}: {sum(each[2] in READ for each in some)} of {len(some)}")
            for kind, _, status, note in some:
                if status not in READ:
                    print(f"    {kind}: {status}; {note}")


if __name__ == "__main__":
    main()
