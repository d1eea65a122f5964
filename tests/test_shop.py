"""What a shop sees of its quotes and its book: the figures of the core, said and drawn without another sum."""

import dataclasses
import math
import re
from pathlib import Path

import numpy as np
import pytest
from commands import json_of, run
from whole_books import read_jobs

from decide.answers.answer import answer
from decide.answers.shop_bands import NOBODY_KNOWS, Rule, ShopBands, shop_bands
from decide.answers.shop_policy import usual_practice
from decide.answers.shop_quote import judged_curves
from decide.economics.case import REPAIR, vary_all
from decide.economics.weigh import weigh
from decide.errors import CaseError, OutOfRange
from decide.load.cases.case_file import complete
from decide.load.cases.ranges import ranges_of
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.tables.tables import data_dir, tables
from decide.shop.bands import Bands
from decide.shop.jobs import DECISIONS, Jobs
from decide.show.text.phrases import languages
from decide.show.text.shop import (
    acceptance_text,
    bands_text,
    past_text,
    rule_rows,
    rule_text,
    threshold,
    what_if_rows,
)
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

DEMO = data_dir() / "demo"
WORDS = Words.for_place("US")


@pytest.fixture(scope="module")
def demo() -> Jobs:
    book = open_book(DEMO / "jobs.csv", "jobs.csv")
    return read_jobs(book, guess_mapping(book, "US"))[0]


@pytest.fixture(scope="module")
def found(demo: Jobs) -> ShopBands:
    return shop_bands(demo, "US", usual_practice("US", tables(), spread=0.15), tables())


# the bands of a book


def test_every_limit_is_that_of_a_single_case(demo: Jobs, found: ShopBands) -> None:
    rng = np.random.default_rng(1)
    known = np.flatnonzero(np.isfinite(demo.quote) & np.isfinite(demo.age))
    for i in rng.choice(known, 12, replace=False):
        entries = {
            "appliance": {
                "class": demo.kinds[demo.kind[i]],
                "age": float(demo.age[i]),
                "fault": demo.faults[demo.fault[i]],
            },
            "repair": {"quote": float(demo.quote[i])},
        }
        limit = float(answer(entries).weighing.repair_limit)
        if not np.isfinite(limit):
            continue  # a caution rules the repair out: no row of the bands either
        score = demo.quote[i] / limit if limit > 0 else np.inf
        near = 0.02 * score  # limits are drawn at a few ages, and between them in proportion
        assert np.min(np.abs(found.score - score)) < near if np.isfinite(score) else np.any(np.isinf(found.score))


def test_bands_on_the_limit_regret_less_than_every_rule_of_thumb(found: ShopBands) -> None:
    regret = {rule.name: rule.regret for rule in found.rules}
    assert regret["best"] <= regret["limit_bands"] <= regret["limit_alone"]
    assert regret["limit_bands"] < min(regret[name] for name in ("half", "half_until", "age_times_quote"))


def test_dearer_attention_narrows_what_is_shown_both_ways(demo: Jobs) -> None:
    shown = []
    for attention in (5.0, 25.0, 500.0):
        bands = shop_bands(demo, "US", usual_practice("US", tables(), spread=0.15, attention=attention), tables())
        shown.append(np.mean(bands.bands.words(bands.score) == 1))
    assert shown[0] > shown[1] > shown[2]
    assert shown[2] < 0.02


def test_the_spread_comes_from_the_ranges_of_the_figures_unless_it_is_given(demo: Jobs, found: ShopBands) -> None:
    assert found.spread == pytest.approx(0.15)
    own = shop_bands(demo, "US", usual_practice("US", tables()), tables())
    assert 0.05 < own.spread < 0.6


def test_the_spread_of_a_class_is_that_of_drawn_customers(demo: Jobs) -> None:
    one = demo.of_kind("dishwasher")
    found = shop_bands(one, "US", usual_practice("US", tables()), tables())
    filled = complete({"appliance": {"class": "dishwasher", "age": 8}})
    known = [r for r in ranges_of(filled) if not any(p.rpartition(".")[2] in NOBODY_KNOWS for p in r.paths)]
    assert 0 < len(known) < len(ranges_of(filled))
    rng, draws = np.random.default_rng(1), 20_000
    drawn: dict[str, np.ndarray] = {}
    for each in known:
        share = rng.random(draws)
        drawn.update({path: np.asarray(column) for path, column in each.at(share).items()})
    price = float(filled.case.options[1].price)
    spread = np.std(weigh(vary_all(filled.case, drawn)).repair_limit) / price
    assert found.spread == pytest.approx(spread, rel=0.08)


