"""Figures of today's money: every place's own energy, one price level, prices apart from work, and grades."""

import csv
import datetime
import json
from dataclasses import replace
from typing import Any

import pytest
from commands import run
from households import places_of

from decide.answers.answer import Answer, answer
from decide.answers.policy_card import card_of
from decide.economics.case import Option
from decide.economics.weigh import weigh
from decide.errors import DataError, EntryErrors
from decide.load.cases.case_file import complete, parse_case, write_case
from decide.load.cases.reading import DefaultUsed
from decide.load.tables.price_level import ALL_ITEMS, APPLIANCES, EQUIPMENT, UNKNOWN, WORK, PriceLevel
from decide.load.tables.symptoms import symptoms
from decide.load.tables.tables import GRADES, TO_INSTALL, UNITS, Estimate, data_dir, tables
from decide.show.pdf.sheet import sheet_of, sheet_text
from decide.show.text.freshness import OLD
from decide.show.text.words import Words

T = tables()
DAY = datetime.date(2026, 11, 25)
SOLD = [(kind, region) for kind in T.known_classes.values() for region in kind.regions]
EU = places_of("EU")
NO_GAS = {"CY", "FI", "MT", "NO", "PL"}
"""Eurostat nrg_pc_202, second half of 2025: no row for Cyprus, Finland and Malta; Poland's is confidential."""
BOILER = {"class": "boiler_gas", "age": 12}


def asked(place: str, there: dict[str, Any], *new: dict[str, Any], **repair: Any) -> dict[str, Any]:
    entries: dict[str, Any] = {"appliance": there, "household": {"place": place}, "repair": repair}
    return {**entries, "replace": list(new)} if new else entries


def default(found: Answer, path: str) -> DefaultUsed:
    return next(each for each in found.defaults if each.field == path)


def bought(found: Answer) -> Option:
    return found.case.options[1]


# energy of every place


@pytest.mark.parametrize("place", EU)
@pytest.mark.published("Eurostat nrg_pc_204 and nrg_pc_202, second half of 2025")
def test_every_country_of_the_union_has_its_own_prices_or_says_that_none_is_published(place: str) -> None:
    own = {fuel for known, fuel in T.energy_prices if known == place}
    assert own == ({"electricity"} if place in NO_GAS else {"electricity", "gas"})
    for fuel in ("electricity", "gas"):
        price = T.energy_price(place, fuel)
        assert price.price_year == "2025-S2"
        assert price.status == "found"
    taken = default(answer(asked(place, BOILER)), "household.gas_price")
    assert taken.stands_for == (place if place in NO_GAS else "")


