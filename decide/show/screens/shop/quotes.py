"""Quotes in the shop: one is built for the case at the door and held to its limit; a job book then tells how to quote.

The case is the one at the door: the same fields under the same names, so nothing is typed twice.
"""

import math

import streamlit as st

from ....answers.shop_quote import ShopQuote, quote_of_shop
from ....economics.case import Case
from ....errors import CaseError, MendpointError
from ....load.cases.case_file import complete, set_entry
from ....load.cases.filled import Filled
from ....load.tables.tables import Tables, tables
from ....load.tables.typed import as_typed
from ...text.certainty import Line
from ...text.phrases import rounded
from ...text.shop import fee_rows, shop_text, verdict_text
from ...text.words import Words
from ..ask import choose_place, fields_wanted, literal, number, say_error
from ..asked import errors_counted
from ..html import rows
from ..state.entry import Question, question_of, settled
from ..state.session import fields, folder_of, is_empty
from ..state.visits import keep
from ..widgets import choice, one_of, say_text, show
from . import rates
from .policy import say_policy, table
from .rates import Entered, key_of


def say_quotes(words: Words, reference: Tables) -> None:
    """Draw the part: the case and the job, the quote held to the limit, and what a book says of past ones."""
    state = st.session_state
    for name, value in settled({**fields(), "group": None if state["kind"] else state["group"]}, reference).items():
        state[name] = value
    question = question_of(fields(), state["kept"], words)
    found = _case_of(question, reference)
    if isinstance(found, CaseError):
        question = question.with_errors(found, words)
    keep(words, question, in_address=is_empty())
    rates.begin_rates()
    rates.follow_visit()
    entered = rates.entered_here(words, (*rates.OF_THE_JOB, *rates.RATES))
    asked, result = st.columns([5, 7], gap="medium")
    with asked:
        _ask_case(words, reference, question)
        labels = {each: words.say(f"shop_quotes.pricing.{each}") for each in rates.CHOSEN["pricing"]}
        choice(words.say("shop_quotes.labour"), labels, key_of("pricing"))
        labour = "flat" if _is_flat() else "hours"
        rates.ask_pair(words, entered, ("parts", ""), (labour, ""))
        if _is_flat():
            rates.ask_number(words, entered, "hours")
            say_text("small", words.say("shop_quotes.hours_flat"))
        _ask_rates(words, entered, found.case if isinstance(found, Filled) else None)
    with result:
        st.header(words.say("shop_quotes.head"), anchor="built")
        _tell(words, question, found, entered)
    st.divider()
    say_policy(words, reference)
    rates.keep_rates()


def _case_of(question: Question, reference: Tables) -> Filled | MendpointError | None:
    """The case at the door, what of it cannot be used, or nothing while something is still to be entered."""
    there = question.entries.get("appliance", {})
    if question.errors or not all(there.get(name) is not None for name in ("class", "age", "fault")):
        return None
    try:
        with folder_of(st.session_state["files"]) as folder:
            return complete(question.entries, reference, folder)
    except MendpointError as error:
        return error


# what is asked


def _ask_case(words: Words, reference: Tables, question: Question) -> None:
    state = st.session_state
    sold = {kind.kind: words.kind(kind.kind) for kind in reference.classes(words.region)}
    one_of(words.say("shop_quotes.kind"), sold, "kind", words.say("door.fault_wanted"))
    if state["kind"]:
        faults = {fault.fault: words.fault(fault.fault) for fault in reference.faults(state["kind"])}
        one_of(words.say("door.fault"), faults, "fault", words.say("door.fault_wanted"))
    age, place = st.columns(2, wrap=False)
    with age:
        number(words, question, "age", words.say("door.age"), words.say("door.age_example"))
    with place:
        choose_place(words, reference)


def _ask_rates(words: Words, entered: Entered, case: Case | None) -> None:
    """What changes from shop to shop, and not from job to job; it is typed once."""
    if any(name in entered.errors for name in rates.RATES):
        st.session_state[key_of("rates_open")] = True
    usual = tables().usual("labour_rate", words.region).value
    rate = words.quantity(entered.values.get("rate", usual), "money/hour")
    trip = words.money(entered.values.get("trip", 0.0))
    days = "" if case is None else words.quantity(float(case.repair.repair_warranty), "day")
    nothing, none = words.percent(0), words.money(0)
    with st.expander(words.say("shop_quotes.rates"), key=key_of("rates_open"), on_change="rerun"):
        say_text("small", words.say("shop_quotes.rates_note"))
        rates.ask_pair(words, entered, ("rate", words.quantity(usual, "money/hour")), ("markup", nothing))
        if "rate" not in entered.values:
            standing = words.status(tables().usual("labour_rate", words.region).status)
            say_text("small", words.say("shop_quotes.usual_rate", rate=rate, status=standing))
        rates.ask_pair(words, entered, ("trip", none), ("margin", words.say("shop_quotes.as_listed")))
        rates.ask_pair(words, entered, ("tax", nothing), ("tax_labour", words.percent(entered.values.get("tax", 0.0))))
        rates.ask_pair(words, entered, ("hour_cost", rate), ("way_cost", trip))
        rates.ask_pair(words, entered, ("overhead", nothing), ("days", days))
        rates.ask_number(words, entered, "fee", none)
        ways = {way: words.say(f"quoting.way.{way.replace('-', '_')}") for way in rates.CHOSEN["way"]}
        choice(words.say("quoting.fee"), ways, key_of("way"))