def test_past_quotes_above_the_limit_are_the_rows_with_a_score_above_one(found: ShopBands) -> None:
    assert found.past.above == int(np.count_nonzero(found.score > 1))
    assert found.past.quotes == found.jobs
    assert 0 < found.past.accepted_above <= found.past.above


def test_a_book_with_few_answers_is_told_as_a_range_of_judged_curves(demo: Jobs) -> None:
    few = shop_bands(demo.take(slice(0, 25)), "US", usual_practice("US", tables(), spread=0.15), tables())
    assert few.fit is None
    assert few.curves == judged_curves(tables())
    assert "20" in few.why_judged
    text = acceptance_text(WORDS, few)
    assert f"it has {few.answers.rarer} of the rarer answer, where 20 are needed" in text
    assert "our judgement: 30% to 70%" in text
    for change in few.what_ifs.values():
        low, high = change.change("jobs_won")
        assert low <= high
    low, high = few.what_ifs["labour"].change("jobs_won")
    assert low < high < 0


def test_a_fitted_book_gives_one_figure_and_says_how_sure_it_is(found: ShopBands) -> None:
    assert found.fit is not None
    assert found.curves[0].by_excess < 0
    assert found.fit.records == len(found.answers.accepted)
    for change in found.what_ifs.values():
        assert change.change("margin")[0] == change.change("margin")[1]


def test_a_book_that_tells_no_labour_leaves_that_change_out(demo: Jobs) -> None:
    columns = {name: getattr(demo, name) for name in demo.__dataclass_fields__}
    columns["labour"] = np.full(len(demo), np.nan)
    lost_to_follow_up = shop_bands(Jobs(**columns), "US", usual_practice("US", tables(), spread=0.15), tables())
    assert "labour" not in lost_to_follow_up.what_ifs
    assert set(lost_to_follow_up.what_ifs) == {"markup", "credited", "waived", "warranty", "together"}


def test_a_book_without_a_single_quote_is_refused(demo: Jobs) -> None:
    columns = {name: getattr(demo, name) for name in demo.__dataclass_fields__}
    columns |= {"quote": np.full(len(demo), np.nan), "decision": np.full(len(demo), DECISIONS.index("open"))}
    with pytest.raises(CaseError, match="quote"):
        shop_bands(Jobs(**columns), "US", usual_practice("US", tables()), tables())
    with pytest.raises(OutOfRange, match="attention"):
        usual_practice("US", tables(), attention=float("nan"))


# said and drawn


SHAPES = [
    (0.6, 1.1, "repair up to 60% .* replace above 110%, and show both between"),
    (0.6, 0.6, "repair up to 60% .* and replace above. In no case"),
    (0.6, math.inf, "repair up to 60% .* and show both above"),
    (-math.inf, 1.1, "Show both up to 110% .* and say replace above"),
    (-math.inf, math.inf, "Show both throughout"),
    (-math.inf, -math.inf, "Say replace throughout"),
    (math.inf, math.inf, "Say repair throughout"),
]


@pytest.mark.parametrize(("lower", "higher", "text"), SHAPES)
@pytest.mark.parametrize("language", languages())
def test_bands_without_ends_are_said_in_a_sentence(
    found: ShopBands, lower: float, higher: float, text: str, language: str
) -> None:
    shown, words = dataclasses.replace(found, bands=Bands(lower, higher)), Words.of(language)
    sentence = bands_text(words, shown)[1]
    assert words.say("bands.never") not in re.findall(r"\w+", sentence)
    assert language != "en" or re.search(text, sentence)
    rule = Rule(name="age_times_quote", regret=0.0, figure=lower)
    assert words.say("bands.never") not in rule_text(words, rule)


@pytest.mark.slow
def test_a_book_of_one_job_gets_sentences_that_hold_of_it(demo: Jobs) -> None:
    seen = set()
    for at in range(240):
        try:
            single = shop_bands(
                demo.take(slice(at, at + 1)), "US", usual_practice("US", tables(), spread=0.15), tables()
            )
        except CaseError:  # it has no quote
            continue
        (word,) = single.bands.says
        assert single.bands.words(single.score).tolist() == [("repair", "both", "replace").index(word)]
        read, sentence, _ = bands_text(WORDS, single)
        assert read == "1 job with a quote, an age and a limit, of 1 that could be read."
        assert sentence.startswith(("Say", "Show"))
        assert "throughout" in sentence
        assert past_text(WORDS, single)[0].startswith("Of 1 quote, ")
        output = [*rule_rows(WORDS, single), *past_text(WORDS, single)]
        assert not re.search(r"never|always|\b1 (jobs|quotes)", str(output))
        seen.add(word)
    assert seen == {"repair", "both", "replace"}


