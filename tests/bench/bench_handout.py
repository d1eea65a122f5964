"""How long the hand-out takes, beside a plain page of the same library in the same run: `pytest FILE -s`."""

import datetime
import tomllib

from bench_weigh import DEMO, best_of
from fpdf import FPDF

from decide.show.answer import answer
from decide.show.certainty import sure_of
from decide.show.handout import Shop, handout
from decide.show.words import Words


def plain_page() -> bytes:
    pdf = FPDF()
    pdf.add_page()
    pdf.set_font("Helvetica", size=12)
    pdf.cell(text="Is the repair worth it?")
    return bytes(pdf.output())


def test_the_hand_out_takes_less_than_a_second() -> None:
    found = answer(tomllib.loads(DEMO.read_text("utf-8")))
    words, sure = Words.for_place(found.case.household.place), sure_of(found.entered, found.ranges, 1024)
    day, shop = datetime.date(2026, 11, 25), Shop("Corner Repairs", "12 Mill Street")

    def page() -> bytes:
        return handout(words, found, on=day, shop=shop, sure=sure)

    page()
    ours, plain = best_of(5, page), best_of(5, plain_page)
    print(f"\nhand-out {ours * 1000:.0f} ms; plain page {plain * 1000:.1f} ms; {ours / plain:.0f} times")
    assert ours < 1.0
