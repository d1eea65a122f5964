"""How long the hand-out takes, beside a plain page of the same library in the same run: `pytest FILE -s`."""

import datetime
import time
import tomllib

import pytest
from bench_weigh import DEMO, best_of
from fpdf import FPDF

from decide.answers.answer import answer
from decide.show.pdf.handout import handout
from decide.show.pdf.logo import Shop
from decide.show.pdf.sheet import sheet_of
from decide.show.text.words import Words


def plain_page() -> bytes:
    pdf = FPDF()
    pdf.add_page()
    pdf.set_font("Helvetica", size=12)
    pdf.cell(text="Is the repair worth it?")
    return bytes(pdf.output())


def test_the_hand_out_takes_less_than_a_fifth_of_a_second() -> None:
    found = answer(tomllib.loads(DEMO.read_text("utf-8")))
    words = Words.for_place(found.case.household.place)
    day, shop = datetime.date(2026, 11, 25), Shop("Corner Repairs", "12 Mill Street", phone="555-0142")

    def page() -> bytes:
        return handout(words, found, sheet_of(words, found, on=day, shop=shop))

    page()
    ours, plain = best_of(5, page), best_of(5, plain_page)
    print(f"\nhand-out {ours * 1000:.0f} ms; plain page {plain * 1000:.1f} ms; {ours / plain:.0f} times")
    assert ours < 0.2


@pytest.mark.parametrize("years", [None, 3.0, 8.0, 20.0])
def test_with_its_answer_and_its_draws_it_takes_less_than_a_second_over_a_study_period_too(
    years: float | None,
) -> None:
    entries = {"appliance": {"class": "clothes_dryer_gas", "age": 9}, "repair": {"quote": 217}}
    entries |= {} if years is None else {"household": {"study_period": years}}
    parts: list[float] = []
    spent: list[float] = []

    def whole() -> bytes:
        begun = time.process_time()  # what an idle machine takes, whoever else is at work on this one
        found = answer(entries)
        assert found.confidence.draws == 512
        parts.append(time.process_time() - begun)
        words = Words.for_place("US")
        page = handout(words, found, sheet_of(words, found, on=datetime.date(2026, 11, 25)))
        spent.append(time.process_time() - begun)
        return page

    for _ in range(4):
        whole()
    ours, plain = min(spent), best_of(5, plain_page)
    print(f"\n{years} years: {ours * 1000:.0f} ms, {min(parts) * 1000:.0f} of them before the page; ", end="")
    print(f"plain page {plain * 1000:.1f} ms; {ours / plain:.0f} times")
    assert ours < 1.0
