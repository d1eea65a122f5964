"""Examples of what a shop's book, quotes and advice are made of, each run as it stands."""

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
}


@pytest.mark.parametrize(("module", "name"), EXAMPLES)
def test_an_example_gives_what_it_says(module: str, name: str) -> None:
    known = vars(importlib.import_module(module))
    example = doctest.DocTestParser().get_doctest(EXAMPLES[module, name], dict(known), name, None, None)
    assert example.examples
    assert doctest.DocTestRunner().run(example).failed == 0
