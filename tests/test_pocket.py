"""The pocket page without a browser: what is written, served and taken back. `test_pocket_browser.py` runs it."""

import datetime
import json
import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import ROOT, texts
from reading_ease import fluency, grade
from store_attacks import NOW, archive, sound
from streamlit.testing.v1 import AppTest
from test_cli import run
from test_shop_page import shop_page

from decide.answers.pocket import EDGE_AGES, PRICE_KNOTS, kind_of, pocket_class
from decide.errors import ReadError
from decide.load.jobs.book import open_book
from decide.load.jobs.rows import read_book
from decide.load.store.brought_visits import take_visits
from decide.load.store.store import Store
from decide.load.store.visit_book import DECIDED, visit_book
from decide.load.tables.tables import data_dir, tables
from decide.shop.jobs import DECISIONS
from decide.show.pocket import page as page_module
from decide.show.pocket.page import is_ours, part, pocket_page, policy, served_policy
from decide.show.screens.pocket import _kept as kept_page
from decide.show.screens.state.session import FIRST_CASE
from decide.show.text.phrases import languages
from decide.show.text.words import Words

TODAY = datetime.date(2026, 11, 30)
VISIT: dict[str, Any] = {
    "id": "0b1e2f34-aaaa-bbbb-cccc-0123456789ab",
    "when": "2026-11-30T10:00:00Z",
    "entries": {
        "title": "Job 7",
        "appliance": {"class": "dishwasher", "fault": "drain_pump", "age": 8},
        "household": {"place": "US-OH"},
        "repair": {"quote": 120},
        "replace": [{}],
    },
    "page": {
        "kind": "dishwasher",
        "group": "kitchen",
        "fault": "drain_pump",
        "age": "8",
        "quote": "120",
        "place": "US-OH",
    },
}

OTHER = VISIT | {"id": "1b1e2f34-aaaa-bbbb-cccc-0123456789ab"}


@pytest.fixture(scope="module")
def small() -> str:
    """The page for one class."""
    return pocket_page("US-OH", TODAY, tables(), "<b>Invented</b> Repair", ["microwave"])


@pytest.mark.slow
def test_one_file_that_runs_its_own_script_alone(small: str) -> None:
    assert policy(part("page.css"), part("page.js")) in small
    assert is_ours(small.encode())
    assert served_policy().startswith(policy(part("page.css"), part("page.js")))
    assert not re.search(r"""(?:src|href)=["']|https?://(?!www\.w3\.org/2000/svg)|@import|url\((?!#)""", small)
    assert "<b>Invented" not in small  # it stands among the packed facts


FOREIGN = b'<!doctype html><meta http-equiv="refresh" content="0;url=https://evil.test/"><h1>Sign in again</h1>'


def test_a_page_that_an_import_brought_is_given_to_phones_only_if_it_is_one_of_ours(tmp_path: Path) -> None:
    """Else anybody's text would stand at the shop's address, or a page whose script today's rules forbid."""
    head, between, tail = (each.encode() for each in page_module._frame())
    head += b"0123abcd" + between
    ours = head + b"QUJD" + tail
    before = ours.replace(part("page.js").encode(), b"an earlier script")
    for number, page in enumerate((FOREIGN, before, ours + FOREIGN, head + b"</script>" + FOREIGN + tail, ours)):
        listed, held = sound()
        listed["settings"] = [
            {"name": "pocket_page", "changed": NOW, "picture": True, "path": "settings/1.bin"},
        ]
        held = {name: content for name, content in held.items() if not name.startswith("settings")}
        with Store.open() as store:
            store.save_settings({"pocket_page": None})
            store.import_all(archive(tmp_path / f"{number}.zip", listed, {**held, "settings/1.bin": page}))
            assert store.settings()["pocket_page"] == page
        assert kept_page(None) == (ours if page == ours else None)


