"""How soon the page at the door answers a changed quote, with all its charts, beside the same page without an answer.

Two times are told: until the run of the page is over and the browser has all of it, and until it is drawn.

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

LISTEN = """() => {
    const Plain = window.WebSocket;
    window.WebSocket = class extends Plain {
        constructor(...args) {
            super(...args);
            this.addEventListener('message', () => { window.lastReceived = performance.now(); });
        }
        send(data) { window.lastSent = performance.now(); super.send(data); }
    };
}"""
"""Notes when the page last sent something to the server, and last received something."""

STOPPED = """text => new Promise(done => {
    const rest = () => document.querySelector('[data-testid=stApp]').dataset.testScriptState === 'notRunning';
    const came = () => window.lastReceived > window.lastSent;
    const shown = () => !document.querySelector('.ruler') || document.body.textContent.includes(text);
    const look = () => came() && rest() && shown() ? requestAnimationFrame(() => done()) : setTimeout(look, 4);
    look();
})"""


def rerun(page: Any, quote: int) -> tuple[float, float]:
    """From the key that sends a quote to the end of the run, and to the page being drawn with it. [s]"""
    field = page.get_by_label("Quote in $, with tax")
    field.fill(str(quote))
    begun = time.perf_counter()
    field.press("Enter")
    page.evaluate(STOPPED, f"${quote}")
    drawn = time.perf_counter() - begun
    return page.evaluate("window.lastReceived - window.lastSent") / 1000, drawn


def test_a_changed_quote_is_answered_at_once(site: str, opened: Callable[[str], Any]) -> None:  # noqa: F811
    median = {}
    for name, address in (("answered", ANSWERED), ("unanswered", UNANSWERED)):
        page = opened("about:blank")
        page.add_init_script(f"({LISTEN})()")
        page.goto(f"{site}/{address}")
        expect(page.get_by_label("Quote in $, with tax")).to_be_visible()
        page.wait_for_timeout(3000)
        at_rest(page)
        run, drawn = (
            statistics.median(each) for each in zip(*(rerun(page, 300 + n) for n in range(TRIES)), strict=True)
        )
        median[name] = drawn
        print(f"\n{name}: the run {run * 1000:.0f} ms, drawn after {drawn * 1000:.0f} ms (medians of {TRIES})")
        page.close()
    print(f"ratio {median['answered'] / median['unanswered']:.1f}")
