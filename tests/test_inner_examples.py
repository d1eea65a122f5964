"""Examples of functions inside the program, each run as it stands."""

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
    ("decide.shop.warranty", "worth_of"): """
>>> worth = worth_of(callbacks(EarlyFailure(0.9, 30.0), 90.0), redo_cost=150.0, quote=320.0, limit=300.0)
>>> round(float(worth.cost), 2), round(float(worth.gain), 2)
(16.67, 33.33)
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
    ("decide.shop.bands", "regrets_of"): """
>>> found = regrets_of(np.array([200.0, 320.0]), np.array([300.0, 300.0]), 50.0, 10.0)
>>> found.repair.round(2).tolist(), found.replace.round(2).tolist(), found.both.tolist()
([0.42, 31.52], [100.42, 11.52], [10.0, 10.0])
""",
    ("decide.shop.bands", "best_bands"): """
>>> quote, limit = np.array([100.0, 280.0, 320.0, 600.0]), np.full(4, 300.0)
>>> bands = best_bands(share_of_limit(quote, limit), regrets_of(quote, limit, 50.0, 10.0))
>>> round(bands.lower, 3), round(bands.higher, 3)
(0.333, 1.067)
""",
    ("decide.shop.bands", "normal_loss"): r"""
>>> normal_loss(np.array([0.0, 0.5, 1.0])).round(4).tolist()
[0.3989, 0.1978, 0.0833]
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
    ("decide.shop.bands", "below_share"): r"""
>>> below_share(np.array([200.0, 300.0, 200.0]), np.full(3, 500.0), 0.5, np.array([3, 3, 9]), 7.0).tolist()
[True, False, False]
""",
    ("decide.shop.bands", "what_if"): r"""
>>> now = Offers(
...     quote=np.array([300.0]), terms=FeeTerms(at_visit=90.0), limit=np.array([300.0]),
...     new_price=np.array([800.0]), age=np.array([6.0]), kept=np.array([80.0]),
... )
>>> credit = what_if(now, under_terms(now, FeeTerms(at_visit=90.0, credit=90.0)), [Curve(0.0, -8.0)])
>>> [round(each.jobs_won, 2) for each in (*credit.now, *credit.then)]
[0.5, 0.71]
""",
    ("decide.shop.quoting", "cost"): r"""
>>> round(Work(parts=120, hours=1.5, hour_cost=95, way_cost=40, overhead=0.1).cost, 2)
332.75
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
    ("decide.shop.quoting", "margin_of"): r"""
>>> work = Work(parts=120, hours=1.5, hour_cost=95, way_cost=40, overhead=0.1)
>>> round(float(margin_of(Charges(markup=0.4, rate=95, trip=40).lines(work), work)), 4)
0.0506
""",
    ("decide.shop.quoting", "at_margin"): r"""
>>> work = Work(parts=120, hours=1.5, hour_cost=95, way_cost=40, overhead=0.1)
>>> asked = at_margin(Charges(markup=0.4, rate=95, trip=40).lines(work), work, 0.2)
>>> round(float(asked.net), 2), round(float(margin_of(asked, work)), 6)
(415.94, 0.2)
""",
    ("decide.shop.quoting", "at_gross"): r"""
>>> round(float(at_gross(Lines(parts=200, labour=100, trip=0), SalesTax(parts=0.1), 160.0).net), 6)
150.0
""",
    ("decide.shop.quoting", "price"): r"""
>>> [terms(100.0).price(300.0) for terms in TERMS.values()]
[300.0, 300.0, 200.0, 200.0]
""",
    ("decide.shop.quoting", "income"): r"""
>>> [round(float(terms(100.0).income(80.0, 0.6)), 2) for terms in TERMS.values()]
[148.0, 48.0, 88.0, 88.0]
""",
    ("decide.shop.quoting", "against_limit"): r"""
