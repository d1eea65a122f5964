"""Names of files that come from outside: what every system can keep in one folder, and nothing that leads out of it."""

import re
import unicodedata
from collections.abc import Collection, Iterable
from pathlib import PureWindowsPath
from typing import Final

from ...errors import CaseError

LONGEST: Final = 255
"""What common file systems keep of a name (NAME_MAX of POSIX systems). [byte in UTF-8]"""

LONGEST_MADE: Final = 50  # of a name that is made here [character]

RESERVED: Final = frozenset({"con", "prn", "aux", "nul", "conin$", "conout$"}) | {
    f"{port}{number}" for port in ("com", "lpt") for number in "0123456789¹²³"
}
"""Devices that Windows sees in a name, with any ending (Microsoft, Naming Files, Paths, and Namespaces)."""

_NOWHERE: Final = re.compile(r'[<>:"/\\|?*]')
"""Strokes of both kinds, the sign after a drive, and what Windows keeps in no name."""


def same_file(name: str) -> str:
    """A name as a file system that tells no capitals apart compares it."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def plain_name(field: str, name: object) -> str:
    """Hand a name back that is a file in the folder at hand, on every system; `CaseError` for any other."""
    if not isinstance(name, str) or not name.strip():
        raise CaseError(field, "must be the name of a file")
    if name.strip(".") == "" or _NOWHERE.search(name):
        raise CaseError(field, "must be the name of a file alone, without folders or drives")
    if any(unicodedata.category(sign)[0] == "C" for sign in name):
        raise CaseError(field, "must be the name of a file without control signs")
    if name[0] == " " or name[-1] in " .":
        raise CaseError(field, "must be the name of a file that neither begins with a blank nor ends with one or a dot")
    if name.partition(".")[0].rstrip().casefold() in RESERVED:
        raise CaseError(field, "must be the name of a file, and Windows keeps this one for a device")
    if len(name.encode()) > LONGEST:
        raise CaseError(field, "must be the name of a file of at most {most} bytes", LONGEST)
    return name


def plain_names(field: str, names: Iterable[object]) -> list[str]:
    """Hand names back that can stand in one folder together; `CaseError` where two would be one file somewhere."""
    found: dict[str, str] = {}
    for name in (plain_name(field, each) for each in names):
        if found.setdefault(same_file(name), name) != name:
            raise CaseError(field, "has two names that differ only in their capitals or accents")
    return list(found.values())


def made_plain(name: str, taken: Collection[str] = ()) -> str:
    """A plain name as near to one as can be, and none of those that are taken."""
    last = PureWindowsPath(name.replace("\0", "_")).name
    made = re.sub(r"[^\w .-]", "_", last).strip(" .")[-LONGEST_MADE:].strip(" .") or "file"
    if made.partition(".")[0].rstrip().casefold() in RESERVED:
        made = f"_{made}"
    held = {same_file(each) for each in taken}
    names = (made, *(f"{number}-{made}" for number in range(2, len(held) + 3)))
    return next(each for each in names if same_file(each) not in held)
