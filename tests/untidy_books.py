"""Invented books of jobs, as untidy as shops' exports are: steered by a seed, with what they stand for beside them."""

import csv
import io
from dataclasses import dataclass

import numpy as np

FIRST_DAY = np.datetime64("2019-01-02")
APPLIANCES = {
    "refrigerator": (
        ["Refrigerator", "Fridge", "Refer", "SxS fridge"],
        [("Compressor", 700), ("Icemaker", 260), ("Def heater", 240), ("not cooling", 350)],
    ),
    "clothes_washer": (
        ["Washer", "Front load washer", "Washing machine"],
        [("Drain pump", 230), ("Bearings", 420), ("not draining", 220), ("leaking", 210)],
    ),
    "dishwasher": (
        ["Dishwasher", "DW", "Dishwaser 24in"],
        [("Drain pump", 230), ("no heat", 250), ("leaking", 210), ("control board", 330)],
    ),
    "clothes_dryer_electric": (
        ["Electric dryer", "Dryer - electric"], [("no heat", 210), ("Belt", 190), ("noisy", 220)],
    ),
    "clothes_dryer_gas": (["Gas dryer"], [("no heat", 230), ("Belt", 190), ("Igniter", 240)]),
    "range_electric": (
        ["Electric range", "Range elec"], [("Oven not heating", 240), ("burner element", 210), ("thermostat", 260)],
    ),
    "oven_electric": (["Oven"], [("Bake element", 240), ("Door lock", 230)]),
}  # fmt: skip
ANSWERS = {
    "classes": {
        "Refer": "refrigerator", "SxS fridge": "refrigerator", "Dishwaser 24in": "dishwasher",
        "Front load washer": "clothes_washer", "Dryer - electric": "clothes_dryer_electric", "Oven": "oven_electric",
        "Range elec": "range_electric",
    },
    "decisions": {
        "Estimate only - pending": "open", "Done/paid": "repaired", "Cust will think": "open", "DNR": "declined",
        "Sold new one": "replaced",
    },
}  # fmt: skip
"""What an owner answers when asked what the words mean."""

REPAIRED = ["Completed", "COMPLETE", "Paid in full", "PIF", "Invoiced", "Job complete", "Done/paid", "repaired"]
DECLINED = ["Declined", "No go", "Rejected", "Cancelled", "DNR"]
REPLACED = ["Sold new one", "Bought new"]
OPEN = ["Estimate only - pending", "Cust will think", "Open"]
HEAD = [
    "WO #", "Date", "Cust Name", "Address", "Zip", "Appliance", "S/N", "Age", "Problem", "Parts", "Labor", "Trip/Diag",
    "Tax", "Total", "Status", "Tech", "Notes",
]  # fmt: skip
COLUMNS = {
    "job": "WO #", "date": "Date", "customer": "Cust Name", "address": "Address", "postcode": "Zip",
    "class": "Appliance", "unit": "S/N", "age": "Age", "fault": "Problem", "parts": "Parts", "labour": "Labor",
    "trip": "Trip/Diag", "tax": "Tax", "quote": "Total", "decision": "Status", "technician": "Tech",
}  # fmt: skip


@dataclass
class UntidyBook:
    """A book as text, and what went into it."""

    text: str
    rows: int
    callbacks: float

    @property
    def mapping(self) -> str:
        """The owner's mapping once all words are answered, as the text of its file."""
        tables = {"columns": COLUMNS, **ANSWERS}
        body = "".join(f"[{n}]\n" + "".join(f'"{k}" = "{v}"\n' for k, v in t.items()) for n, t in tables.items())
        return f'place = "US"\ndate_order = "month first"\n{body}'