>>> held = against_limit(np.array([250.0, 400.0, 90.0]), np.array([310.0, 310.0, -20.0]))
>>> held.above.tolist(), held.flagged.tolist(), held.at_limit.tolist()
([0.0, 90.0, 110.0], [0.0, 1.0, 1.0], [310.0, 310.0, nan])
""",
    ("decide.shop.warranty", "__call__"): r"""
>>> EarlyFailure(0.9, 30.0)(np.array([0.0, 15.0, 90.0])).round(3).tolist()
[0.0, 0.05, 0.1]
""",
    ("decide.shop.warranty", "callbacks_by"): r"""
>>> monthly = callbacks_by(lambda days: -np.expm1(-days / 100.0), 90.0)  # no memory: 1 in 100 days on average
>>> round(float(monthly[-1]), 4)
0.9
""",
    ("decide.shop.warranty", "callbacks"): r"""
>>> round(float(callbacks(EarlyFailure(0.9, 30.0), 90.0)), 4)  # 0.1 + 0.1^2 + ...
0.1111
""",
    ("decide.shop.acceptance", "chance"): r"""
>>> round(float(Curve(0.0, -8.0).chance(0.1)), 3)
0.31
""",
    ("decide.shop.acceptance", "logistic"): r"""
>>> fit = logistic(np.array([[0.0], [0.0], [1.0], [1.0], [1.0]]), np.array([True, False, True, True, False]))
>>> [round(float(each), 4) + 0.0 for each in fit.coefficients]  # even odds at 0, two to one at 1
[0.0, 0.6931]
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
    ("decide.load.jobs.columns", "missing"): r"""
>>> ColumnMapping(columns={"class": "Kind", "age": "Years"}).missing()
('quote',)
""",
    ("decide.load.jobs.columns", "parse_mapping"): """
>>> parse_mapping('place = "DE"\\n[columns]\\nquote = "Preis"').columns["quote"]
'Preis'
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
    ("decide.load.jobs.own_records", "usual_shares"): r"""
>>> round(sum(usual_shares("refrigerator").values()), 9)
1.0
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
    ("decide.diagnosis.check_order", "best_order"): r"""
>>> plan = best_order([0.4, 0.25, 0.2, 0.1, 0.05], [20, 5, 40, 8, 60], [90, 150, 60, 30, 200])
>>> plan.order.tolist(), round(float(plan.checking), 6)
([1, 0, 3, 2, 4], 35.8)
""",
    ("decide.diagnosis.check_order", "least_costs"): r"""
>>> costs = least_costs([[0.5, 0.5], [1.0, 0.0]], np.array([10.0, 20.0]), np.array([100.0, 60.0]))
>>> costs.tolist()
[100.0, 110.0]
""",
    ("decide.diagnosis.check_order", "expected_cost"): r"""
>>> plan = expected_cost([1, 0, 2], [0.5, 0.3, 0.2], [10, 20, 30], [100, 100, 100])
>>> round(float(plan.checking), 6), round(float(plan.cost), 6)
(33.0, 133.0)
""",
    ("decide.diagnosis.check_order", "ruled_out"): r"""
>>> [round(float(share), 4) for share in ruled_out([0.5, 0.3, 0.2], [True, False, False])]
[0.0, 0.6, 0.4]
""",
    ("decide.diagnosis.check_order", "observed"): r"""
>>> [round(float(share), 4) for share in observed([0.5, 0.3, 0.2], [0.1, 0.9, 0.9])]
[0.1, 0.54, 0.36]
""",
    ("decide.diagnosis.check_order", "counted"): r"""
>>> counted([0.5, 0.5], [9, 1], strength=10).tolist()
[0.7, 0.3]
""",
    ("decide.diagnosis.evidence", "divergence"): r"""
>>> even = np.array([0.5, 0.5])
>>> divergence(even, np.array([0.3, 0.3])), round(divergence(even, np.array([1.0, 0.0])), 4)
(0.0, 0.6931)
""",
    ("decide.diagnosis.evidence", "capped"): r"""
>>> capped(np.array([0.96, 0.03, 0.01]), np.array([0.5, 0.3, 0.2]), 0.9).round(4).tolist()
[0.9, 0.075, 0.025]
""",
    ("decide.diagnosis.evidence", "updated"): r"""
>>> rule = AnswerRule(counted=2, most=0.9)
>>> clicks = np.array([0.83, 0.5, 0.03])
>>> updated([0.4, 0.3, 0.3], [clicks], [], rule).round(3).tolist()
[0.676, 0.305, 0.018]
""",
    ("decide.diagnosis.expected_bill", "Bill.quantile"): r"""
>>> bill = Bill(chance=np.array([1.0]), low=np.array([80.0]), high=np.array([200.0]))
>>> round(float(bill.quantile(0.1)), 6), round(float(bill.quantile(0.9)), 6)
(80.0, 200.0)
""",
    ("decide.diagnosis.expected_bill", "Bill.gain"): r"""
>>> bill = Bill(chance=np.array([0.5, 0.5]), low=np.array([100.0, 400.0]), high=np.array([100.0, 400.0]))
>>> bill.gain(250.0).tolist()
[150.0, 0.0]
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
    ("decide.economics.failures", "Quality.hazard_ratio"): r"""
