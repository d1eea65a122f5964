"""Signing in, over loopback: the screens behind a real Caddy, who gets what, and the attacks of who may not."""

import datetime
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sign_in_servers import (
    NAME,
    SECRET,
    Page,
    Provider,
    Shop,
    Visitor,
    by_the_proxy,
    provider_running,
    shop_behind,
    word_of,
    written,
)
from websockets.exceptions import ConnectionClosed, InvalidStatus

from decide.errors import CaseError, MendpointError
from decide.load.store.people import MOST_LINES, PEOPLE, Role, people_text, read_people
from decide.load.store.records import NotAllowed, Thing
from decide.load.store.store import Store
from decide.show.cli.main import EXTRAS
from decide.show.pocket.page import _frame
from decide.show.text.phrases import Phrases, languages

LISTS = people_text({Role.OWNER: ["boss"], Role.TECHNICIAN: ["van1", "van2"]})
ENTRIES = {"appliance": {"class": "refrigerator", "age": 9}, "repair": {"quote": 185.5}}
UNTRUE = {"Mendpoint-Name": "boss", "Mendpoint-Secret": "x" * len(SECRET)}
TRUE = {"Mendpoint-Name": "boss", "Mendpoint-Secret": SECRET}


def of(store: Store, who: str | None) -> Store:
    """The same store as somebody else's."""
    return Store.open(store.where.removesuffix("/store.sqlite"), who=lambda: who)


@pytest.fixture
def open_store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "kept")) as store:
        store.save_settings({PEOPLE: LISTS})
        yield store


