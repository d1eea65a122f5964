"""The pocket page as one file: tables of `answers.pocket`, texts of every language, and a script that looks them up."""

import base64
import datetime
import functools
import gzip
import json
import re
from collections.abc import Callable, Mapping, Sequence
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, TypeGuard

import numpy as np

from ...answers import pocket
from ...answers.pocket import PocketClass, energy_price, kind_of, pocket_class
from ...answers.safety import safety
from ...energy.consumption import KWH_PER_THERM
from ...load.tables.tables import CURRENCIES, Caution, Tables, data_dir
from ..text.phrases import languages
from ..text.words import Words

PER_UNIT: Final[Mapping[str, Mapping[str, tuple[str, float]]]] = {
    "US": {"electricity": ("kwh", 1.0), "gas": ("therm", KWH_PER_THERM)},
    "EU": {"electricity": ("kwh", 1.0), "gas": ("kwh", 1.0)},
}
"""In which unit each fuel is sold, and how many kilowatt-hours that is."""

SHARES: Final = ("edges", "by_kind", "between", "unpriced", "hazards", "failing")
"""Tables of shares and ratios; the others are of money."""
FINE: Final = 1e-3
"""The least step of a number, as a share or of the lowest price of a new one: finer ones only take room. [-]"""
LARGEST: Final = 32_767
"""Of a number of 16 bits."""


def policy(style: str, script: str) -> str:
    """What the page may do: run its own script and look as its own style says; load, call, frame and send nothing.

    A worker of its own address may keep it, where a server gave it; and text never becomes a script.
    """
    digests = (base64.b64encode(sha256(text.encode()).digest()).decode() for text in (style, script))
    styled, run = (f"'sha256-{digest}'" for digest in digests)
    return (
        f"default-src 'none'; script-src {run}; style-src {styled}; worker-src 'self'; base-uri 'none'; "
        "form-action 'none'; require-trusted-types-for 'script'; trusted-types pocket"
    )


def part(name: str) -> str:
    """A file beside this module."""
    return files(__package__).joinpath(name).read_text("utf-8")


def served_policy() -> str:
    """The same policy as a header of the page, where it is served; no other page may frame it."""
    return policy(part("page.css"), part("page.js")) + "; frame-ancestors 'none'"


def pocket_page(
    place: str,
    today: datetime.date,
    reference: Tables,
    shop: str = "",
    classes: Sequence[str] = (),
    progress: Callable[[float], object] | None = None,
) -> str:
    """Write the page for the region of a place, at which it begins; its tables hold for the day.

    `shop` is how the shop signs; `classes` are the ids of those that it answers for, all that are sold there unless
    given; `progress` is told the share that is done after each class [-].
    """
    here = reference.place(place)
    kinds = [each for each in reference.classes(here.region) if each.kind in classes or not classes]
    made = []
    for done, kind in enumerate(kinds, start=1):
        made.append(pocket_class(kind.kind, here.region, today, reference))
        if progress is not None:
            progress(done / len(kinds))
    head, between, end = _frame()
    return (
        f"{head}{stamp()}{between}{_packed(_facts(here.place, here.region, today, reference, shop, made), made)}{end}"
    )


def _frame() -> list[str]:
    """What stands before, between and behind stamp and tables, the same in every page."""
    style, script, page = part("page.css"), part("page.js"), part("page.html")
    for gap, text in (("policy", policy(style, script)), ("style", style), ("script", script)):
        page = page.replace(f"{{{gap}}}", text)
    return re.split(r"\{stamp\}|\{data\}", page)


@functools.cache
def stamp() -> str:
    """What a page that is made now is made of, as a short word: its script, the engine, the tables and the texts."""
    package = Path(__file__).parents[2]
    engine = (each for each in package.rglob("*.py") if package / "show" not in each.parents)
    texts = (package / "show" / "text" / "language").glob("*.toml")
    made_of = (each.read_bytes() for each in (*engine, *texts, *data_dir().glob("*.csv"), *data_dir().glob("*.npy")))
    return sha256(b"".join(["".join(_frame()).encode(), *sorted(made_of)])).hexdigest()[:16]


