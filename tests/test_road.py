"""The files for a shop's own server, used as they are shipped: proxy, unit, back-up, and restoring from it."""

import configparser
import csv
import os
import re
import shlex
import shutil
import sqlite3
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from conftest import ROOT, free_port
from sign_in_servers import PEOPLE, SECRET, Page, Shop, answers, caddy, certificate, hashed, process, word_of, written

from decide.load.store.people import Role, read_people
from decide.load.store.store import Store

ROAD = ROOT / "data" / "road"
UNITS = ("mendpoint.service", "mendpoint-backup.service", "mendpoint-backup.timer")
PROGRAM = "/opt/mendpoint/bin/mendpoint"


def unit(name: str) -> configparser.ConfigParser:
    class Every(dict):
        """A key that is given again adds a line."""

        def __setitem__(self, key: str, value: object) -> None:
            old = self.get(key)
            super().__setitem__(key, [*old, *value] if isinstance(old, list) and isinstance(value, list) else value)

    found = configparser.ConfigParser(interpolation=None, strict=False, dict_type=Every)
    found.optionxform = str  # type: ignore[assignment, method-assign]
    found.read_string((ROAD / name).read_text("utf-8"))
    return found


def commands(name: str) -> list[list[str]]:
    """What a unit runs, as systemd hands it on."""
    lines = re.findall(r"^ExecStart=(.*)$", (ROAD / name).read_text("utf-8"), re.M)
    return [[word.replace("$$", "$").replace("%%", "%") for word in shlex.split(line)] for line in lines]


def program(folder: Path) -> Path:
    """The command, where the unit looks for it."""
    path = folder / "mendpoint"
    written(path, f'#!/bin/sh\nPYTHONPATH={ROOT} exec {sys.executable} -m decide "$@"\n', 0o700)
    return path


def moved(words: list[str], **places: object) -> list[str]:
    """A command with the places of a server exchanged for those of a test."""
    for old, new in {PROGRAM: places["program"], "/var/backups/mendpoint": places["backups"]}.items():
        words = [word.replace(old, str(new)) for word in words]
    return words


def test_systemd_accepts_the_units(tmp_path: Path) -> None:
    for name in UNITS:
        parsed = unit(name)
        assert {"Unit", "Service" if name.endswith("service") else "Timer"} <= set(parsed.sections())
        written(tmp_path / name, (ROAD / name).read_text("utf-8").replace(PROGRAM, str(program(tmp_path))), 0o644)
    if shutil.which("systemd-analyze"):
        asked = ["systemd-analyze", "verify", *(str(tmp_path / name) for name in UNITS)]
        done = subprocess.run(asked, capture_output=True, text=True, timeout=60, check=False)
        assert (done.returncode, done.stderr + done.stdout) == (0, "")
    service = unit("mendpoint.service")["Service"]
    assert service["User"] == "mendpoint", "never root"
    assert service["UMask"] == "0077"


@pytest.mark.server
def test_the_shipped_proxy_and_unit_let_people_sign_in(tmp_path: Path) -> None:
    shop = Shop(tmp_path, free_port(), free_port())
    certificate(tmp_path)
    text = (ROAD / "Caddyfile").read_text("utf-8")
    changes = {
        "shop.example {": f"{shop.origin} {{\n\tbind 127.0.0.1\n\ttls {tmp_path}/cert.pem {tmp_path}/key.pem",
        "admin off": f"admin off\n\tauto_https disable_redirects\n\tstorage file_system {tmp_path}",
        "127.0.0.1:8501": f"127.0.0.1:{shop.inside}",
        "/etc/caddy/mendpoint-people": str(written(tmp_path / "people", f"boss {hashed(PEOPLE['boss'])}\n")),
        "/etc/caddy/mendpoint-secret": str(written(tmp_path / "line", f"header_up Mendpoint-Secret {SECRET}\n")),
    }  # fmt: skip
    for old, new in changes.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    config = written(tmp_path / "Caddyfile", text)
    home = {**os.environ, "HOME": str(tmp_path)}
    checked = [caddy(), "validate", "--config", str(config), "--adapter", "caddyfile"]
    assert subprocess.run(checked, env=home, capture_output=True, check=False).returncode == 0
    [command] = commands("mendpoint.service")
    asked = " ".join(moved(command, program=program(tmp_path), backups=tmp_path))
    for old, new in (
        ("/etc/mendpoint/secret", written(tmp_path / "secret", SECRET)), ("8501", shop.inside),
        ("https://shop.example", shop.origin),
    ):  # fmt: skip
        assert old in asked
        asked = asked.replace(old, str(new))
    environment = {**os.environ, "MENDPOINT_STORE": shop.store}
    with process(shlex.split(asked), tmp_path / "server.log", env=environment) as running:
        answers(shop.inside, running, tmp_path / "server.log")
        with process(
            [caddy(), "run", "--config", config, "--adapter", "caddyfile"], tmp_path / "log", env=home
        ) as proxy:
            answers(shop.outside, proxy, tmp_path / "log")
            assert shop.ask("/", {})[0] == 401
            with shop.stream(word_of("boss")) as line:
                assert "Who may do what" in Page(line, "/shop", "part=settings").text