@pytest.fixture(scope="module")
def proxied(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with shop_behind(tmp_path_factory.mktemp("proxied"), by_the_proxy()) as shop:
        yield shop


@pytest.fixture
def shop(proxied: Shop) -> Shop:
    with Store.open(proxied.store) as store:
        store.save_settings({PEOPLE: LISTS})
    return proxied


def kept(shop: Shop, who: str, title: str) -> str:
    """The id of a visit that somebody made."""
    with Store.open(shop.store, who=lambda: who) as store:
        return store.save_visit(
            store.new_id(), {**ENTRIES, "title": title}, page={"kind": "refrigerator", "quote": "987.65"}
        ).id


# the store asks


TECHNICIANS_NOT: dict[str, Any] = {
    "books": (), "book_content": ("x" * 16,), "map_book": ("x" * 16, "", 1), "keep_book": ("a.csv", b"1"),
    "mappings": (), "save_mapping": ("a", '[columns]\ndate = "date"\n'), "use_figures": ("x" * 16, True),
    "keep_figures": ("a", "", datetime.date(2026, 1, 1)), "save_settings": ({PEOPLE: LISTS},), "things": (),
    "delete": (Thing("setting", PEOPLE),), "export_all": (Path("x.zip"),), "import_all": (Path("x.zip"),),
    "vacuum": (), "check": (), "note_export": ("rows.csv",), "deeds": (5,),
}  # fmt: skip
TECHNICIANS: dict[str, Any] = {
    "visit": None, "visits": (), "save_visit": None, "settings": (), "local_figures": (), "damaged": (),
    "lacks_log": (), "note_hand_out": ("x" * 16,), "visits_without_files": (),
}  # fmt: skip


def test_every_method_of_the_store_asks_and_what_is_not_a_technicians_is_refused(open_store: Store) -> None:
    public = {name for name, each in vars(Store).items() if callable(each) and not name.startswith("_")}
    assert public - {"role", "close", "new_id"} == set(TECHNICIANS_NOT) | set(TECHNICIANS), (
        "a new method is an owner's until it is listed"
    )
    van1 = of(open_store, "van1")
    for name, given in TECHNICIANS_NOT.items():
        with pytest.raises(NotAllowed, match="Only an owner"):
            getattr(van1, name)(*given)
    for name, given in TECHNICIANS.items():
        if given is not None:
            getattr(van1, name)(*given)
    for nobody in ("", "van9", "Van1", "van1 ", "boss\0"):
        for name, given in (TECHNICIANS_NOT | TECHNICIANS).items():
            with pytest.raises(NotAllowed, match="on no list"):
                getattr(of(open_store, nobody), name)(*(given or ()))
    assert open_store.settings()[PEOPLE] == LISTS


def test_an_unbound_method_asks_too(open_store: Store) -> None:
    with pytest.raises(NotAllowed):
        Store.books(of(open_store, "van1"))


def test_a_technician_has_his_own_visits_and_an_owner_all(open_store: Store) -> None:
    van1, van2, boss = (of(open_store, name) for name in ("van1", "van2", "boss"))
    before = open_store.save_visit(open_store.new_id(), {**ENTRIES, "title": "from before"})
    mine = van1.save_visit(van1.new_id(), {**ENTRIES, "title": "Van1's"})
    assert (mine.person, van1.visit(mine.id).title) == ("van1", "Van1's")
    assert [line.title for line in van1.visits()] == ["Van1's"]
    assert van2.visits() == []
    for other in (before.id, mine.id):
        with pytest.raises(NotAllowed, match="another person's"):
            van2.visit(other)
        with pytest.raises(NotAllowed, match="another person's"):
            van2.save_visit(other, {**ENTRIES, "title": "taken"}, version=1)
    assert {line.title for line in boss.visits()} == {"from before", "Van1's"}
    assert boss.save_visit(mine.id, {**ENTRIES, "title": "mended"}, version=1).person == "van1"
    assert van1.visit(mine.id).title == "mended"


def test_whose_a_visit_is_comes_with_an_export(open_store: Store, tmp_path: Path) -> None:
    mine = of(open_store, "van1").save_visit(open_store.new_id(), ENTRIES)
    with Store.open(str(tmp_path / "other")) as other:
        other.import_all(open_store.export_all(tmp_path / "all.zip"))
        assert other.visit(mine.id).person == "van1"
        assert other.check() == open_store.check()


def test_the_log_says_who_did_what_and_is_bounded(
    open_store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    van1, boss = of(open_store, "van1"), of(open_store, "boss")
    visit = van1.save_visit(van1.new_id(), {**ENTRIES, "title": "Corner house"})
    van1.save_visit(visit.id, {**ENTRIES, "title": "Corner house again"}, version=1)
    with pytest.raises(NotAllowed):
        van1.delete(Thing("visit", visit.id))
    boss.save_settings({"paper": "a4"})
    boss.export_all(tmp_path / "x.zip")
    boss.delete(Thing("visit", visit.id))
    lines = [(line.person, line.deed, line.what) for line in boss.deeds(50)]
    assert lines == [
        ("boss", "delete", f"visit {visit.id}"), ("boss", "export_all", "x.zip"), ("boss", "save_settings", "paper"),
        ("van1", "save_visit", visit.id),
    ]  # fmt: skip
    assert all(abs(line.at - datetime.datetime.now(datetime.UTC)) < datetime.timedelta(minutes=5)
               for line in boss.deeds(50))  # fmt: skip
    assert b"Corner house" not in Path(open_store.where).read_bytes(), "what is deleted does not live on in the log"
    with pytest.raises(MendpointError):
        boss.delete(Thing("visit", visit.id))
    assert len(boss.deeds(50)) == 4, "what did not happen is not noted"
    monkeypatch.setattr("decide.load.store.people.MOST_LINES", 6)
    for number in range(20):
        boss.note_export(f"{number}.csv")
    assert [line.what for line in boss.deeds(MOST_LINES)] == [f"{number}.csv" for number in range(19, 13, -1)]


WRITERS = {
    "save_visit", "keep_book", "map_book", "save_mapping", "keep_figures", "use_figures", "save_settings", "delete",
    "export_all", "import_all", "note_export", "note_hand_out",
}  # fmt: skip


def test_all_that_is_noted_can_be_said_and_looking_is_not_noted(open_store: Store) -> None:
    for language in languages():
        assert {key for key in WRITERS if Phrases.of(language).say(f"people.deed.{key}", what="x")} == WRITERS
    boss = of(open_store, "boss")
    for name, given in (TECHNICIANS_NOT | TECHNICIANS).items():
        if name not in {*WRITERS, "visit", "book_content", "vacuum"}:
            getattr(boss, name)(*given)
    assert boss.deeds(9) == []


def test_nothing_is_noted_where_nobody_signs_in(open_store: Store) -> None:
    open_store.save_visit(open_store.new_id(), ENTRIES)
    assert open_store.deeds(5) == []


def test_a_damaged_list_lets_nobody_in(open_store: Store) -> None:
    for text in ("{", "[]", '{"owner": 5}', "null", '{"owner": [""]}', '{"owner": "boss"}'):
        open_store.save_settings({PEOPLE: text})
        for name in ("boss", ""):
            with pytest.raises(NotAllowed):
                of(open_store, name).visits()
    with pytest.raises(CaseError, match="must have an owner"):
        people_text({Role.TECHNICIAN: ["van1"]})
    assert read_people("") == {}


# the proxy


def test_through_the_proxy_each_sees_what_the_role_allows(shop: Shop) -> None:
    mine, other = kept(shop, "van1", "Visit of Van1"), kept(shop, "van2", "Visit of Van2")
    with shop.stream(word_of("van1")) as line:
        page = Page(line)
        assert "Visit of Van1" in page.run("/") or "visits" in page.text
        assert "Only an owner can open this part" in page.run("/shop")
        assert "set_export" not in page.ids
    with shop.stream(word_of("van1")) as line:
        text = Page(line, query=f"visit={other}").text
        assert "another person's" in text
        assert "987.65" not in text
    with shop.stream(word_of("van1")) as line:
        text = Page(line, query=f"visit={mine}").text
        assert "another person's" not in text
        assert "987.65" in text
    with shop.stream(word_of("boss")) as line:
        page = Page(line, "/shop", query="part=settings")
        assert "Who may do what" in page.text
        assert "set_export" in page.ids


def test_a_link_raises_no_role(shop: Shop) -> None:
    for query in ("part=settings", "person=boss", "mendpoint-name=boss", "role=owner&part=settings", "book=x"):
        with shop.stream(word_of("van1") | {"Cookie": "mendpoint-name=boss"}) as line:
            page = Page(line, "/shop", query=query)
            assert "Only an owner can open this part" in page.text
            assert "Who may do what" not in page.text


def test_without_a_password_the_proxy_gives_nothing(shop: Shop) -> None:
    for headers in ({}, word_of("boss", "wrong"), word_of("boss", ""), TRUE):
        assert shop.ask("/", headers)[0] == 401
        assert shop.ask("/pocket/", headers)[0] == 401
        with pytest.raises(InvalidStatus) as refused:
            shop.stream(headers)
        assert refused.value.response.status_code == 401


@pytest.mark.parametrize(
    "headers",
    [{"Mendpoint-Name": "boss"}, {"MENDPOINT-NAME": "boss"}, TRUE, UNTRUE, {"Mendpoint_Name": "boss"},
     {"Mendpoint-Name": "boss, van1"}, {"Connection": "Mendpoint-Secret", "Mendpoint-Name": "boss"}],
)  # fmt: skip
def test_a_name_that_comes_from_outside_is_taken_away(shop: Shop, headers: dict[str, str]) -> None:
    with shop.stream(word_of("guest") | headers) as line:
        assert "signed in as guest" in Page(line, "/shop").text


@pytest.mark.parametrize(
    "headers",
    [{}, {"Mendpoint-Name": "boss"}, UNTRUE, {**UNTRUE, "Mendpoint-Secret": SECRET[:-1]}, {"Mendpoint-Secret": SECRET},
     {**TRUE, "Mendpoint-Secret": SECRET + "\t "[:0] + "x"}, {"Authorization": word_of("boss")["Authorization"]}],
)  # fmt: skip
def test_past_the_proxy_nobody_gets_in_without_its_secret(shop: Shop, headers: dict[str, str]) -> None:
    for path in ("/", "/shop", "/pocket/", "/_stcore/health", "/_stcore/host-config", "/media/x", "/auth/login"):
        status, body, _ = shop.ask(path, headers, through=False)
        assert status == 403
        assert SECRET.encode() not in body
    assert shop.ask("/_stcore/upload_file/x/y", headers, through=False, method="PUT")[0] == 403
    with pytest.raises(InvalidStatus) as refused:
        shop.stream(headers, through=False)
    assert refused.value.response.status_code == 403
    assert refused.value.response.headers["Connection"] == "close"  # else a proxy uses it again, and waits for ever


def test_the_secret_opens_it_and_stands_in_no_log(shop: Shop) -> None:
    assert shop.ask("/", TRUE, through=False)[0] == 200
    for log in shop.folder.glob("*.log"):
        assert SECRET not in log.read_text()
    who, where, *_ = (shop.folder / "server.log").read_text().splitlines()
    assert who == "Owners: boss"
    assert where.startswith(f"The screens are at {shop.origin}; Ctrl+C ends")


def test_it_answers_to_its_own_name_and_origin_alone(shop: Shop) -> None:
    for host in ("localhost", f"localhost:{shop.inside}", NAME, "evil.test", f"{shop.host}.evil.test"):
        assert shop.ask("/", {**TRUE, "Host": host}, through=False)[0] == 403
    for origin in (f"http://{shop.host}", "https://evil.test", "null"):
        assert shop.ask("/", word_of("boss") | {"Origin": origin})[0] == 403
    assert shop.ask("/", word_of("boss") | {"Origin": shop.origin})[0] == 200


def test_a_name_that_is_taken_off_is_out_at_its_next_tap(shop: Shop) -> None:
    with shop.stream(word_of("van2")) as line:
        page = Page(line)
        assert "on no list" not in page.text
        with Store.open(shop.store) as store:
            page_of_the_shop = "QUJD".join(_frame()).encode()
            store.save_settings({"pocket_page": page_of_the_shop})
            assert shop.ask("/pocket/", word_of("van2"))[1] == page_of_the_shop
            store.save_settings({PEOPLE: people_text({Role.OWNER: ["boss"], Role.TECHNICIAN: ["van1"]})})
        assert "signed in as van2. That name is on no list" in page.run("/")
        assert shop.ask("/pocket/", word_of("van2"))[0] == 404
        assert shop.ask("/pocket/", word_of("van1"))[1] == page_of_the_shop


def test_an_owner_who_is_made_a_technician_cannot_finish_what_was_begun(shop: Shop) -> None:
    """Streamlit does what a button says before it draws the page; the store refuses it all the same."""
    visit = kept(shop, "van1", "Stays where it is")
    with Store.open(shop.store) as store:
        store.save_settings({PEOPLE: people_text({Role.OWNER: ["boss", "van2"]})})
    with shop.stream(word_of("van2")) as line:
        page = Page(line, "/shop", query="part=settings")
        page.run("/shop", set_check=True)
        assert "is sound" in page.text
        with Store.open(shop.store) as store:
            store.save_settings({PEOPLE: people_text({Role.OWNER: ["boss"], Role.TECHNICIAN: ["van2"]})})
        assert "Only an owner can open this part" in page.run("/shop", people_owner="van2\nboss")
    with Store.open(shop.store) as store:
        assert read_people(str(store.settings()[PEOPLE])) == {"van2": Role.TECHNICIAN, "boss": Role.OWNER}
        assert store.visit(visit).title == "Stays where it is"


def test_an_owner_names_people_and_is_not_locked_out(shop: Shop) -> None:
    with shop.stream(word_of("boss")) as line:
        page = Page(line, "/shop", query="part=settings")
        told = page.run("/shop", people_owner="van1", people_technician="van2")
        assert "must have your own name" in told
        page.run("/shop", people_owner="boss\n van1 ", people_technician="van2")
    with Store.open(shop.store) as store:
        people = read_people(str(store.settings()[PEOPLE]))
        assert people == {"boss": Role.OWNER, "van1": Role.OWNER, "van2": Role.TECHNICIAN}
        assert (store.deeds(1)[0].person, store.deeds(1)[0].what) == ("boss", PEOPLE)


def test_nobody_goes_on_with_the_session_of_another(shop: Shop) -> None:
    visit = kept(shop, "boss", "Boss's")
    with shop.stream(word_of("boss")) as line:
        page = Page(line, query=f"visit={visit}")
        session = page.session
        assert "987.65" in page.text
    time.sleep(0.5)
    with shop.stream(word_of("van1"), session=session) as line:
        assert "987.65" not in Page(line).text


@pytest.mark.server
def test_a_stream_ends_after_its_longest_time(tmp_path: Path) -> None:
    with shop_behind(tmp_path, by_the_proxy({"boss": "owner's word"}), longest=3) as shop:
        begun = time.monotonic()
        with shop.stream(word_of("boss")) as line, pytest.raises(ConnectionClosed):
            line.recv(timeout=60)
        assert time.monotonic() - begun > 2.5
        with shop.stream(word_of("boss")) as line:
            assert line.response is not None, "the proxy was asked again, and let it in"
        with pytest.raises(InvalidStatus):
            shop.stream(word_of("boss", "an old word"))


# how it is started


def test_how_people_sign_in_is_refused_where_it_is_not_safe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from decide.show.screens import sign_in
    from decide.show.serve import serve

    monkeypatch.setattr(sign_in, "_way", None)  # what is asked of the process is not asked of the tests after it
    good, name = "s" * 40, f"https://{NAME}"
    provider = (
        f'[auth]\nredirect_uri = "{name}/oauth2callback"\ncookie_secret = "{good}"\nclient_id = "x"\n'
        'client_secret = "y"\nserver_metadata_url = "https://id.test/.well-known/openid-configuration"\n'
    )
    cases: list[tuple[str, str, str, int]] = [
        ("must be https://NAME", f"http://{NAME}", good, 0o600), ("must be https://NAME", NAME, good, 0o600),
        ("must be https://NAME", f"{name}/x", good, 0o600), ("must be https://NAME", "", good, 0o600),
        ("closed to all others", name, good, 0o640), ("closed to all others", name, good, 0o604),
        ("secret must look", name, "short", 0o600), ("secret must look", name, "s" * 20 + "\n" + "s" * 20, 0o600),
    ]  # fmt: skip
    for says, behind, text, mode in cases:
        with pytest.raises(CaseError, match=says):
            serve(behind=behind, proxy_secret=written(tmp_path / "secret", text, mode), owners=["boss"])
    for says, old, new in (
        ("client_id must look", 'client_id = "x"\n', ""), ("has no table .auth.", "[auth]", "[other]"),
        ("has no table", "=", ""), ("redirect_uri must look", "/oauth2callback", "/other"),
        ("cookie_secret must look", good, "short"),
        ("server_metadata_url must look", "https://id.test", "http://id.test"), ("closed to all", "", ""),
    ):  # fmt: skip
        file = written(tmp_path / "provider", provider.replace(old, new), 0o600 if old else 0o644)
        with pytest.raises(CaseError, match=says):
            serve(behind=name, sign_in=file, owners=["boss"])
    secret = written(tmp_path / "secret", good)
    with pytest.raises(CaseError, match="with one of"):
        serve(behind=name)
    with pytest.raises(CaseError, match="with one of"):
        serve(behind=name, proxy_secret=secret, sign_in=written(tmp_path / "provider", provider))
    with pytest.raises(CaseError, match="without --network"):
        serve(behind=name, proxy_secret=secret, network="192.0.2.1")
    with pytest.raises(CaseError, match="--owner NAME"):
        serve(behind=name, proxy_secret=secret)
    file = written(tmp_path / "provider", provider)
    with monkeypatch.context() as without:
        without.setitem(sys.modules, "authlib", None)
        for each in ("authlib.integrations", "authlib.integrations.starlette_client"):
            without.delitem(sys.modules, each, raising=False)
        with pytest.raises(ModuleNotFoundError) as missed:
            serve(behind=name, sign_in=file, owners=["boss"])
    assert EXTRAS[str(missed.value.name).partition(".")[0]] == "signin"
    with pytest.raises(MendpointError, match=re.escape(str(tmp_path / "none"))):
        serve(behind=name, proxy_secret=tmp_path / "none", owners=["boss"])


def test_who_may_what_is_said_at_the_start_as_the_list_may_have_come_with_an_import(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from store_attacks import NOW, archive, sound

    from decide.show.serve import _name_owners

    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "kept"))
    listed, files = sound()
    listed["settings"] = [{"name": PEOPLE, "changed": NOW, "picture": False, "path": "settings/1.txt"}]
    files["settings/1.txt"] = b'{"owner": ["mallory\\u001b[2J"], "technician": ["trudy"]}'
    with Store.open() as store:
        store.import_all(archive(tmp_path / "sent.zip", listed, files))
    for owners in (["boss"], []):
        _name_owners(owners)
        assert capsys.readouterr().out.splitlines() == ["Technicians: trudy", "Owners: boss, mallory?[2J"]


@pytest.mark.parametrize("text", ["garbage", "[1]", '{"owner": 5}', "{"])
def test_a_list_that_cannot_be_read_is_begun_anew_by_who_starts_the_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    from decide.show.serve import _name_owners

    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "kept"))
    with Store.open() as store:
        store.save_settings({PEOPLE: text})
        with pytest.raises(CaseError, match="--owner NAME"):
            _name_owners([])
        _name_owners(["boss"])
        assert read_people(str(store.settings()[PEOPLE])) == {"boss": Role.OWNER}


