"""How a visit ended: chosen after the answer, counted in the case where it says something of the unit, and fed to the
records of the shop by itself."""

import datetime
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT
from streamlit.testing.v1 import AppTest
from test_door import empty_page, enter, entered, page_with, texts
from test_shop_page import shop_page

from decide.answers.answer import answer
from decide.errors import EntryErrors
from decide.load.cases.case_file import complete, write_case
from decide.load.jobs.book import open_book
from decide.load.jobs.rows import read_book
from decide.load.store.records import Visit
from decide.load.store.store import Store
from decide.load.store.visit_book import DECIDED, cause_counts, visit_book
from decide.load.tables.symptoms import symptoms
from decide.load.tables.tables import tables
from decide.shop.jobs import DECISIONS
from decide.show.pdf.sheet import sheet_of
from decide.show.screens.state.fields import ENDS
from decide.show.screens.state.session import FIRST_CASE
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

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


def test_these_ends_and_no_other_are_offered(page: AppTest) -> None:
    assert set(ENDS) - {"several_faults"} == {
        "accepted", "declined", "thinking", "no_fault_found", "part_no_longer_made", "referred", "made_safe", "stopped",
        "could_not_test", "recalled",
    }  # fmt: skip
    assert len(page.selectbox(key="outcome").options) == len(ENDS) - 1


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


def test_the_technicians_own_stop_stands_above_all_else_with_its_reason(page: AppTest) -> None:
    ended(page, "stopped", "Invented reason")
    said = [text for text in texts(page) if "has stopped its use" in text]
    assert len(said) == 2  # the order, and the message to be sent
    assert said[0].endswith("Invented reason")
    assert texts(page).index(said[0]) < texts(page).index(Words.of().say("caution.now"))


def test_an_end_that_is_none_in_an_address_or_a_visit_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    known = {"kind": "refrigerator", "fault": "compressor", "age": "12", "place": "US", "second_fault": "drum"}
    for key, value in {**known, "outcome": "won the lottery"}.items():
        page.query_params[key] = value
    page.run()
    assert not page.exception
    assert (page.session_state["outcome"], page.session_state["second_fault"]) == (None, None)
    with Store.open() as store:
        odd = {**known, "outcome": "stopped", "outcome_reason": "x" * 900}
        visit = store.save_visit(store.new_id(), {}, page=odd, details={"follow_up": "2190-01-02"})
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    page.query_params["visit"] = visit.id
    page.session_state["whose"] = True
    page.run()
    assert not page.exception
    assert page.session_state["outcome_reason"] == "x" * 900
    assert str(page.date_input(key="whose_follow_up").value) == "2190-01-02"


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
    content, mapping = visit_book(visits, "US-TX", tables())
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
    assert cause_counts(visit.page for visit in visits) == {"warm_throughout": {"relay": 2.0}}


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


# a second fault, and a quote in parts


def complete_of(**there: Any) -> Any:
    named = {"class": "refrigerator", "age": 8.0, "fault": "icemaker", **there}
    return complete({"appliance": named, "repair": {"quote": 95.0}})


def test_a_second_fault_that_is_named_brings_its_cautions_its_news_and_its_usual_price() -> None:
    one, other = complete_of(), complete_of(fault="compressor")
    both, only_said = complete_of(second_fault="compressor"), complete_of(second_fault=True)
    ids = [{caution.id for caution in filled.cautions} for filled in (one, other, both)]
    assert ids[2] == ids[0] | ids[1] > ids[0]
    assert len(both.cautions) == len(ids[2])
    ratios = [float(filled.case.appliance.hazard_ratio) for filled in (one, only_said, both)]
    assert ratios[0] < ratios[1] < ratios[2]  # a compressor says more of a unit than an icemaker
    usual = [filled.remarks.usual for filled in (one, other, both)]
    assert usual[2].low == pytest.approx(usual[0].low + usual[1].low)
    assert usual[2].high == pytest.approx(usual[0].high + usual[1].high)
    assert float(one.case.repair.food_loss) == 0 < float(both.case.repair.food_loss)


