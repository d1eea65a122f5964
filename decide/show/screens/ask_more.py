"""The folded part of the page at the door: what its label, a meter, a bill or a used unit would tell."""

import datetime
from functools import partial
from typing import Final

import streamlit as st

from ...answers.answer import Answer
from ...economics.household import GASES, PROPANE
from ...errors import OneOf
from ...load.cases.label_entry import CATEGORIES
from ...load.cases.parts.entries import AT_END, PAYS
from ...load.tables.tables import ENERGY, GRADES, ApplianceClass, Tables
from ..text.freshness import old_price, stands_for
from ..text.words import Words
from . import ask
from .state import input_methods as by
from .state.entry import Question
from .state.fields import CHOSEN, OFFERS, TYPED
from .state.input_methods import FieldGroup, parts_of
from .state.session import fields, hold_file
from .widgets import choice, one_of, say_text

LARGEST_LOG: Final = 10
LARGEST_TARIFF: Final = 2
"""Sizes of files that are taken. [MB]"""


def ask_more(words: Words, reference: Tables, question: Question, answer: Answer | None) -> None:
    """Draw the fields that only some can fill; what is left empty comes from the tables."""
    state = st.session_state
    say_text("small", words.say("door.more_intro"))
    kind = reference.kind(state["kind"]) if state["kind"] else None
    ask.choose_remaining_life_factor(words, reference, question)
    ask.ask_earlier_repairs(words, question)
    if state["kind"] and state["fault"]:
        ask.choose_fault(words, state["kind"], "second_fault")
    ask.choose_place(words, reference)
    if kind is not None:
        _fuel(words, reference, question, "mean_life", "mean_life")
        ask.ask_price(words, reference, question)
        with st.container():
            ask_use(words, reference, question, kind)
            for fuel in kind.fuels:
                ask.say_worked_out(words, answer, f"appliance.{fuel}")
        say_text("name", words.say("door.bought"))
        ask_grade(words, reference, kind)
        ask_new_use(words, reference, question, kind)
        _ask_offers(words, question, kind)
    say_text("name", words.say("door.used"))
    used = {"used_price": ask.in_money(words, "door.used_price"), "used_age": words.say("door.used_age")}
    ask.numbers(words, question, used)
    ask.still_needed(words, question, "replace.2", lambda key: words.say(f"wanted.{key}"))
    say_text("name", words.say("door.second_repair"))
    first, *more = by.OTHER_REPAIR
    ask.numbers(
        words,
        question,
        {first: ask.in_money(words, "door.other_quote"), "repair_warranty": words.say("door.repair_warranty")},
    )
    ask.numbers(words, question, {key: words.say(f"door.{key}") for key in more})
    ask.still_needed(words, question, "second_repair", lambda key: words.say(f"wanted.{key}"))
    say_text("name", words.say("door.built"))
    ask.numbers(words, question, {"parts": ask.in_money(words, "door.parts"), "labour_hours": words.say("door.hours")})
    rate = reference.usual("labour_rate", words.region)
    ask.from_table(words, question, "labour_rate", ask.in_money(words, "door.rate"), rate)
    say_text("name", words.say("door.paying"))
    ask.numbers(words, question, {fee: ask.in_money(words, f"door.{fee}") for fee in ("fee_credit", "fee_if_declined")})
    ask.number(words, question, "warranty_left", words.say("door.warranty_left"))
    ask_means(words, question)
    say_text("name", words.say("door.stay"))
    ask_stay(words, question)
    ask.number(words, question, "annual_loss_of_use", ask.labelled(words, "annual_loss_of_use"))
    say_text("small", words.help(TYPED["annual_loss_of_use"]))
    for fuel in ENERGY:
        if kind is not None and fuel in kind.fuels:
            ask_energy_price(words, reference, question, fuel)
            ask.say_worked_out(words, answer, f"household.{fuel}_price")
    st.text_input(words.say("door.title_field"), key="title", autocomplete="off", persist_state="session")


def ask_means(words: Words, question: Question) -> None:
    """Draw how a purchase would be paid, and what can be paid today."""
    choice(words.say("door.pays"), {way: words.say(f"pays.{way}") for way in PAYS}, "pays", required=False)
    ask.number(words, question, "most_today", ask.in_money(words, "door.most_today"))


def ask_stay(words: Words, question: Question) -> None:
    """Draw for how long one is needed, and what becomes of it then."""
    ask.number(words, question, "study_period", words.say("home.years"), words.say("home.years_example"))
    if st.session_state["study_period"]:
        ends = {end: words.say(f"at_end.{end.replace(' ', '_')}") for end in AT_END}
        choice(words.say("door.at_end"), ends, "at_end", required=False)


