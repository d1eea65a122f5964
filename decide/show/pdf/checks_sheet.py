"""Prints what was seen and measured: the evidence, the causes, what to do by cause, and the order of checks."""

import datetime

from ...answers.diagnosis import Diagnosis
from ...answers.next_step import next_step
from ..text.checks import cause_name, caution_list, check_rows, likeliest, title
from ..text.evidence import bill_text, rule_text, seen_rows, step_text, verdict_text
from ..text.words import Words
from .paper import HEADING, PLAIN, SMALL, STRONG, TITLE, Paper, Size


def checks_sheet(
    words: Words, diagnosis: Diagnosis, shop: str, on: datetime.date, size: Size = "A4", found: str | None = None
) -> bytes:
    """Print it as a PDF, for who asks for it: the same bytes for the same day, shop, evidence and finding."""
    paper = Paper(size, words.language, title(words, diagnosis), on=on)
    if shop:
        paper.text(shop, STRONG)
    paper.text(title(words, diagnosis), TITLE, gap=2.0)
    lines = caution_list(words, diagnosis, found, "technician")
    for head, members in words.caution_lists([line for line in lines if line.when == "now"]):
        paper.text(head, HEADING)
        for line in members:
            paper.text(line.text, STRONG if line.weight == "stop" else PLAIN)
    names = [cause_name(words, each.cause) for each in diagnosis.symptom.links if each.cause.cause == found]
    parts = (
        ("found", names),
        ("seen", [" ".join(row) for row in seen_rows(words, diagnosis)]),
        ("likely", [f"{name}: {words.percent(share, 0)}" for name, share in likeliest(words, diagnosis, 4)]),
        ("verdicts", [*bill_text(words, diagnosis), *verdict_text(words, diagnosis)]),
        ("next", [] if found else [step_text(words, diagnosis, next_step(diagnosis))]),
        ("order", [] if found else [f"{row.name}: {row.look}" for row in check_rows(words, diagnosis)]),
    )
    for key, sentences in parts:
        if sentences:
            paper.text(words.say(f"evidence.{key}"), HEADING)
            for sentence in sentences:
                paper.text(sentence)
    paper.text(rule_text(words, diagnosis), SMALL)
    paper.text(lines[-1].text, SMALL)
    return paper.output()