@pytest.mark.slow
def test_tables_stand_at_knots_as_the_engine_says() -> None:
    from decide.answers.answer import decided
    from decide.load.cases.case_file import complete

    made = pocket_class("microwave", "US", TODAY, tables())
    assert made.prices == pytest.approx(made.prices[2] * np.array(PRICE_KNOTS))
    assert np.all(np.diff(made.limits[:, 2, 1, 0], axis=0) <= 1e-6)  # a unit in greater danger is worth less repair
    age, at = 8.0, 2
    row = EDGE_AGES.index(age)
    unit = {"class": "microwave", "fault": "turntable", "age": age, "earlier_repairs": 1}
    home = {"place": "US", "today": TODAY.isoformat(), "electricity_price": float(made.energies[1])}
    price = float(made.prices[at])
    decision = decided(complete({"appliance": unit, "household": home, "replace": [{"price": price}]}))
    edges = made.edges[0, 1, row, 1, 1] * (made.cost_of_new[0] + made.cost_of_new[1] * price)
    assert edges[1:5] == pytest.approx(decision.zones.beyond, abs=0.01)
    assert edges[5:7] + decision.repair_limit == pytest.approx(decision.limit_range, abs=0.01)


def test_a_fault_that_spoils_food_is_one_where_food_is_kept() -> None:
    known = tables()
    board = known.known_faults["control_board"]
    assert kind_of(board, "refrigerator", "US", known) == ("ordinary", True)
    assert kind_of(board, "dishwasher", "US", known) == ("ordinary", False)


def test_another_ending_is_refused(tmp_path: Path) -> None:
    found = run("pocket", "--out", tmp_path / "page.pdf")
    assert found.exit_code == 2
    assert ".html" in found.output


def written(tmp_path: Path, **changes: Any) -> Path:
    path = tmp_path / "visits.json"
    path.write_text(json.dumps({"format": "mendpoint visits", "layout": 1, "visits": [VISIT]} | changes), "utf-8")
    return path


def test_visits_come_into_the_store_once(tmp_path: Path) -> None:
    path = written(tmp_path)
    assert "1" in run("store", "import", path).output
    run("store", "import", path)
    with Store.open() as store:
        (line,) = store.visits()
        assert line.title == "Job 7"
        assert store.visit(line.id).entries == VISIT["entries"]
        assert store.visit(line.id).page == VISIT["page"]


def test_a_danger_kept_without_an_age_keeps_no_other_visit_from_the_shop(tmp_path: Path) -> None:
    """Under an order to stop the pocket asks for no age, and the whole file was refused for it."""
    danger = {"class": "water_heater_gas", "fault": "gas_leak"}
    other = VISIT | {"id": "0b1e2f34-aaaa-bbbb-cccc-0123456789ac", "page": {"age": ""}}
    other |= {"entries": {"appliance": danger | {"age": None}, "household": {"place": "US"}, "repair": {}}}
    with Store.open() as store:
        assert take_visits(store, written(tmp_path, visits=[VISIT, other])).new == 2
        assert store.visit(other["id"]).entries["appliance"] == danger


BAD = {
    "another format": {"format": "something"},
    "a later layout": {"layout": 2},
    "no list": {"visits": 7},
    "no visit": {"visits": ["x"]},
    "no entries": {"visits": [{"id": VISIT["id"]}]},
    "an age that is none": {"visits": [VISIT | {"entries": {"appliance": {"class": "dishwasher", "age": "<script>"}}}]},
    "a second with a place that is none": {"visits": [VISIT, OTHER | {"page": {"place": "XX"}}]},
    "a second with what is no case": {"visits": [VISIT, OTHER | {"page": {"kept": "%%%"}}]},
    "a second by a path": {"visits": [VISIT, VISIT | {"id": "../../x"}]},
    "a second with a title that is none": {"visits": [VISIT, OTHER | {"entries": VISIT["entries"] | {"title": ["x"]}}]},
    "a second with half a sign": {"visits": [VISIT, OTHER | {"entries": VISIT["entries"] | {"title": "\ud800"}}]},
    "a class that is none": {"visits": [VISIT | {"entries": {"appliance": {"class": "toaster", "age": 3}}}]},
    "a file that is named": {
        "visits": [
            VISIT | {"entries": VISIT["entries"] | {"household": {"electricity_tariff": {"file": "/etc/passwd"}}}}
        ]
    },
}


