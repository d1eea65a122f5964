"""Signing in as people do it, in a real browser: a technician's phone, an owner's desk, a provider's form."""

import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import DESK, PHONE, QUIET_BROWSER, at_rest, unfold
from playwright.sync_api import Browser, Page, expect
from playwright.sync_api import TimeoutError as NothingCameError
from sign_in_servers import NAME, PEOPLE, Provider, Shop, by_the_proxy, provider_running, shop_behind

from decide.load.store.people import PEOPLE as LISTS
from decide.load.store.people import Role, people_text
from decide.load.store.store import Store

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def browser(chromium: Browser) -> Iterator[Browser]:
    rules = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
    path = shutil.which("chromium")
    found = chromium.browser_type.launch(executable_path=path, args=[*QUIET_BROWSER, rules])
    yield found
    found.close()


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with shop_behind(tmp_path_factory.mktemp("proxied"), by_the_proxy()) as found:
        with Store.open(found.store) as store:
            store.save_settings({LISTS: people_text({Role.OWNER: ["boss", "van2"], Role.TECHNICIAN: ["van1"]})})
        yield found


def page_of(browser: Browser, shop: Shop, name: str, screen: dict[str, Any], address: str = "/") -> Page:
    word = {"username": name, "password": PEOPLE[name]}
    context = browser.new_context(**screen, ignore_https_errors=True, http_credentials=word, locale="en-US")
    context.set_default_timeout(60_000)
    page = context.new_page()
    page.goto(shop.origin + address)
    return at_rest(page)


def test_a_technician_works_at_the_door_and_gets_no_further(browser: Browser, shop: Shop) -> None:
    page = page_of(browser, shop, "van1", PHONE)
    page.get_by_role("button", name="See an example").click()
    at_rest(page)
    with page.expect_download() as came:
        page.locator(".st-key-give button").click()
    assert Path(came.value.path()).read_bytes().startswith(b"%PDF")
    unfold(at_rest(page), "Visits")
    expect(page.locator("[class*=st-key-visit_] button", has_text="Open").first).to_be_visible()
    expect(page.get_by_role("button", name="Delete")).to_have_count(0)
    expect(page.get_by_role("link", name="In the shop")).to_have_count(0)
    page.goto(f"{shop.origin}/shop?part=settings")
    expect(at_rest(page).get_by_text("Only an owner can open this part.")).to_be_visible()
    page.context.close()
    with Store.open(shop.store) as store:
        [visit] = store.visits()
        assert visit.person == "van1"
        assert {(line.person, line.deed, line.what) for line in store.deeds(9)} == {
            ("van1", "save_visit", visit.id), ("van1", "note_hand_out", visit.id),
        }  # fmt: skip


def test_an_owner_exports_and_once_no_owner_can_not(browser: Browser, shop: Shop) -> None:
    page = page_of(browser, shop, "van2", DESK, "/shop?part=settings")
    export = page.get_by_role("button", name="Everything as one file")
    with page.expect_download() as came:
        export.click()
    with zipfile.ZipFile(came.value.path()) as archive:
        assert any(name.startswith("visits/") for name in archive.namelist()) or archive.namelist()
    unfold(page, "Who did what")
    expect(page.get_by_text("van2: exported everything")).to_be_visible()
    with Store.open(shop.store) as store:
        before = len([line for line in store.deeds(99) if line.deed == "export_all"])
        store.save_settings({LISTS: people_text({Role.OWNER: ["boss"], Role.TECHNICIAN: ["van1", "van2"]})})
    with pytest.raises(NothingCameError), page.expect_download(timeout=5_000):
        export.click()
    with Store.open(shop.store) as store:
        assert len([line for line in store.deeds(99) if line.deed == "export_all"]) == before
    page.context.close()


def test_a_provider_is_asked_and_forgotten(browser: Browser, tmp_path: Path) -> None:
    with provider_running(tmp_path) as provider, _by(provider, tmp_path) as shop:
        context = browser.new_context(**PHONE, ignore_https_errors=True, locale="en-US")
        context.set_default_timeout(60_000)
        page = context.new_page()
        page.goto(f"{shop.origin}/shop")
        at_rest(page).get_by_role("button", name="Sign in").click()
        page.locator("input[name=sub]").fill("boss")
        page.get_by_role("button", name="Authorize").click()
        expect(at_rest(page).get_by_role("button", name="Sign out")).to_be_visible()
        page.goto(f"{shop.origin}/shop?part=settings")
        expect(at_rest(page).get_by_role("heading", name="Who may do what")).to_be_visible()
        page.get_by_role("button", name="Sign out").click()
        page.wait_for_url("**/oauth2/end_session**")
        page.goto(shop.origin)
        expect(at_rest(page).get_by_text("Sign in to go on.")).to_be_visible()
        context.close()


def _by(provider: Provider, folder: Path) -> Any:
    provider.knows("boss", email="boss@id.test", email_verified=True)
    return shop_behind(folder, " reverse_proxy 127.0.0.1:8501", provider=provider, owners=("boss@id.test",))