@pytest.mark.slow
def test_what_was_backed_up_is_restored(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    backups = tmp_path / "backups"
    backups.mkdir()
    old = written(backups / "2020-01-01-023000.zip", "old")
    os.utime(old, (1_577_842_200, 1_577_842_200))
    with Store.open(str(tmp_path / "kept")) as store:
        visit = store.save_visit(store.new_id(), {"title": "Kept", "appliance": {"class": "refrigerator"}})
        store.save_settings({"people": '{"owner": ["boss"]}'})
    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "kept"))
    for command in commands("mendpoint-backup.service"):
        subprocess.run(moved(command, program=program(tmp_path), backups=backups), check=True, timeout=120)
    [made] = backups.glob("*.zip")
    assert made != old, "what is older than 30 days is gone"
    assert re.fullmatch(r"\d{4}-\d\d-\d\d-\d{6}\.zip", made.name)
    told = re.search(r"MENDPOINT_STORE=\S+ (\S+ store import) ", (ROAD / "mendpoint-backup.service").read_text("utf-8"))
    assert told is not None
    words = moved([*told[1].split(), str(made)], program=program(tmp_path), backups=backups)
    empty = {**os.environ, "MENDPOINT_STORE": str(tmp_path / "new")}
    subprocess.run(words, check=True, timeout=120, env=empty)
    with Store.open(str(tmp_path / "new")) as store:
        assert store.visit(visit.id).title == "Kept"
        assert read_people(str(store.settings()["people"])) == {"boss": Role.OWNER}


@pytest.mark.slow
def test_a_damaged_store_is_backed_up_and_nothing_is_thrown_away(tmp_path: Path) -> None:
    """The check stands between the export and what deletes old ones, and a unit stops at the first that fails."""
    first, second, third = commands("mendpoint-backup.service")
    assert "store export" in " ".join(first)
    assert second[1:] == ["store", "check"]
    assert "-delete" in third
    assert unit("mendpoint-backup.service")["Service"]["Type"] == "oneshot"
    with Store.open(str(tmp_path / "kept")) as store:
        store.save_visit(store.new_id(), {"title": "x"})
    with sqlite3.connect(tmp_path / "kept" / "store.sqlite") as raw:
        raw.execute("UPDATE visits SET title = 'y'")
    raw.close()
    environment = {**os.environ, "MENDPOINT_STORE": str(tmp_path / "kept")}
    asked = [moved(each, program=program(tmp_path), backups=tmp_path) for each in (first, second)]
    codes = [subprocess.run(each, env=environment, capture_output=True, check=False).returncode for each in asked]
    assert codes == [0, 2]
    assert len(list(tmp_path.glob("*.zip"))) == 1


def test_every_sentence_on_a_shops_network_is_proved_by_a_test() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    part = text.partition("### In a shop's network\n")[2].partition("\n## ")[0]
    sentences = re.split(r"(?<=\.)\s+(?=[A-Z`])", " ".join(part.split()))
    with (ROOT / "tests" / "data" / "network_sentences.csv").open(encoding="utf-8", newline="") as table:
        proved = {row["sentence"]: row["test"] for row in csv.DictReader(table)}
    assert [each for each in sentences if each] == list(proved)
    for proof in proved.values():
        file, _, name = proof.partition("::")
        assert re.search(rf"^def {name}\(", (ROOT / "tests" / file).read_text("utf-8"), re.M), proof


def test_without_sign_in_the_program_says_what_everyone_may_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import streamlit as st

    from decide.show import serve as served

    monkeypatch.setattr(served, "_address_in_network", lambda name: "127.0.0.1")
    monkeypatch.setattr(st.App, "run", lambda self, config: None)
    for network in ("shop-pc.test", None):
        served.serve(free_port(), network=network)
        said = "All who are in this network can open, change, take out and delete each visit and each book." in (
            capsys.readouterr().out
        )
        assert said is (network is not None)


def test_what_a_provider_needs_is_what_the_pages_show(tmp_path: Path) -> None:
    from decide.show.serve import OF_A_PROVIDER, _way

    [text] = re.findall(r"```toml sign-in\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.S)
    assert set(tomllib.loads(text)["auth"]) == set(OF_A_PROVIDER)
    file = written(tmp_path / "provider.toml", text.replace("as openssl rand -hex 32 prints one", "0" * 64))
    way = _way(None, "https://shop.example", None, file)
    assert way is not None
    assert (way.secret, way.host) == (b"", "shop.example")
