"""Starts the screens: on this computer only, or for a shop's own network under one name. No request leaves either."""

import ipaddress
import os
import socket
import tomllib
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Final

import typer

from ..errors import CaseError, Message
from .text.phrases import Phrases

USUAL_PORT: Final = 8501
ADDRESS: Final = "127.0.0.1"
SETTINGS: Final[dict[str, Any]] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))
"""How the screens run and look. An installed program has no `.streamlit` folder, so it is told."""


def serve(port: int | None = None, case: Path | None = None, network: str | None = None) -> None:
    """Serve the screens until stopped; a case file fills the page. The usual port is taken, or any other.

    `network` is a name or address by which others of the network call this computer; without it none of them reaches
    the screens. Raises `CaseError`: something listens on the port already, or the name leads to no address of this
    computer in a network.
    """
    import streamlit as st

    from .screens.guard import GUARDED
    from .screens.state.session import FIRST_CASE

    address = ADDRESS if network is None else _address_in_network(network)
    at = _free_port(address) if port is None else _refuse_taken(address, port)
    settings = SETTINGS | {"server.address": address, "server.port": at, "global.developmentMode": False}
    if network is not None:
        settings |= {"server.allowedHosts": [network.lower(), address], "client.showErrorDetails": "none"}
    os.environ[FIRST_CASE] = "" if case is None else str(case.resolve())
    typer.echo(Phrases.of().say("command.opened", address=f"http://{network or address}:{at}"))
    with as_file(files("decide.show.screens") / "start.py") as script:
        st.App(script, middleware=GUARDED).run(config=settings)


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
    with socket.socket() as door:
        try:
            door.bind((address, 0))
        except OSError as error:
            raise CaseError(
                "network", "{name!r} stands for {address}, which is not this computer's", name, address
            ) from error
    return address


def _free_port(address: str) -> int:
    """The usual port, or any other where that is taken."""
    try:
        return _refuse_taken(address, USUAL_PORT)
    except CaseError:
        with socket.socket() as door:
            door.bind((address, 0))
            return int(door.getsockname()[1])


def _refuse_taken(address: str, port: int) -> int:
    with socket.socket() as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((address, port))
        except OSError as error:
            raise CaseError(
                "port", "{port} cannot be used here ({error}); choose another", port, error.strerror
            ) from error
    return port