def test_rows_say_the_figures_of_the_bands(found: ShopBands) -> None:
    for row, rule in zip(rule_rows(WORDS, found), found.rules, strict=True):
        assert row[1] == WORDS.money(rule.regret)
    assert what_if_rows(WORDS, found)[0][0].startswith("Labour 10%")
    assert threshold(WORDS, float("-inf")) == "never"
    assert threshold(WORDS, 0.581) == "58%"


# the commands


QUOTE = ("--parts", "120", "--markup", "0.4", "--hours", "1.5", "--rate", "95", "--trip", "40", "--overhead", "0.1")


def test_the_quote_command_adds_up_and_flags_what_is_above_the_limit() -> None:
    found = json_of("quote", str(DEMO / "refrigerator.toml"), *QUOTE, "--tax", "0.07", "--margin", "0.2")
    # 120 + 142.50 + 40 at cost, a tenth on top, a fifth of the price kept: 332.75 / 0.8, and 7 % tax
    assert found["quote"] == pytest.approx(332.75 / 0.8 * 1.07)
    assert found["margin"] == pytest.approx(0.2)
    assert found["flagged"] == (found["quote"] > found["repair_limit"])
    assert found["above_limit"] == pytest.approx(max(found["quote"] - found["repair_limit"], 0))


def test_a_limit_is_no_price_list_and_a_fee_that_is_not_given_is_said_to_be_left_out() -> None:
    bare = ["quote", str(DEMO / "refrigerator.toml"), "--parts", "10", "--hours", "0.1", "--rate", "95"]
    without, charged = (" ".join(run(*bare, *more).stdout.split()) for more in ([], ["--fee", "60"]))
    for said in (without, charged):
        assert "is within what this repair is worth" in said
        assert "That is a ceiling, not a price list." in said
    assert "No fee for the visit is counted." in without
    assert "No fee for the visit is counted." not in charged


def test_a_fee_above_the_quote_makes_accepting_cheaper_and_says_so() -> None:
    """It was told as "accepting cost -$7.50 more than declining"."""
    given = ["--parts", "10", "--hours", "0.1", "--rate", "95", "--fee", "60", "--fee-terms", "if-declined"]
    told = " ".join(run("quote", str(DEMO / "refrigerator.toml"), *given).stdout.split())
    assert re.search(r"make accepting cost \$\d+\.\d\d less than declining", told)


def test_what_the_shop_keeps_is_said_only_where_its_cost_is_told() -> None:
    bare = ["quote", str(DEMO / "refrigerator.toml"), "--parts", "420", "--hours", "2", "--rate", "95"]
    lost_to_follow_up, output = (run(*bare, *more).stdout for more in ([], ["--hour-cost", "40"]))
    assert "keep" not in lost_to_follow_up
    assert "it keeps" in output
    assert "it would keep" in output
    assert json_of(*bare)["margin"] is None


def test_the_limit_of_the_quote_command_is_that_of_weighing_the_case_with_that_quote() -> None:
    path = DEMO / "refrigerator.toml"
    found = json_of("quote", str(path), *QUOTE, "--fee", "90", "--fee-terms", "credited")
    plain = json_of("quote", str(path), *QUOTE, "--fee", "90")
    assert found["repair_limit"] == pytest.approx(
        plain["repair_limit"]
    )  # the shop's own terms make no repair worth more
    assert found["limit_with_fee_terms"] - plain["repair_limit"] == pytest.approx(90)
    assert found["incremental_price"] == pytest.approx(plain["incremental_price"] - 90)
    weighed = json_of("weigh", str(path), "--set", f"repair.quote={plain['quote']:.2f}")
    assert plain["repair_limit"] == pytest.approx(weighed["repair_limit"], abs=0.01)


def test_a_fee_that_the_shop_invents_does_not_make_a_quote_worth_paying() -> None:
    dear = (str(DEMO / "refrigerator.toml"), "--parts", "200", "--hours", "2.5", "--markup", "0.5", "--rate", "95")
    plain, due = json_of("quote", *dear), json_of("quote", *dear, "--fee", "900", "--fee-terms", "if-declined")
    assert (plain["flagged"], due["flagged"]) == (True, True)
    assert due["repair_limit"] == pytest.approx(plain["repair_limit"])
    assert (plain["fee_turns_the_verdict"], due["fee_turns_the_verdict"]) == (False, True)


