"""Whose a visit is: kept with it on this machine, found by it, in the back-up, and nowhere else."""

import datetime
import io
import json
import shutil
import zipfile
from pathlib import Path
from typing import Any

import pytest
from commands import run
from conftest import ROOT
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest
from test_door import enter, entered, texts

from decide.answers.answer import answer
from decide.errors import CaseError, Message
from decide.load.store.records import Damaged, Thing
from decide.load.store.schema import NEWEST
from decide.load.store.store import Store
from decide.show.pdf.handout import handout
from decide.show.pdf.logo import Shop
from decide.show.pdf.sheet import sheet_of, sheet_text
from decide.show.screens.state.session import FIRST_CASE
from decide.show.text.words import Words

DETAILS = {
    "customer": "Invented Österle",
    "address": "12 Invented Lane",
    "job_number": "J-1042",
    "model": "QX-77",
    "serial": "SN0099",
    "technician": "Invented Tech",
    "follow_up": "2026-12-05",
}
ENTRIES: dict[str, Any] = {"appliance": {"class": "refrigerator", "age": 12.0}, "repair": {"quote": 401.0}}
TITLE = "Refrigerator (12 years) at $401"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store.open(str(tmp_path / "kept"))


def test_a_visit_comes_back_with_whose_it_is_and_a_change_of_that_is_a_save(store: Store) -> None:
    saved = store.save_visit(store.new_id(), ENTRIES, title=TITLE, details=DETAILS)
    assert store.visit(saved.id).details == store.visits()[0].details == DETAILS
    again = store.save_visit(saved.id, ENTRIES, version=1, title=TITLE, details=DETAILS)
    assert again.version == 1
    other = store.save_visit(saved.id, ENTRIES, version=1, title=TITLE, details={"customer": "Another"})
    assert (other.version, store.visit(saved.id).details) == (2, {"customer": "Another"})
    assert store.damaged(deep=True) == []


@pytest.mark.parametrize("sought", ["österle", "ÖSTERLE lane", "j-1042", "qx-77", "sn0099 refrigerator", "tech"])
def test_the_list_is_searched_by_whose_it_is(store: Store, sought: str) -> None:
    saved = store.save_visit(store.new_id(), ENTRIES, title=TITLE, details=DETAILS)
    store.save_visit(store.new_id(), ENTRIES, title=TITLE, details={"customer": "Somebody else"})
    assert [line.id for line in store.visits(sought)] == [saved.id]


@pytest.mark.parametrize(
    "details",
    [{"friend": "A"}, {"customer": ""}, {"serial": "x" * 201}, {"follow_up": "next week"}, {"follow_up": "2300-01-01"}],
)
def test_what_is_no_detail_is_refused_by_its_name(store: Store, details: dict[str, str]) -> None:
    with pytest.raises(CaseError) as refused:
        store.save_visit(store.new_id(), ENTRIES, details=details)
    assert refused.value.field.startswith("details")
    assert isinstance(refused.value.sentence, Message)
    assert store.visits() == []


def everything_in(path: Path) -> str:
    with zipfile.ZipFile(path) as packed:
        return "\n".join(packed.read(name).decode("utf-8", "replace") for name in packed.namelist())


def told(text: str) -> list[str]:
    return [word for word in (*DETAILS.values(), "Secret") if word in text or json.dumps(word)[1:-1] in text]


def with_people(store: Store) -> None:
    reason = {"outcome": "stopped", "outcome_reason": "Secret reason"}
    entries = {**ENTRIES, "title": "Secret name", "appliance": {**ENTRIES["appliance"], **reason}}
    page = {"title": "Secret name", "outcome_reason": "Secret reason", "kept": 'title = "Secret kept"\n'}
    files = {"usage.csv": b"Secret"}
    store.save_visit(store.new_id(), entries, page=page, files=files, details=DETAILS)
    store.save_visit(store.new_id(), ENTRIES, title=TITLE, page={"quote": "401"}, details=DETAILS)
    store.keep_book("jobs.csv", b"Customer;Appliance\nSecret;fridge\n")
    store.save_settings({"shop_technician": "Secret tech", "shop_name": "Invented shop"})


def test_the_back_up_holds_it_and_without_people_it_does_not(store: Store, tmp_path: Path) -> None:
    with_people(store)
    whole, bare = (store.export_all(tmp_path / f"{people}.zip", people) for people in (True, False))
    assert told(everything_in(whole)) == [*DETAILS.values(), "Secret"]
    assert told(everything_in(bare)) == []
    with Store.open(str(tmp_path / "whole")) as other:
        other.import_all(whole)
        assert sorted(map(str, other.visits())) == sorted(map(str, store.visits()))
    with Store.open(str(tmp_path / "bare")) as other:
        assert other.import_all(bare).new == 4  # both visits, the name of the shop, and its book without people
        assert {line.title for line in other.visits()} == {"", TITLE}
        assert all(line.details == {} for line in other.visits())
        assert other.settings() == {"shop_name": "Invented shop"}
        kept = {line.title: other.visit(line.id).entries for line in other.visits()}
        assert kept[TITLE] == ENTRIES
        assert kept[""]["appliance"]["outcome"] == "stopped"


def test_the_commands_leave_it_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "kept"))
    with Store.open() as store:
        with_people(store)
    listed = run("store", "list", "sn0099", "--json")
    assert len(json.loads(listed.output)) == 2
    assert told(listed.output) == ["Secret"]  # the name that somebody gave the visit is its title
    made = run("store", "export", "--without-people", tmp_path / "bare.zip")
    assert made.exit_code == 0
    assert "left out" in made.output
    assert told(everything_in(tmp_path / "bare.zip")) == []


