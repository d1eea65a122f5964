"""How soon the page at the door answers a changed quote, with all its charts, beside the same page without an answer.

pytest tests/bench/bench_rerun.py -s
"""

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import expect

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from conftest import at_rest, chromium, opened, screen, site  # noqa: F401

ANSWERED = "?group=cooling&kind=refrigerator&fault=compressor&age=12&quote=401&place=US"
UNANSWERED = "?group=cooling&kind=refrigerator&fault=compressor&place=US"
TRIES = 15

STOPPED = """text => new Promise(done => {
    const rest = () => document.querySelector('[data-testid=stApp]').dataset.testScriptState === 'notRunning';
    const said = () => [...document.querySelectorAll('[data-testid=stCaptionContainer]')]
        .some(each => each.textContent.includes(text));
    const look = () => said() && rest() ? requestAnimationFrame(() => done(performance.now())) : setTimeout(look, 4);
    look();
})"""


def rerun(page: Any, quote: int) -> float:
    """Seconds from the key that sends a quote to the page being drawn with it. [s]"""
    field = page.get_by_label("Quote in $, with tax")
    field.fill(str(quote))
    begun = time.perf_counter()
    field.press("Enter")
    page.evaluate(STOPPED, f"read as ${quote}")
    return time.perf_counter() - begun


def test_a_changed_quote_is_answered_at_once(site: str, opened: Callable[[str], Any]) -> None:  # noqa: F811
    median = {}
    for name, address in (("answered", ANSWERED), ("unanswered", UNANSWERED)):
        page = opened(f"{site}/{address}")
        expect(page.get_by_label("Quote in $, with tax")).to_be_visible()
        page.wait_for_timeout(3000)
        at_rest(page)
        taken = [rerun(page, 300 + step) for step in range(TRIES)]
        median[name] = statistics.median(taken)
        print(f"\n{name}: median {median[name] * 1000:.0f} ms, worst {max(taken) * 1000:.0f} ms")
        page.close()
    print(f"ratio {median['answered'] / median['unanswered']:.1f}")
