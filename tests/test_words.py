"""What is said: the sentences of an answer, a plain name for every input, and a text file without gaps or leftovers."""

import ast
import dataclasses
import math
import re
import string
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from typing import Any

import numpy as np
import pytest
from households import case_of, places_of
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from decide.answers.answer import Answer, answer
from decide.economics.bounds import Bounds
from decide.economics.carbon import CARBON_ENTRIES
from decide.economics.case import (
    ACTIONS,
    REPAIR,
    REPLACE,
    Appliance,
    Case,
    Option,
    Prohibition,
    Quote,
    inputs,
    option_paths,
)
from decide.economics.decision import CLOSE, STATES, decide
from decide.economics.flows import COST_CATEGORIES
from decide.economics.household import GASES, Household
from decide.economics.weigh import NUMBERS, Weighing
from decide.errors import CaseError, DataError, EntryErrors, NoSolution, OutOfRange, ReadError
from decide.load.cases import household_tariff, measured, rating
from decide.load.cases.case_file import Entries, complete
from decide.load.cases.consumption import OTHER_ENERGY
from decide.load.cases.label_entry import LITRES, WORDS
from decide.load.cases.reading import Needed
from decide.load.tables.draws import points, sureness
from decide.load.tables.tables import CURRENCIES, STATUSES, UNITS, WEIGHTS, WHEN, Caution, tables
from decide.load.tables.typed import ForeignMoney, NoNumber, TooFine, TwoReadings, typed_number
from decide.show.text.local_units import local_unit
from decide.show.text.phrases import LANGUAGES, rounded_parts
from decide.show.text.ruler import about
from decide.show.text.words import Words, range_of

SHOW = LANGUAGES.parents[2]
ENGLISH = Words.of()
EURO = Words.of(region="EU")


def with_numbers(case: Case, cautions: tuple[Caution, ...] = (), **found: Any) -> Answer:
    """The answer of a case with no range, with numbers of it set by hand where given; the draws follow them."""
    decision = decide(case, (), points(0), sureness(tables(), "EU"))
    weighing, others = dataclasses.replace(decision.weighing, **found), decision.others.copy()
    best = found.get("best", 0)
    if 0 < best < len(case.options):
        others[best - 1] = np.min(others) - 1.0
    rest = np.full(decision.rest.shape, np.min(others) - weighing.repair_limit)
    drawn = dataclasses.replace(decision, weighing=weighing, others=others, rest=rest)
    return Answer(case, (), cautions, (), decision=drawn)


def answered(quote: Quote | None = None, stops: tuple[Prohibition, ...] = (), **found: Any) -> Answer:
    """The invented household of `households.py` (euro), with numbers of the answer set by hand where given."""
    known = {caution.id: caution for caution in tables().all_cautions}
    case = dataclasses.replace(case_of(quote), prohibitions=stops)
    return with_numbers(case, tuple(known[stop.caution] for stop in stops), **found)


def without_quote(**found: Any) -> Answer:
    """The same with a repair that nobody has put a price on yet."""
    case = case_of()
    options = tuple(dataclasses.replace(o, quote=None) if o.action == "repair" else o for o in case.options)
    return with_numbers(dataclasses.replace(case, options=options), **found)


def refrigerator(**repair: object) -> Entries:
    """Entries of an invented refrigerator."""
    return {"appliance": {"class": "refrigerator", "age": 8}, "household": {"place": "US"}, "repair": repair}


@cache
def many_answers() -> tuple[Answer, ...]:
    """Every class in every region, with a quote and without, and each fault for which a caution stops something."""
    found = []
    for region in CURRENCIES:
        for kind in tables().classes(region):
            for repair in ({}, {"quote": 180}, {"quote": 180, "remaining_life_factor": 0.05}):
                there: Entries = {"class": kind.kind, "age": 9}
                found.append(answer({"appliance": there, "household": {"place": region}, "repair": repair}))
            for fault in tables().faults(kind.kind):
                cautions = tables().cautions(kind.kind, fault.fault, region)
                if any(caution.prohibits for caution in cautions):
                    there = {"class": kind.kind, "age": 9, "fault": fault.fault}
                    entries = {"appliance": there, "household": {"place": region}, "leave": {"annual_loss_of_use": 30}}
                    found.append(answer(entries))
    return tuple(found)


def everything_text(words: Words, found: Answer) -> Iterator[str]:
    """Every text that an answer gives rise to."""
    yield words.verdict(found)
    yield words.headline(found)
    yield words.once_safe(found)
    yield from words.because(found)
    for index, row in enumerate(words.options(found)):
        yield from (row.name, row.today, row.yearly, row.present, row.years, row.note)
        for pair in words.today_parts(found, index):
            yield from pair
    for pair in words.measures(found):
        yield from pair
    for line in words.assumptions(found):
        yield from (line.group, line.label, line.value, line.range, line.source, line.status)
    for caution in words.cautions(found):
        yield from (caution.weight, caution.text, caution.who)


# the answer


def test_a_quote_below_the_limit_is_worth_paying() -> None:
    found = answered(Quote(amount=260.0), repair_limit=361.2, quoted=260.0, advantage=101.2, best=0)
    assert EURO.verdict(found) == "Repair it"
    assert EURO.headline(found) == (
        "This repair is worth about €360 (could be €340 to €380). You were quoted €260. "
        "Repair came out cheaper in nearly all tests."
    )
    assert EURO.once_safe(found) == ""


def test_a_quote_above_the_limit_says_what_is_cheaper() -> None:
    found = answered(Quote(amount=460.0), repair_limit=361.2, quoted=460.0, advantage=-98.8, best=1)
    assert EURO.verdict(found) == "Replace it"
    assert EURO.headline(found) == (
        "This repair is worth about €360 (could be €340 to €380). You were quoted €460. "
        "“new” came out cheaper in nearly all tests."
    )