def test_the_fee_is_told_each_way_and_what_is_credited_wins_customers() -> None:
    fees = json_of("quote", str(DEMO / "refrigerator.toml"), *QUOTE, "--fee", "90")["fees"]
    assert [fees[way]["incremental_price"] for way in fees] == pytest.approx([350.5, 350.5, 260.5, 260.5])
    assert fees["charged"]["chance"] == fees["waived"]["chance"]
    assert fees["credited"]["chance"][0] > fees["charged"]["chance"][0]
    # 17.75 is kept of the quote: lines 350.50, cost 332.75; each curve by itself lies between the ends
    low, high = fees["charged"]["chance"]
    assert fees["charged"]["income"] == pytest.approx([90 + 17.75 * low, 90 + 17.75 * high])
    assert fees["waived"]["income"] == pytest.approx([17.75 * low, 17.75 * high])
    # paid back by those who accept, or asked of those who do not: the same for the shop
    assert fees["credited"]["income"] == pytest.approx(fees["if-declined"]["income"])
    assert json_of("quote", str(DEMO / "refrigerator.toml"), *QUOTE)["fees"] == {}


def test_the_quote_command_takes_flat_rates_and_tax_on_parts_alone() -> None:
    path = str(DEMO / "refrigerator.toml")
    found = json_of(
        "quote", path, "--parts", "100", "--markup", "0.5", "--flat", "180", "--tax", "0.06", "--tax-labour", "0"
    )
    assert (found["parts"], found["labour"]) == (150, 180)
    assert found["tax"] == pytest.approx(9.0)


def test_commands_speak_and_refuse_in_words(tmp_path: Path) -> None:
    path = str(DEMO / "refrigerator.toml")
    output = run("quote", path, *QUOTE, "--fee", "90", "--fee-terms", "if-declined")
    assert output.exit_code == 0
    assert re.search(r"expect \d+ callbacks in 100 such repairs", output.stdout)
    for given in (
        ["quote", path, *QUOTE, "--fee-terms", "perhaps"],
        ["quote", path, *QUOTE, "--margin", "2"],
        ["quote", path, "--parts", "nan"],
        ["bands", str(tmp_path / "none.csv")],
        ["bands", str(DEMO / "jobs.csv"), "--attention", "-1"],
        ["bands", str(DEMO / "jobs.csv"), "--place", "Nowhere"],
    ):
        refused = run(*given)
        assert refused.exit_code == 2, given
        assert refused.stderr.strip()
        assert "Traceback" not in refused.stderr


def test_the_bands_command_says_what_its_data_say() -> None:
    data = json_of("bands", str(DEMO / "jobs.csv"), "--spread", "0.15")
    output = run("bands", str(DEMO / "jobs.csv"), "--spread", "0.15").stdout
    assert threshold(WORDS, data["bands_on_quote_over_limit"]["repair_up_to"]) in output
    for rule in data["rules"]:
        assert WORDS.money(rule["regret"]) in output
    assert str(data["past"]["above"]) in output
    assert data["acceptance"]["fitted"] is True


def test_a_repair_that_a_caution_rules_out_is_never_quoted() -> None:
    from decide.answers.shop_quote import quote_for
    from decide.shop.quoting import Charges, SalesTax, Work
    from decide.show.text.shop import verdict_text

    entries = {"appliance": {"class": "water_heater_gas", "age": 9, "fault": "tank_leak"}}
    case = complete(entries)
    assert any(stop.action == REPAIR for stop in case.case.prohibitions)
    work, charges = Work(parts=100.0, hours=1.0), Charges(markup=0.5, rate=90.0)
    found = quote_for(case, work, charges, SalesTax(), 80.0, "charged", None, None)
    assert bool(found.held.flagged)
    assert "cannot be repaired" in verdict_text(WORDS, found)
    assert found.fees == ()


def test_bands_without_ends_are_null_as_data() -> None:
    from decide.show.terminal.shop import _bands_data

    open_ended = {"repair_up_to": None, "replace_above": None}
    assert _bands_data(Bands(float("-inf"), float("inf"))) == {"says": ["both"], **open_ended}
    assert _bands_data(Bands(float("-inf"), float("-inf"))) == {"says": ["replace"], **open_ended}