# a provider


@pytest.fixture(scope="module")
def provided(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Shop, Provider]]:
    folder = tmp_path_factory.mktemp("provided")
    with provider_running(folder) as provider:
        for name in ("boss", "van1", "stranger"):
            provider.knows(name, email=f"{name}@id.test", email_verified=name != "stranger")
        site = " reverse_proxy 127.0.0.1:8501"
        with shop_behind(folder, site, provider=provider, owners=("boss@id.test",)) as shop:
            yield shop, provider


@pytest.fixture
def visitor(provided: tuple[Shop, Provider]) -> Visitor:
    shop, provider = provided
    provider.spoil("")
    with Store.open(shop.store) as store:
        names = {Role.OWNER: ["boss@id.test"], Role.TECHNICIAN: ["van1@id.test"]}
        store.save_settings({PEOPLE: people_text(names)})
    return Visitor(shop)


def test_a_provider_says_who_it_is_and_the_list_what_he_may(provided: Any, visitor: Visitor) -> None:
    visitor.sign_in(provided[1], "van1")
    assert "Only an owner can open this part" in visitor.page("/shop")
    assert "Sign out" in visitor.page()
    boss = Visitor(visitor.shop)
    boss.sign_in(provided[1], "boss")
    assert "Who may do what" in boss.page("/shop", "part=settings")


