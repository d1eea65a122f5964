"""Reads a QR code from its cells, without correcting errors: it shares no code with the library that draws it.

The structure is that of ISO/IEC 18004:2015 (function patterns 6.3, masks table 10, blocks table 9; from memory).
"""

from collections.abc import Callable, Sequence
from itertools import chain

Cells = Sequence[Sequence[int]]

LEVELS = {1: "L", 0: "M", 3: "Q", 2: "H"}
"""Levels of correction by their two bits."""

# Of versions 1 to 20: codewords of correction in a block, and blocks.
CORRECTION = {
    "L": (7, 10, 15, 20, 26, 18, 20, 24, 30, 18, 20, 24, 26, 30, 22, 24, 28, 30, 28, 28),
    "M": (10, 16, 26, 18, 24, 16, 18, 22, 22, 26, 30, 22, 22, 24, 24, 28, 28, 26, 26, 26),
    "Q": (13, 22, 18, 26, 18, 24, 18, 22, 20, 24, 28, 26, 24, 20, 30, 24, 28, 28, 26, 30),
    "H": (17, 28, 22, 16, 22, 28, 26, 26, 24, 28, 24, 28, 22, 24, 24, 30, 28, 28, 26, 28),
}
BLOCKS = {
    "L": (1, 1, 1, 1, 1, 2, 2, 2, 2, 4, 4, 4, 4, 4, 6, 6, 6, 6, 7, 8),
    "M": (1, 1, 1, 2, 2, 4, 4, 4, 5, 5, 5, 8, 9, 9, 10, 10, 11, 13, 14, 16),
    "Q": (1, 1, 2, 2, 4, 4, 6, 6, 8, 8, 8, 10, 12, 16, 12, 17, 16, 18, 21, 20),
    "H": (1, 1, 2, 4, 4, 4, 5, 6, 8, 8, 11, 11, 16, 16, 18, 16, 19, 21, 25, 25),
}
MASKS: tuple[Callable[[int, int], bool], ...] = (
    lambda y, x: (y + x) % 2 == 0,
    lambda y, x: y % 2 == 0,
    lambda y, x: x % 3 == 0,
    lambda y, x: (y + x) % 3 == 0,
    lambda y, x: (y // 2 + x // 3) % 2 == 0,
    lambda y, x: y * x % 2 + y * x % 3 == 0,
    lambda y, x: (y * x % 2 + y * x % 3) % 2 == 0,
    lambda y, x: ((y + x) % 2 + y * x % 3) % 2 == 0,
)


def reserved(version: int) -> set[tuple[int, int]]:
    """Cells that hold no data: finders with the format, timing, alignment, version."""
    size = 17 + 4 * version
    held = {(y, x) for y in range(9) for x in range(9)}
    held |= {(y, size - 1 - x) for y in range(9) for x in range(8)} | {
        (size - 1 - y, x) for y in range(8) for x in range(9)
    }
    held |= {(6, at) for at in range(size)} | {(at, 6) for at in range(size)}
    if version > 1:
        count = version // 7 + 2
        step = (version * 4 + count * 2 + 1) // (count * 2 - 2) * 2
        middles = [6, *(size - 7 - each * step for each in range(count - 1))]
        last = size - 7
        corners = {(6, 6), (6, last), (last, 6)}
        for y, x in {(y, x) for y in middles for x in middles} - corners:
            held |= {(y + down, x + over) for down in range(-2, 3) for over in range(-2, 3)}
    if version >= 7:
        held |= {(y, size - 11 + x) for y in range(6) for x in range(3)}
        held |= {(size - 11 + x, y) for y in range(6) for x in range(3)}
    return held


def decoded(cells: Cells) -> bytes:
    """The bytes that a code holds; `AssertionError` where it is none of one piece in byte mode."""
    size = len(cells)
    version = (size - 17) // 4
    told = [cells[8][x] for x in (0, 1, 2, 3, 4)]
    level_bits = (told[0] ^ 1) << 1 | told[1] ^ 0  # the format is drawn over 101010000010010
    mask = (told[2] ^ 1) << 2 | (told[3] ^ 0) << 1 | (told[4] ^ 1)
    level, held = LEVELS[level_bits], reserved(version)
    columns = [x for x in range(size - 1, 0, -2) if x > 6] + [x for x in range(5, 0, -2)]
    bits = []
    for turn, right in enumerate(columns):
        for y in range(size) if turn % 2 else range(size - 1, -1, -1):
            bits += [cells[y][x] ^ MASKS[mask](y, x) for x in (right, right - 1) if (y, x) not in held]
    words = [int("".join(map(str, map(int, bits[at : at + 8]))), 2) for at in range(0, len(bits) // 8 * 8, 8)]
    blocks, spare = BLOCKS[level][version - 1], CORRECTION[level][version - 1]
    data = len(words) - blocks * spare
    lengths = [data // blocks + (index >= blocks - data % blocks) for index in range(blocks)]
    found: list[list[int]] = [[] for _ in range(blocks)]
    stream = iter(words)
    for row in range(max(lengths)):
        for block, length in zip(found, lengths, strict=True):
            if row < length:
                block.append(next(stream))
    text = "".join(f"{word:08b}" for word in chain.from_iterable(found))
    assert text[:4] == "0100", text[:4]  # byte mode
    wide = 8 if version < 10 else 16
    count, start = int(text[4 : 4 + wide], 2), 4 + wide
    return bytes(int(text[start + 8 * at : start + 8 * at + 8], 2) for at in range(count))