def test_a_typical_new_unit_is_named_by_its_kind() -> None:
    found = answer(refrigerator(quote=900))
    assert "You were quoted $900. A new refrigerator-freezer came out cheaper in " in ENGLISH.headline(found)


def test_a_planned_replacement_after_the_repair_says_when() -> None:
    found = answered(repair_limit=361.2, quoted=260.0, advantage=101.2, best=4, planned_years=3.0)
    assert EURO.verdict(found) == "Repair it, replace it later"
    assert "Then replace it in about 3 years, even if it still runs." in EURO.headline(found)
    assert EURO.options(found)[4].name == "repair, and replace it in 3 years"


def test_living_with_the_fault_can_be_the_answer() -> None:
    found = answered(repair_limit=100.0, quoted=260.0, advantage=-160.0, best=3)
    assert EURO.verdict(found) == "Live with it"
    assert EURO.headline(found).endswith("You were quoted €260. Living with it came out cheaper in nearly all tests.")


@pytest.mark.parametrize("limit", [260.3, 270.0, 250.0, 285.0, 235.0, 320.0, 200.0, -1.0])
def test_a_quote_near_the_limit_leans_and_a_nearer_one_is_a_close_call(limit: float) -> None:
    """With no range the doubt about the model is all: a normal law, 5 % of what a new one costs wide."""
    found = answered(repair_limit=limit, quoted=260.0, advantage=limit - 260.0, best=0 if limit > 260 else 1)
    agree = norm.cdf(abs(limit - 260.0) / (0.05 * found.decision.cost_of_new))
    state = STATES[0] if agree >= 0.9 else STATES[1] if agree >= 0.65 else CLOSE
    assert found.verdict.state == state
    assert found.close is (state == CLOSE)
    text = {"repair": ("Repair it", "Leaning repair"), "replace": ("Replace it", "Leaning replace")}
    acts = text["repair" if limit > 260 else "replace"]
    assert EURO.verdict(found) == (*acts, "Close call")[STATES.index(state)]
    assert f" came out cheaper in {EURO.share(agree)} tests." in EURO.headline(found)
    if found.close:
        assert EURO.headline(found).startswith(
            f"This repair is worth about {EURO.money(about(limit))}. You were quoted €260. "
        )
        assert "Either is fine: the worse choice costs about €" in EURO.headline(found)


@pytest.mark.parametrize(
    ("entered", "text"),
    [
        ({}, "The real price of a new one settles it"),
        ({"replace": [{"price": 1000}]}, "plug-in meter"),
        ({"replace": [{"price": 1000}], "electricity": 600}, "Money does not decide"),
    ],
)
def test_a_close_call_says_what_may_settle_it(entered: Entries, text: str) -> None:
    there = {"class": "refrigerator", "age": 8, **{k: v for k, v in entered.items() if k == "electricity"}}
    entries = {"appliance": there, **{k: v for k, v in entered.items() if k == "replace"}}
    limit = float(answer(entries).weighing.repair_limit)
    found = answer({**entries, "repair": {"quote": round(limit + 1)}})
    assert ENGLISH.verdict(found) == "Close call"
    assert text in ENGLISH.headline(found)


def test_without_a_quote_the_limit_is_the_answer() -> None:
    found = without_quote(repair_limit=361.2)
    assert EURO.verdict(found) == "Worth about €360"
    assert EURO.headline(found) == "Say yes up to €340. Above €380, replace. In between, it is your call."


@pytest.mark.parametrize("found", [answered(repair_limit=-80.0, best=1), without_quote(repair_limit=-80.0, best=1)])
def test_a_negative_limit_says_that_not_even_a_free_repair_pays_and_why(found: Answer) -> None:
    rival = min(found.weighing.options[1:4], key=lambda cost: float(cost.present_cost))
    assert EURO.verdict(found) == "Replace it"
    assert EURO.headline(found).startswith(
        f"Even for free, this repair would cost you €80 more than “{rival.name}” in the long run. "
    )
    assert next(EURO.reasons(found))


@pytest.mark.parametrize(
    ("unit", "reason"),
    [
        (
            {"class": "refrigerator", "age": 25, "electricity": 2200},
            "It uses 2,200 kWh of electricity a year, against ",
        ),
        ({"class": "clothes_washer", "age": 12, "water": 200}, "It uses 52,834 gallons of water a year, against 3,963"),
    ],
)
def test_what_makes_a_free_repair_dear_is_named_with_its_figures(unit: Entries, reason: str) -> None:
    new = {"electricity": 480} if "electricity" in unit else {"water": 15}  # else what it uses is the household's doing
    entries = {"appliance": unit, "repair": {"remaining_life_factor": 0.4}, "replace": [{"appliance": new}]}
    text = next(ENGLISH.reasons(answer(entries)))
    assert text.startswith(reason)


# safety


def stopped(kind: str, fault: str, **repair: object) -> Answer:
    """An invented unit of nine years with a fault, in the United States."""
    there: Entries = {"class": kind, "age": 9, "fault": fault}
    return answer({"appliance": there, "household": {"place": "US"}, "repair": repair})


def test_a_smell_of_gas_is_answered_by_an_order_and_no_word_of_money() -> None:
    found = stopped("water_heater_gas", "gas_leak", quote=250)
    assert ENGLISH.verdict(found) == "Stop: smell of gas, or a gas leak"
    assert ENGLISH.headline(found) == (
        "Touch no switch and light no flame. Everybody out now. From outside, call 911 or the gas company. Nobody goes "
        "back in before they say so. They shut the gas off and tag the unit. After that, call a licensed gas fitter."
    )
    assert ENGLISH.once_safe(found).startswith("Once it is safe: This repair is worth about $")
    assert ENGLISH.cautions(found)[0].who == "everyone in the home"