def ask_new_use(words: Words, reference: Tables, question: Question, kind: ApplianceClass) -> None:
    """Draw what a new one uses."""
    for fuel in kind.fuels:
        _fuel(words, reference, question, f"new_{fuel}", f"{fuel}_new")


def ask_grade(words: Words, reference: Tables, kind: ApplianceClass) -> None:
    """Draw the grades of a new one with their prices, unless a price is typed."""
    prices = {grade: reference.figure(figure, kind.kind, words.region) for grade, figure in GRADES.items()}
    if not st.session_state["price"]:
        order = sorted((each.value, grade) for grade, each in prices.items() if each is not None)
        money = {grade: words.money(price) for price, grade in order}
        labels = {grade: words.say(f"grade.{grade}", price=price) for grade, price in money.items()}
        choice(words.say("grade.ask"), labels, "grade")


def _ask_offers(words: Words, question: Question, kind: ApplianceClass) -> None:
    """Draw what else is offered: two more new units, each with its price and what makes it better."""
    for offer in OFFERS:
        say_text("name", words.say(f"door.{offer}"))
        labels = ask.in_money(words, "door.used_price"), words.say("door.offer_warranty")
        ask.numbers(words, question, dict(zip((f"{offer}_price", f"{offer}_warranty"), labels, strict=True)))
        if "electricity" in kind.fuels and st.session_state[f"{offer}_price"]:
            ask.number(words, question, f"{offer}_electricity", words.say("door.offer_electricity"))


def _fuel(words: Words, reference: Tables, question: Question, key: str, quantity: str) -> None:
    figure = reference.figure(quantity, st.session_state["kind"], words.region)
    ask.from_table(words, question, key, ask.labelled(words, key), figure)


# what the unit there uses


def ask_use(words: Words, reference: Tables, question: Question, kind: ApplianceClass) -> None:
    """Draw the ways to say what the unit there uses, and the fields of the one that is chosen."""
    state = st.session_state
    ways = by.ways_of(kind, words.region)
    choice(words.say("use.ask"), {way: words.say(f"use.{way}") for way in ways}, "use_way")
    way = state["use_way"]
    if way == by.USUAL:
        say_text("small", words.say("use.usual_says"))
        for asked in ("people", "cycles"):
            if reference.figure("people_share" if asked == "people" else asked, kind.kind, words.region):
                _fuel(words, reference, question, asked, asked)
    elif way == by.YEAR:
        _fuel(words, reference, question, "electricity", "electricity_installed")
    elif way == by.LABEL:
        _ask_label(words, question, kind)
    elif way == by.METER:
        choice(words.say("use.meter_way"), {way: words.say(f"use.{way}") for way in (by.READINGS, by.LOG)}, "meter_way")
        part = _part(words, "appliance.meter")
        for key in part.fields:
            if key == "log":
                _file(words, question, key, ["csv", "txt"], LARGEST_LOG)
            elif key in CHOSEN:
                _ask_which(words, question, key)
            else:
                ask.number(words, question, key, ask.labelled(words, key))
        ask.say_errors(words, question, "meter_way")
        ask.still_needed(words, question, part.table, partial(_named, words))
    for fuel in kind.fuels:
        if fuel != "electricity":
            _fuel(words, reference, question, fuel, f"{fuel}_installed")


def _ask_which(words: Words, question: Question, key: str) -> None:
    """Draw what the log leaves open, its column or its unit, as buttons; what was chosen can be taken back."""
    open_ones = [error.choices for error in question.errors if isinstance(error, OneOf) and error.field == CHOSEN[key]]
    chosen = st.session_state[key]
    listed = open_ones[0] if open_ones else (chosen,) if chosen else ()
    if listed:
        choice(words.say(f"use.which_{key}"), {each: each for each in listed}, key, required=False)


def _ask_label(words: Words, question: Question, kind: ApplianceClass) -> None:
    state, path = st.session_state, "appliance.label"
    says = list(by.sayings_of(kind, words.region))
    if state["label_says"] not in says:
        says.append(state["label_says"])
    choice(words.say("use.says"), {name: words.label(f"{path}.{name}") for name in says}, "label_says")
    part = _part(words, path)
    for key in part.fields:
        if key == "label_class":
            _ask_letter(words, kind)
        elif key == "label_scale":
            names = [scale.name for scale in by.scales_borne(fields(), kind)]
            scales = {name: words.say("use.scale", year=name.rpartition("-")[2]) for name in names}
            one_of(words.label(CHOSEN[key]), scales, key, words.say("use.which"))
        elif key == "label_category":
            named = {name: words.say(f"category.{name}") for name in CATEGORIES}
            one_of(words.label(CHOSEN[key]), named, key, words.say("use.which"))
        else:
            ask.number(words, question, key, ask.labelled(words, key))
    ask.say_errors(words, question, "label_says")
    ask.still_needed(words, question, path, partial(_named, words))