def test_before_anybody_signs_in_there_is_an_empty_page(visitor: Visitor) -> None:
    other = kept(visitor.shop, "boss@id.test", "Boss's")
    for address, query in (("/", f"visit={other}"), ("/home", ""), ("/shop", "part=settings")):
        text = visitor.page(address, query)
        assert "Sign in to go on" in text
        assert "987.65" not in text
        assert "Who may do what" not in text
    for path in ("/pocket/", "/pocket", "/pocket/worker.js", "/media/x"):
        assert visitor.get(path)[0] == 403
    assert visitor.shop.ask("/_stcore/upload_file/x/y", {}, method="PUT")[0] == 403


@pytest.mark.parametrize("how", ["expired", "issuer", "key", "audience"])
def test_a_spoilt_token_signs_nobody_in(provided: Any, visitor: Visitor, how: str) -> None:
    provided[1].spoil(how)
    visitor.sign_in(provided[1], "boss")
    assert "Sign in to go on" in visitor.page("/shop")
    assert visitor.get("/pocket/")[0] == 403


def test_an_address_that_the_provider_did_not_check_is_no_name(provided: Any, visitor: Visitor) -> None:
    provided[1].knows("stranger", email="boss@id.test", email_verified=False)
    visitor.sign_in(provided[1], "stranger")
    assert "signed in as sub:stranger. That name is on no list" in visitor.page("/shop")