>>> from decide.finance.life import Weibull
>>> washers = Frailty(variance=0.45, defect_share=2 / 3, failure_share=0.22, growth=1.2)
>>> life = Weibull.with_mean(11.5, 2.2)
>>> [round(float(washers.failed(life, 5.75, n).hazard_ratio), 2) for n in (None, 1, 2, 3)]
[1.3, 1.11, 1.35, 1.59]
""",
    ("decide.economics.flows", "running_probability"): r"""
>>> repair = Option(name="r", action="repair", repair_success_probability=0.9, repair_warranty=15,
...     callback_window=30)
>>> round(float(running_probability(repair)), 3)  # 0.9 + 0.1 x 15/30 x 0.9
0.945
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
    ("decide.economics.landlord", "straight_line"): r"""
>>> straight_line(4)
(0.25, 0.25, 0.25, 0.25)
""",
    ("decide.economics.landlord", "worth_of_deductions"): r"""
>>> round(float(worth_of_deductions((0.5, 0.5), 0.10)), 4)  # 0.5 / 1.1 + 0.5 / 1.21
0.8678
""",
    ("decide.economics.landlord", "after_tax_share"): r"""
>>> round(float(after_tax_share(0.24, (1.0,), 0.05)), 4)  # 1 - 0.24 / 1.05
0.7714
""",
    ("decide.economics.landlord", "purchase_weight"): r"""
>>> from decide.economics.household import Landlord
>>> taxed = Landlord(tax_rate=0.24, pays_energy=0.0, depreciation=straight_line(5))
>>> home = Household(region="US", place="US", currency="USD", rate=0.03, electricity_price=0.15, gas_price=0.05,
...                  water_price=2.0, electricity_escalation=0.0, gas_escalation=0.0, water_escalation=0.0,
...                  price_escalation=0.0, inflation=0.02, landlord=taxed)
>>> round(float(purchase_weight(home)), 4)
1.0272
""",
    ("decide.economics.uncertainty", "mean_law"): r"""
>>> shares = (np.arange(100_000) + 0.5) / 100_000
>>> round(float(np.mean(mean_law(shares, 500.0, 700.0, 1800.0))), 2), float(mean_law(0.5, 2.0, 2.0, 4.0))
(700.0, 3.0)
""",
    ("decide.economics.uncertainty", "evpi"): r"""
>>> evpi(np.array([[70.0, -50.0], [0.0, 0.0]]))
25.0
""",
    ("decide.economics.uncertainty", "evppi"): r"""
>>> tells_all = evppi(np.array([[70.0, -50.0] * 2, [0.0] * 4]), np.array([1.0, 2.0] * 2))
>>> tells_nothing = evppi(np.array([[70.0, -50.0] * 2, [0.0] * 4]), np.array([1.0] * 4))
>>> tells_all, tells_nothing
(25.0, 0.0)
""",
    ("decide.energy.tariff", "bill"): r"""
>>> from decide.energy.load_profile import Totals
>>> steps = Usage(name="energy", bands=((Block(0.10, 300), Block(0.20)),))
>>> lines = (steps, Fixed(name="standing", amount=9), FractionLine(name="tax", share=0.1))
>>> june = bill(Tariff(unit="kWh", lines=lines), Totals(np.array([320.0])), Calendar(periods=(30,)))
>>> {name: round(float(amount[0]), 2) for name, amount in june.items()}
{'energy': 34.0, 'standing': 9.0, 'tax': 4.3}
""",
    ("decide.energy.tariff", "price_pieces"): r"""
>>> from decide.energy.load_profile import Totals
>>> steps = Tariff(unit="kWh", lines=(Usage(name="energy", bands=((Block(0.10, 300), Block(0.20)),)),))
>>> base, flow = Totals(np.array([270.0])), Totals(np.array([50.0]))
>>> [found.round(6).tolist() for found in price_pieces(steps, base, flow, Calendar(periods=(30,)))]
[[30.0, 50.0], [0.1, 0.2]]
""",
    ("decide.load.cases.household_tariff", "priced"): r"""
>>> from decide.energy.tariff import Block, Usage
>>> steps = Tariff(unit="kWh", lines=(Usage(name="energy", bands=((Block(0.10, 300), Block(0.20)),)),))
>>> price, _ = priced(steps, evenly(3285.0), [365.0])  # 9 a day and one more pass 300 by 10 in months of 31 days
>>> round(price * 365, 2)
43.5
""",
    ("decide.load.cases.ranges", "ranges_of"): r"""
>>> from decide.load.cases.case_file import complete
>>> entries = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 190}}
>>> together = {r.paths[0]: r.paths for r in ranges_of(complete(entries))}
>>> together["appliance.mean_life"]
('appliance.mean_life', 'replace.appliance.mean_life')
""",
    ("decide.load.jobs.export", "neutralised"): r"""
>>> neutralised("=1+1"), neutralised("  @sum"), neutralised("-12.5"), neutralised("a = b")
("'=1+1", "'  @sum", "'-12.5", 'a = b')
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
    ("decide.load.tables.dates", "written_age"): r"""
