"""Visits kept from the page: nothing typed is lost, a link brings all of it back, and what is deleted is gone."""

from pathlib import Path

import pytest
from conftest import ROOT
from streamlit.testing.v1 import AppTest
from test_door import empty_page, enter, texts

from decide.load.store import visits
from decide.load.store.records import Thing
from decide.load.store.store import Store
from decide.show.screens.state.session import FIRST_CASE

pytestmark = pytest.mark.slow


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    return empty_page()


def kept() -> Store:
    return Store.open()


def reopened(visit: str) -> AppTest:
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    page.query_params["visit"] = visit
    page.session_state["more"] = True  # the folded part, opened as on the page it is held against
    page.run()
    assert not page.exception
    return page


def followed(page: AppTest) -> AppTest:
    """A new session at the address of a page."""
    again = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    for key, values in page.query_params.items():
        again.query_params[key] = values
    again.session_state["more"] = True
    again.run()
    assert not again.exception
    return again


def test_an_empty_page_keeps_nothing(page: AppTest) -> None:
    assert kept().visits() == []


def test_a_visit_is_kept_as_it_is_typed_and_comes_back_by_its_id_alone(page: AppTest) -> None:
    enter(page)
    [line] = kept().visits()
    assert page.query_params["visit"] == line.id
    again = reopened(line.id)
    assert texts(again) == texts(page)
    assert again.text_input(key="quote").value == "401"


def test_a_tap_reads_no_other_visit_however_many_there_are(page: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    others = [kept().save_visit(kept().new_id(), {"title": f"Invented {n}"}).id for n in range(3)]
    enter(page)
    read, was = list[str](), visits.line_of
    monkeypatch.setattr(visits, "line_of", lambda row: (read.append(row["id"]), was(row))[1])
    page.text_input(key="quote").set_value("409").run()
    assert not page.exception
    assert set(others).isdisjoint(read)
    assert len(kept().visits()) == 4
    assert set(others) < set(read)  # so a list is seen here


def test_what_is_half_entered_is_kept_too(page: AppTest) -> None:
    page.pills(key="group").set_value("laundry").run()
    page.pills(key="kind").set_value("clothes_washer").run()
    page.text_input(key="age").set_value("7,5 x").run()
    [line] = kept().visits()
    assert reopened(line.id).text_input(key="age").value == "7,5 x"


def test_without_a_kind_the_address_alone_holds_what_is_typed(page: AppTest) -> None:
    page.pills(key="group").set_value("laundry").run()
    page.text_input(key="age").set_value("7,5 x").run()
    assert kept().visits() == []
    again = followed(page)
    assert again.pills(key="group").value == "laundry"
    assert again.text_input(key="age").value == "7,5 x"


def test_a_name_which_no_address_holds_is_kept_even_without_a_kind(page: AppTest) -> None:
    page.text_input(key="title").set_value("Blue kitchen").run()
    page.pills(key="group").set_value("laundry").run()
    [line] = kept().visits()
    assert reopened(line.id).text_input(key="title").value == "Blue kitchen"
    page.pills(key="kind").set_value("clothes_washer").run()
    assert [each.id for each in kept().visits()] == [line.id]
    assert kept().visit(line.id).entries["appliance"]["class"] == "clothes_washer"


def test_another_kind_of_appliance_is_a_visit_of_its_own(page: AppTest) -> None:
    enter(page)
    [first] = kept().visits()
    before = kept().visit(first.id)
    page.pills(key="group").set_value("laundry").run()  # a group alone changes nothing that is kept
    assert page.query_params.get("visit") is None
    assert [kept().visit(each.id) for each in kept().visits()] == [before]
    page.pills(key="kind").set_value("clothes_washer").run()
    [second] = [each for each in kept().visits() if each.id != first.id]
    assert page.query_params["visit"] == second.id
    assert kept().visit(first.id) == before
    assert kept().visit(second.id).version == 1
    page.text_input(key="age").set_value("7").run()
    assert len(kept().visits()) == 2


def test_back_at_the_same_kind_the_same_visit_goes_on(page: AppTest) -> None:
    enter(page)
    [first] = kept().visits()
    page.pills(key="group").set_value("laundry").run()
    page.pills(key="kind").set_value("clothes_washer").run()
    page.pills(key="group").set_value("cooling").run()
    page.pills(key="kind").set_value("refrigerator").run()
    page.text_input(key="quote").set_value("222").run()
    assert page.query_params["visit"] == first.id
    assert kept().visit(first.id).entries["repair"]["quote"] == 222
    assert len(kept().visits()) == 2


def test_a_link_without_a_visit_keeps_nothing_until_something_is_changed(page: AppTest) -> None:
    enter(page)
    [line] = kept().visits()
    del page.query_params["visit"]
    for _ in range(2):
        again = followed(page)
        assert texts(again) == texts(page)
        again.run()  # a tap that changes nothing
        assert [each.id for each in kept().visits()] == [line.id]
    again.text_input(key="quote").set_value("222").run()
    [other] = [each for each in kept().visits() if each.id != line.id]
    assert kept().visit(other.id).entries["repair"]["quote"] == 222
    assert kept().visit(line.id).entries["repair"]["quote"] == 401


def test_typing_on_saves_the_same_visit(page: AppTest) -> None:
    enter(page)
    page.text_input(key="quote").set_value("222").run()
    [line] = kept().visits()
    assert kept().visit(line.id).entries["repair"]["quote"] == 222


def test_the_next_customer_is_another_visit_and_undo_goes_on_with_the_first(page: AppTest) -> None:
    enter(page)
    next(button for button in page.button if button.label == "Next").click().run()
    enter(page, quote="180")
    assert len(kept().visits()) == 2
    next(button for button in page.button if button.label == "Undo").click().run()
    page.text_input(key="quote").set_value("402").run()
    quotes = sorted(kept().visit(line.id).entries["repair"]["quote"] for line in kept().visits())
    assert quotes == [180, 402]


def test_a_change_in_two_windows_loses_neither(page: AppTest) -> None:
    enter(page)
    [line] = kept().visits()
    other = reopened(line.id)
    page.text_input(key="quote").set_value("300").run()
    other.text_input(key="quote").set_value("350").run()
    assert any("changed elsewhere" in text for text in texts(other))
    quotes = sorted(kept().visit(each.id).entries["repair"]["quote"] for each in kept().visits())
    assert quotes == [300, 350]
    assert other.query_params["visit"] != line.id


def test_a_deleted_visit_is_gone_and_its_link_says_so(page: AppTest) -> None:
    enter(page)
    [line] = kept().visits()
    kept().delete(Thing("visit", line.id))
    again = reopened(line.id)
    assert any("may have been deleted" in text for text in texts(again))


def test_a_store_that_cannot_be_opened_stops_no_answer(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    blocked = tmp_path / "a-file"
    blocked.write_text("no folder")
    monkeypatch.setenv("MENDPOINT_STORE", str(blocked))
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = enter(empty_page())
    assert any("You were quoted" in text for text in texts(page))
    assert any(str(blocked) in text for text in texts(page))


def test_a_visit_without_a_name_is_found_by_what_it_is_about(page: AppTest) -> None:
    enter(page)
    [line] = kept().visits("refrigerator")
    assert line.title == "Refrigerator-freezer (12 years) at $401"
    page.text_input(key="title").set_value("Blue kitchen").run()
    assert [each.title for each in kept().visits()] == ["Blue kitchen"]