@pytest.mark.published("Eurostat nrg_pc_202: EUR/GJ of gross calorific value, times 0.0036")
def test_gas_is_priced_by_its_gross_calorific_value_and_the_row_says_so() -> None:
    lines = (data_dir() / "energy_prices.csv").read_text("utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert {row["basis"] for row in rows if row["fuel"] == "gas"} == {"gross"}
    assert {row["basis"] for row in rows if row["fuel"] == "electricity"} == {""}
    for row in rows:
        if row["source"] == "eurostat_g":
            printed = float(row["note"].partition(" EUR/GJ")[0].rpartition(" ")[2])
            assert float(row["value"]) == pytest.approx(printed * 0.0036, abs=6e-5), row["place"]


@pytest.mark.published("UK SAP 2012, Table E4: net to gross 0.901 for natural gas, from memory")
def test_an_efficiency_by_net_calorific_value_is_turned_to_gross() -> None:
    """11,500 kWh of heat at 107 % of the net value is 96 % of the gross one that is billed, or 11,930 kWh of gas."""
    label = {"net_efficiency": 1.07, "heat_load": 11_500}
    found = complete(asked("DE", {**BOILER, "label": label}))
    assert found.case.appliance.gas == pytest.approx(11_500 / (1.07 * 0.901), rel=2e-3)
    gross = complete(asked("DE", {**BOILER, "label": {"afue": 1.07 / 1.11, "heat_load": 11_500}}))
    assert found.case.appliance.gas == pytest.approx(float(gross.case.appliance.gas))
    assert next(each for each in found.derived if each.field == "appliance.gas").status == "from memory"
    with pytest.raises(EntryErrors, match="afue"):
        complete(asked("DE", {**BOILER, "label": {"afue": 1.07, "heat_load": 11_500}}))


# A boiler of 12 years, usual figures for the rest: the average gas price of the EU would turn its verdict round.
TURNED = [("RO", 0.0566), ("HU", 0.0335)]


@pytest.mark.parametrize(("place", "price"), TURNED)
@pytest.mark.published("Eurostat nrg_pc_202, Romania and Hungary, second half of 2025")
def test_a_boiler_where_gas_is_cheap_is_worth_a_dearer_repair(place: str, price: float) -> None:
    found, averaged = answer(asked(place, BOILER)), asked(place, BOILER)
    assert float(found.case.household.gas_price) == pytest.approx(0.9 * price)
    averaged["household"]["gas_price"] = 0.9 * 0.1233  # what was taken before, for every country
    cheap, dear = found.weighing.repair_limit, answer(averaged).weighing.repair_limit
    assert cheap > dear + 0.02 * found.decision.cost_of_new
    quote = {"repair": {"quote": max(0.0, (cheap + dear) / 2)}}
    assert answer({**asked(place, BOILER), **quote}).weighing.verdict == "repair"
    assert answer({**averaged, **quote}).weighing.verdict == "replace"


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "EU average; none published for Poland"),
        ("es", "Promedio de la UE; no hay ninguno publicado para Polonia"),
    ],
)
def test_a_price_that_stands_for_another_place_is_named_wherever_the_answer_is(language: str, text: str) -> None:
    found, words = answer(asked("PL", BOILER, quote=900)), Words.of(language, "EU", "PL")
    assert text in next(line for line in words.assumptions(found) if line.path == "household.gas_price").note
    assert any(text in sentence for sentence in words.money_text(found))
    assert text in sheet_text(words, sheet_of(words, found, on=DAY))
    dishwasher = answer(asked("PL", {"class": "dishwasher", "age": 6}))  # burns none
    assert not any(text in sentence for sentence in words.money_text(dishwasher))


def test_the_command_names_the_fallback_and_the_money(tmp_path: Any) -> None:
    path = tmp_path / "boiler.toml"
    path.write_text(write_case(asked("PL", BOILER, quote=900)), "utf-8")
    found = run("weigh", str(path)).stdout
    assert "EU average; none published for Poland" in found
    assert found.count("Amounts are in money of May 2026.") == 1
    data = json.loads(run("weigh", str(path), "--json").stdout)
    assert data["money_of"] == "2026-05"
    gas = next(each for each in data["defaults_used"] if each["field"] == "household.gas_price")
    assert (gas["stands_for"], gas["price_year"]) == ("PL", "2025-S2")


# one price level

MONEY = sorted(key for key in T.figures if "currency" in UNITS[key[2]])


@pytest.mark.parametrize("key", MONEY, ids=" ".join)
def test_every_amount_has_its_year_and_came_by_the_index_of_its_kind(key: tuple[str, str, str]) -> None:
    kind, region, quantity = key
    figure = T.figures[key]
    assert figure.price_year
    brought = figure.published is not None
    earlier = figure.price_year != UNKNOWN and figure.price_year < T.level.month[:4]
    assert brought == (earlier and quantity != "water_price")
    if not brought:
        return
    installed = kind != "*" and region in T.kind(kind).sold_installed
    if quantity.startswith("price") and not installed:
        assert figure.index == APPLIANCES  # never all items
    else:
        assert figure.index != APPLIANCES
    ratio = T.level.factor(region, figure.index, figure.price_year)
    assert figure.value == pytest.approx(figure.published * ratio, abs=0.006)