def _ask_letter(words: Words, kind: ApplianceClass) -> None:
    """Draw the letters of the labels that were borne in the year that is typed; none before it is."""
    scales = by.scales_borne({**fields(), "label_class": None}, kind)
    letters = dict.fromkeys(letter for scale in scales for letter in scale.scale.letters)
    if letters:
        named = {each: each for each in letters}
        one_of(words.label(CHOSEN["label_class"]), named, "label_class", words.say("use.which"))


def _part(words: Words, table: str) -> FieldGroup:
    return next(part for part in parts_of(fields(), words.region) if part.table == table)


def _named(words: Words, key: str) -> str:
    """Name a field that is still needed, in the middle of a sentence."""
    if key in by.FILED:
        return words.say(f"wanted.{key}")
    label = words.label({**TYPED, **CHOSEN}[key])
    return label[0].lower() + label[1:]


# what energy costs


def ask_energy_price(words: Words, reference: Tables, question: Question, fuel: str) -> None:
    """Draw the ways to say what a fuel costs: that of the place, one price, or a tariff in steps or by time of day."""
    state, key = st.session_state, f"{fuel}_priced"
    if fuel == "gas":
        choice(words.say("priced.gas_kind"), {gas: words.say(f"priced.{gas.split()[0]}") for gas in GASES}, "gas_kind")
    sold = PROPANE if fuel == "gas" and words.gas == PROPANE else fuel
    price = reference.energy_prices.get((state["place"], sold), reference.energy_prices.get((words.region, sold)))
    all_ways = (by.PLACE, by.OWN_PRICE, *(by.STEPS, by.DAY_NIGHT)[: 2 * (fuel == "electricity")], by.TARIFF)
    ways = {way: words.say(f"priced.{way}") for way in all_ways if price or way != by.PLACE}
    choice(words.label(f"household.{fuel}_price"), ways, key)
    if state[key] == by.PLACE and price:
        own = (state["place"], sold) in reference.energy_prices
        found = (
            "" if own else stands_for(words, state["place"]),
            old_price(words, "old", price.price_year, datetime.date.today().year),
        )
        say_text("small", *filter(None, found))
    if state[key] == by.OWN_PRICE:
        example = ask.usual_of(words, price.value, price.unit, f"household.{fuel}_price") if price else ""
        ask.number(words, question, f"{fuel}_price", ask.labelled(words, f"{fuel}_price"), example)
    elif state[key] != by.PLACE:
        _ask_bill(words, question, fuel, state[key])


def _ask_bill(words: Words, question: Question, fuel: str, way: str) -> None:
    """Draw the fields of a bill: steps, day and night, or a file; and what else the home uses, where that counts."""
    part, symbol = _part(words, f"household.{fuel}_tariff"), words.unit("money")
    if way == by.TARIFF and f"{fuel}_tariff" in part.fields:
        _file(words, question, f"{fuel}_tariff", ["toml", "json"], LARGEST_TARIFF)
    if way == by.STEPS:
        for n in "123":
            names = [name for name in (f"step{n}_upto", f"step{n}_price") if name in TYPED]
            ask.numbers(words, question, {name: words.say(f"priced.{name[6:]}", n=n, symbol=symbol) for name in names})
    if way == by.DAY_NIGHT:
        for pair in (part.needed[:2], part.needed[2:]):
            ask.numbers(words, question, {name: words.say(f"priced.{name}", symbol=symbol) for name in pair})
        say_text("small", words.say("priced.evenly"))
    else:
        if by.INTERVALS in part.fields:
            _file(words, question, by.INTERVALS, ["csv", "txt", "xml"], LARGEST_LOG)
            for open_one in ("interval_column", "interval_unit"):
                _ask_which(words, question, open_one)
        use = words.say(f"priced.{fuel}_use", unit=words.unit("kWh", part.table + ".base_use"))
        ask.number(words, question, f"{fuel}_base_use", use)
    ask.say_errors(words, question, f"{fuel}_priced")
    ask.still_needed(words, question, part.table, lambda name: words.say(f"wanted.{name}"))


# files


def _file(words: Words, question: Question, key: str, endings: list[str], largest: int) -> None:
    """Draw a field for a file; it is held in memory while the page is open, and written nowhere."""
    state = st.session_state
    name = f"{key}_{state['uploads']}"
    label = words.say(f"file.{key}")
    st.file_uploader(label, type=endings, key=name, on_change=hold_file, args=(key, name), max_upload_size=largest)
    say_text("small", words.say(f"file.{key}_says"))
    if key in state["files"] and state.get(name) is None:
        say_text("sentence", words.say("file.held", name=state["files"][key][0]))
    ask.say_errors(words, question, key)
