"""A case as people enter it: what they know, written down; what they do not, filled from the tables.

**Entries** are the nested tables of a TOML file, with the names of `case.py`:

    [appliance]    class, age, fault, and any figure of the unit there; [appliance.label] or [appliance.meter]
    [household]    place, and any figure of the household; [household.electricity_tariff]
    [repair]       quote = 320, or a table of its parts; remaining_life_factor, energy_change, ...
    [[replace]]    name, price, ... and [replace.appliance] for the unit that is bought; none means a typical new unit
    [leave]        annual_loss_of_use, energy_change, ...; while it still does some of its work
    [without]      annual_loss_of_use; none is run or bought
    [ranges]       what a value may be instead, by its path: "repair.remaining_life_factor" = [0.5, 1.2]

`complete` turns entries into a `Case` and says which figures were defaults, and from where. All errors are reported in
one go, each by its dotted path. Entries are kept as they came, so saving and opening changes nothing.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from ...economics.case import REPLACE
from ...errors import CaseError, Message, ReadError
from ..files.plain_file import content_of, write_file
from ..files.toml_text import toml_of
from ..tables.tables import Tables, tables
from .completing import Completing
from .filled import Filled
from .renamed import entries_of_today

Entries = dict[str, Any]

BOOKS: Final = (".csv", ".xlsx")  # endings of job books, which are no cases

LARGEST_FILE: Final = 1_000_000
"""A case file is a page of text; anything beyond this is something else. [byte]"""


def complete(entries: Mapping[str, Any], reference: Tables | None = None, folder: Path | None = None) -> Filled:
    """Fill what was not entered from the tables, and build the case.

    Parameters
    ----------
    entries : mapping
        What is known, as the nested tables of a case file. [units as `case` declares them]
    reference : Tables, optional
        Figures for what is not entered; the shipped ones unless given.
    folder : Path, optional
        Where files that the entries name are looked up.

    Returns
    -------
    Filled
        The case, the defaults it rests on, its cautions and ranges.

    Raises
    ------
    EntryErrors
        One or more entries cannot be used; each error names its field, what is allowed with unit, and what came.

    Examples
    --------
    >>> filled = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}})
    >>> filled.case.options[0].quote.total, "household.rate" in {default.field for default in filled.defaults}
    (250.0, True)
    """
    return Completing(reference or tables(), folder, entries=entries).filled()


def read_case(path: Path, old: dict[str, str] | None = None) -> Entries:
    """Read the entries of a case file.

    Parameters
    ----------
    path : Path
        The file, TOML, of 1 MB at most.
    old : dict, optional
        Takes up the path of each entry that stands there by an old name, with the one it has now.

    Returns
    -------
    dict
        Its nested tables, for `complete` and `answer`; nothing is filled in.

    Raises
    ------
    ReadError
        It is not there, is no TOML, or is something else than a case.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "case.toml").write_text('[appliance]\\nclass = "refrigerator"\\nage = 12\\n')
    ...     read_case(Path(folder, "case.toml"))
    {'appliance': {'class': 'refrigerator', 'age': 12}}
    """
    too_large = Message("is larger than {most:,} bytes; a case is a page of text", LARGEST_FILE)
    try:
        content = content_of(path, LARGEST_FILE, too_large)
    except ReadError as error:
        if not isinstance(error.__cause__, FileNotFoundError):
            raise
        raise ReadError(str(path), "No such file or directory; `mendpoint new FILE` makes a case file") from error
    if path.suffix.lower() in BOOKS:
        raise ReadError(path.name, "is no case file; a job book is weighed by `mendpoint jobs`")
    return parse_case(content, path.name, old)


def parse_case(content: bytes, name: str = "case", old: dict[str, str] | None = None) -> Entries:
    """Read the entries of a case from the bytes of a file.

    An old name of an entry is read as the new one; `old` takes up the paths of both.
    """
    return entries_of_today(toml_of(content, name), old)


def write_case(entries: Mapping[str, Any]) -> str:
    """Write entries as the text of a case file; `parse_case` of it gives the same entries."""
    import tomlkit

    return tomlkit.dumps(entries)


def save_case(path: Path, entries: Mapping[str, Any]) -> None:
    """Save entries to a case file."""
    write_file(path, write_case(entries))


def set_entry(entries: Entries, path: str, value: object) -> Entries:
    """The same entries with one changed, named as in `repair.quote.parts`, `replace.price` or `replace.2.price`."""
    head, *rest = path.split(".")
    if not rest:
        return {**entries, head: value}
    if head == REPLACE:
        which = int(rest.pop(0)) - 1 if rest[0].isdigit() else 0
        given = entries.get(REPLACE, [])
        if not isinstance(given, list) or not all(isinstance(entry, dict) for entry in given):
            raise CaseError(REPLACE, "must be one or more tables, written [[replace]]")
        listed = [dict(entry) for entry in given] or [{}]
        if not (0 <= which < len(listed) and rest):
            raise CaseError(path, "names no replacement; there are {n}", len(listed))
        listed[which] = set_entry(listed[which], ".".join(rest), value)
        return {**entries, head: listed}
    inner = entries.get(head, {})
    if head == "quote" and not isinstance(inner, dict):
        inner = {} if rest == ["amount"] else {"amount": inner}
    if not isinstance(inner, dict):
        raise CaseError(path, "{head} is no table", head)
    return {**entries, head: set_entry(inner, ".".join(rest), value)}