def test_an_export_of_the_first_layout_is_taken_in(store: Store, tmp_path: Path) -> None:
    store.save_visit(store.new_id(), ENTRIES, title=TITLE)
    new, old = store.export_all(tmp_path / "new.zip"), tmp_path / "old.zip"
    with zipfile.ZipFile(new) as packed, zipfile.ZipFile(old, "w") as archive:
        for name in packed.namelist():
            content = packed.read(name)
            if name == "manifest.json":
                listed = json.loads(content)
                assert listed.pop("layout") == 2
                del listed["visits"][0]["details"]
                content = json.dumps({**listed, "layout": 1}).encode()
            archive.writestr(name, content)
    with Store.open(str(tmp_path / "to")) as other:
        other.import_all(old)
        assert [(line.title, line.details) for line in other.visits()] == [(TITLE, {})]


def test_a_store_from_before_opens_whole_and_what_was_damaged_stays_so(tmp_path: Path) -> None:
    """`data/store_before_details.sqlite` was written by the code before visits said whose they are; all invented."""
    folder = tmp_path / "before"
    folder.mkdir()
    shutil.copy(ROOT / "tests" / "data" / "store_before_details.sqlite", folder / "store.sqlite")
    with Store.open(str(folder)) as store:
        assert store.schema == NEWEST
        broken = Thing("visit", "invented-visit-broken-4", "Another title")
        assert [(line.title, line.version, line.details) for line in store.visits() if line.id != broken.key] == [
            ("Refrigerator (12 years) at $390", 1, {}),
            ("Refrigerator (12 years) at $380", 2, {}),
            ("Invented: Österle, kitchen", 1, {}),
        ]
        named = store.visit("invented-visit-named-1")
        assert named.files == {"kitchen.csv": b"time,power\n0,1\n"}
        assert (named.page["quote"], named.entries["repair"]) == ("250", {"quote": 250.0})
        assert named.created == datetime.datetime(2026, 11, 2, 9, tzinfo=datetime.UTC)
        assert [line.id for line in store.visits("österle")] == [named.id]
        assert store.settings() == {"shop_name": "Invented shop"}
        assert store.damaged(deep=True) == [broken]
        with pytest.raises(Damaged):
            store.visit(broken.key)
        store.save_visit(named.id, named.entries, version=1, page=named.page, files=named.files, details=DETAILS)
        store.delete(broken)
        assert store.check() == 5  # three visits, a file, a setting
        assert [line.id for line in store.visits("j-1042")] == [named.id]


# on the page at the door


def with_fold(visit: str = "") -> AppTest:
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    if visit:
        page.query_params["visit"] = visit
    for fold in ("more", "whose", "visits"):
        page.session_state[fold] = True
    page.run()
    assert not page.exception
    return page


def typed_at_the_door(page: AppTest) -> None:
    for name in DETAILS.keys() - {"follow_up"}:
        page.text_input(key=f"whose_{name}").set_value(DETAILS[name]).run()
    page.date_input(key="whose_follow_up").set_value(datetime.date(2026, 12, 5)).run()
    assert not page.exception


@pytest.fixture
def door(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    return with_fold()


def test_whose_it_is_is_kept_from_the_page_comes_back_by_its_link_and_stands_in_no_address(door: AppTest) -> None:
    typed_at_the_door(door)
    enter(door)
    with Store.open() as store:
        [line] = store.visits("j-1042")
        assert store.visit(line.id).details == DETAILS
        assert not told(json.dumps(store.visit(line.id).entries) + json.dumps(dict(store.visit(line.id).page)))
    assert not told(json.dumps(door.query_params))
    again = with_fold(line.id)
    assert {name: str(again.session_state[f"whose_{name}"]) for name in DETAILS} == DETAILS


def test_the_next_visit_is_nobodys_but_the_technician_stays(door: AppTest) -> None:
    enter(door)
    typed_at_the_door(door)
    next(button for button in door.button if button.label == "Next").click().run()
    there = {name: door.session_state[f"whose_{name}"] for name in DETAILS}
    assert there == {**dict.fromkeys(DETAILS, ""), "follow_up": None, "technician": DETAILS["technician"]}
    next(button for button in door.button if button.label == "Undo").click().run()
    assert {name: str(door.session_state[f"whose_{name}"]) for name in DETAILS} == DETAILS


def test_the_list_says_whose_it_is_and_puts_first_what_is_to_be_followed_up(door: AppTest) -> None:
    with Store.open() as store:
        for name, day in (("Late", "2026-01-02"), ("Later", "2190-01-02"), ("Never", "")):
            details = {"customer": name} | ({"follow_up": day} if day else {})
            store.save_visit(store.new_id(), ENTRIES, title=TITLE, details=details)
    lines = [text for text in texts(door.run()) if TITLE in text]
    assert [name for line in lines for name in ("Later", "Late", "Never") if f"{name} ·" in line] == [
        "Late",
        "Never",
        "Later",
    ]
    assert "Call back 1/2/26 · Late · Refrigerator" in lines[0]
    door.text_input(key="visit_search").set_value("never").run()
    assert len([text for text in texts(door) if TITLE in text]) == 1


def test_the_sheet_names_them_only_where_it_has_a_line() -> None:
    found = answer(entered())
    words = Words.for_entries(entered())
    shop = Shop(name="Invented shop", technician=DETAILS["technician"])
    on = datetime.date(2026, 11, 30)
    sheet = sheet_of(words, found, on=on, shop=shop, customer=DETAILS["customer"])
    printed = PdfReader(io.BytesIO(handout(words, found, sheet))).pages[0].extract_text()
    assert DETAILS["customer"] in printed
    assert f"Technician: {DETAILS['technician']}" in printed
    assert DETAILS["customer"] not in sheet_text(words, sheet)
    assert DETAILS["customer"] not in sheet.message
