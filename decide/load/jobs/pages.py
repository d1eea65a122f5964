"""What the pages of a Parquet file say of their size, looked at before any is read into cells.

The file's own summary may lie, and a page of few bytes may come to very many: one word of a dictionary counts for each
row that points at it. The layout is that of the Parquet format (`parquet.thrift`, PageHeader), in Thrift's compact
protocol.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any, Final

from ...errors import ReadError
from .chunks import LARGEST_CHUNK

LARGEST_PAGES: Final = 128_000_000
"""Of the pages that lie unpacked at a time, one a column. Usual are pages of 1,000,000. [byte]"""
MOST_PAGES: Final = 300_000
PREFIXES: Final = 7
"""Code of an encoding by which a text repeats the beginning of the one before, so that it may come to any size."""
DICTIONARY, DATA, DATA_2 = 2, 0, 3
"""Codes of the kinds of page."""
BY_DICTIONARY: Final = (2, 8)
"""Codes of encodings whose values point at the words of the dictionary."""
ROWS: Final = 50_000
"""Read at a time, where they are short."""


@dataclass(frozen=True)
class _ParquetPage:
    kind: int
    unpacked: int
    packed: int
    values: int
    encoding: int


@dataclass(frozen=True)
class Pages:
    """What the pages of a file come to: how many rows can be read at a time, and all its bytes unpacked."""

    rows: int
    unpacked: int


def looked_at(file: IO[bytes], about: Any, name: str) -> Pages:
    """Look at every page of a Parquet file, by its metadata; `ReadError` for pages too large, too many, or of any size.

    A damaged file raises `ValueError` or `IndexError`.
    """
    widest = unpacked = count = 0
    for group in map(about.row_group, range(about.num_row_groups)):
        at_a_time = row = 0
        for column in map(group.column, range(group.num_columns)):
            largest = {True: 0, False: 0}
            width = 8
            for page in _pages(file, column):
                count += 1
                unpacked += page.unpacked
                is_dictionary = page.kind == DICTIONARY
                largest[is_dictionary] = max(largest[is_dictionary], page.unpacked)
                if page.encoding == PREFIXES:
                    raise ReadError(
                        name,
                        "packs column {name!r} in a way that is not read; save it as .csv",
                        column.path_in_schema[:60],
                    )
                if at_a_time + sum(largest.values()) > LARGEST_PAGES or count > MOST_PAGES:
                    raise ReadError(name, "has pages of a size or number that no book has; save it as .csv")
                if is_dictionary and column.physical_type == "BYTE_ARRAY":
                    width = max(width, _longest(file.read(page.packed), page, column.compression))
                else:
                    if page.encoding not in BY_DICTIONARY:
                        width = max(width, -(-page.unpacked // max(1, page.values)))
                    file.seek(page.packed, 1)
            at_a_time += sum(largest.values())
            row += width
        widest = max(widest, row)
    return Pages(max(1, min(ROWS, LARGEST_CHUNK // max(1, widest))), unpacked)


def _pages(file: IO[bytes], column: Any) -> Iterator[_ParquetPage]:
    """The pages of a column; who takes one leaves the file at the end of it."""
    begin = column.data_page_offset
    if column.has_dictionary_page and column.dictionary_page_offset:
        begin = min(begin, column.dictionary_page_offset)
    file.seek(begin)
    while file.tell() < begin + column.total_compressed_size:
        head = _struct(file)
        kind, unpacked, packed = head[1], head[2], head[3]
        about = head.get({DATA: 5, DICTIONARY: 7, DATA_2: 8}.get(kind, 0), {})
        if unpacked < 0 or packed < 0:
            raise ValueError("a page of less than nothing")
        yield _ParquetPage(kind, unpacked, packed, about.get(1, 0), about.get(4 if kind == DATA_2 else 2, 0))


def _longest(packed: bytes, page: _ParquetPage, codec: str) -> int:
    """Bytes of the longest word of a dictionary; of all of it where it cannot be looked into."""
    import pyarrow as pa

    words = memoryview(packed)
    if codec != "UNCOMPRESSED":
        try:
            names = {"LZ4": "lz4_raw"}
            words = memoryview(pa.decompress(packed, page.unpacked, codec=names.get(codec, codec.lower())))
        except (pa.ArrowException, OSError, ValueError):
            return page.unpacked
    at = longest = 0
    for _ in range(page.values):
        length = int.from_bytes(words[at : at + 4], "little")
        at += 4 + length
        if at > len(words):
            return page.unpacked
        longest = max(longest, length)
    return longest


def _struct(file: IO[bytes], depth: int = 0) -> dict[int, Any]:
    """A struct of Thrift: whole numbers and structs by the number of their field; all else is passed over."""
    found: dict[int, Any] = {}
    field = 0
    while head := file.read(1)[0]:
        field = field + (head >> 4) if head >> 4 else _whole(file)
        kind = head & 15
        if kind == 12 and depth < 4:
            found[field] = _struct(file, depth + 1)
        elif kind in (4, 5, 6):
            found[field] = _whole(file)
        elif kind in (7, 8):  # a number of eight bytes, or so many bytes as it says
            file.seek(8 if kind == 7 else _unsigned(file), 1)
        elif kind == 3:
            file.seek(1, 1)
        elif kind not in (1, 2):  # true and false take no byte
            raise ValueError("a page without a head")
    return found


def _unsigned(file: IO[bytes]) -> int:
    value = 0
    for shift in range(0, 70, 7):
        byte = file.read(1)[0]
        value |= (byte & 127) << shift
        if byte < 128:
            return value
    raise ValueError("a number without an end")


def _whole(file: IO[bytes]) -> int:
    value = _unsigned(file)
    return value >> 1 ^ -(value & 1)
