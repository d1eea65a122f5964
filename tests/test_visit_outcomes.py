"""How a visit ended: chosen after the answer, counted in the case where it says something of the unit, and fed to the
records of the shop by itself."""

import datetime
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest
from test_door import empty_page, enter, texts
from test_shop_page import shop_page

from decide.load.cases.case_file import write_case
from decide.load.jobs.book import open_book
from decide.load.jobs.rows import read_book
from decide.load.store.records import Visit
from decide.load.store.store import Store
from decide.load.store.visit_book import DECIDED, cause_counts, visit_book
from decide.load.tables.symptoms import symptoms
from decide.load.tables.tables import tables
from decide.shop.jobs import DECISIONS
from decide.show.screens.door.whose import ENDS
from decide.show.screens.state.session import FIRST_CASE

BEGUN = datetime.datetime(2026, 11, 2, 12, tzinfo=datetime.UTC)


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    return enter(empty_page())


def ended(page: AppTest, outcome: str, reason: str = "") -> dict[str, Any]:
    """Choose how it ended; the entries that were kept."""
    page.selectbox(key="outcome").set_value(outcome).run()
    if reason:
        page.text_input(key="outcome_reason").set_value(reason).run()
    assert not page.exception
    with Store.open() as store:
        visit = store.visit(store.visits()[0].id)
    assert visit.page["outcome"] == outcome
    return visit.entries


def test_the_eight_ends_and_no_other_are_offered(page: AppTest) -> None:
    assert set(ENDS) == {
        "accepted", "declined", "thinking", "no_fault_found", "part_no_longer_made", "referred", "made_safe", "stopped",
        "could_not_test",
    }  # fmt: skip
    assert len(page.selectbox(key="outcome").options) == len(ENDS)


@pytest.mark.parametrize("outcome", ["accepted", "declined", "thinking", "made_safe"])
def test_what_people_decide_changes_no_answer(page: AppTest, outcome: str) -> None:
    before = [text for text in texts(page) if "Worth" in text or "worth" in text]
    entries = ended(page, outcome)
    assert "outcome" not in entries["appliance"]
    assert [text for text in texts(page) if "Worth" in text or "worth" in text] == before


def test_no_fault_found_asks_for_nothing_and_keeps_the_price_that_was_typed(page: AppTest) -> None:
    entries = ended(page, "no_fault_found")
    assert entries["appliance"]["outcome"] == "no_fault_found"
    assert "quote" not in entries.get("repair", {})
    assert page.text_input(key="quote").value == "401"
    assert any("Pay for no part" in text for text in texts(page))
    assert ended(page, "accepted")["repair"]["quote"] == 401.0


def test_a_part_no_longer_made_rules_the_repair_out(page: AppTest) -> None:
    assert ended(page, "part_no_longer_made")["appliance"]["outcome"] == "part_no_longer_made"
    assert any("The part is no longer made" in text for text in texts(page))


@pytest.mark.parametrize("outcome", ["stopped", "referred", "could_not_test"])
def test_a_stop_counts_once_it_has_its_reason(page: AppTest, outcome: str) -> None:
    assert "outcome" not in ended(page, outcome)["appliance"]
    assert page.text_input(key="quote").value == "401"
    entries = ended(page, outcome, "Invented reason")
    assert (entries["appliance"]["outcome"], entries["appliance"]["outcome_reason"]) == (outcome, "Invented reason")
    assert any("Invented reason" in text for text in texts(page))
    assert "Invented reason" not in str(page.query_params)


def a_visit(number: int, outcome: str | None, **changes: Any) -> Visit:
    entries = {"appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"}, "repair": {"quote": 401.0}}
    page = {"outcome": outcome, "place": "US", "symptom": "warm_throughout", "finding": "relay"}
    values = {"title": "", "version": 1, "created": BEGUN, "changed": BEGUN, "copy_of": "", "files": {}, "page": page}
    made = {"id": f"invented-visit-{number:04}", "details": {}, "text": write_case(entries), **values, **changes}
    return Visit(**made)


def in_parts(**parts: float) -> str:
    return write_case(
        {"appliance": {"class": "refrigerator", "age": 7, "fault": "icemaker"}, "repair": {"quote": parts}}
    )


def test_decided_visits_are_a_job_book_that_names_nobody() -> None:
    people = {"customer": "Invented Person", "address": "1 Invented Lane", "serial": "SN 1"}
    visits = [
        a_visit(1, "accepted", details=people),
        a_visit(2, "declined", details=people),
        a_visit(3, "thinking", text=in_parts(parts=100.0, labour_hours=1.5, labour_rate=80.0, tax_rate=0.1)),
        a_visit(4, "no_fault_found"),
        a_visit(5, None),
        a_visit(6, "accepted", page={"outcome": "accepted", "place": "DE"}),
        a_visit(7, "accepted", text=write_case({"repair": {"quote": 100.0}})),
    ]
    content, mapping, count = visit_book(visits, "US-TX", tables())
    assert count == 3
    assert not any(word in content.decode() for word in ("Invented", "SN 1", "Lane"))
    read = read_book(open_book(content, "visits"), mapping)
    assert not len(read.skipped)
    jobs = read.jobs
    assert [jobs.kinds[code] for code in jobs.kind] == ["refrigerator"] * 3
    assert [jobs.faults[code] for code in jobs.fault] == ["compressor", "compressor", "icemaker"]
    assert [DECISIONS[code] for code in jobs.decision] == [DECIDED[end] for end in ("accepted", "declined", "thinking")]
    assert jobs.quote.tolist() == [401.0, 401.0, pytest.approx(1.1 * 220.0)]
    assert jobs.age.tolist() == [12.0, 12.0, 7.0]
    assert jobs.date.astype(str).tolist() == ["2026-11-02"] * 3
    assert jobs.unit[0] == jobs.unit[1] != ""
    assert jobs.unit[2] == ""


def test_causes_that_were_found_are_counted_by_symptom() -> None:
    other = {"symptom": "warm_throughout", "finding": ""}
    visits = [a_visit(1, None), a_visit(2, "accepted"), a_visit(3, None, page=other)]
    assert cause_counts(visits) == {"warm_throughout": {"relay": 2.0}}


def test_found_causes_move_the_shares_at_the_door_by_themselves(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)

    def shares() -> str:
        page = empty_page()
        page.session_state["seen"] = True
        enter(page)
        page.selectbox(key="symptom").set_value("warm_throughout").run()
        return next(text for text in texts(page) if " · " in text and "%" in text)

    before = shares()
    with Store.open() as store:
        cause = symptoms("US").symptom("refrigerator", "warm_throughout").ids[-1]
        for _ in range(40):
            entries = {"appliance": {"class": "refrigerator", "age": 9.0}}
            store.save_visit(store.new_id(), entries, page={"symptom": "warm_throughout", "finding": cause})
    after = shares()
    assert before != after


def test_the_shop_opens_the_visits_as_its_book_and_keeps_no_copy_of_it(page: AppTest) -> None:
    shop = shop_page()
    assert "shop_visits" not in [button.key for button in shop.button]
    ended(page, "accepted")
    shop = shop_page()
    assert shop.button(key="shop_visits").label == "Use the visits kept here (1)"
    shop.button(key="shop_visits").click().run()
    assert not shop.exception
    assert shop.session_state["shop_held"].of_visits
    assert "1 of 1 row could be read: 100%." in texts(shop)
    with Store.open() as store:
        assert (store.books(), store.mappings()) == ([], {})