def test_a_second_fault_stops_the_use_as_it_does_alone() -> None:
    entries = {"appliance": {"class": "furnace_gas", "age": 9.0, "fault": "gas_burner"}, "repair": {"quote": 300.0}}
    both = answer({**entries, "appliance": {**entries["appliance"], "second_fault": "cracked_heat_exchanger"}})
    assert not answer(entries).weighing.stopped_by
    assert both.weighing.stopped_by
    words = Words.for_entries(entries)
    assert "heat exchanger" in words.verdict(both)
    assert "light" not in words.verdict(both).lower()
    assert "+ crack or hole" in sheet_of(words, both, on=BEGUN.date()).question.lower()


@pytest.mark.parametrize("second", ["drum", "no such fault", 3])
def test_a_second_fault_that_it_cannot_have_is_named(second: object) -> None:
    with pytest.raises(EntryErrors) as refused:
        complete_of(second_fault=second)
    assert [error.field for error in refused.value.errors] == ["appliance.second_fault"]


def test_a_second_fault_is_chosen_at_the_door_and_its_stop_is_said_at_once(page: AppTest) -> None:
    box = page.selectbox(key="second_fault")
    assert Words.of().fault("compressor") not in box.options
    box.set_value("icemaker").run()
    with Store.open() as store:
        assert store.visit(store.visits()[0].id).entries["appliance"]["second_fault"] == "icemaker"
    page.pills(key="group").set_value("heating").run()
    page.pills(key="kind").set_value("furnace_gas").run()
    page.selectbox(key="fault").set_value("gas_burner").run()
    assert page.session_state["second_fault"] is None
    page.selectbox(key="second_fault").set_value("cracked_heat_exchanger").run()
    assert any("Stop" in text and "heat exchanger" in text for text in texts(page))


def test_another_fault_without_its_name_stays_so_in_a_case_that_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = {**entered(), "appliance": {**entered()["appliance"], "second_fault": True}}
    page = page_with(entries, tmp_path, monkeypatch)
    assert page.session_state["second_fault"] == "other"
    page.text_input(key="age").set_value("11").run()
    with Store.open() as store:
        assert store.visit(store.visits()[0].id).entries["appliance"]["second_fault"] is True


def test_a_quote_is_built_of_parts_and_hours(page: AppTest) -> None:
    page.text_input(key="quote").set_value("").run()
    page.text_input(key="parts").set_value("100").run()
    page.text_input(key="labour_hours").set_value("1.5").run()
    page.text_input(key="labour_rate").set_value("120").run()
    assert "= $280.00" in texts(page)
    with Store.open() as store:
        quote = store.visit(store.visits()[0].id).entries["repair"]["quote"]
    assert quote == {"parts": 100.0, "labour_hours": 1.5, "labour_rate": 120.0}
    page.text_input(key="labour_rate").set_value("").run()
    rate = tables().usual("labour_rate", "US").value
    assert f"= ${100 + 1.5 * rate:,.2f}" in texts(page)
    page.text_input(key="quote").set_value("300").run()
    assert any("give it or its parts, not both" in text for text in texts(page))
    assert page.text_input(key="parts").value == "100"
    page.text_input(key="parts").set_value("").run()
    page.text_input(key="labour_hours").set_value("").run()
    with Store.open() as store:
        assert store.visit(store.visits()[0].id).entries["repair"]["quote"] == 300.0


def test_no_fault_found_drops_a_built_quote_too(page: AppTest) -> None:
    page.text_input(key="quote").set_value("").run()
    page.text_input(key="parts").set_value("100").run()
    assert "quote" not in ended(page, "no_fault_found").get("repair", {})
    assert page.text_input(key="parts").value == "100"


def test_appliances_of_the_last_visits_come_first_in_the_list(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    usual = empty_page()
    groups = list(usual.pills(key="group").options)
    usual.pills(key="group").set_value("kitchen").run()
    kinds = list(usual.pills(key="kind").options)
    with Store.open() as store:
        for kind in ("microwave", "dishwasher", "furnace_gas"):
            store.save_visit(store.new_id(), {"appliance": {"class": kind}}, page={"kind": kind})
    page = empty_page()
    first = [Words.of().say(f"group.{group}") for group in ("heating", "kitchen")]
    assert list(page.pills(key="group").options) == [*first, *(each for each in groups if each not in first)]
    page.pills(key="group").set_value("kitchen").run()
    lately = [Words.of().kind(kind) for kind in ("dishwasher", "microwave")]
    assert list(page.pills(key="kind").options) == [*lately, *(each for each in kinds if each not in lately)]