def test_a_forged_cookie_or_header_signs_nobody_in(provided: Any, visitor: Visitor) -> None:
    visitor.sign_in(provided[1], "van1")
    good = dict(visitor.cookies)
    name = next(each for each in good if each.startswith("_streamlit_user"))
    body = good[name].strip('"')
    for value in (body[:-3] + "AAA", body[5:], "x", "", TRUE["Mendpoint-Name"]):
        visitor.cookies = {**good, name: value}
        assert "Sign in to go on" in visitor.page("/shop")
    visitor.cookies = {}
    with visitor.shop.stream({**TRUE, "X-Forwarded-User": "boss"}) as line:
        assert "Sign in to go on" in Page(line, "/shop").text


def test_a_code_is_good_for_one_browser_and_one_time(provided: Any, visitor: Visitor) -> None:
    for path in ("/oauth2callback?code=x&state=y", "/oauth2callback", "/oauth2callback?error=access_denied"):
        assert visitor.get(path)[0] == 302
        assert "Sign in to go on" in visitor.page("/shop")


def test_who_signs_out_is_out(provided: Any, visitor: Visitor) -> None:
    visitor.sign_in(provided[1], "boss")
    assert visitor.get("/auth/logout")[0] == 302
    assert "Sign in to go on" in visitor.page("/shop")