# BLS CPI-U, all items: 292.655 in 2022, 335.123 in May 2026. The index of appliances is second-hand, its month between
# 96.6 (2025) and 100.8 (June 2026), against 106.2 in 2022.
@pytest.mark.published("BLS CPI-U, all items; BLS sub-index of appliances, second-hand")
def test_work_and_appliances_move_each_by_their_own_index() -> None:
    work, price = T.figure("installation", "clothes_washer", "US"), T.figure("price", "clothes_washer", "US")
    assert work is not None
    assert price is not None
    assert work.value == pytest.approx(200 * 335.123 / 292.655, abs=0.01)
    assert 785 * 96.6 / 106.2 < price.value < 785 * 100.8 / 106.2
    assert price.value < 785  # appliances have become cheaper while all else rose by a seventh


@pytest.mark.published("Eurostat HICP, euro area: CP053 98.66 and CP0533 87.87 in 2022, 100 in 2025")
def test_repair_in_europe_has_risen_and_appliances_have_not() -> None:
    assert T.level.factor("EU", APPLIANCES, "2022") == pytest.approx(100 / 98.66)
    assert T.level.factor("EU", WORK, "2022") == pytest.approx(100 / 87.87)
    assert T.level.factor("EU", EQUIPMENT, "2022") == pytest.approx(100 / 90.73)  # all items stand in


def test_what_is_of_the_month_or_of_no_known_year_stays_as_it_is() -> None:
    assert {T.level.factor("EU", WORK, period) for period in ("2026", "2026-05", UNKNOWN)} == {1.0}
    assert T.level.factor("US", "", "1999") == 1.0  # a tariff


def test_an_appliance_is_never_moved_by_all_items_and_no_index_is_stretched_backwards() -> None:
    lone = PriceLevel("2026-05", {("EU", ALL_ITEMS): ((2019.5, 2025.5), (81.4, 100.0))})
    assert lone.factor("EU", WORK, "2019") == pytest.approx(100 / 81.4)
    with pytest.raises(DataError, match="no index of appliances in EU reaches back to 2019"):
        lone.factor("EU", APPLIANCES, "2019")
    with pytest.raises(DataError, match="reaches back to 1999"):
        T.level.factor("US", ALL_ITEMS, "1999")


def test_parts_of_causes_are_of_the_year_of_the_money() -> None:
    years = {link.cause.basis.year for each in symptoms().known.values() for link in each.links}
    assert years == {int(T.level.month[:4])}  # an older one would have to be brought here
    assert {cost.price_year for cost in T.fault_costs.values()} == {T.level.month[:4]}


@pytest.mark.parametrize(
    ("language", "text"), [("en", "year of its money is not known"), ("es", "no se sabe de qué año")]
)
def test_an_amount_of_an_unknown_year_says_so(language: str, text: str) -> None:
    found = answer(asked("DE", {"class": "dishwasher", "age": 6}))
    lines = {line.path: line for line in Words.of(language, "EU", "DE").assumptions(found)}
    assert text in lines["household.water_price"].note


def test_a_price_of_years_ago_asks_for_the_one_in_the_shop_window_and_tells_what_it_was() -> None:
    found = answer(asked("US", {"class": "dishwasher", "age": 6}))
    for year, asks in ((2022 + OLD, False), (2023 + OLD, True)):
        line = next(line for line in Words.of().assumptions(found, year) if line.path == "replace.price")
        assert ("take the one in the shop window" in line.note) == asks
        assert "$430 in money of 2022, brought here by the index of appliance prices" in line.note


def test_a_typed_price_is_todays() -> None:
    found = answer(asked("US", {"class": "dishwasher", "age": 6}, {"price": 430}))
    assert float(bought(found).price) == 430


# equipment apart from its work

EQUIPMENT_OF_US = [
    "room_ac", "central_ac", "heat_pump_air", "furnace_gas", "boiler_gas", "water_heater_electric",
    "water_heater_gas", "water_heater_heat_pump",
]  # fmt: skip
# What it costs installed in existing homes, USD of 2022: EIA 2023 Appendix A (found), and the NREL baseline through
# Scout or the NREL retrofit database of 2024 (second-hand). The least and the most of these.
INSTALLED = {
    "room_ac": (565, 803),
    "central_ac": (5_150, 5_927),
    "heat_pump_air": (6_880, 13_355),
    "furnace_gas": (3_400, 4_150),
    "boiler_gas": (5_940, 8_339),
    "water_heater_electric": (905, 1_850),
    "water_heater_gas": (1_215, 2_245),
    "water_heater_heat_pump": (2_643, 3_375),
}


