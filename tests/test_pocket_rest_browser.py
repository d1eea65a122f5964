"""Further classes of the pocket page, held to the engine as in `test_pocket_browser.py`."""

from typing import Any

import pytest
from test_pocket_browser import (
    EVERY,
    HALF,
    OTHER_FOUR,
    OTHER_HALF,
    THERE,
    held_to_the_engine,
    is_small,
    opened,
    written,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_it_answers_as_the_engine_does(chromium: Any, tmp_path: Any) -> None:
    assert sorted(HALF + OTHER_HALF) == sorted(EVERY)
    assert set(OTHER_FOUR) <= set(OTHER_HALF)
    made = written(tmp_path, THERE)
    is_small(made, len(THERE))
    with opened(chromium, made) as page:
        held_to_the_engine(page)