USE_STOPS = [
    (kind.kind, fault.fault)
    for kind in tables().known_classes.values()
    for fault in tables().faults(kind.kind)
    if any("use" in caution.prohibits for caution in tables().cautions(kind.kind, fault.fault, kind.regions[0]))
]


@pytest.mark.parametrize(("kind", "fault"), USE_STOPS)
def test_where_the_use_must_stop_nothing_comes_before_safety(kind: str, fault: str) -> None:
    place = tables().kind(kind).regions[0]
    entries: Entries = {"appliance": {"class": kind, "age": 9, "fault": fault}, "household": {"place": place}}
    found, words = answer(entries), Words.of(region=place)
    assert words.verdict(found).startswith("Stop: ")
    assert not re.search(r"[$€]|quote|cheap|costs|in the long run", words.headline(found))
    assert words.once_safe(found).startswith("Once it is safe: ")
    lines = words.cautions(found)
    first, second, *_ = lines  # of an electric tank the breaker goes off first, and gas before all else
    assert "stop" in (first.weight, second.weight)
    assert first.weight in ("first", "stop")
    assert not any("Once it is safe" in line.text for line in lines)


def test_a_carbon_monoxide_alarm_is_a_fault_of_whatever_burns_fuel() -> None:
    burning = {kind.kind for kind in tables().known_classes.values() if "gas" in kind.fuels}
    assert {kind for kind, fault in USE_STOPS if fault == "carbon_monoxide"} == burning
    assert {kind for kind, fault in USE_STOPS if fault == "gas_leak"} == burning


def test_a_leaking_tank_is_replaced_and_shut_off_now() -> None:
    found = stopped("water_heater_gas", "tank_leak", quote=250)
    assert ENGLISH.verdict(found) == "Replace it"
    assert ENGLISH.headline(found) == (
        "Turn its gas control to off. Then shut its cold water. Keep clear of hot water. "
        "A leaking tank cannot be repaired. "
        f"Best way out: a new water heater, {ENGLISH.options(found)[1].today} today."
    )
    assert ENGLISH.once_safe(found) == ""


def test_a_repair_that_is_ruled_out_shows_no_figures() -> None:
    found = stopped("water_heater_gas", "tank_leak", quote=250)
    repair, new, *planned = ENGLISH.options(found)
    assert repair.note == "Cannot be repaired"
    assert (repair.today, repair.yearly, repair.present, repair.years) == ("", "", "", "")
    assert new.today.startswith("$")
    assert [row.hidden for row in (repair, new, *planned)] == [False, False, True]
    assert ENGLISH.today_parts(found, 0) == []


@pytest.mark.slow
def test_a_plan_that_brings_nothing_is_not_worth_showing() -> None:
    for found in many_answers():
        for index, row in enumerate(ENGLISH.options(found)):
            planned = index >= len(found.case.options)
            gains = planned and found.weighing.options[index].present_cost < found.weighing.options[0].present_cost
            assert row.hidden == (planned and (bool(found.weighing.options[index].blocked_by) or not gains))
        assert not ENGLISH.options(found)[int(found.weighing.best)].hidden


def test_a_caution_without_the_fault_of_the_case_stops_it_all_the_same() -> None:
    found = answered(stops=(Prohibition(action="use", caution="glass_top"),))
    assert EURO.verdict(found) == "Do not use it"
    assert EURO.headline(found).startswith("Do not cook on the cracked glass")


@pytest.mark.parametrize("words", [ENGLISH, EURO])
@pytest.mark.parametrize(("off", "text"), [(-60.0, "repair"), (60.0, "replace")])
def test_the_verdict_turns_at_the_limit_that_the_headline_tells(words: Words, off: float, text: str) -> None:
    place = words.region
    entries: Entries = {"appliance": {"class": "dishwasher", "age": 5}, "household": {"place": place}}
    limit = float(answer(entries).weighing.repair_limit)
    quoted = answer({**entries, "repair": {"quote": round(limit + off)}})
    assert quoted.verdict.act == text
    assert text in words.verdict(quoted).lower()
    worth = words.money(about(limit))
    assert words.headline(quoted).startswith(f"This repair is worth about {worth}")


@pytest.mark.parametrize("years", [0.5, 0.75, 1, 1.5])
def test_a_need_of_a_year_or_less_is_answered(years: float) -> None:
    entries = refrigerator(quote=180)
    found = answer({**entries, "household": {"place": "US", "study_period": years}})
    assert math.isnan(float(found.weighing.planned_years)) == (years <= 1)
    assert not any(re.search(r"\bnan\b", text) for text in everything_text(ENGLISH, found))


# figures as they are printed


def amount_of(printed: str) -> Decimal:
    return Decimal(re.sub(r"[^0-9.-]", "", printed))


@pytest.mark.parametrize("quote", [180, 180.5, 399.99, 401.25, 712])
def test_the_quote_is_told_as_it_was_asked_and_the_limit_no_finer_than_it_is_known(quote: float) -> None:
    found = answer(refrigerator(quote=quote))
    told = re.search(r"worth about \$(\d+).* quoted \$([0-9.,]*[0-9])\.", ENGLISH.headline(found))
    assert told
    assert Decimal(told[1]) % 10 == 0
    assert float(told[1]) == pytest.approx(found.weighing.repair_limit, abs=5)
    assert amount_of(told[2]) == Decimal(str(quote))


def test_cents_are_shown_where_the_quote_has_some() -> None:
    assert "You were quoted $180." in ENGLISH.headline(answer(refrigerator(quote=180)))
    assert "You were quoted $180.50." in ENGLISH.headline(answer(refrigerator(quote=180.5)))