def test_a_name_of_a_provider_is_out_at_its_next_tap(provided: Any, visitor: Visitor) -> None:
    visitor.sign_in(provided[1], "van1")
    with visitor.shop.stream(visitor.headers) as line:
        page = Page(line)
        with Store.open(visitor.shop.store) as store:
            store.save_settings({PEOPLE: people_text({Role.OWNER: ["boss@id.test"]})})
        assert "That name is on no list" in page.run("/")


@pytest.mark.server
def test_what_a_provider_said_is_old_after_the_longest_session(tmp_path: Path) -> None:
    with provider_running(tmp_path) as provider:
        provider.knows("boss", email="boss@id.test", email_verified=True)
        site = " reverse_proxy 127.0.0.1:8501"
        with shop_behind(tmp_path, site, longest=15, provider=provider, owners=("boss@id.test",)) as shop:
            visitor = Visitor(shop)
            visitor.sign_in(provider, "boss")
            assert "sign_out" in visitor.page()
            time.sleep(16)
            assert "Sign in to go on" in visitor.page()


def test_the_program_calls_the_provider_and_nobody_else(provided: Any, proxied: Shop, visitor: Visitor) -> None:
    visitor.sign_in(provided[1], "boss")
    visitor.page("/shop")
    assert set((visitor.shop.folder / "asked.txt").read_text().splitlines()) == {f"('127.0.0.1', {provided[1].port})"}
    with proxied.stream(word_of("boss")) as line:
        Page(line, "/shop")
    assert not (proxied.folder / "asked.txt").exists()
