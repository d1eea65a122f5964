"""Stores to test on: a file, and a PostgreSQL server of our own that is started here and gone afterwards."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

USER = "postgres"


@dataclass(frozen=True)
class Server:
    """A running PostgreSQL server, reached through a socket in its folder."""

    folder: Path
    programs: Path

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://{USER}@/{database}?host={self.folder}"

    def run(self, statement: str, database: str = USER) -> str:
        """Run a statement as the keeper of the server."""
        asked = [self.programs / "psql", "-h", self.folder, "-U", USER, "-d", database, "-Atqc", statement]
        return subprocess.run(asked, check=True, capture_output=True, text=True).stdout

    def new_database(self, name: str) -> str:
        self.run(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        self.run(f"CREATE DATABASE {name}")
        return self.url(name)


def programs() -> Path | None:
    """Where the programs of the newest PostgreSQL server stand; none where there is no server."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


@contextmanager
def running_server(safe: bool) -> Iterator[Server]:
    """A server with nothing in it, safe against a power cut or faster.

    Root hands it to the user that Debian made for it, as it runs for no root.
    """
    where = programs()
    if where is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no PostgreSQL server: the store would go untested there")
        pytest.skip("no PostgreSQL server on this machine")
    folder = Path(tempfile.mkdtemp(prefix="store-", dir="/tmp"))  # the path of a socket must be short
    as_user = ["runuser", "-u", USER, "--"] if os.geteuid() == 0 else []
    if as_user:
        shutil.chown(folder, USER, USER)
    data, log = folder / "data", folder / "log"
    try:
        make = ["initdb", "-D", data, "-U", USER, "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C.UTF-8"]
        _run(as_user, where, make, folder)
        settings = f"-c listen_addresses='' -c unix_socket_directories={folder} -c max_connections=40"
        settings += "" if safe else " -c fsync=off"
        control = ["pg_ctl", "-D", data, "-w"]
        _run(as_user, where, [*control, "-l", log, "-o", settings, "start"], folder)
        try:
            yield Server(folder, where)
        finally:
            _run(as_user, where, [*control, "-m", "immediate", "stop"], folder)
    finally:
        shutil.rmtree(folder)


def _run(as_user: list[str], where: Path, asked: list[str | Path], folder: Path) -> None:
    program, *rest = asked
    output = folder / "said"  # no pipe: the server would hold its end for as long as it runs
    with output.open("a") as out:
        whole = [*as_user, where / program, *rest]
        done = subprocess.run(whole, cwd=folder, stdin=subprocess.DEVNULL, stdout=out, stderr=out, check=False)
    assert done.returncode == 0, output.read_text()
