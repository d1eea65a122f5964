"""The other half of the classes of the pocket page, held to the engine as in `test_pocket_browser.py`."""

from typing import Any

import pytest
from test_pocket_browser import HERE, held_to_the_engine, is_small, opened, written

from decide.load.tables.tables import tables

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_it_answers_as_the_engine_does(chromium: Any, tmp_path: Any) -> None:
    rest = [each.kind for each in tables().classes("US") if each.kind not in HERE]
    assert len(rest) + len(HERE) == len(tables().classes("US"))
    made = written(tmp_path, rest)
    is_small(made)
    with opened(chromium, made) as page:
        held_to_the_engine(page)
