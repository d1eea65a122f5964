"""The pocket page in Chromium, from disk and without a network: held to the engine, and to whoever types mischief.

It is made and held to the engine in two halves of its classes, this one and that of `test_pocket_rest_browser.py`, so
that two processes share the work.
"""

import base64
import datetime
import gzip
import json
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from conftest import PHONE
from playwright.sync_api import expect

from decide.answers.answer import answer, decided
from decide.answers.pocket import _Maker
from decide.answers.safety import safety
from decide.economics.case import REPLACE
from decide.load.cases.case_file import complete
from decide.load.store.brought_visits import take_visits
from decide.load.store.store import Store
from decide.load.tables.tables import tables
from decide.show.pocket.page import pocket_page, stamp
from decide.show.text.words import Words

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TODAY = datetime.date(2026, 11, 30)
POINTS = 3_000
CLOSEST = 0.01
"""How far off a limit may be, over the price of a new one, and a quote in another state from an edge, over its cost."""
EVERY = [each.kind for each in tables().classes("US")]
USED = ["refrigerator", "dishwasher", "furnace_gas", "water_heater_gas"]  # by the tests of this module
HERE = USED + [kind for kind in EVERY if kind not in USED][len(USED) :: 2]
"""Classes of this module; the other has the rest."""
PAID_CLOSEST = 0.03
"""How far off what will have been paid may be, over what that is after ten years."""
REFUSED = re.compile("Content Security Policy|Refused to connect|Trusted(HTML|Script)|ERR_INTERNET_DISCONNECTED")
"""What the browser says of something that a page tried and must not do."""
EARLIER = (None, 0, 1, 2, 3)
FACTORS = (None, 0.7, 0.4)
BANDS = ((0, 2), (2, 6), (6, 10), (10, 15), (15, 20), (20, 30))
"""Bands of age. [year]"""
ATTACKS = (
    "<img src=x onerror=window.hit=1>",
    "<script>window.hit=1</script>",
    "javascript:window.hit=1",
    '"><svg onload=window.hit=1>',
)


def written(folder: Path, classes: Sequence[str]) -> Path:
    """A page of the US for half of its classes: each takes some ten seconds to make."""
    path = folder / "pocket.html"
    path.write_text(pocket_page("US", TODAY, tables(), "Invented Repair, 555 0100", classes), "utf-8")
    return path


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("pocket"), HERE)


@contextmanager
def opened(chromium: Any, made: Path) -> Iterator[Any]:
    """The page on a phone that has no network."""
    context = chromium.new_context(**PHONE, locale="en-US", offline=True)
    wrong: list[str] = []
    page = context.new_page()
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda line: wrong.append(line.text) if line.type == "error" else None)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(made.as_uri())
    page.wait_for_selector("body[data-ready]")
    yield page
    context.close()
    assert [each for each in wrong if not REFUSED.search(each)] == []
    assert [url for url in asked if not url.startswith(("file:", "blob:"))] == []


@pytest.fixture
def page(chromium: Any, made: Path) -> Iterator[Any]:
    with opened(chromium, made) as page:
        yield page


def fill(page: Any, kind: str, fault: str, age: str = "12", quote: str = "400") -> None:
    page.evaluate("document.getElementById('more').open = true")
    page.select_option("#kind", kind)
    page.select_option("#fault", fault)
    page.fill("#age", age)
    page.fill("#quote", quote)


