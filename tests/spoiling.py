"""Ways to spoil a file by chance: flips, cuts, repeats, swapped lines and numbers, and texts that have hurt readers."""

import random
import re

NASTY_NUMBERS = (
    "0", "-1", "1e308", "-1e308", "1e999", "9" * 400, "9" * 5000, "1e-320", "-0.0", "nan", "inf", "-inf", "0x1F", "0b1",
    "1_000", "1,234", "1.234", "1.234,50", "\u0663\u0664\u0665", "\uff11\uff12\uff13", "\u00b2", "\u0660", "1e",
    ".", "-", "+5",
    "00012", "2e5", "1e15", "12:30", "1979-05-27", "0.1.2", "4294967296", "9223372036854775808", "1/3", "true",
    "null", '""',
    '"x"', "[]", "[1, 2]", "{}", "[[]]", "[{}]", "{ a = 1 }", '{"a": 1}',
)  # fmt: skip
NASTY_TEXTS = (
    "\0", "\ufeff", "\u2028", "\u202e", "\ud7ff", "\U0010ffff", "'" * 3, '"', '"' * 3, "\\", "\\u0000", "\r", "\n",
    "\t",
    ";", ",", "|", "=", "=cmd|' /C calc'!A0", "../../etc/passwd", "C:\\con", "<", "</a>", "&amp;", "&#0;", "&x;",
    "<!DOCTYPE a>", "<![CDATA[", "[", "]", "{", "}", "[[", "[" * 3000, "{" * 3000, '{"a":' * 3000, "<a>" * 3000,
    "a." * 3000,
    "x" * 10_000, "\u0663", "\u00e9", "%", "#", "[appliance.x]", "[[replace]]", "\n\n\n", "NaN", "Infinity",
)  # fmt: skip
_NUMBER = re.compile(rb"[-+]?\d+(?:[.,]\d+)*(?:[eE][-+]?\d+)?")
_VALUE = re.compile(rb"(?<=[=:,\[;>])\s*(?:\"[^\"\n]*\"|[^\s,;\]}<\"\[{][^,;\]}<\n]*)")


def spoilt(seed: int, samples: tuple[bytes, ...]) -> bytes:
    """One of the samples, spoilt one to four times."""
    chance = random.Random(seed)
    content = chance.choice(samples)
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 4))):
        content = chance.choice(SPOILERS)(chance, content, samples)
    return content[:2_000_000]


def _at(chance: random.Random, content: bytes) -> int:
    return chance.randrange(len(content) + 1)


def _flip(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    changed = bytearray(content or b"x")
    for _ in range(chance.choice((1, 1, 3, 10))):
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _cut(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    begin, end = sorted((_at(chance, content), _at(chance, content)))
    return content[:begin] if chance.random() < 0.3 else content[:begin] + content[end:]


def _repeat(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    begin, end = sorted((_at(chance, content), _at(chance, content)))
    return content[:end] + content[begin:end] * chance.choice((1, 1, 2, 20)) + content[end:]


def _lines(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    lines = content.splitlines(keepends=True) or [b""]
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    if chance.random() < 0.5:
        lines[one], lines[other] = lines[other], lines[one]
    else:
        lines.insert(one, lines[other])
    return b"".join(lines)


def _swap_number(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    found = list(_NUMBER.finditer(content))
    if not found:
        return content
    where = chance.choice(found)
    other = chance.choice(found)[0] if chance.random() < 0.4 else chance.choice(NASTY_NUMBERS).encode()
    return content[: where.start()] + other + content[where.end() :]


def _swap_value(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    found = list(_VALUE.finditer(content))
    if not found:
        return content
    where = chance.choice(found)
    other = chance.choice(found)[0] if chance.random() < 0.4 else chance.choice(NASTY_NUMBERS).encode()
    return content[: where.start()] + other + content[where.end() :]


def _insert(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    at = _at(chance, content)
    text = chance.choice(NASTY_TEXTS if chance.random() < 0.7 else NASTY_NUMBERS)
    return content[:at] + text.encode() + content[at:]


def _splice(chance: random.Random, content: bytes, samples: tuple[bytes, ...]) -> bytes:
    other = chance.choice(samples)
    return content[: _at(chance, content)] + other[_at(chance, other) :]


def _recode(chance: random.Random, content: bytes, _: tuple[bytes, ...]) -> bytes:
    text = content.decode("utf-8", "replace")
    return text.encode(chance.choice(("utf-16", "utf-16-le", "utf-32", "cp1252", "utf-8-sig", "utf-7")), "replace")


SPOILERS = (
    _flip,
    _cut,
    _repeat,
    _lines,
    _swap_number,
    _swap_number,
    _swap_value,
    _swap_value,
    _insert,
    _insert,
    _splice,
    _recode,
)
