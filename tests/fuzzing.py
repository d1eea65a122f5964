"""Input from outside, malformed in every way that comes to mind: samples of each reader's files, and their mutations.

`READERS` has one entry for each reader: valid samples, what reads them to the end, and how to spoil one by a random
number. Shared by the ordinary tests, which try a few hundred, and by `bench/fuzz_readers.py`, which tries 10,000.
"""

import datetime
import io
import json
import random
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import count
from pathlib import Path

from spoiling import spoilt
from whole_books import read_jobs

from decide.economics.weigh import weigh
from decide.energy.load_profile import evenly
from decide.energy.metering import AS_MEASURED
from decide.energy.tariff import total
from decide.errors import CaseError
from decide.load.cases.case_file import complete, parse_case, write_case
from decide.load.cases.measured import log_use
from decide.load.cases.ranges import ranges_of
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping, parse_mapping, write_mapping
from decide.load.jobs.own_figures import LocalFigure, read_figures, with_local, written
from decide.load.meters.interval_data import daily_profile, monthly_use, parse_intervals
from decide.load.meters.meter_log import read_meter_log
from decide.load.meters.tariff_file import parse_tariff
from decide.load.store.archive import MANIFEST, digest_of
from decide.load.store.store import Store
from decide.load.tables.tables import UNITS, tables

TESTS = Path(__file__).parent
DEMO = TESTS.parent / "data" / "demo"


@dataclass(frozen=True)
class Reader:
    """A reader of what comes from outside: samples that it reads, and all that is done with what it read."""

    samples: Callable[[], tuple[bytes, ...]]
    read: Callable[[bytes], object]
    spoil: Callable[[int, tuple[bytes, ...]], bytes] = spoilt

    def spoilt(self, seed: int) -> bytes:
        return self.spoil(seed, self.samples())


# Cases

EVERY_KIND_OF_ENTRY = b"""
title = "Everything at once"
[appliance]
class = "refrigerator"
age = 11.5
fault = "compressor"
[appliance.meter]
first = 12.40
second = 14.83
hours = 48
room = 23
year_rooms = [19, 19, 20, 21, 22, 24, 25, 25, 23, 21, 20, 19]
rated = 480
[household]
place = "US-OH"
rate = 0.03
study_period = 12
[household.electricity_tariff]
commodity = "electricity"
source = "my bill"
base_use = 3800
[[household.electricity_tariff.line]]
name = "energy"
blocks = [{ price = 0.10, upto = 300 }, { price = 0.20 }]
[[household.electricity_tariff.line]]
name = "tax"
share = 0.1
of = ["energy"]
[repair]
quote = 320
remaining_life_factor = 0.8
[[replace]]
price = 980
[replace.appliance]
electricity_per_cycle = 0.9
cycles = 200
[leave]
annual_loss_of_use = 100
[ranges]
"repair.remaining_life_factor" = [0.5, 1.2]
"replace.price" = [900, 1100]
[carbon]
"""
LABELLED = b"""
[appliance]
class = "dishwasher"
age = 6
power = 1800
hours_per_day = 0.5
[household]
place = "DE"
[household.landlord]
tax_rate = 0.24
pays_energy = 0
depreciation_years = 5
[repair.quote]
parts = 80
labour_hours = 1.5
[[replace]]
[replace.appliance.label]
scale = "dishwasher-2021"
class = "C"
place_settings = 13
width = 60
"""


@cache
def cases() -> tuple[bytes, ...]:
    published = [parse_case(path.read_bytes())["case"] for path in sorted((TESTS / "cases").glob("*.toml"))]
    own = [write_case(entries).encode() for entries in published]
    return (DEMO.joinpath("refrigerator.toml").read_bytes(), EVERY_KIND_OF_ENTRY, LABELLED, *own)


def read_case(content: bytes) -> object:
    filled = complete(parse_case(content), folder=TESTS / "data")
    ranges_of(filled)
    return weigh(filled.case)


# Logs

LOGS = (
    b"Datum;Uhrzeit;Leistung (W)\r\n31.12.2025;23:58;80,5\r\n31.12.2025;23:59;81,5\r\n01.01.2026;00:00;79,5\r\n",
    b"time,power\n2026-01-01T00:00:00Z,0.105 kW\n2026-01-01T00:01:00Z,0.1 kW\n2026-01-01T00:02:00Z,unavailable\n",
    b"Device;kitchen\n\nTime;Energy counter (kWh)\n1767225600;1.234,5\n1767229200;1.234,6\n1767232800;1.234,7\n",
    b"date\ttime\tusage kWh\n1/13/2026\t12:00 AM\t0.5\n1/13/2026\t1:00 AM\t0.25\n1/13/2026\t2:00 AM\t0.75\n",
    b"1-Feb-2026 00:00,10 W\n1-Feb-2026 00:05,11 W\n1-Feb-2026 00:10,12 W\n",
)


