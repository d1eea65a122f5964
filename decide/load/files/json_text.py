"""JSON from outside: counts of jobs and visits of a pocket page are read here, so that none can crash a reader."""

import json
from typing import Any, Final

from ...errors import MendpointError, ReadError

LONGEST_WHOLE: Final = 60  # of a number without a decimal point [digit]


def json_of(content: bytes | str, name: str) -> Any:
    """Read what a JSON text holds.

    Raises `ReadError`: it is no UTF-8 text or no JSON, nests too deep, or holds a number that is too long.
    """
    try:
        text = content if isinstance(content, str) else content.decode("utf-8-sig")
        return json.loads(text, parse_int=_whole)
    except UnicodeDecodeError as error:
        raise ReadError(name, "is not UTF-8 text (byte {byte})", error.start) from error
    except (ValueError, RecursionError, MendpointError) as error:
        raise ReadError(name, "is no JSON file: {error}", error) from error


def _whole(digits: str) -> int:
    if len(digits) > LONGEST_WHOLE:
        raise MendpointError("a number of {n:,} digits is too long", len(digits))
    return int(digits)