@pytest.mark.parametrize("name", BAD)
def test_a_file_that_is_not_so_brings_nothing(tmp_path: Path, name: str) -> None:
    with Store.open() as store:
        with pytest.raises(ReadError):
            take_visits(store, written(tmp_path, **BAD[name]))
        assert store.visits() == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_its_sentences_have_every_gap_that_the_script_fills(language: str) -> None:
    from decide.show.text.words import Words

    said, script = Words.for_place("US", language).text["pocket"], part("page.js") + part("page.html")
    named = set(re.findall(r'data-say="(\w+)"', script)) | set(re.findall(r'say\("(\w+)"', script))
    assert named - {"law"} <= said.keys()


def sentences(language: str) -> str:
    from decide.show.text.words import Words

    said = (text for text in Words.for_place("US", language).text["pocket"].values() if text.endswith("."))
    return " ".join(re.sub(r"\{\w+\}", "$100", text) for text in said)


@pytest.mark.parametrize("language", languages())
def test_it_has_the_words_of_the_other_pages(language: str) -> None:
    """In Spanish the pocket said 'cambiar' and the door 'reemplazar' of one and the same act."""
    words = Words.of(language)
    same = {
        "title": "door.title", "never": "verdict.replace",
        "do_repair": "verdict.repair", "do_replace": "verdict.replace",
        "leaning_repair": "verdict.leaning_repair", "leaning_replace": "verdict.leaning_replace",
        "close": "verdict.close", "claim": "verdict.claim", "ask_maker": "verdict.ask_maker",
        "repair": "ruler.repair", "call": "ruler.call", "replace": "ruler.replace",
        "repaired": "card.repair", "bought": "card.new", "paid": "first.paid", "safety": "first.safety",
    }  # fmt: skip
    assert {key: words.say(f"pocket.{key}") for key in same} == {key: words.say(other) for key, other in same.items()}
    for key in ("above", "never"):
        assert words.say(f"pocket.ruler_{key}") == words.say(f"ruler.{key}", act=words.say("ruler.replace"))
    gaps = {"limit": "$1", "quote": "$2"}
    on_page = words.say("headline.worth", **gaps, least="$3", most="$4")
    assert words.say("pocket.worth_quoted", **gaps, low="$3", high="$4") == on_page


def test_its_sentences_are_easy_to_read() -> None:
    assert grade(sentences("en")) <= 6
    assert fluency(sentences("es")) >= 70


@pytest.mark.server
def test_the_page_of_the_shop_is_served_at_one_address(tmp_path: Path) -> None:
    from test_network import running

    with running(tmp_path) as site:
        assert site.answer("/pocket/")[0] == 404
        status, body, headers = site.answer("/pocket/worker.js")
        assert (status, body.decode()) == (200, part("worker.js"))
        assert headers["Content-Security-Policy"] == "default-src 'none'; connect-src 'self'"
        assert site.answer("/pocket")[0] == 307
        assert site.answer("/pocket/", "POST")[0] == 405
        assert site.answer("/pocket/", Host="evil.test")[0] == 403