@pytest.mark.slow
def test_what_is_paid_today_can_be_followed_piece_by_piece() -> None:
    checked = 0
    for found in [*many_answers(), answer(refrigerator(quote=401.25)), answered()]:
        words = Words.of(region=found.case.household.region)
        for index, row in enumerate(words.options(found)):
            if row.today:
                parts = [amount_of(text) for _, text in words.today_parts(found, index)]
                assert sum(parts) == amount_of(row.today), (found.case.appliance.kind, row)
                checked += 1
    assert checked > 300


def test_the_pieces_of_today_are_named() -> None:
    entries = refrigerator(quote={"amount": 200, "fee_credit": 50, "fee_if_declined": 80})
    entries["replace"] = [{"price": 900, "tax_rate": 0.1, "delivery": 60, "rebate": 100, "haul_away": 0,
                           "installation": 0, "financed": 300, "loan_rate": 0.05, "loan_years": 2}]  # fmt: skip
    found = answer(entries)
    assert ENGLISH.today_parts(found, 0) == [("Quote for the repair", "$200"), ("Diagnostic fee credited", "-$50")]
    # by hand: 900 + 10 % + 60 - 100, 300 of it lent, and a fee of 80
    assert ENGLISH.today_parts(found, 1) == [
        ("Price", "$900"), ("Sales tax", "$90"), ("Delivery", "$60"), ("Rebate", "-$100"),
        ("Paid by loan, later", "-$300"), ("Fee for a repair declined", "$80"),
    ]  # fmt: skip
    assert ENGLISH.options(found)[1].today == "$730"


@pytest.mark.parametrize(
    ("fault", "spoils"), [("compressor", True), ("not_cooling", True), ("icemaker", False), ("door_hinge", False)]
)
def test_food_is_lost_only_by_a_fault_that_stops_the_cooling(fault: str, spoils: bool) -> None:
    for index in (0, 1):
        parts = dict(ENGLISH.today_parts(stopped("refrigerator", fault, quote=200), index))
        assert ("Food spoiled meanwhile" in parts) is spoils


# why


def test_the_reasons_tell_years_left_the_rival_and_the_cost_of_running() -> None:
    found = answered()
    fixed = {"expected_remaining_life": 6.5, "today": 260.0, "present_cost": 3000.0, "successor": 1}
    new = {"expected_remaining_life": 13.0, "today": 650.0, "present_cost": 2900.0}
    dear = {"present_cost": 9000.0}
    changes = (fixed, new, dear, dear, dear)
    costs = tuple(
        dataclasses.replace(cost, **change) for cost, change in zip(found.weighing.options, changes, strict=True)
    )
    decision = dataclasses.replace(
        found.decision, weighing=dataclasses.replace(found.weighing, options=costs, successor=1)
    )
    # by hand: 380 kWh x 0.35 + 9 m3 x 4 + 30 = 199; 300 kWh x 0.35 + 36 + 30 = 171
    assert EURO.because(dataclasses.replace(found, decision=decision)) == [
        "Repaired, it should run about 6.5 years more; then comes “new”, at €680 in today's money.",
        "“new”: €650 today, and it should run about 13 years.",
        "Repaired, it uses 380 kWh of electricity a year. With “new” you use 300.",
        "To run and keep up, the repaired one takes about €199 a year, €28 more than “new”.",
    ]


def test_what_comes_after_a_used_unit_is_a_new_one() -> None:
    entries = refrigerator(quote=900, remaining_life_factor=0.4)
    entries["replace"] = [{}, {"name": "Used", "price": 150, "appliance": {"age": 6, "electricity": 450}}]
    text = ENGLISH.because(answer(entries))[1]
    assert text.startswith("“Used”: $")
    assert text.endswith("then comes a new refrigerator-freezer.")


@pytest.mark.parametrize("use", [300, 600])
def test_the_reasons_name_what_either_uses_only_where_it_differs(use: float) -> None:
    entries = refrigerator(quote=100)
    entries["appliance"]["electricity"] = 300
    entries["replace"] = [{"appliance": {"electricity": use}}]
    sentences = [line for line in ENGLISH.because(answer(entries)) if "kWh" in line]
    name = "a new refrigerator-freezer"
    assert sentences == (
        [] if use == 300 else [f"Repaired, it uses 300 kWh of electricity a year. With {name} you use 600."]
    )


def test_the_cheapest_option_is_marked_only_once_a_quote_is_known() -> None:
    notes = [row.note for row in EURO.options(answered(best=1))]
    assert [index for index, note in enumerate(notes) if "cheapest" in note] == [1]
    open_notes = [row.note for row in EURO.options(without_quote())]
    assert not any("cheapest" in note for note in open_notes)
    assert "without the quote, which is still open" in open_notes[0]


def investment(**entries: Any) -> dict[str, str]:
    """What is said of each measure, by its name."""
    found = answer({**refrigerator(quote=300), **entries})
    return dict(zip(NUMBERS, (text for _, text in ENGLISH.measures(found)), strict=True))


def test_a_measure_that_does_not_exist_is_a_sentence() -> None:
    found = answered()
    unknown = dict.fromkeys(NUMBERS[1:], math.nan)
    unknown_answer = dataclasses.replace(found)
    unknown_answer.__dict__["measures"] = dataclasses.replace(found.measures, **unknown)
    output = EURO.measures(unknown_answer)
    assert len(output) == len(NUMBERS)
    assert all(text.startswith(("never", "does not exist", "cannot be", "tell us")) for _, text in output[1:])


def test_a_yield_asks_for_a_study_period_where_the_need_has_no_end() -> None:
    assert investment()["adjusted_internal_rate_of_return"] == "tell us how many years you will stay"
    home = {"study_period": 12, "residual_share": 0}
    ends = investment(household=home, replace=[{"price": 700, "appliance": {"electricity": 250}}])
    assert ends["adjusted_internal_rate_of_return"].endswith("a year")