@pytest.mark.parametrize("kind", EQUIPMENT_OF_US)
@pytest.mark.published("EIA 2023 Appendix A; NREL baseline and retrofit database, second-hand")
def test_a_price_of_heating_and_cooling_is_that_of_the_equipment_and_the_sum_is_what_homes_pay(kind: str) -> None:
    parts = [T.figure(name, kind, "US") for name in ("price", *TO_INSTALL)]
    printed = [each.value if each.published is None else each.published for each in parts if each is not None]
    low, high = INSTALLED[kind]
    assert low <= sum(printed) <= high
    hours = printed[2] / 115  # of an appliance shop's billed rate
    assert (1 <= hours <= 2) if kind == "room_ac" else (4 <= hours <= 45)


@pytest.mark.published("Finanztip 2025; Quelle Energie, 299 invoices of 2015; Danish Energy Agency 2018", "gas boiler")
def test_a_boiler_in_europe_costs_what_is_paid_from_denmark_to_germany() -> None:
    """4,400 EUR, the least of the three, had boilers replaced that households of two of them would have mended."""
    dearer, dearer_work = 1.035, 1.29  # of appliances and of all items of the euro area since 2015 (Eurostat HICP)
    denmark = 3_200 * 1.21 * (0.63 * dearer + 0.37 * dearer_work)
    france = 3_246 * dearer + (4_770 - 3_246) * dearer_work
    paid = sum(T.figure(name, "boiler_gas", "EU").value for name in ("price", "installation"))
    assert denmark < france < paid < 8_000
    assert paid == pytest.approx((denmark + france + 8_000) / 3, rel=0.01)
    assert T.figure("price", "boiler_gas", "EU").value / paid == pytest.approx((0.63 + 3_246 / 4_770) / 2, abs=0.04)


def test_sales_tax_is_paid_on_equipment_alone() -> None:
    found = answer(asked("US", {"class": "furnace_gas", "age": 12}))
    new, cost = bought(found), found.weighing.options[1]
    work = float(new.installation) + float(new.delivery) + float(new.haul_away)
    assert float(cost.today) - work == pytest.approx(float(new.price) * 1.07)
    assert float(new.price) < work


# a typed price of what is sold installed


def test_a_typed_price_of_what_is_sold_installed_has_everything_in_it() -> None:
    new = bought(answer(asked("US", {"class": "boiler_gas", "age": 12}, {"price": 7_000})))
    assert new.price_includes_installation
    assert (new.tax_rate, new.delivery, new.installation, new.haul_away) == (0, 0, 0, 0)


@pytest.mark.parametrize(
    ("kind", "place", "entry", "included"),
    [
        ("boiler_gas", "DE", {"price": 7_000}, True),
        ("boiler_gas", "DE", {"price": 2_500, "price_includes_installation": False}, False),
        ("boiler_gas", "DE", {"price": 2_500, "installation": 2_000}, False),
        ("boiler_gas", "DE", {"price": 500, "appliance": {"age": 9}}, False),  # a used one is carried home
        ("boiler_gas", "DE", {}, False),
        ("room_ac", "US", {"price": 400}, False),  # for the window
        ("room_ac", "DE", {"price": 1_700}, True),  # a split unit
        ("dishwasher", "US", {"price": 600}, False),
        ("dishwasher", "US", {"price": 900, "price_includes_installation": True}, True),
    ],
)
def test_whether_a_price_has_its_work_in_it(kind: str, place: str, entry: dict[str, Any], included: bool) -> None:
    entries = asked(place, {"class": kind, "age": 8}, entry)
    found = answer(parse_case(write_case(entries).encode()))
    assert bought(found).price_includes_installation == included
    fixed = T.figure("installation", kind, T.region_of(place))
    assert fixed is not None
    assert float(bought(found).installation) == (0 if included else entry.get("installation", fixed.value))
    line = next(each for each in Words.for_entries(entries).assumptions(found) if each.path == "replace.price")
    assert ("everything included" in line.label) == included