@pytest.mark.slow
def test_a_visit_goes_from_the_pocket_to_the_shop_and_into_its_records(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The owner takes the phone's file in, the outcome is chosen at the door, and the shop counts it."""
    monkeypatch.delenv(FIRST_CASE, raising=False)
    shop = shop_page(part="settings")
    [field] = [each for each in shop.file_uploader if each.key.startswith("set_import")]
    field.set_value(("visits-2026-11-30.json", written(tmp_path).read_bytes(), "application/json")).run()
    assert not shop.exception
    assert any("1 new" in text for text in texts(shop))
    with Store.open() as store:
        [line] = store.visits("Job 7")
    door = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    door.query_params["visit"] = line.id
    door.run()
    door.selectbox(key="outcome").set_value("accepted").run()
    assert not door.exception
    with Store.open() as store:
        content, mapping = visit_book(store.visits_without_files(), "US-OH", tables())
    jobs = read_book(open_book(content, "visits"), mapping).jobs
    assert [jobs.kinds[code] for code in jobs.kind] == ["dishwasher"]
    assert [DECISIONS[code] for code in jobs.decision] == [DECIDED["accepted"]]
    assert (jobs.quote.tolist(), jobs.age.tolist()) == ([120.0], [8.0])


def frame_of(stamp: str) -> bytes:
    head, between, tail = page_module._frame()
    return f"{head}{stamp}{between}QUJD{tail}".encode()


STALE = "This pocket page is of another version. Make it anew."


@pytest.mark.slow
@pytest.mark.parametrize(
    ("page", "told", "served"),
    [
        (frame_of(page_module.stamp()), False, True),
        (frame_of("0123abcd"), True, True),  # other tables: phones keep it until there is a new one
        (frame_of(page_module.stamp()).replace(b"mendpoint visits", b"other visits"), True, False),
        (None, False, False),
    ],
    ids=["as now", "other tables", "another script", "none"],
)
def test_the_shop_is_told_of_a_page_that_is_to_be_made_anew(page: bytes | None, told: bool, served: bool) -> None:
    with Store.open() as store:
        store.save_settings({"pocket_page": page})
    shop = shop_page(part="card")
    assert not shop.exception
    assert (STALE in texts(shop)) is told
    assert (kept_page(None) is not None) is served


@pytest.mark.slow
@pytest.mark.parametrize(("stamp", "told"), [(page_module.stamp(), False), ("0123abcd", True), (None, True)])
def test_visits_of_a_page_of_another_version_say_so(tmp_path: Path, stamp: str | None, told: bool) -> None:
    path = written(tmp_path, **({} if stamp is None else {"stamp": stamp}))
    shop = shop_page(part="settings")
    [field] = [each for each in shop.file_uploader if each.key.startswith("set_import")]
    field.set_value(("visits.json", path.read_bytes(), "application/json")).run()
    assert any("1 new" in text for text in texts(shop))
    assert any(STALE in text for text in texts(shop)) is told
    assert (STALE in run("store", "import", path).output) is told


@pytest.mark.parametrize(
    ("file", "another"),
    [
        ("data/cautions.csv", True),
        ("decide/finance/life.py", True),
        ("decide/show/text/language/en.toml", True),
        ("decide/show/screens/main.py", False),
    ],
)
def test_other_tables_texts_or_engine_are_another_version_wherever_they_are_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, file: str, another: bool
) -> None:
    now = page_module.stamp()
    monkeypatch.chdir(tmp_path)
    shutil.copytree(data_dir(), "data")
    shutil.copytree(ROOT / "decide", "decide", ignore=shutil.ignore_patterns("__pycache__"))
    for change in (b"", b"\n"):
        Path(file).write_bytes(Path(file).read_bytes() + change)
        for where in (Path(), tmp_path):  # before or behind all else by its path
            monkeypatch.setattr(page_module, "data_dir", lambda where=where: where / "data")
            monkeypatch.setattr(page_module, "__file__", str(where / "decide" / "show" / "pocket" / "page.py"))
            page_module.stamp.cache_clear()
            assert (page_module.stamp() == now) is (not (change and another))
    monkeypatch.undo()
    page_module.stamp.cache_clear()
    assert page_module.stamp() == now


@pytest.mark.slow
def test_a_phones_file_that_cannot_be_used_brings_nothing_on_the_shops_page(tmp_path: Path) -> None:
    shop = shop_page(part="settings")
    [field] = [each for each in shop.file_uploader if each.key.startswith("set_import")]
    bad = written(tmp_path, **BAD["a class that is none"]).read_bytes()
    field.set_value(("visits.json", bad, "application/json")).run()
    assert not shop.exception
    assert any("visits.json" in text for text in texts(shop))
    with Store.open() as store:
        assert store.visits() == []