def test_measures_of_yearly_cash_ask_for_a_year() -> None:
    short = investment(household={"study_period": 0.5})
    of_cash = {name for name in NUMBERS if "payback" in name} | {"internal_rate_of_return"}
    assert {short[name] for name in of_cash} == {"tell us how long you will stay, a year or more"}


def test_a_payback_is_never_reached_where_running_saves_nothing() -> None:
    hungry = investment(replace=[{"appliance": {"electricity": 1500}}])
    for name in ("running_payback", "discounted_running_payback"):
        assert hungry[name] == "never: the savings are too small"
    for name in ("simple_payback", "discounted_payback"):
        assert hungry[name] == "never: buying does not catch up"


def test_replacing_that_costs_no_more_today_is_paid_back_at_once_and_has_no_return() -> None:
    cheap = investment(replace=[{"price": 100, "delivery": 0, "installation": 0, "haul_away": 0}])
    assert cheap["running_payback"] == "at once"
    assert cheap["internal_rate_of_return"] == "does not exist: replacing costs no more today than repairing"


def test_every_measure_says_that_it_compares_two_ways_and_has_its_name_in_the_trade() -> None:
    # names of the trade: NIST Handbook 135, from memory
    names = ("Net present value (NPV)", "Payback", "(discounted payback)", "Payback on running costs alone", "The same",
             "(savings-to-investment ratio)", "(internal rate of return)",
             "(adjusted internal rate of return)")  # fmt: skip
    for (label, _), name in zip(EURO.measures(answered()), names, strict=True):
        assert re.search(r"replacing|new one|buy new|^The same", label), label
        assert name in label


def test_measures_without_a_quote_or_with_a_repair_ruled_out_say_so() -> None:
    assert {text for _, text in EURO.measures(without_quote())} == {"needs a quote for the repair"}
    refused = stopped("water_heater_gas", "tank_leak", quote=200)
    assert {text for _, text in ENGLISH.measures(refused)} == {"nothing to compare with: a repair is ruled out"}


@pytest.mark.slow
def test_no_answer_ever_says_that_a_number_is_none() -> None:
    assert len(many_answers()) > 150
    for found in many_answers():
        words = Words.of(region=found.case.household.region)
        for text in everything_text(words, found):
            assert not re.search(r"\b(nan|none|inf|infinity|-0)\b|\{|\}|∞", text, re.IGNORECASE), text


def test_the_last_caution_always_defers_to_codes_and_licences() -> None:
    for found in many_answers():
        last = ENGLISH.cautions(found)[-1]
        assert "Local codes" in last.text
        assert "licensed practice" in last.text
        assert last.weight in WEIGHTS


def test_cautions_come_now_while_working_afterwards_and_orders_are_for_now() -> None:
    for found in many_answers():
        lines = ENGLISH.cautions(found)[:-1]
        assert [line.when for line in lines] == sorted((line.when for line in lines), key=WHEN.index)
        assert all(line.when == "now" for line in lines if line.weight == "stop")


# what it rests on


def test_every_default_is_listed_once_with_its_source_and_how_sure_it_is() -> None:
    found = answer(refrigerator(quote={"labour_hours": 2}))
    lines = {line.path: line for line in ENGLISH.assumptions(found)}
    assert {path for path, line in lines.items() if line.origin == "figure"} == {d.field for d in found.defaults}
    for default in found.defaults:
        figure = default.estimate
        said_by = figure.note if figure.status == "judgement" else figure.source.citation
        assert said_by in lines[default.field].source
        assert lines[default.field].status == ENGLISH.status(figure.status)
    assert len(lines) == len(ENGLISH.assumptions(found))


def test_a_judgement_is_called_one_only_once() -> None:
    for found in many_answers():
        for line in Words.for_household(found.case.household).assumptions(found):
            assert "udgement of this project" not in f"{line.status}: {line.source}"


def test_what_was_entered_is_told_apart_from_what_nobody_asked_for() -> None:
    lines = {
        line.path: line for line in ENGLISH.assumptions(answer(refrigerator(quote=250, remaining_life_factor=0.8)))
    }
    assert lines["repair.quote.amount"].origin == "entered"
    assert lines["repair.quote.amount"].value == "$250"
    assert lines["repair.remaining_life_factor"].value == "80%"
    assert lines["replace.rebate"].origin == "plain"
    assert lines["replace.appliance.age"].origin == "plain"
    assert lines["appliance.gas"].origin == "plain"


def test_inputs_that_an_option_cannot_have_are_not_listed() -> None:
    assert not any(line.path == "repair.price" for line in ENGLISH.assumptions(answer(refrigerator())))


def test_assumptions_come_grouped_by_what_they_belong_to() -> None:
    groups = [line.group for line in ENGLISH.assumptions(answer(refrigerator(quote=250)))]
    assert len(list(dict.fromkeys(groups))) == sum(a != b for a, b in zip(groups, ["", *groups], strict=False))


def test_a_default_lies_within_the_range_that_is_shown_for_it() -> None:
    for found in many_answers():
        for default in found.defaults:
            low, high = range_of(default)
            if low is not None and high is not None:
                assert low <= default.value * (1 + 1e-12) <= high * (1 + 1e-9) + 1e-12


# names and units


def every_path() -> list[str]:
    case = case_of()
    options = (*case.options, dataclasses.replace(case.options[1], name="third"))
    case = dataclasses.replace(case, options=options)
    assert "replace.3" in option_paths(case)
    return [entry.path for entry in inputs(case)]