def _is_flat() -> bool:
    return bool(st.session_state[key_of("pricing")] == "flat")


# what is told


def _tell(words: Words, question: Question, case: Filled | MendpointError | None, entered: Entered) -> None:
    if isinstance(case, MendpointError):
        for index, error in enumerate(question.errors_elsewhere):
            say_error(words, error, f"shop_case_{index}")
        if not isinstance(case, CaseError):
            say_error(words, case, "shop_model")
            return
    count = len(question.errors) + len(entered.errors)
    if count or not isinstance(case, Filled):
        _say_waiting(words, count)
        return
    if not any(entered.values.get(name, 0.0) > 0 for name in ("parts", "flat" if _is_flat() else "hours", "trip")):
        with st.container(key="waiting"):
            say_text("name", words.say("shop_quotes.waiting"))
            say_text("sentence", words.say("shop_quotes.nothing_charged"))
        return
    try:
        typed = {**entered.values, "flat": entered.values.get("flat", 0.0)}
        if not _is_flat():
            del typed["flat"]
        found = quote_of_shop(case, typed, st.session_state[key_of("way")])
    except MendpointError as error:
        say_error(words, error, "shop_quote")
        return
    _say_quote(words, found, entered)


def _say_waiting(words: Words, errors: int) -> None:
    with st.container(key="waiting"):
        if errors:
            say_text("name", errors_counted(words, errors))
            say_text("small", words.say("door.all_kept"))
            return
        say_text("name", words.say("shop_quotes.waiting"))
        say_text("sentence", words.say("shop_quotes.waiting_why"))
        say_text("small", words.say("door.still", what=", ".join(fields_wanted(words, fields()))))


def _say_quote(words: Words, found: ShopQuote, entered: Entered) -> None:
    flagged = bool(found.held.flagged)
    with st.container(key="stop" if flagged else "answer"):
        say_text("verdict", words.say("shop_quotes.flagged" if flagged else "shop_quotes.fair"))
        say_text("headline", verdict_text(words, found))
        _say_sums(words, found)
        _offer(words, found, entered)
    st.subheader(words.say("quoting.lines"), anchor=False)
    amounts = {name: float(getattr(found.given, name)) for name in ("parts", "labour", "trip")}
    amounts |= {"tax": found.tax, "quote": float(found.held.quote)}
    lines = (Line(words.say(f"quoting.{name}"), words.money(each, cents=True)) for name, each in amounts.items())
    show(rows("facts", lines))
    say_text("sentence", *shop_text(words, found))
    if found.fees:
        st.subheader(words.say("quoting.fees"), anchor=False)
        heads = [words.say(f"quoting.{head}") for head in ("fee", "price", "chance", "income")]
        table(heads, fee_rows(words, found), words.say("quoting.fees"))
        say_text("small", words.say("shop_quotes.fees_note"))


def _say_sums(words: Words, found: ShopQuote) -> None:
    sums = {"limit": float(found.held.at_limit), "quoted": float(found.held.quote), "price": found.price}
    if found.price == float(found.held.quote):
        del sums["price"]
    lines = (
        Line(
            words.say(f"shop_quotes.sum.{name}"),
            words.money(amount, cents=bool(round(amount * 100) % 100)),
            name=name,
        )
        for name, amount in sums.items()
        if not math.isnan(amount)
    )
    show(rows("sums", lines))


def _offer(words: Words, found: ShopQuote, entered: Entered) -> None:
    """One tap takes the quote to the door; where it is flagged, the quote at the limit is offered first."""
    days, quote, lower = entered.values.get("days"), float(rounded(float(found.held.quote), 2)), within(found)
    with st.container(key="shop_offer", horizontal=True):
        if lower is not None:
            label = words.say("shop_quotes.use_limit", limit=words.money(lower, cents=True))
            st.button(literal(label), key="build_use_limit", on_click=_use, args=(lower, found, days), type="primary")
        st.button(
            words.say("shop_quotes.use"),
            key="build_use",
            on_click=_use,
            args=(quote, found, days),
            type="secondary" if found.held.flagged else "primary",
        )
    visit, used = st.session_state.get(key_of("used"), ("", None))
    if used is not None and visit == st.session_state["visit"] and used in (quote, lower):
        say_text("small", words.say("shop_quotes.used", quote=words.money(used, cents=True)))


def within(found: ShopQuote) -> float | None:
    """The dearest quote in whole cents that is not above the limit, where this one is; none where there is none."""
    at_limit = float(found.held.at_limit)
    return math.floor(at_limit * 100) / 100 if found.held.flagged and at_limit > 0 else None


def _use(amount: float, found: ShopQuote, days: float | None) -> None:
    """Take a quote to the door, with the terms of the fee where they move the decision, and the warranty in it."""
    state, terms = st.session_state, found.terms
    kept = state["kept"]
    if days is not None:
        state["repair_warranty"] = as_typed(days)
    if float(terms.steers) > 0:
        parts = {"amount": amount, "fee_credit": float(terms.credit), "fee_if_declined": float(terms.if_declined)}
        state.update({"kept": set_entry(kept, "repair.quote", parts), "quote": ""})
    else:
        state.update({"kept": kept, "quote": as_typed(amount)})
    state[key_of("used")] = (state["visit"], amount)