def is_ours(page: object) -> TypeGuard[bytes]:
    """Whether a page is one of this script, and nobody else's: all but its tables stands in every page."""
    pattern = "[A-Za-z0-9+/=]+".join(map(re.escape, _frame())).encode()
    return isinstance(page, bytes) and re.fullmatch(pattern, page) is not None


def is_fresh(page: object) -> bool:
    """Whether a page is what would be made now, but for its day and shop."""
    return is_ours(page) and f' data-stamp="{stamp()}"'.encode() in page


def _packed(facts: dict[str, Any], made: list[PocketClass]) -> str:
    """Facts as JSON and all tables as numbers of 16 bits, packed as text.

    A number is kept less the one before it, or that in the row or block before, whichever is nearest in its table; and
    the bytes that hardly differ stand together. So all take half the room.
    """
    numbers = [np.zeros(0, dtype="<i2")]
    for each in made:
        for name, table in vars(each).items():
            if isinstance(table, np.ndarray) and table.ndim > 1:  # other rows of numbers are knots
                step = FINE * (1.0 if name in SHARES else each.prices[0])
                scale = max(float(np.max(np.abs(table), initial=0.0)) / LARGEST, step)
                whole = np.round(table / scale).astype("<i2").ravel()
                lags = (1, *np.cumprod(table.shape[:-3:-1]))
                less = {lag: np.r_[whole[:lag], whole[lag:] - whole[:-lag]] for lag in lags}
                lag = min(less, key=lambda lag: np.sum(np.abs(less[lag].astype(float))))
                packed = {"size": table.size, "lag": int(lag), "shape": table.shape, "scale": scale}
                facts["kinds"][each.kind]["tables"][name] = {"at": sum(map(len, numbers)), **packed}
                numbers.append(less[lag])
            else:
                facts["kinds"][each.kind][name] = table.tolist() if isinstance(table, np.ndarray) else table
    head = json.dumps(facts, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
    low_and_high = np.concatenate(numbers).view("u1").reshape(-1, 2).T.tobytes()
    page = gzip.compress(len(head).to_bytes(4, "little") + head + low_and_high, 9, mtime=0)
    return base64.b64encode(page).decode()


def _facts(
    place: str, region: str, today: datetime.date, reference: Tables, shop: str, made: list[PocketClass]
) -> dict[str, Any]:
    places = [each.place for each in reference.places(region)]
    words = {code: Words.for_place(region, code) for code in languages()}
    cautions = {c.words: c for c in reference.all_cautions}
    safety = _safety(places, region, today.year, reference, made)
    used = {
        name
        for sets in safety.values()
        for kind in sets.values()
        for eras in kind.values()
        for era in eras
        for name in (*era[1], *era[2])
    }
    kinds = [each.kind for each in made]
    faults = list(dict.fromkeys(fault.fault for kind in kinds for fault in reference.faults(kind)))
    return {
        "made": today.isoformat(),
        "year": today.year,
        "region": region,
        "place": place,
        "currency": CURRENCIES[region],
        "shop": shop,
        "ownPrice": "own",
        "units": {fuel: {"name": name, "per": per} for fuel, (name, per) in PER_UNIT[region].items()},
        "conditions": pocket.CONDITIONS,
        "factors": [reference.needed(f"condition_{each}", kinds[0], region).value for each in pocket.CONDITIONS],
        "knots": {
            "hazards": pocket.HAZARD_KNOTS,
            "failing": pocket.FAILING,
            "earlier": pocket.EARLIER,
            "edgeAges": pocket.EDGE_AGES,
            "kindAges": pocket.KIND_AGES,
            "edgeEarlier": pocket.EDGE_EARLIER,
            "between": pocket.BETWEEN,
            "edgePrices": pocket.EDGE_PRICES,
            "edgeEnergies": pocket.EDGE_ENERGIES,
            "years": pocket.PAID_YEARS,
            "ofAWay": pocket.OF_A_WAY,
        },
        "places": {each: _place(each, kinds, reference) for each in places},
        "kinds": {each.kind: _kind(each, region, reference) for each in made},
        "safety": safety,
        "languages": {
            code: {
                "name": languages()[code],
                "locale": str(each.locale).replace("_", "-"),
                "decimal": each.separators[0],
                "say": {**each.text["pocket"], "law": each.say("caution.last")},
                "kinds": {kind: each.kind(kind) for kind in kinds},
                "faults": {fault: each.fault(fault) for fault in faults},
                "places": {known: each.place(known) for known in places},
                "cautions": {name: each.caution_text(cautions[name]) for name in sorted(used)},
                "cautionsIn": _texts_in(places, code, {name: cautions[name] for name in used}, each),
            }
            for code, each in words.items()
        },
    }


def _texts_in(places: list[str], code: str, cautions: Mapping[str, Caution], usual: Words) -> dict[str, dict[str, str]]:
    """Texts that a country says otherwise: its own emergency number, say."""
    found = {}
    for place in places:
        own = Words.for_place(place, code)
        other = {name: text for name, c in cautions.items() if (text := own.caution_text(c)) != usual.caution_text(c)}
        if other:
            found[place] = other
    return found


def _place(place: str, kinds: list[str], reference: Tables) -> dict[str, Any]:
    promised = ((kind, reference.promised("guarantee", kind, place)) for kind in kinds)
    return {
        **{fuel: energy_price(place, fuel, reference) for fuel in ("electricity", "gas")},
        "guarantee": {kind: each.value for kind, each in promised if each is not None},
    }


def _kind(made: PocketClass, region: str, reference: Tables) -> dict[str, Any]:
    kind = reference.kind(made.kind)
    faults = {}
    for fault in reference.faults(made.kind):
        group, spoils = kind_of(fault, made.kind, region, reference)
        refused = reference.cannot_be_repaired(made.kind, fault.fault)
        faults[fault.fault] = {"group": None if refused else group, "spoils": spoils}
    reach, life = (reference.needed(each, made.kind, region).value for each in ("life_beyond_data", "mean_life"))
    usual = reference.figure("warranty_new", made.kind, region)
    warranty = 0.0 if usual is None else usual.value
    return {"group": kind.group, "beyond": reach * life, "warranty": warranty, "faults": faults, "tables": {}}


def _safety(
    places: list[str], region: str, year: int, reference: Tables, made: list[PocketClass]
) -> dict[str, dict[str, dict[str, list[Any]]]]:
    """What to mind, by place, class and fault: from each year of manufacture on, the texts that stand in the open.

    A place of which no caution speaks has those of its region.
    """
    bounds = {bound for c in reference.all_cautions for bound in (c.made[0] - 1, c.made[1] + 1.5) if np.isfinite(bound)}
    eras = [0.0, *sorted(bound for bound in bounds if bound <= year)]

    def of(kind: str, fault: str, place: str) -> list[Any]:
        found: list[Any] = []
        for era in eras:
            mind = safety(reference.cautions(kind, fault, place, era), (fault,)).in_the_open
            stopped = any(c.weight == "stop" for c in mind)
            stops = [c.words for c in mind if stopped and c.weight in ("first", "stop")]
            lines = [stops, [c.words for c in mind if c.words not in stops]]
            if not found or found[-1][1:] != lines:
                found.append([era, *lines])
        return found

    named = {place for c in reference.all_cautions for place in c.places} | {region}
    return {
        place: {
            each.kind: {fault.fault: of(each.kind, fault.fault, place) for fault in reference.faults(each.kind)}
            for each in made
        }
        for place in places
        if place in named
    }