@pytest.mark.parametrize("path", every_path())
def test_every_input_has_a_plain_name_a_group_and_a_line_of_help(path: str) -> None:
    assert ENGLISH.label(path) not in ("", path)
    assert ENGLISH.noun(path)
    assert ENGLISH.help(path).endswith((".", "?"))
    assert ENGLISH.noun(path).lower() in ENGLISH.full_label(path)
    assert ENGLISH.full_label(path).lower().count(ENGLISH.noun(path).lower()) == 1


@pytest.mark.parametrize(
    "path",
    [
        "title", "appliance.class", "appliance.fault", "household.place", "household.region", "repair.name",
        "repair.quote", "replace.2.appliance", "replace.appliance.class",
        *(f"appliance.{name}" for name in OTHER_ENERGY),
    ],
)  # fmt: skip
def test_entries_that_are_no_inputs_have_a_name_too(path: str) -> None:
    assert ENGLISH.label(path) != path


def test_the_names_in_the_text_are_those_of_the_declared_inputs() -> None:
    labels, helps = ENGLISH.text["label"], ENGLISH.text["help"]
    for noun, kind in {"appliance": Appliance, "household": Household, "option": Option, "quote": Quote}.items():
        declared = {item.name for item in dataclasses.fields(kind) if "bounds" in item.metadata}
        declared |= {"gas_kind"} if noun == "household" else set()
        assert set(labels[noun]) == declared
        assert set(helps[noun]) == declared - {"gas_kind"}


@pytest.mark.parametrize(
    "path",
    [
        *(f"appliance.label.{name}" for name in (*rating.NUMBERS, *WORDS, "limit", "class", "litres")),
        *(f"replace.appliance.meter.{name}" for name in (*measured.OF_A_LOG, *measured.OF_READINGS,
        *measured.OF_EITHER)),
        *(f"household.gas_tariff.{name}" for name in household_tariff.OWN),
        *(f"household.{fuel}_tariff" for fuel in household_tariff.BASE_USE),
        "appliance.label", "appliance.meter",
    ],
)  # fmt: skip
def test_entries_of_a_label_a_meter_and_a_tariff_have_a_name_of_their_own(path: str) -> None:
    assert ENGLISH.label(path) != path
    assert ENGLISH.label("appliance.label.class") != ENGLISH.label("appliance.class")


def test_an_unknown_path_stands_for_itself() -> None:
    assert ENGLISH.label("household.foo") == "household.foo"
    assert ENGLISH.full_label("foo") == "foo"
    assert ENGLISH.help("household.foo") == ""


def entered_units() -> set[str]:
    """Unit of every number that can be entered."""
    others = (
        CARBON_ENTRIES,
        OTHER_ENERGY,
        rating.NUMBERS,
        measured.NUMBERS,
        household_tariff.BASE_USE,
        {"litres": LITRES},
    )
    units = {bounds.unit for declared in others for bounds in declared.values()}
    return units | {entry.bounds.unit for entry in inputs(case_of())}


def test_every_unit_can_be_said() -> None:
    units = entered_units()
    units |= {unit.replace("currency", "USD") for unit in UNITS.values()}
    for unit in units:
        assert "2" in ENGLISH.quantity(2.0, unit), unit
        assert "{" not in ENGLISH.unit(unit)


def test_units_of_the_text_are_all_in_use() -> None:
    units = entered_units() | {unit.replace("currency", "money") for unit in UNITS.values()}
    units |= {"m3"}  # of a bill for water
    units |= {  # as people say them
        local_unit(region, unit, path, gas).name
        for region in CURRENCIES
        for unit in units
        for path in ("", "appliance.gas", "household.gas_price", "appliance.cycles")
        for gas in GASES
    }
    assert set(ENGLISH.text["unit"]) == {"none" if unit in ("", "-") else unit for unit in units}


def test_causes_statuses_weights_and_regions_can_be_said() -> None:
    assert set(ENGLISH.text["cost_category"]) == set(COST_CATEGORIES)
    assert set(ENGLISH.text["locale"]) == set(CURRENCIES)
    assert all(ENGLISH.status(status) for status in STATUSES)
    assert all(ENGLISH.say(f"caution.{weight}") for weight in WEIGHTS)


@pytest.mark.parametrize("action", ACTIONS)
def test_every_way_to_go_has_its_words(action: str) -> None:
    """Else a page breaks at the first answer that takes it; the other languages have the keys of English."""
    keys = [f"verdict.{action}", f"verdict.leaning_{action}", f"ruler.{action}", f"noun.{action}"]
    if action not in (REPAIR, REPLACE):  # these two are said by what is mended or bought
        keys += [f"name.{action}", f"because.{action}"]
    assert all(ENGLISH.text[section][key] for section, key in (each.split(".") for each in keys))


@pytest.mark.parametrize(
    ("words", "value", "unit", "currency", "text"),
    [
        (ENGLISH, 1.0, "year", "USD", "1 year"),
        (ENGLISH, 7.5, "year", "USD", "7.5 years"),
        (ENGLISH, 0.07, "share", "USD", "7%"),
        (ENGLISH, -0.015, "1/year", "USD", "-1.5% a year"),
        (ENGLISH, 1234.5, "money", "USD", "$1,234.50"),
        (ENGLISH, 980.0, "USD", "USD", "$980"),
        (EURO, 0.3951, "money/kWh", "EUR", "€0.3951 per kWh"),
        (EURO, 4.2, "EUR/m3", "EUR", "€4.20 per m³"),
        (ENGLISH, -0.0, "money", "USD", "$0"),
        (ENGLISH, math.inf, "year", "USD", "no end"),
    ],
)
def test_quantities_read_as_people_write_them(words: Words, value: float, unit: str, currency: str, text: str) -> None:
    assert words.quantity(value, unit) == text


