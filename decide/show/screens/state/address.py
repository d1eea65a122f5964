"""What is typed on a page, kept in its address: a reload loses nothing, and a link opens the same page.

No name goes there: a title and a reason stay out, and so do files and what an opened case holds beyond the fields.
"""

from collections.abc import Mapping
from typing import Any, Final

from ....load.cases.renamed import name_of_today
from ....load.tables.typed import LONGEST
from .fields import CHOSEN, TYPED, WAYS, as_share
from .symptom_state import SYMPTOM_FIELDS

WRITTEN: Final = (
    *TYPED,
    *(key for key in CHOSEN if key not in ("title", "outcome_reason", "remaining_life_factor")),
    *WAYS,
    *SYMPTOM_FIELDS,
)
OPENED: Final = "opened"
"""Says that a file was open, which an address cannot hold."""
VISIT: Final = "visit"
"""Id of the visit in the store, which has all of it."""
LANGUAGE: Final = "language"


def address_of(fields: Mapping[str, Any], usual: Mapping[str, Any]) -> dict[str, str]:
    """The fields that differ from those of an empty page; with any of them the place, since the answer hangs on it."""
    found = {key: str(fields[key]) for key in WRITTEN if fields.get(key) and key != "place"}
    found = {key: value for key, value in found.items() if value != str(usual.get(key) or "")}
    if fields.get("group") and "kind" not in found:  # a kind says its group
        found["group"] = str(fields["group"])
    if fields["remaining_life_factor"] != usual["remaining_life_factor"]:
        found["remaining_life_factor"] = f"{fields['remaining_life_factor']:g}"
    if fields.get("kept") or fields.get("files"):
        found[OPENED] = "1"
    found = {**found, "place": str(fields["place"])} if found else {}
    if found and fields.get(VISIT):
        found[VISIT] = str(fields[VISIT])
    if fields.get(LANGUAGE) and fields[LANGUAGE] != usual.get(LANGUAGE, fields[LANGUAGE]):
        found[LANGUAGE] = str(fields[LANGUAGE])
    return found


def fields_at(address: Mapping[str, str], usual: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of an address; what it does not name is as on an empty page."""
    address = {name_of_today(key): value for key, value in address.items()}
    fields = {key: address.get(key, usual.get(key)) for key in WRITTEN}
    typed = {key: str(fields[key] or "")[:LONGEST] for key in TYPED}
    group = address.get("group")
    return {
        **fields,
        **typed,
        "group": group,
        "remaining_life_factor": as_share(address.get("remaining_life_factor", "")) or usual["remaining_life_factor"],
    }