def untidy_book(seed: int, jobs: int = 1200, callbacks: float = 0.04, tech: float = 1.0) -> UntidyBook:
    """The export of an invented shop: four years, title rows, a total, dates and ages in every usual form.

    A share of repairs comes back within 80 days as a job of its own; a hundredth of the rows comes twice, a fiftieth is
    paid back, a tenth has no serial number. The last technician charges `tech` times as much.
    """
    draw, number = np.random.default_rng(seed), 40_000
    found: list[tuple[float, list[str]]] = []
    for at in range(jobs):
        kind = list(APPLIANCES)[int(draw.integers(len(APPLIANCES)))]
        words, faults = APPLIANCES[kind]
        fault, usual = faults[int(draw.integers(len(faults)))]
        who, serial = int(draw.integers(6)), f"SN{at:06d}X" if draw.uniform() < 0.9 else ""
        day, age = float(draw.uniform(0, 1460)), float(np.clip(draw.gamma(3.0, 3.0), 0.5, 24))
        total = usual * float(draw.lognormal(0, 0.25)) * (tech if who == 5 else 1.0)
        taken = draw.uniform() < 0.62
        status = _one(draw, REPAIRED if taken else [*DECLINED, *REPLACED, *OPEN])
        number += 1
        home = (f"Invented {at:05d}", f"{at} Sample St", f"9{draw.integers(10):04d}")
        word = _one(draw, words)
        found.append((day, _row(draw, number, day, home, word, serial, age, fault, total, status, who)))
        if taken and draw.uniform() < callbacks:
            later = day + float(draw.uniform(2, 80))
            number += 1
            status = _one(draw, ["Callback", "Warranty", "PIF"])
            row = _row(draw, number, later, home, word, serial, age, fault, 0.0, status, who)
            row[13] = _one(draw, ["0.00", "N/C", "no charge"])
            found.append((later, row))
        if draw.uniform() < 0.02:
            back = list(found[-1][1])
            back[0], back[13] = str(number + 500_000), f"({total / 2:.2f})"
            found.append((day + 5, back))
    found.sort(key=lambda each: each[0])
    rows = [row for _, row in found]
    rows += [rows[int(at)] for at in draw.integers(0, len(rows), len(rows) // 100)]
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["Job export", *[""] * 16])
    writer.writerow([])
    writer.writerow(HEAD)
    writer.writerows(rows)
    writer.writerow(["TOTAL", *[""] * 12, "412,901.13", "", "", ""])
    return UntidyBook(text.getvalue(), len(rows) + 1, callbacks)


def _one(draw: np.random.Generator, words: list[str]) -> str:
    return words[int(draw.integers(len(words)))]


def _row(
    draw: np.random.Generator, number: int, day: float, home: tuple[str, str, str], word: str, serial: str, age: float,
    fault: str, total: float, status: str, who: int,
) -> list[str]:  # fmt: skip
    date = (FIRST_DAY + np.timedelta64(int(day), "D")).astype(object)
    parts, trip = total * 0.4, 89.0 if total else 0.0
    labour = max(total - parts - trip, 0.0)
    days = [f"{date:%m/%d/%Y}", f"{date:%d-%b-%y}", f"{date:%Y-%m-%d}", f"{date:%b} {date.day}, {date:%Y}"]
    made, whole = date.year - age, max(1, round(age))
    ages = [
        f"{whole}", f"{whole}", f"{whole}", f"~{whole}", f"approx {whole} yrs", f"about {whole}",
        f"{whole}-{whole + 2}",
        f"{whole}+", f"{int(made)}", f"{int(made)}-06-01" if made + 1 < date.year else f"{whole}", f"wk 12 {int(made)}",
        f"{whole} years", "?" if draw.uniform() < 0.3 else f"{whole}",
    ]  # fmt: skip
    amounts = [f"{total:.2f}", f"${total:,.2f}", f"{total:.2f} USD", f"{total:.0f} + tax", f"{total:.2f}"]
    quote = "TBD" if draw.uniform() < 0.02 else _one(draw, amounts)
    return [
        str(number), _one(draw, days), home[0], home[1], home[2], word, serial, _one(draw, ages), fault, f"{parts:.2f}",
        f"{labour:.2f}", f"{trip:.2f}", "", quote, status, f"T{who}", "gate code in notes",
    ]  # fmt: skip


def line_items(seed: int, invoices: int = 300) -> tuple[str, list[float]]:
    """A book with three lines an invoice and its total on each, and the totals."""
    draw, totals = np.random.default_rng(seed), []
    lines = ["Invoice #,Date,Appliance,Age,Line,Unit price,Invoice total,Status"]
    for at in range(invoices):
        parts, labour = round(float(draw.lognormal(4.6, 0.5)), 2), round(float(draw.lognormal(5.0, 0.3)), 2)
        totals.append(round(parts + labour + 89, 2))
        day = FIRST_DAY + np.timedelta64(at, "D")
        for at_line, (name, amount) in enumerate((("Part", parts), ("Labor", labour), ("Trip", 89.0))):
            about = f"{day},Dishwasher,{at % 14 + 1}" if not at_line else ",,"
            lines.append(f"{at},{about},{name},{amount},{totals[-1]},{'Paid' if not at_line else ''}")
    return "\n".join([*lines, ""]), totals
