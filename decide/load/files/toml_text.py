"""TOML from outside: cases, tariffs and mappings are all read here, so that none can hang, crash or mislead a reader.

The library's parser takes time with the square of the parts of a dotted name, and hands on numbers that no other
program could hold; a file of one page has neither.
"""

import re
import tomllib
from collections.abc import Iterator
from typing import Any, Final

from ...errors import Message, ReadError

DEEPEST: Final = 20  # tables or lists within one another. [-]
LONGEST_TEXT: Final = 10_000  # [character]
LONGEST_LIST: Final = 1_000  # [entry]
LARGEST_WHOLE: Final = 2**63 - 1
"""What TOML v1.0.0, section Integer, asks a reader to hold: 64 bits with a sign. [-]"""

_LONG_NUMBER: Final = re.compile(r"[0-9_]{1000}")
_LONG_NAME: Final = re.compile(
    rf"""(?:(?:(?<![\w-])[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){{{DEEPEST}}}""", re.ASCII
)


def toml_of(content: bytes | str, name: str) -> dict[str, Any]:
    """Read the tables of a TOML text.

    Raises `ReadError`: it is no UTF-8 text or no TOML, nests too deep, or holds a number that is too long; says where.
    """
    try:
        text = content if isinstance(content, str) else content.decode("utf-8-sig")
        _refuse(_LONG_NUMBER, text, name, "holds a number that is too long")
        _refuse(_LONG_NAME, text, name, Message("holds a name of more than {most} parts", DEEPEST))
        tables = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise ReadError(name, "is not UTF-8 text (byte {byte})", error.start) from error
    except tomllib.TOMLDecodeError as error:
        raise ReadError(name, "is no TOML file: {error}", error) from error
    except RecursionError as error:
        raise ReadError(name, "is no TOML file: it nests deeper than {most} tables or lists", DEEPEST) from error
    for path, depth, value in _all(tables):
        length = len(value) if isinstance(value, str | list) else 0
        if length > (LONGEST_TEXT if isinstance(value, str) else LONGEST_LIST):
            raise ReadError(f"{name}, {path[:60]}", "is longer than any that is meant, got {got:,}", length)
        if depth > DEEPEST:
            raise ReadError(f"{name}, {path[:60]}", "nests deeper than {most} tables or lists", DEEPEST)
        if isinstance(value, int) and abs(value) > LARGEST_WHOLE:
            raise ReadError(f"{name}, {path[:60]}", "must be a number of {most:,} at most", LARGEST_WHOLE)
    return tables


def _refuse(form: re.Pattern[str], text: str, name: str, why: str) -> None:
    found = form.search(text)
    if found:
        raise ReadError(Message("{where}, line {line}", name, text.count(chr(10), 0, found.start()) + 1), why)


def _all(tables: dict[str, Any]) -> Iterator[tuple[str, int, Any]]:
    """Every value with its dotted path and how deep it stands; what is too deep is not gone into."""
    left: list[tuple[str, int, Any]] = [("", 0, tables)]
    while left:
        path, depth, value = left.pop()
        yield path, depth, value
        if depth > DEEPEST or not isinstance(value, dict | list):
            continue
        inner = value.items() if isinstance(value, dict) else enumerate(value, start=1)
        left += ((f"{path}.{key}".lstrip("."), depth + 1, each) for key, each in inner)
