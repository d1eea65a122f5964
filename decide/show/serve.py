"""Starts the screens: on this computer only, for a shop's own network under one name, or behind a proxy that signs in.

No request leaves any of them, but to the provider that is asked who somebody is, where one is.
"""

import contextlib
import ipaddress
import operator
import os
import re
import socket
import tomllib
from collections.abc import Sequence
from importlib import import_module
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import typer

from ..errors import CaseError, Message
from ..load.files.plain_file import content_of
from .text.phrases import Phrases

if TYPE_CHECKING:
    from .screens.sign_in import SignIn

USUAL_PORT: Final = 8501
ANY: Final = 0
"""Any port that is free."""
ADDRESS: Final = "127.0.0.1"
MOST_OPEN: Final = 10_240
"""Files and connections at once."""
SETTINGS: Final[dict[str, Any]] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))
"""How the screens run and look. An installed program has no `.streamlit` folder, so it is told."""
SECRET: Final = "[!-~]{32,}"
"""What a proxy or a cookie is known by: signs without spaces."""
OF_A_PROVIDER: Final = {
    "redirect_uri": "", "cookie_secret": SECRET, "client_id": ".+", "client_secret": ".+",
    "server_metadata_url": r"https://.+|http://(127\.0\.0\.1|localhost)[:/].*",
}  # fmt: skip
"""What the file for signing in with a provider says under [auth], as Streamlit's own documents have it."""


def serve(
    port: int | None = None,
    case: Path | None = None,
    network: str | None = None,
    behind: str | None = None,
    proxy_secret: Path | None = None,
    sign_in: Path | None = None,
    owners: Sequence[str] = (),
) -> None:
    """Serve the screens until stopped; a case file fills the page. The usual port is taken, or any other.

    `network` is a name or address by which others of the network call this computer; without it none of them reaches
    the screens. `behind` is the address of a reverse proxy on this computer; people then sign in, by the proxy whose
    secret a file holds or by the provider that a file names, and `owners` are added to those who may do all. Raises
    `CaseError`: something listens on the port already, the name leads to no address of this computer in a network, or
    people could not sign in safely.
    """
    import streamlit as st

    from .screens import sign_in as signing
    from .screens.guard import GUARDED
    from .screens.state.session import FIRST_CASE

    way = _way(network, behind, proxy_secret, sign_in)
    signing.ask_by(way)
    if way is not None:
        _name_owners(owners)
    address = ADDRESS if network is None else _address_in_network(network)
    at = _free_port(address, *([port] if port else [USUAL_PORT, *([] if way else [ANY])]))
    settings = SETTINGS | {"server.address": address, "server.port": at, "global.developmentMode": False}
    if network is not None:
        settings |= {"server.allowedHosts": [network.lower(), address], "client.showErrorDetails": "none"}
    if way is not None:
        settings |= {"server.allowedHosts": [way.host], "client.showErrorDetails": "none"}
        settings |= {"secrets.files": [str(sign_in.resolve())]} if sign_in else {}
    _allow_open_files()
    os.environ[FIRST_CASE] = "" if case is None else str(case.resolve())
    typer.echo(Phrases.of().say("command.opened", address=way.origin if way else f"http://{network or address}:{at}"))
    if network is not None:
        typer.echo(Phrases.of().say("people.open"))
    with as_file(files("decide.show.screens") / "start.py") as script:
        st.App(script, middleware=GUARDED).run(config=settings)


def _way(network: str | None, behind: str | None, proxy_secret: Path | None, provider: Path | None) -> "SignIn | None":
    """How people sign in, if they do."""
    from .screens.sign_in import SignIn

    path, origin = proxy_secret or provider, (behind or "").lower().rstrip("/")
    if path is None and behind is None:
        return None
    if not re.fullmatch(r"https://[a-z0-9._-]+(:\d{1,5})?", origin) or network or path is None or None not in (
        proxy_secret, provider,
    ):  # fmt: skip
        template = "must be https://NAME, with one of --proxy-secret and --sign-in, and without --network"
        raise CaseError("behind", template)
    text, status = content_of(path, 100_000, "is too large").decode(errors="replace").strip(), path.stat()
    if status.st_mode & 0o077 or status.st_uid != os.geteuid():
        raise CaseError("behind", "{path} must be yours, and closed to all others (chmod 600)", path)
    if proxy_secret is not None:
        if not re.fullmatch(SECRET, text):
            raise CaseError("behind", "{path}: {name} must look like {pattern}", path, "secret", SECRET)
        return SignIn(origin, secret=text.encode())
    try:
        found = tomllib.loads(text)["auth"]
        given = {name: str(found.get(name, "")) for name in OF_A_PROVIDER}
    except (ValueError, LookupError, AttributeError) as error:
        raise CaseError("behind", "{path} has no table {name}", path, "[auth]") from error
    for name, pattern in (OF_A_PROVIDER | {"redirect_uri": re.escape(f"{origin}/oauth2callback")}).items():
        if not re.fullmatch(pattern, given[name]):
            raise CaseError("behind", "{path}: {name} must look like {pattern}", path, name, pattern)
    import_module("authlib.integrations.starlette_client")  # or it would be missed at the first who signs in
    return SignIn(origin, client=given["client_id"])


def _name_owners(owners: Sequence[str]) -> None:
    """Add owners to those that the store has; there must be one, or nobody could name the others."""
    from ..load.store.people import PEOPLE, Role, people_text, read_people
    from ..load.store.records import UNSOUND, shown
    from ..load.store.store import Store

    with Store.open() as store:
        names, kept = dict.fromkeys(owners, Role.OWNER), str(store.settings().get(PEOPLE, ""))
        with contextlib.suppress(*UNSOUND):  # a damaged list, which an import brought, say, lets nobody in
            names = read_people(kept) | names
        if Role.OWNER not in names.values():
            raise CaseError("owner", "must be named once: --owner NAME")
        of = {role: [name for name, its in names.items() if its is role] for role in Role}
        if owners:
            store.save_settings({PEOPLE: people_text(of)})
    for role, named in filter(operator.itemgetter(1), of.items()):  # the list may have come with an import
        typer.echo(f"{Phrases.of().say(f'people.{role}')}: {', '.join(sorted(map(shown, named)))}")


def _address_in_network(name: str) -> str:
    """Address that a name stands for: one of this computer, and not the one that only itself can reach."""
    try:
        address = socket.gethostbyname(name)
    except (OSError, UnicodeError) as error:  # a name that is none at all fails before it is looked up
        why = getattr(error, "strerror", None) or Message("no name can be so")
        raise CaseError("network", "{name!r} is no name or address of this computer ({error})", name, why) from error
    if ipaddress.ip_address(address).is_loopback or ipaddress.ip_address(address).is_unspecified:
        raise CaseError(
            "network", "{name!r} stands for {address}, which others cannot reach; give its own address", name, address
        )
    try:
        _free_port(address, ANY)
    except CaseError as error:
        raise CaseError(
            "network", "{name!r} stands for {address}, which is not this computer's", name, address
        ) from error
    return address


def _free_port(address: str, first: int, *others: int) -> int:
    """The first of some ports at which nothing listens."""
    with socket.socket() as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((address, first))
            return int(door.getsockname()[1])
        except OSError as error:
            why = error
    if others:
        return _free_port(address, *others)
    raise CaseError("port", "{port} cannot be used here ({error}); choose another", first, why.strerror) from why


def _allow_open_files() -> None:
    """Let as many files and connections be open as pages need; what is usual ends at 250 of them or fewer."""
    with contextlib.suppress(ImportError):  # Windows has no such bound
        import resource

        _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, MOST_OPEN), hard))