def cases() -> list[dict[str, Any]]:
    """Seeded points off the knots that cover each class, place, band of age and kind of fault."""
    rng, known = np.random.default_rng(20261130), tables()
    kinds, places = [each.kind for each in known.classes("US")], [each.place for each in known.places("US")]
    knots = {each.kind: _Maker(each, "US", TODAY, known).knots for each in known.classes("US")}
    found = []
    for at in range(POINTS):
        kind = kinds[at % len(kinds)]
        faults = [each.fault for each in known.faults(kind)]
        low, high = BANDS[at // len(kinds) % len(BANDS)]
        prices, energies = ((axis[0], axis[-1]) for axis in knots[kind])
        found.append(
            {
                "kind": kind,
                "fault": faults[int(rng.integers(len(faults)))],
                "place": places[(at * 7 + at // len(kinds)) % len(places)],
                "age": round(float(rng.uniform(low, high)), 2),
                "condition": int(rng.integers(3)),
                "earlier": int(rng.integers(5)),
                "price": None if rng.random() < 0.3 else float(np.exp(rng.uniform(*np.log(prices)))),
                "typed": None if rng.random() < 0.4 else float(rng.uniform(*energies)),
                "quoted": float(rng.uniform(0, 1.4)),
            }
        )
    return found


def entries(case: dict[str, Any], fuel: str) -> dict[str, Any]:
    unit = {"class": case["kind"], "fault": case["fault"], "age": case["age"]}
    home = {"place": case["place"], "today": TODAY.isoformat()}
    if EARLIER[case["earlier"]] is not None:
        unit["earlier_repairs"] = EARLIER[case["earlier"]]
    if case["typed"] is not None:
        home[f"{fuel}_price"] = case["typed"]
    factor = FACTORS[case["condition"]]
    return {
        "appliance": unit,
        "household": home,
        "repair": {} if factor is None else {"remaining_life_factor": factor},
        "replace": [{} if case["price"] is None else {"price": case["price"]}],
    }


def held_to_the_engine(page: Any) -> None:
    """Ask the page at all points of its classes in one call, and the engine at each."""
    knows = page.evaluate("({kinds: pocket.facts.kinds, places: pocket.facts.places})")
    asked = [case for case in cases() if case["kind"] in knows["kinds"]]
    for case in asked:
        fuel, place = knows["kinds"][case["kind"]]["fuel"], knows["places"][case["place"]]
        case |= {"energy": case["typed"] or place[fuel], "other": place["electricity"]}
    told = page.evaluate(
        """cases => cases.map(each => {
            const found = pocket.lookedUp(each), quote = each.quoted * (found.new || 1000);
            const {cautions, cautionsIn} = pocket.facts.languages.en;
            const text = name => (cautionsIn[each.place] || {})[name] || cautions[name];
            const {stops} = pocket.minded(each.kind, each.fault, each.place, pocket.facts.year - each.age);
            return {...found, quote, ...(found.refused ? {} : pocket.stateOf(found, quote)), stops: stops.map(text)};
        })""",
        asked,
    )
    off, other, worst = [], [], (0.0, "")
    edge = (0.0, "")
    for case, said in zip(asked, told, strict=True):
        filled = complete(entries(case, knows["kinds"][case["kind"]]["fuel"]))
        mind = safety(filled.cautions, (case["fault"],)).in_the_open
        words = Words.for_place(case["place"], "en")
        stopped = any(each.weight == "stop" for each in mind)
        stops = [words.caution_text(each) for each in mind if stopped and each.weight in ("first", "stop")]
        assert said["stops"] == stops, case
        decision = decided(filled)
        assert bool(said.get("refused")) == bool(np.isnan(decision.repair_limit)), case
        if said.get("refused"):
            continue
        new = next(option for option in filled.case.options if option.appliance is not None)
        miss = (said["limit"] - decision.repair_limit) / float(new.asked_price)
        worst = max(worst, (abs(miss), str(case)))
        if abs(miss) > CLOSEST:
            off.append((round(miss, 4), case))
        verdict, zones = decision.at(said["quote"]), decision.zones
        ends = (zones.clear_repair, zones.leaning_repair, zones.limit, zones.leaning_other, zones.clear_other)
        gap = min(abs(said["quote"] - end) for end in ends) / decision.cost_of_new
        if (verdict.act, verdict.state) != (said["act"], said["state"]):
            edge = max(edge, (gap, str(case)))
            if gap > CLOSEST:
                other.append((round(gap, 4), verdict.act, verdict.state, said["act"], said["state"], case))
    print(f"\nlimit off by at most {worst[0]:.2%} of the price of a new one: {worst[1]}")
    print(f"another state at most {edge[0]:.2%} of a new one from an edge: {edge[1]}")
    assert (off, other) == ([], [])


def test_what_will_have_been_paid_is_what_the_engine_says(page: Any) -> None:
    """Of a core fault that spoils food, food counted in part twice: a new one was $2,381 and not $2,574."""
    kinds = page.evaluate("Object.entries(pocket.facts.kinds).map(([kind, {fuel, faults}]) => [kind, fuel, faults])")
    far, asked = [], 0
    for kind, fuel, faults in kinds:
        alike = {(each["group"], each["spoils"]): fault for fault, each in faults.items() if each["group"]}
        for fault in alike.values():
            for at, earlier in enumerate(EARLIER[:3]):
                case = {"kind": kind, "fault": fault, "place": "US", "age": 9, "condition": 0, "earlier": at}
                prices = page.evaluate("pocket.facts.places.US")
                case |= {"price": None, "typed": None, "energy": prices[fuel], "other": prices["electricity"]}
                told = page.evaluate("each => pocket.lookedUp(each)", case)
                found = answer(entries(case, fuel) | {"repair": {"quote": 100.0}})
                best = next(each for each in found.weighing.options if each.action == REPLACE)
                for name, paid, less in (("repair", found.weighing.repair, 100.0), ("new", best, 0.0)):
                    said, real = told[f"{name}Paid"], found.paid(paid)[[1, 5, 10]] - less
                    asked += 1
                    if np.max(np.abs(said - real)) > PAID_CLOSEST * float(real[-1]):
                        far.append((kind, fault, earlier, name, said, real.round()))
    assert (far, asked > 50) == ([], True)


def test_it_answers_as_the_engine_does(page: Any) -> None:
    held_to_the_engine(page)


def is_small(made: Path, classes: int) -> str:
    """Hold the page to its share of 1 MB packed and of 3 MB unpacked, by its classes; the text of the file."""
    text = made.read_text("utf-8")
    packed = re.search(r'id="data">([^<]+)<', text)
    assert packed is not None
    compressed = base64.b64decode(packed[1])
    share = classes / len(EVERY)
    assert len(compressed) < 1_000_000 * share
    assert len(gzip.decompress(compressed)) < 3_000_000 * share
    return text


def test_it_is_small_and_says_what_it_may_do(made: Path) -> None:
    text = is_small(made, len(HERE))
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]+)"', text)
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "form-action 'none'" in policy


def test_a_page_of_the_kitchen_table(page: Any) -> None:
    fill(page, "refrigerator", "compressor")
    answer = page.locator("#answer")
    expect(answer).to_contain_text("You were quoted $400")
    expect(answer.locator("svg.ruler")).to_have_attribute(
        "aria-label", re.compile(r"your call.*You were quoted \$400\.")
    )
    expect(answer.locator("table")).to_contain_text("After")
    expect(page.locator("#safety li").first).to_be_visible()
    assert page.locator("#safety li").count() <= 4
    expect(page.locator("#where")).to_contain_text("runs from a file")
    page.fill("#quote", "")
    expect(answer).to_contain_text("Worth about")


@pytest.mark.parametrize("language", ["English", "Español"])
def test_each_choice_of_its_shape_and_past_is_whole_on_a_narrow_phone(page: Any, language: str) -> None:
    """ "Usual for its age" lost its end behind the arrow, up to 370 pixels and in Spanish on every phone."""
    page.set_viewport_size({"width": 320, "height": 640})
    page.get_by_role("button", name=language).click()
    page.evaluate("document.getElementById('more').open = true")
    for field in ("condition", "earlier"):
        spare = page.evaluate(
            """field => { const box = document.getElementById(field), style = getComputedStyle(box), arrow = 20,
            pen = document.createElement("canvas").getContext("2d"); pen.font = style.font;
            const widest = Math.max(...[...box.options].map(each => pen.measureText(each.text).width));
            const edges = parseFloat(style.paddingLeft) + parseFloat(style.paddingRight);
            return box.clientWidth - edges - arrow - widest; }""",
            field,
        )
        assert spare >= 0, field


def test_what_cannot_be_used_is_said_and_stays(page: Any) -> None:
    fill(page, "dishwasher", "drain_pump", age="120", quote="12x")
    expect(page.locator("#age-error")).to_have_text("Can't be 120. Enter 0 to 30.")
    expect(page.locator("#quote-error")).to_contain_text("Can't be 12x.")
    assert page.input_value("#age") == "120"
    expect(page.locator("#answer")).to_contain_text("One entry can't be used")


def test_a_stop_order_comes_first_and_whole(page: Any) -> None:
    fill(page, "furnace_gas", "gas_leak")
    stop = page.locator("#stop")
    expect(stop).to_contain_text("Stop: smell of gas, or a gas leak")  # as the other pages say it
    expect(stop).to_be_visible()
    words = Words.for_place("US", "en")
    for caution in tables().cautions("furnace_gas", "gas_leak", "US"):
        if caution.prohibits:
            expect(stop).to_contain_text(words.caution_text(caution))
    assert stop.bounding_box()["y"] < page.locator("#answer").bounding_box()["y"]
    expect(page.locator("#answer svg.ruler")).to_be_hidden()


def test_what_cannot_be_repaired_has_no_limit(page: Any) -> None:
    fill(page, "water_heater_gas", "tank_leak")
    expect(page.locator("#answer")).to_contain_text("This can't be repaired")
    assert page.locator("svg.ruler").count() == 0


@pytest.mark.parametrize("attack", ATTACKS)
def test_typed_text_cannot_run(page: Any, attack: str, tmp_path: Path) -> None:
    fill(page, "refrigerator", "compressor")
    page.fill("#note", attack)
    page.click("#keep")
    expect(page.locator("#list li")).to_contain_text(attack)
    for name in ("age", "quote", "price", "energy"):
        before = page.input_value(f"#{name}")
        page.fill(f"#{name}", attack)
        page.fill(f"#{name}", before)
    page.get_by_role("button", name="Español").click()
    assert page.evaluate("window.hit") is None
    assert page.locator("#list img, #list script, #list svg").count() == 0
    assert page.evaluate("[...document.querySelectorAll('a')].every(each => /^(sms|mailto):/.test(each.href))")


def test_it_can_neither_load_nor_send(page: Any) -> None:
    refused = page.evaluate(
        """async () => [
            await fetch("https://shop.example/").then(() => "sent", () => "refused"),
            (() => { try { document.body.innerHTML = "<b>x</b>"; return "written"; } catch { return "refused"; } })(),
            (() => {
                const script = document.createElement("script");
                try { script.textContent = "window.hit = 1"; document.body.append(script); } catch { return "refused"; }
                return window.hit ? "run" : "refused";
            })(),
        ]"""
    )
    assert refused == ["refused"] * 3


def test_visits_are_taken_away_and_open_in_the_shop(page: Any, tmp_path: Path) -> None:
    fill(page, "refrigerator", "icemaker", quote="95.50")
    page.select_option("#place", "US-OH")
    page.select_option("#earlier", "2")
    page.fill("#note", 'Job 7 "corner"')
    page.click("#keep")
    assert page.evaluate("localStorage.length") == 0
    expect(page.locator("#list")).to_contain_text(
        re.compile(r'Job 7 "corner" · Refrigerator-freezer · \$95\.50 · .*\d:\d\d')
    )
    with page.expect_download() as waiting:
        page.click("#take")
    path = tmp_path / waiting.value.suggested_filename
    waiting.value.save_as(path)
    with Store.open(str(tmp_path / "shop")) as store:
        came = take_visits(store, path)
        assert (came.new, came.stamp) == (1, stamp())
        assert take_visits(store, path).same == 1
        (line,) = store.visits("Job 7")
        visit = store.visit(line.id)
    assert visit.entries["appliance"] == {"class": "refrigerator", "fault": "icemaker", "age": 12, "earlier_repairs": 1}
    assert visit.entries["repair"]["quote"] == 95.5
    assert visit.page["kind"] == "refrigerator"
    assert visit.page["group"] == "cooling"


def test_it_asks_for_a_new_one_after_ninety_days(chromium: Any, made: Path) -> None:
    for days, shown in ((89, False), (92, True)):
        context = chromium.new_context(**PHONE, locale="en-US", offline=True)
        page = context.new_page()
        page.clock.install(time=datetime.datetime.combine(TODAY, datetime.time(12)) + datetime.timedelta(days=days))
        page.goto(made.as_uri())
        page.wait_for_selector("body[data-ready]")
        assert page.locator("#old").is_visible() == shown
        expect(page.locator("#made")).to_contain_text("Get a new one after")
        context.close()


@pytest.mark.parametrize("language", ["English", "Español"])
def test_axe_finds_nothing_serious_and_spanish_is_whole(page: Any, language: str) -> None:
    page.get_by_role("button", name=language).click()
    fill(page, "furnace_gas", "gas_leak")
    for fault in ("gas_leak", "blower"):
        page.select_option("#fault", fault)
        output = Axe().run(page).response
        assert len(output["passes"]) > 10
        assert [each["id"] for each in output["violations"] if each["impact"] in ("serious", "critical")] == []
    assert page.evaluate("document.documentElement.lang") == ("en" if language == "English" else "es")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    if language == "Español":
        assert not re.search(r"\b(the|repair|quote|with)\b", page.inner_text("body").replace("Invented Repair", ""))


def test_it_goes_by_the_keyboard(page: Any) -> None:
    page.evaluate("document.getElementById('more').open = true")
    page.keyboard.press("Tab")
    seen = []
    for _ in range(20):
        seen.append(page.evaluate("document.activeElement.id || document.activeElement.lang"))
        page.keyboard.press("Tab")
    wanted = ["en", "es", "kind", "fault", "age", "quote", "price", "condition", "place", "earlier", "energy"]
    assert [each for each in seen if each in wanted][: len(wanted)] == wanted


def test_a_phone_keeps_what_the_shop_serves(
    chromium: Any, made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from conftest import served

    with Store.open(str(tmp_path / "store")) as store:
        store.save_settings({"pocket_page": made.read_bytes()})
    context = chromium.new_context(**PHONE, locale="en-US")
    with served(tmp_path) as site:
        page = context.new_page()
        answer = page.goto(f"{site}/pocket")
        assert answer.url.endswith("/pocket/")
        assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["x-frame-options"] == "DENY"
        page.wait_for_selector("body[data-ready]")
        expect(page.locator("#where")).to_contain_text("came from the shop's computer")
        fill(page, "dishwasher", "drain_pump")
        page.click("#keep")
        assert (
            json.loads(page.evaluate("localStorage['mendpoint.pocket.visits']"))[0]["entries"]["appliance"]["age"] == 12
        )
        page.wait_for_function("async () => (await (await caches.open('pocket')).keys()).length === 1")
        page.wait_for_function("async () => (await navigator.serviceWorker.ready).active.state === 'activated'")
        reach = page.evaluate("async () => (await navigator.serviceWorker.ready).scope")
        assert reach.endswith("/pocket/")
    page.goto(f"{site}/pocket/")  # the program has ended
    page.wait_for_selector("body[data-ready]")
    expect(page.locator("#kept")).to_contain_text("Visits kept: 1.")
    context.close()