>>> written_age("about 8", None, 2024)[0], written_age("7-9 yrs", None, 2024)[0], written_age("3+", None, 2024)[0]
(8.0, 8.0, 3.0)
>>> [round(written_age(text, None, 2024)[1], 1) for text in ("2014", "Jun 2014", "wk 27 2014", "1423")]
[2014.5, 2014.5, 2014.5, nan]
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
    ("decide.load.tables.labels", "refrigerator_ceiling"): r"""
>>> ceiling = refrigerator_ceiling("3", 2008, 14.0, 4.0)
>>> float(ceiling.high), ceiling.status
(477.0, 'found')
""",
    ("decide.load.tables.labels", "refrigerator_classes"): r"""
>>> refrigerator_classes(2005)["10"]
'Chest and other freezers except compact'
""",
    ("decide.load.tables.labels", "limits"): r"""
>>> [(limit.description, limit.intercept) for limit in limits("dishwasher", 2012, "max_energy")]
[('standard size', 355.0), ('compact size', 260.0)]
""",
    ("decide.load.tables.labels", "limit_at"): r"""
>>> line = limits("water_heater", 1995)[0]
>>> line.description, round(float(limit_at(line, 40.0).value), 3)
('gas storage', 0.544)
""",
    ("decide.load.tables.labels", "label_figure"): r"""
>>> label_figure("dishwasher-label-cycles-2011").value, label_figure("dryer-load").unit
(280.0, 'lb/load')
""",
    ("decide.load.tables.labels", "scales_for"): r"""
>>> [scale.name for scale in scales_for("washing_machine", 2021)]
['washer-2011', 'washer-2021']
""",
    ("decide.load.tables.labels", "class_consumption"): r"""
>>> range_2011 = class_consumption("washer-2011", "A++", standard_use("standard-washer-2011", 7.0))
>>> round(float(range_2011.low)), round(float(range_2011.high)), range_2011.status
(175, 198, 'from memory')
""",
    ("decide.load.tables.labels", "standard_use"): r"""
>>> standard = standard_use("standard-dishwasher-2011-full", 13.0)
>>> float(standard.value), standard.unit, standard.status
(469.0, 'kWh/year', 'from memory')
""",
    ("decide.load.tables.labels", "fridge_standard"): r"""
>>> both = [FridgePart(kind="fresh_food", litres=200.0), FridgePart(kind="four_star", litres=100.0)]
>>> standard = fridge_standard(both, doors=2)
>>> round(float(standard.value), 2), standard.status
(243.25, 'found')
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
    ("decide.load.tables.tables", "Tables.region_of"): r"""