@pytest.mark.parametrize(
    ("span", "text"),
    [
        (0.0, "0 years"),
        (0.04, "0 years"),
        (1 / 12, "1 month"),
        (1.5, "18 months"),
        (2.0, "2 years"),
        (9.96, "10 years"),
    ],
)
def test_spans_of_time_are_told_roughly(span: float, text: str) -> None:
    assert ENGLISH.years(span) == text


def test_small_amounts_are_never_minus_nothing() -> None:
    assert ENGLISH.money(-0.3) == "$0"
    assert ENGLISH.percent(-1e-9) == "0%"
    assert ENGLISH.number(-1e-9) == "0"


@pytest.mark.parametrize(
    ("entries", "region"),
    [
        ({}, "US"),
        ({"household": {"place": "DE"}}, "EU"),
        ({"household": {"region": "EU"}}, "EU"),
        ({"household": {"place": "Atlantis"}}, "US"),
        ({"household": 7}, "US"),
    ],
)
def test_unfinished_entries_speak_the_money_of_their_region(entries: Entries, region: str) -> None:
    assert Words.for_entries(entries).region == region
    assert Words.for_entries(entries).currency == CURRENCIES[region]


# what went wrong


def test_all_faults_of_a_case_are_told_in_one_go_each_with_its_name_and_bounds() -> None:
    entries = {
        "appliance": {"class": "refrigeratr", "age": 99},
        "household": {"place": "US", "rate": 3, "foo": 1},
        "repair": {"quote": -5},
        "replace": [{"price": math.nan}],
    }
    with pytest.raises(EntryErrors) as raised:
        complete(entries)
    sentences = ENGLISH.explain(raised.value)
    assert len(sentences) == len(raised.value.errors) == 6
    assert "Age (the old one) must be from 0 to 60 years; 99 was given." in sentences
    assert "Quote for the repair must be from $0 to $100,000; -5 was given." in sentences
    assert "Price (the replacement) must be from $0 to $200,000; nan was given." in sentences
    assert sentences[-1] == (
        "What waiting for your money costs you a year, above inflation (the household) must be from 0% to 50% a year; "
        "3, which is 300%, was given."
    )
    assert any("did you mean refrigerator" in line for line in sentences)


@pytest.mark.parametrize(
    ("fault", "text"),
    [
        (OutOfRange("replace.appliance.age", 0, math.inf, "year", -1), "Age (the one you buy) must be 0 years or more; "
         "-1 was given."),
        (CaseError("appliance.age", "is needed"), "Age (the old one): is needed."),
        (Needed("appliance.age", Bounds("year", 0, 60)), "Age (the old one) is needed: from 0 to 60 years, "
         "such as 12."),
        (NoNumber("repair.quote", "abc"), "Quote for the repair: type it as a number, such as 185 or 185.50; 'abc' "
         "cannot be read."),
        (NoNumber("repair.remaining_life_factor", "good"),
            "Years left, against a sound unit of its age (the repair): type it as a "
         "number, such as 80%; 'good' cannot be read."),
        (OutOfRange("appliance.age", 0, 60, "year", 2014), "Age (the old one): 2014 looks like a year. Type "
         "the age in years, such as 12."),
        (TwoReadings("repair.quote", "1.234", "1234", "1.234", 2), "Quote for the repair: '1.234' can be read in two "
         "ways. Did you mean 1,234 or 1.23? Type 1234 or 1.23."),
        (TwoReadings("appliance.gas", "1.234", "1234", "1.234", None), "Gas used (the old one): '1.234' can "
         "be read in two ways. Did you mean 1,234 or 1.234? Type 1234 or 1.2340."),
        (ForeignMoney("repair.quote", "\u20ac 350", "USD"), "Quote for the repair: '\u20ac 350' is in another money "
         "than that of the place, USD. Type the amount in USD, or change the place."),
        (TooFine("repair.quote", "0.125"), "Quote for the repair: money has two decimals at most; '0.125' has more."),
        (CaseError("foo", "is not known; did you mean food?"), "foo: is not known; did you mean food?"),
        (ReadError("case.toml", "is no TOML file"), "case.toml: is no TOML file."),
        (NoSolution("at no age"), "There is no answer: at no age."),
        (DataError("figures.csv, line 3"), "The shipped tables are at fault, not you: figures.csv, line 3."),
    ],
)  # fmt: skip
def test_each_kind_of_fault_has_its_sentence(fault: Exception, text: str) -> None:
    assert ENGLISH.explain(fault) == [text]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("place", "language", "large", "small"),
    [("DE", "en", "1,234", "1.23"), ("IE", "en", "1,234", "1.23"), ("FR", "es", "1.234", "1,23")],
)
def test_two_readings_are_offered_in_the_habit_of_the_page(place: str, language: str, large: str, small: str) -> None:
    (text,) = Words.for_place(place, language).explain(TwoReadings("repair.quote", "1.234", "1234", "1.234", 2))
    offered = {"en": f"Did you mean {large} or {small}? Type 1234 or {small}.", "es": f"{large} o {small}"}
    assert offered[language] in text
    assert typed_number(small, "repair.quote", unit="money") == 1.23


def test_thousands_of_money_are_read_where_the_language_is_the_countrys_own_and_asked_about_elsewhere() -> None:
    habits = {
        (language, place): Words.for_place(place, language).number_locale("money")
        for language, place in (("es", "ES"), ("en", "ES"), ("en", "IE"), ("en", "NL"), ("en", "EU"), ("es", "EU"))
    }
    assert {pair for pair, habit in habits.items() if habit} == {("es", "ES"), ("en", "IE")}
    assert typed_number("1.250", "repair.quote", habits["es", "ES"], "money") == 1250
    assert Words.for_place("ES", "es").number_locale("kWh/year") is None


