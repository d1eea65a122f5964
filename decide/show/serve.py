"""Starts the screens on this computer: no request leaves it, and nothing of it can be reached from outside."""

import os
import socket
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Final

from ..errors import CaseError

USUAL_PORT: Final = 8501
ADDRESS: Final = "127.0.0.1"

SETTINGS: Final[dict[str, Any]] = {
    "browser.gatherUsageStats": False,
    "client.showErrorDetails": "type",
    "client.showErrorLinks": False,
    "client.toolbarMode": "viewer",
    "server.address": ADDRESS,
    "server.disconnectedSessionTTL": 3600,
    "server.enableAgentApi": False,
    "server.headless": True,
    "server.maxUploadSize": 10,
    "server.showEmailPrompt": False,
    "theme.base": "light",
    "theme.backgroundColor": "#f7f8f5",
    "theme.baseFontSize": 16,
    "theme.baseRadius": "10px",
    "theme.borderColor": "#cdd6d2",
    "theme.headingFontSizes": ["1.6rem", "1.3rem", "1.15rem", "1rem", "1rem", "1rem"],
    "theme.headingFontWeights": [700, 700, 700, 600, 600, 600],
    "theme.linkColor": "#0f6b62",
    "theme.primaryColor": "#0f6b62",
    "theme.secondaryBackgroundColor": "#ffffff",
    "theme.showWidgetBorder": True,
    "theme.textColor": "#20302f",
}
"""How the screens run and look. An installed program has no `.streamlit` folder, so it is told."""


def serve(port: int | None = None, case: Path | None = None) -> None:
    """Serve the screens until stopped, on a port of this computer only; a case file fills the page.

    Raises
    ------
    CaseError
        Something else listens on the port already.
    """
    from streamlit.web import bootstrap

    from .screens.kept import FIRST_CASE

    flags = {name.replace(".", "_"): value for name, value in SETTINGS.items()}
    flags |= {"server_port": _free_port() if port is None else _refuse_taken(port), "global_developmentMode": False}
    bootstrap.load_config_options(flags)  # must come first, or the flags are passed over
    os.environ[FIRST_CASE] = "" if case is None else str(case.resolve())
    with as_file(files("decide.show.screens") / "start.py") as script:
        bootstrap.run(str(script), False, [], flags)


def _free_port() -> int:
    """The usual port, or any other where that is taken."""
    try:
        return _refuse_taken(USUAL_PORT)
    except CaseError:
        with socket.socket() as door:
            door.bind((ADDRESS, 0))
            return int(door.getsockname()[1])


def _refuse_taken(port: int) -> int:
    with socket.socket() as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((ADDRESS, port))
        except OSError as error:
            raise CaseError("port", f"{port} cannot be used here ({error.strerror}); choose another") from error
    return port