def test_later_repairs_go_by_the_unit_in_a_price_that_has_its_work_in_it() -> None:
    usual = answer(asked("DE", BOILER))
    whole = T.installed_price("boiler_gas", "EU")
    assert whole is not None
    typed = answer(asked("DE", BOILER, {"price": whole.value}))
    assert float(typed.case.appliance.later_repair_median) == pytest.approx(
        float(usual.case.appliance.later_repair_median)
    )
    assert weigh(typed.case).repair_limit == pytest.approx(weigh(usual.case).repair_limit)


@pytest.mark.parametrize(
    ("entry", "error_text"),
    [
        ({"price_includes_installation": True}, "price_includes_installation: is said of a price, and none is given"),
        ({"price": 1, "price_includes_installation": 1}, "price_includes_installation: must be true or false"),
        (
            {"price": 1, "installation": 2, "price_includes_installation": True},
            "installation: gives the same twice, with price_includes_installation",
        ),
        ({"grade": "best"}, "grade: must be one of usual; basic; premium, got 'best'"),
        ({"grade": "basic", "price": 300}, "grade: gives the same twice, with price"),
    ],
)
def test_what_contradicts_itself_is_refused_by_name(entry: dict[str, Any], error_text: str) -> None:
    with pytest.raises(EntryErrors, match=f"replace.{error_text}"):
        complete(asked("DE", BOILER, entry))


# ranges and grades


def test_no_value_stands_on_an_end_of_its_own_range() -> None:
    def on_an_end(figure: Estimate) -> bool:
        return figure.low is not None and figure.low < figure.high and figure.value in (figure.low, figure.high)

    assert [key for key, figure in T.figures.items() if on_an_end(figure)] == []


@pytest.mark.parametrize(("kind", "region"), SOLD, ids=lambda each: getattr(each, "kind", each))
def test_ranges_of_prices_are_doubt_about_the_like_and_grades_are_apart(kind: Any, region: str) -> None:
    basic, usual, premium = (T.figure(GRADES[grade], kind.kind, region) for grade in ("basic", "usual", "premium"))
    assert basic.value < usual.value < premium.value
    wide = {("heat_pump_air", "US"): 0.35, ("boiler_gas", "EU"): 0.41}.get((kind.kind, region), 0.26)  # between sources
    for figure, most in ((basic, 0.26), (usual, wide), (premium, 0.26)):
        assert 1 - most < figure.low / figure.value < 1 < figure.high / figure.value < 1 + most
    work = T.figure("installation", kind.kind, region)
    assert work.value == 0 or (0.49 < work.low / work.value < 0.7 and 1.3 < work.high / work.value < 1.51)


@pytest.mark.parametrize("grade", GRADES)
def test_a_grade_is_an_offer_of_its_own(grade: str) -> None:
    found = answer(asked("DE", {"class": "dishwasher", "age": 6}, {"grade": grade}))
    assert bought(found).price == T.figure(GRADES[grade], "dishwasher", "EU").value
    usual = answer(asked("DE", {"class": "dishwasher", "age": 6}))
    assert (
        found.case.appliance.later_repair_median == usual.case.appliance.later_repair_median
    )  # repairs of the old one stay
    taken = next(each for each in found.ranges if "replace.price" in each.paths)
    assert taken.lows[0] < bought(found).price < taken.highs[0]
    assert replace(bought(found), price=0, warranty=0) == replace(bought(usual), price=0, warranty=0)


def test_what_is_sold_installed_is_called_by_its_whole_price() -> None:
    """On the card, in the limits and in a job book a share of the price is one of what people are quoted."""
    for place in ("US", "DE"):
        whole = T.installed_price("boiler_gas", T.region_of(place))
        found = answer(asked(place, BOILER))
        assert whole is not None
        assert float(bought(found).asked_price) == pytest.approx(whole.value)
        assert card_of(place, DAY, ["boiler_gas"]).rows[0].price == pytest.approx(whole.value)
    typed = bought(answer(asked("DE", BOILER, {"price": 7_000})))
    assert typed.asked_price == 7_000
    washer = bought(answer(asked("DE", {"class": "clothes_washer", "age": 6})))
    assert washer.asked_price == washer.price