# the habit of the language


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("place", places_of("EU"))
def test_what_a_place_is_shown_can_be_typed_back_there(place: str, language: str) -> None:
    words = Words.for_place(place, language)
    for amount in (0.5, 12.0, 185.5, 1234.5, 99999.99):
        assert typed_number(words.money(amount, cents=True), "repair.quote", unit="money") == amount
    assert typed_number(words.percent(0.035), "household.rate") == 0.035
    assert typed_number(words.figure(0.3951, "money/kWh"), "household.electricity_price") == 0.3951


# From memory: English has a decimal point wherever it is read, and the euro before the amount; Spanish in Europe a
# decimal comma and the euro behind it.
@pytest.mark.parametrize("place", places_of("EU"))
def test_a_language_is_written_alike_in_all_of_europe(place: str) -> None:
    english, spanish = Words.for_place(place), Words.for_place(place, "es")
    assert (english.years(7.5), spanish.years(7.5)) == ("7.5 years", "7,5 años")
    assert (english.money(1234), spanish.money(1234)) == ("€1,234", "1.234\xa0€")
    assert (english.percent(0.125), spanish.percent(0.125)) == ("12.5%", "12,5\xa0%")
    assert english.years(21.0) == "21 years"


@pytest.mark.parametrize(
    ("amount", "digits", "text"), [(0.5, 0, "$1"), (2.5, 0, "$3"), (0.125, 2, "$0.13"), (-2.5, 0, "-$3")]
)
def test_a_half_is_rounded_up_as_a_till_does(amount: float, digits: int, text: str) -> None:
    assert ENGLISH.money(amount, cents=digits == 2) == text


@given(st.lists(st.decimals(-9999, 9999, places=3), min_size=1, max_size=9), st.sampled_from([0, 2]))
def test_rounded_parts_add_up_to_their_rounded_sum(parts: list[Decimal], digits: int) -> None:
    printed = rounded_parts([float(part) for part in parts], digits)
    assert sum(printed) == sum(parts).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    assert all(abs(shown - part) < Decimal(1).scaleb(-digits) for shown, part in zip(printed, parts, strict=True))


# the text file


def leaves(text: dict[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    """Every text of the file with its dotted key; the plural forms of one text share its key."""
    for name, value in text.items():
        key = f"{path}.{name}".lstrip(".")
        if isinstance(value, str):
            yield key, value
        elif "other" in value and set(value) <= {"zero", "one", "two", "few", "many", "other"}:
            yield from ((key, form) for form in value.values())
        else:
            yield from leaves(value, key)


KEYS = {key for key, _ in leaves(dict(ENGLISH.text))}


def sources() -> Iterator[ast.Module]:
    for path in sorted(SHOW.rglob("*.py")):
        yield ast.parse(path.read_text("utf-8"))


def pattern(node: ast.expr) -> str | None:
    """What a written text can be: itself, or a pattern with gaps where facts are put in; None for all else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return re.escape(node.value)
    if isinstance(node, ast.JoinedStr):
        pieces = [re.escape(part.value) if isinstance(part, ast.Constant) else ".+" for part in node.values]
        return "".join(pieces)  # type: ignore[arg-type]
    return None


def calls_of_say() -> Iterator[tuple[list[str], ast.Call]]:
    """The keys that each call of `say` can mean, with the call."""
    for tree in sources():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "say":
                asked = node.args[0]
                choices = [asked.body, asked.orelse] if isinstance(asked, ast.IfExp) else [asked]
                for found in filter(None, map(pattern, choices)):
                    yield [key for key in KEYS if re.fullmatch(found, key)], node


@pytest.mark.slow
def test_every_text_that_is_asked_for_is_there() -> None:
    calls = list(calls_of_say())
    assert len(calls) > 50
    for keys, call in calls:
        assert keys, ast.unparse(call)


def test_no_text_is_left_over() -> None:
    written = [pattern(node) for tree in sources() for node in ast.walk(tree) if isinstance(node, ast.expr)]
    # a pattern that is all gap would match anything and prove nothing
    output = [re.compile(found) for found in {found for found in written if found and "\\." in found}]
    # by the locale of a region, and by the names of the inputs: tests of their own above
    elsewhere = ("locale.", "label.", "help.")
    unused = [
        key for key in KEYS if not key.startswith(elsewhere) and not any(found.fullmatch(key) for found in output)
    ]
    assert unused == []


def test_each_text_asks_only_for_facts_that_it_is_given() -> None:
    texts = dict(leaves(dict(ENGLISH.text)))
    checked = 0
    for keys, call in calls_of_say():
        given = {keyword.arg for keyword in call.keywords}
        if None in given or len(keys) != 1 or keys[0] not in texts:
            continue
        asked = {name for _, name, _, _ in string.Formatter().parse(texts[keys[0]]) if name}
        assert asked <= given, keys[0]
        checked += 1
    assert checked > 30


def test_the_text_speaks_plainly() -> None:
    for key, text in leaves(dict(ENGLISH.text)):
        if key in ("measure.net_saving", "scenario.net_present_value", "first.net_saving", "first.npv_of"):
            continue  # a name that people look for; the first of them explains it
        assert not re.search(r"\b(NPV|ROI|SIR|IRR|lifespan|efficien\w+|net present|annuit\w+)\b", text), key


def test_the_weighing_is_the_only_source_of_the_verdict() -> None:
    for found in many_answers():
        weighing: Weighing = found.weighing
        text = ENGLISH.verdict(found)
        assert text.startswith("Stop: ") == bool(weighing.stopped_by)
        if not (weighing.stopped_by or found.close or math.isnan(float(weighing.quoted))):
            repairs = text.startswith(("Repair it", "Leaning repair"))
            assert repairs == (float(weighing.advantage) > 0)