>>> tables().region_of("DE"), tables().region_of("US-CA")
('EU', 'US')
""",
    ("decide.load.tables.tables", "Tables.figure"): r"""
>>> life = tables().figure("mean_life", "refrigerator", "US")
>>> life.value, life.unit, life.status
(17.4, 'year', 'judgement')
""",
    ("decide.load.tables.tables", "Tables.installed_price"): r"""
>>> tables().installed_price("boiler_gas", "EU").value
4400.0
""",
    ("decide.load.tables.tables", "Tables.energy_price"): r"""
>>> tables().energy_price("US-CA", "electricity").value
0.3325
>>> tables().energy_price("PL", "gas") == tables().energy_price("EU", "gas")
True
""",
    ("decide.load.tables.tables", "Tables.promised"): r"""
>>> tables().promised("guarantee", "dishwasher", "ES").value, tables().promised("guarantee", "*", "US-CA").value
(3.0, 0.0)
""",
    ("decide.load.tables.tables", "Tables.opens_the_circuit"): r"""
>>> tables().opens_the_circuit("reversing_valve"), tables().opens_the_circuit("icemaker")
(True, False)
""",
    ("decide.load.tables.tables", "Tables.cannot_be_repaired"): r"""
>>> tables().cannot_be_repaired("water_heater_gas", "tank_leak")
True
""",
    ("decide.load.tables.tables", "Tables.safety_figure"): r"""
>>> tables().safety_figure("emergency_number", "US").value
911.0
""",
    ("decide.load.tables.tables", "Tables.cautions"): r"""
>>> [caution.id for caution in tables().cautions("water_heater_gas", "tank_leak", "US")][:2]
['gas_or_alarm', 'water_heater_tank_leak']
""",
    ("decide.load.tables.tables", "tables"): r"""
>>> len(tables().classes("US")) >= 20
True
""",
    ("decide.load.tables.typed", "typed_number"): r"""
>>> typed_number("7,5", "repair.quote"), typed_number("€ 1.234,50", "repair.quote")
(7.5, 1234.5)
>>> typed_number("1,234", "repair.quote", "en_US"), typed_number("3 %", "household.rate")
(1234.0, 0.03)
>>> typed_number("18 months", "appliance.age", unit="year"), typed_number("400 euros", "repair.quote")
(1.5, 400.0)
>>> typed_number("1,234", "quote")
Traceback (most recent call last):
decide.load.tables.typed.TwoReadings: quote: can be read as 1234 or as 1.234; write 1234 or 1.2340, got '1,234'
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
    ("decide.load.tables.vintages", "Vintage.ratio"): r"""
>>> from decide.load.tables.tables import tables
>>> dryer = tables().vintages["clothes_dryer_electric", "US", "electricity"]
>>> round(float(dryer.ratio(2008.0, 2026.0)), 2), float(dryer.ratio(2026.0, 2026.0))
(1.08, 1.0)
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
