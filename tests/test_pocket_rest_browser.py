"""The other half of the classes of the pocket page, held to the engine as in `test_pocket_browser.py`."""

from typing import Any

import pytest
from test_pocket_browser import EVERY, HERE, held_to_the_engine, is_small, opened, written

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_it_answers_as_the_engine_does(chromium: Any, tmp_path: Any) -> None:
    rest = [kind for kind in EVERY if kind not in HERE]
    assert len(rest) + len(HERE) == len(EVERY)
    made = written(tmp_path, rest)
    is_small(made, len(rest))
    with opened(chromium, made) as page:
        held_to_the_engine(page)
