"""Examples of functions inside the program that no other test would miss, each run as it stands."""

import doctest
import importlib

import pytest

EXAMPLES = {
    ("decide.load.jobs.export", "RowWriter"): r"""
>>> import tempfile, numpy as np
>>> with tempfile.TemporaryDirectory() as folder:
...     path = Path(folder) / "rows.csv"
...     with RowWriter.of(path) as writer:
...         writer.write({"quote": np.array([185.5, -3.0]), "note": ["=1+1", "none"]})
...     path.read_text("utf-8-sig").splitlines()
['"quote","note"', '185.5,"\'=1+1"', '-3,"none"']
""",
    ("decide.shop.comparison", "difference"): """
>>> rng = np.random.default_rng(1)
>>> inside, cell = rng.random(400) < 0.3, rng.integers(0, 5, 400)
>>> found = difference(rng.normal(cell + 0.5 * inside, 0.5), inside, cell)
>>> found.low < 0.5 < found.high, found.chance < 1e-6
(True, True)
""",
    ("decide.shop.comparison", "holm"): """
>>> [round(each, 3) for each in holm([0.01, 0.04, 0.03, 0.005])]
[0.03, 0.06, 0.06, 0.02]
""",
    ("decide.shop.bands", "share_of_limit"): r"""
>>> share_of_limit(np.array([150.0, 50.0]), np.array([300.0, -10.0])).tolist()
[0.5, inf]
""",
    ("decide.shop.bands", "says"): r"""
>>> Bands(0.6, 1.1).says, Bands(-math.inf, -math.inf).says, Bands(0.6, math.inf).says
(('repair', 'both', 'replace'), ('replace',), ('repair', 'both'))
""",
    ("decide.shop.bands", "best_cut"): r"""
>>> quote, limit = np.array([100.0, 280.0, 320.0, 600.0]), np.full(4, 300.0)
>>> best_cut(quote, regrets_of(quote, limit, 50.0, 10.0))
Bands(lower=280.0, higher=280.0)
""",
    ("decide.shop.quoting", "Charges"): r"""
>>> Charges(markup=0.4, rate=95, trip=40).lines(Work(parts=120, hours=1.5)).net
350.5
>>> Charges(markup=0.4, flat=150).lines(Work(parts=100, hours=9)).net
290.0
""",
    ("decide.shop.quoting", "due"): r"""
>>> SalesTax(parts=0.1).due(Lines(parts=200, labour=100, trip=0))
20.0
""",
    ("decide.shop.acceptance", "chance"): r"""
>>> round(float(Curve(0.0, -8.0).chance(0.1)), 3)
0.31
""",
    ("decide.shop.job_totals", "quantile_share"): r"""
>>> counts = np.zeros(800)
>>> counts[500:502] = 10
>>> round(quantile_share(counts, 0.5), 3), round(quantile_share(counts, 0.25), 4)
(0.505, 0.5025)
""",
    ("decide.load.jobs.cases", "template"): r"""
>>> from decide.load.tables.tables import tables
>>> cases = JobCases("US", tables())
>>> cases.template("dishwasher", "drain_pump") is cases.template("dishwasher", "water_inlet")
True
""",
    ("decide.load.jobs.chunks", "clean"): """
>>> clean("a\\x07b")
'ab'
""",
    ("decide.load.jobs.coverage", "shift"): r"""
>>> half = Counter({("decision", "repaired", True): 50, ("decision", "declined", False): 50})
>>> Coverage(rows=100, read=50, mix=half).shift("decision")
0.5
""",
    ("decide.load.jobs.own_records", "fitted_life"): r"""
>>> fitted_life(Spells(entry=np.zeros(3), exit=np.array([4.0, 7.0, 9.0]), ended=np.ones(3, dtype=bool))).identified
False
""",
    ("decide.load.jobs.sheet", "text_of"): r"""
>>> text_of(12.0), text_of(datetime.datetime(2026, 3, 1)), text_of(None)
('12', '2026-03-01', '')
""",
    ("decide.load.jobs.words", "fault_of"): r"""
>>> fault_of("no heat", "clothes_dryer_gas"), fault_of("no heat", "dishwasher"), fault_of("pump", "oven_electric")
('gas_burner', 'no_heat_water', None)
""",
    ("decide.show.screens.shop.rates", "checked_rates"): r"""
>>> checked_rates('{"markup": "40 %"}')
{'markup': '40 %'}
""",
    ("decide.show.screens.shop.rates", "number_typed"): r"""
>>> number_typed(Words.of(), "markup", "40"), number_typed(Words.of(), "markup", "40 %")
(0.4, 0.4)
""",
    ("decide.diagnosis.evidence", "divergence"): r"""
>>> even = np.array([0.5, 0.5])
>>> divergence(even, np.array([0.3, 0.3])), round(divergence(even, np.array([1.0, 0.0])), 4)
(0.0, 0.6931)
""",
    ("decide.diagnosis.expected_bill", "bill_of_causes"): r"""
>>> bill = bill_of_causes(np.ones(1), np.array([[100.0, 200.0]]), np.array([[1.0, 2.0]]), rate=90.0, tax=0.07)
>>> bill.low.round(6).tolist(), bill.high.round(6).tolist()
([197.0], [394.0])
""",
    ("decide.diagnosis.expected_bill", "law_of_bills"): r"""
>>> median, *others = law_of_bills([3, 1], [100, 200], [100, 800], [True, False])
>>> round(median, 6), *others
(100.0, 0.0, 0.25)
""",
    ("decide.diagnosis.expected_bill", "visit"): r"""
>>> bill = Bill(chance=np.array([0.4, 0.6]), low=np.array([0.0, 150.0]), high=np.array([0.0, 150.0]))
>>> found = visit(bill, 200.0, 90.0, by_owner=[True, False], mended_by_owner=[True, False])
>>> round(float(found.worth), 6), round(float(found.worth_after_own), 6), round(float(found.worth_own_first), 6)
(20.0, -40.0, 80.0)
""",
    ("decide.economics.failures", "Frailty.failures"): r"""
>>> washers = Frailty(variance=0.45, defect_share=2 / 3, failure_share=0.22, growth=1.2)
>>> round(float((1 + 0.45 * washers.failures(3.0)) ** (-1 / 0.45)), 2)  # share without a failure in 3 years
0.78
""",
    ("decide.economics.flows", "drifted"): r"""
>>> round(float(drifted(0.0705, 0.274, 2.0)), 2), round(float(drifted(0.0705, 0.274, 16.0)), 2)
(1.11, 1.27)
""",
    ("decide.economics.flows", "by_growth"): r"""
>>> rising = PriceList(unit="EUR", price={}, growth={**dict.fromkeys(COST_CATEGORIES, 0.0), "gas": 0.01,
...     "water": 0.01})
>>> [(growth, categories[-2:]) for growth, categories in by_growth(rising)]
[(0.0, ['maintenance_and_repair', 'other']), (0.01, ['gas', 'water'])]
""",
    ("decide.load.store.opening", "address_of_store"): r"""
>>> address_of_store("postgresql://shop@localhost/mendpoint").drivername
'postgresql+psycopg'
""",
    ("decide.load.store.opening", "classify_error"): r"""
>>> classify_error(PermissionError(13, "Permission denied")), classify_error(NotADirectoryError(20,
...     "Not a directory"))
('readonly', 'readonly')
""",
    ("decide.load.store.people", "read_people"): r"""
>>> read_people('{"owner": ["boss"], "technician": ["boss", "van1"]}')
{'boss': <Role.OWNER: 'owner'>, 'van1': <Role.TECHNICIAN: 'technician'>}
""",
    ("decide.load.store.records", "storable_text"): r"""
>>> storable_text("title", "Öfen und Köln")
'Öfen und Köln'
""",
    ("decide.load.store.records", "page_faults"): r"""
>>> page_faults({"quote": "185,50", "fault": None}), list(page_faults({"age": 5, "place": "XX"}))
({}, ['age', 'place'])
""",
    ("decide.load.store.visits", "folded"): r"""
>>> folded("ÖSTERLE") == folded("österle")
True
""",
    ("decide.load.tables.dates", "readings"): r"""
>>> readings("25.12.2026") == (20812, None), readings("2026-12-25") == (20812, 20812)
(True, True)
""",
    ("decide.load.tables.evidence", "Asked.under"): r"""
>>> evidence().questions["lamp_inside"].under(symptoms().known["warm_throughout"]).sum(axis=0).round(9)[:2]
array([1., 1.])
""",
    ("decide.load.tables.evidence", "Reading.outcome"): r"""
>>> evidence().readings["fresh_food_temperature"].outcome(4.5)
'marginal'
""",
    ("decide.load.tables.evidence", "evidence"): r"""
>>> evidence().questions["lamp_inside"].outcomes
('yes', 'no')
""",
    ("decide.load.tables.labels", "refrigerator_classes"): r"""
>>> refrigerator_classes(2005)["10"]
'Chest and other freezers except compact'
""",
    ("decide.load.tables.price_level", "index_of"): r"""
>>> index_of("price", False), index_of("price", True), index_of("installation", True)
('appliances', 'equipment', 'work')
""",
    ("decide.load.tables.symptoms", "Symptoms.symptom"): r"""
>>> symptoms().symptom("refrigerator", "warm_throughout").links[0].cause.fault
'power_supply'
""",
    ("decide.load.tables.symptoms", "symptoms"): r"""
>>> [symptoms(region).symptom("clothes_washer", "washer_cold").ids[0] for region in ("US", "EU")]
['washer_hot_tap', 'washer_heater']
""",
    ("decide.load.tables.tables", "Tables.place"): r"""
>>> tables().place("Ohio").place, tables().place("de").label
('US-OH', 'Germany')
""",
    ("decide.load.tables.tables", "Tables.installed_price"): r"""
>>> tables().installed_price("boiler_gas", "EU").value
5930.0
""",
    ("decide.load.tables.tables", "Tables.promised"): r"""
>>> tables().promised("guarantee", "dishwasher", "ES").value, tables().promised("guarantee", "*", "US-CA").value
(3.0, 0.0)
""",
    ("decide.load.tables.tables", "Tables.cannot_be_repaired"): r"""
>>> tables().cannot_be_repaired("water_heater_gas", "tank_leak")
True
""",
    ("decide.load.tables.tables", "tables"): r"""
>>> len(tables().classes("US")) >= 20
True
""",
    ("decide.load.tables.typed", "as_typed"): r"""
>>> as_typed(401.0), as_typed(0.5), as_typed(12.345)
('401', '0.5', '12.3450')
""",
    ("decide.load.tables.usual_bills", "usual_quote"): r"""
>>> pump = usual_quote("clothes_washer", "drain_pump", "US", tables())
>>> round(pump.low), round(pump.median), round(pump.high)
(106, 161, 244)
""",
    ("decide.load.tables.vocabulary", "plain"): r"""
>>> plain("  Wäsche-Trockner (E.) "), plain("Âge")
('wasche trockner e', 'age')
""",
    ("decide.load.tables.vocabulary", "meanings"): r"""
>>> sorted(meanings("Fridge freezer, white", vocabulary()["class"], tables().known_classes))
['refrigerator']
>>> sorted(meanings("tumble dryer", vocabulary()["class"], {"clothes_dryer_electric", "clothes_dryer_gas"}))
['clothes_dryer_electric', 'clothes_dryer_gas']
""",
    ("decide.load.tables.vocabulary", "likely"): r"""
>>> likely("diswasher", vocabulary()["class"], tables().known_classes)
'dishwasher'
""",
    ("decide.show.screens.html", "ways_to_send"): r"""
>>> ways_to_send(["Share", "Text it", "E-mail it", "Print"], "Oven", "Fix it.").count("?body=Fix%20it.")
1
""",
}


@pytest.mark.parametrize(("module", "name"), EXAMPLES)
def test_an_example_gives_what_it_says(module: str, name: str) -> None:
    known = vars(importlib.import_module(module))
    example = doctest.DocTestParser().get_doctest(EXAMPLES[module, name], dict(known), name, None, None)
    assert example.examples
    assert doctest.DocTestRunner().run(example).failed == 0
