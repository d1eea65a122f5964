"""What is wrong with entries, by field."""

from pathlib import Path
from typing import Any

import pytest

from decide.errors import EntryErrors
from decide.load.cases.case_file import complete


def errors_of(entries: dict[str, Any], folder: Path | None = None) -> dict[str, str]:
    """Every error of entries that are refused."""
    with pytest.raises(EntryErrors) as caught:
        complete(entries, folder=folder)
    return {error.field: error.message for error in caught.value.errors}