@cache
def logs() -> tuple[bytes, ...]:
    fridge = (TESTS / "data/ukdale_fridge_3_days.csv").read_bytes().splitlines(keepends=True)
    days = "".join(f"2026-03-{day:02} {hour:02}:{minute:02},{(hour * 7 + minute) % 90}.5\n"
                   for day in (27, 28, 29, 30) for hour in range(24) for minute in (0, 30))  # fmt: skip
    return (*LOGS, b"".join(fridge[:250]), f"Time,W\n{days}".encode())


def read_log(content: bytes) -> object:
    log = read_meter_log(content).log
    for cycles, frost_free in ((200.0, False), (None, True)):
        try:
            log_use(log, cycles, AS_MEASURED, frost_free)
        except CaseError:  # a log that is too short for a year is still a log
            continue
    return log


# Interval data


def _espi(readings: str, form: str) -> bytes:
    return f"""<?xml version="1.0"?><feed xmlns="http://www.w3.org/2005/Atom"><entry><link rel="self" href="U/1"/>
<link rel="related" href="U/1/M"/><link rel="related" href="L/1"/><content><UsagePoint xmlns="http://naesb.org/espi">
<ServiceCategory><kind>0</kind></ServiceCategory></UsagePoint></content></entry><entry><link rel="self" href="U/1/M/1"/>
<link rel="up" href="U/1/M"/><link rel="related" href="U/1/M/1/B"/><link rel="related" href="R/1"/><content>
<MeterReading xmlns="http://naesb.org/espi"/></content></entry><entry><link rel="self" href="R/1"/><content>
<ReadingType xmlns="http://naesb.org/espi">{form}</ReadingType></content></entry><entry><link rel="self" href="B/1"/>
<link rel="up" href="U/1/M/1/B"/><content><IntervalBlock xmlns="http://naesb.org/espi">{readings}</IntervalBlock></content>
</entry><entry><link rel="self" href="L/1"/><content><LocalTimeParameters xmlns="http://naesb.org/espi">
<dstEndRule>B40E2000</dstEndRule><dstOffset>3600</dstOffset><dstStartRule>360E2000</dstStartRule>
<tzOffset>-18000</tzOffset></LocalTimeParameters></content></entry></feed>""".encode()


@cache
def feeds() -> tuple[bytes, ...]:
    hours = "".join(
        f"<IntervalReading><cost>{100 * at}</cost><timePeriod><duration>3600</duration>"
        f"<start>{1767225600 + 3600 * at}</start></timePeriod><value>{300 + 7 * at}</value></IntervalReading>"
        for at in range(30)
    )
    watt_hours = (
        "<commodity>1</commodity><flowDirection>1</flowDirection><intervalLength>3600</intervalLength><uom>72</uom>"
    )
    gas = (
        "<commodity>7</commodity><uom>169</uom><powerOfTenMultiplier>-3</powerOfTenMultiplier><currency>840</currency>"
    )
    return (
        (TESTS / "data/gas_with_defects.xml").read_bytes(),
        _espi(hours, watt_hours + "<accumulationBehaviour>4</accumulationBehaviour>"),
        _espi(hours.partition("</IntervalReading>")[0] + "</IntervalReading>", gas),
    )


def read_feed(content: bytes) -> object:
    found = parse_intervals(content, unit="therm")
    for meter in found.meters:
        for use in (monthly_use, daily_profile):
            try:
                use(meter)
            except CaseError:  # readings over one another, or longer than an hour, are still readings
                continue
    return found


# Tariffs

TARIFFS = (
    b'commodity = "electricity"\nsource = "my bill"\nprice = 0.30\ncurrency = "EUR"\n',
    b"""commodity = "electricity"
source = "my bill of March"
rounding = 0.01
[[line]]
name = "energy"
per = "prorated month"
filling = "in order of time"
[[line.band]]
blocks = [{ price = 0.10, upto = 300 }, { price = 0.20 }]
months = "6-9"
days = "weekday"
hours = "7-11, 17-19"
[[line.band]]
blocks = [{ price = 0.05, upto = 300 }, { price = 0.1 }]
[[line]]
name = "standing charge"
amount = 9.50
per = "day"
[[line]]
name = "least"
minimum = 20
[[line]]
name = "tax"
share = 0.10
of = ["energy"]
""",
    b"""commodity = "gas"
source = "bill"
calorific_value = 39.5
correction = 1.02
[[line]]
name = "gas"
unit = "m3"
price = 0.7
[[line]]
name = "more"
unit = "ccf"
price = 0.1
[[line]]
name = "year"
amount = 100
per = "year"
""".replace(b"calorific", b"therms_per_ccf = 1.03\ncalorific", 1),
    b"""commodity = "water"
source = "b"
unit = "1000 gallons"
[[line]]
name = "w"
blocks = [{price = 3, upto = 5}, {price = 4}]
""",
)


def read_tariff(content: bytes) -> object:
    return total(parse_tariff(content), evenly(3800.0))


# Job books


@cache
def mappings() -> tuple[bytes, ...]:
    guessed = write_mapping(guess_mapping(open_book(books()[0], "jobs.csv"))).encode()
    return (DEMO.joinpath("jobs.toml").read_bytes(), guessed)


@cache
def books() -> tuple[bytes, ...]:
    demo = DEMO.joinpath("jobs.csv").read_bytes().splitlines(keepends=True)
    german = "Datum;Gerät;Alter;Fehler;Kostenvoranschlag;Entscheidung\n" + "".join(
        f"{day:02}.03.2025;Waschmaschine;{day};Pumpe;1.{day:03},50 €;repariert\n" for day in range(1, 25)
    )
    return (b"".join(demo[:40]), german.encode("cp1252"), german.encode("utf-16"))


def read_book(content: bytes) -> object:
    book = open_book(content, "jobs.csv")
    return read_jobs(book, guess_mapping(book))


# The store's export


@cache
def exports() -> tuple[bytes, ...]:
    with tempfile.TemporaryDirectory() as folder:
        with Store.open(f"{folder}/from") as store:
            visit = store.new_id()
            log = LOGS[0]
            store.save_visit(visit, parse_case(cases()[0]), page={"quote": "185,50"}, files={"log.csv": log})
            store.save_visit(store.new_id(), parse_case(EVERY_KIND_OF_ENTRY))
            store.keep_book("jobs.csv", books()[0], "", 3)
            store.save_mapping("mine", mappings()[0].decode())
            store.save_settings({"name": "a shop"})
            path = store.export_all(Path(folder) / "all.zip")
        return (path.read_bytes(),)


ASTRAY = ("../../", "/", "a\\", "con:", "./", "x//")
"""Beginnings of names that lead out of a folder."""


def spoilt_export(seed: int, samples: tuple[bytes, ...]) -> bytes:
    """An export with its list, its names or its files spoilt, mostly with digests that are right all the same."""
    chance = random.Random(seed)
    if chance.random() < 0.15:
        return spoilt(seed, samples)
    with zipfile.ZipFile(io.BytesIO(samples[0])) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    name = chance.choice([MANIFEST, MANIFEST, MANIFEST, *files])
    files[name] = spoilt(chance.randrange(1 << 40), (files[name],))
    if name != MANIFEST and chance.random() < 0.9:
        listed = json.loads(files[MANIFEST])
        listed["digests"][name] = digest_of(files[name])
        files[MANIFEST] = json.dumps(listed).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", chance.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))) as archive:
        for name, content in files.items():
            astray = chance.choice(ASTRAY) if chance.random() < 0.02 else ""
            archive.writestr(zipfile.ZipInfo(astray + name), content)
    return out.getvalue()


@lru_cache(maxsize=1)
def _import_room(_number: int) -> tuple[Path, Store]:
    folder = Path(tempfile.mkdtemp(prefix="fuzz"))
    return folder / "in.zip", Store.open(str(folder / "to"))


_IMPORTS = count()


def read_export(content: bytes) -> object:
    """Import into a store that holds what some others brought, and is left before it grows large."""
    path, store = _import_room(next(_IMPORTS) // 100)
    path.write_bytes(content)
    arrived = store.import_all(path)
    for line in store.visits(most=3):
        store.visit(line.id)
    return arrived


# A shop's own figures


@cache
def own_figures() -> tuple[bytes, ...]:
    about = {"kind": "refrigerator", "region": "US", "n": 41, "shop": "Corner repairs",
    "since": datetime.date(2019, 1, 7),
             "until": datetime.date(2026, 3, 1), "made": datetime.date(2026, 3, 2)}  # fmt: skip
    values = {"mean_life": (14.2, 12.0, 16.5), "life_shape": (2.1, 1.7, 2.6), "failure_free_years": (0.5, 0.0, 1.0)}
    values |= {"repair_success_probability": (0.9, 0.85, 0.94), "quote_share": (0.3, 0.25, 0.36)}
    figures = [
        LocalFigure(quantity=quantity, value=value, low=low, high=high, unit=UNITS[quantity], **about)
        for quantity, (value, low, high) in values.items()
    ]
    return (written(figures).encode(),)


@cache
def _figures_file() -> Path:
    return Path(tempfile.mkdtemp(prefix="fuzz")) / "own.csv"


def read_own(content: bytes) -> object:
    _figures_file().write_bytes(content)
    return with_local(tables(), read_figures(_figures_file()))


READERS = {
    "case": Reader(cases, read_case),
    "log": Reader(logs, read_log),
    "feed": Reader(feeds, read_feed),
    "tariff": Reader(lambda: TARIFFS, read_tariff),
    "book": Reader(books, read_book),
    "mapping": Reader(mappings, parse_mapping),
    "export": Reader(exports, read_export, spoilt_export),
    "own": Reader(own_figures, read_own),
}
