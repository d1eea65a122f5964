"""Green Button files: published samples rebuilt reading by reading, the clock, defects of real files, and attacks."""

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decide.energy.consumption import therms_to_kwh
from decide.energy.load_profile import gas_energy
from decide.energy.us_labels import LITRES_PER_GALLON
from decide.errors import CaseError, OneOf, ReadError
from decide.load.meters.interval_data import (
    LARGEST_FILE,
    UNIT_NAMES,
    UNITS,
    Clock,
    DaylightRule,
    IntervalFile,
    Intervals,
    as_energy,
    daily_profile,
    monthly_use,
    parse_intervals,
    read_intervals,
)
from decide.show.text.phrases import languages
from decide.show.text.words import Words

DATA = Path(__file__).parent / "data"
HOUR = 3600
DAY = 24 * HOUR

AMERICAN_CLOCK = """<dstEndRule>B40E2000</dstEndRule><dstOffset>3600</dstOffset>
  <dstStartRule>360E2000</dstStartRule><tzOffset>-18000</tzOffset>"""
WATT_HOURS = """<accumulationBehaviour>4</accumulationBehaviour><commodity>1</commodity><currency>840</currency>
  <flowDirection>1</flowDirection><intervalLength>3600</intervalLength><kind>12</kind>
  <powerOfTenMultiplier>0</powerOfTenMultiplier><uom>72</uom>"""

Reading = tuple[float, float, float, float | None]


def entry(content: str, own: str = "", up: str = "", *related: str) -> str:
    links = [("self", own), ("up", up), *(("related", href) for href in related)]
    tied = "".join(f'<link rel="{rel}" href="{href}"/>' for rel, href in links if href)
    return f"<entry>{tied}<content>{content}</content></entry>"


def espi(kind: str, content: str = "") -> str:
    return f'<{kind} xmlns="http://naesb.org/espi">{content}</{kind}>'


def block(readings: list[Reading]) -> str:
    rows = "".join(
        "<IntervalReading>"
        + (f"<cost>{cost}</cost>" if cost is not None else "")
        + f"<timePeriod><duration>{duration}</duration><start>{start}</start></timePeriod><value>{value}</value>"
        "</IntervalReading>"
        for start, duration, value, cost in readings
    )
    return espi("IntervalBlock", rows)


def feed(blocks: list[str], form: str = WATT_HOURS, clock: str = AMERICAN_CLOCK, service: str = "0") -> bytes:
    """A feed of one meter, tied as the published samples are: blocks by their `up`, the rest by `related`."""
    point, meter = "RetailCustomer/2/UsagePoint/2", "RetailCustomer/2/UsagePoint/2/MeterReading/01"
    entries = [
        entry(
            espi("UsagePoint", f"<ServiceCategory><kind>{service}</kind></ServiceCategory>"),
            point, "RetailCustomer/2/UsagePoint", f"{point}/MeterReading", "LocalTimeParameters/01",
        ),
        entry(espi("MeterReading"), meter, f"{point}/MeterReading", f"{meter}/IntervalBlock", "ReadingType/3"),
        entry(espi("ReadingType", form), "ReadingType/3", "ReadingType"),
        *(entry(rows, f"{meter}/IntervalBlock/{n}", f"{meter}/IntervalBlock") for n, rows in enumerate(blocks)),
    ]  # fmt: skip
    if clock:
        entries.append(entry(espi("LocalTimeParameters", clock), "LocalTimeParameters/01"))
    return f'<?xml version="1.0"?><feed xmlns="http://www.w3.org/2005/Atom">{"".join(entries)}</feed>'.encode()


def meter(readings: list[Reading], **parts: str) -> Intervals:
    return parse_intervals(feed([block(readings)], **parts)).meters[0]


def epoch(*when: int) -> int:
    return int(datetime(*when, tzinfo=UTC).timestamp())  # type: ignore[misc]


# ---- Published samples ----
# EnergyOS/NIST sample TestGBDataHourlyNineDaysBinnedDaily.xml (Apache-2.0), as stored in an open set of samples:
# all 216 readings in watt-hours, hour by hour from 1388552400; its days are of four kinds.

NIGHT_WH = [273] * 5
MIDWEEK_WH = [*NIGHT_WH, 819, *[1365] * 4, *[819] * 7, 1092, *[1365] * 4, 819, 273]
FRIDAY_WH = [*MIDWEEK_WH[:22], 1365, 819]
SATURDAY_WH = [*NIGHT_WH, 819, *[1365] * 17, 819]
SUNDAY_WH = [*SATURDAY_WH[:22], 819, 273]
NINE_DAYS = [*[MIDWEEK_WH] * 2, FRIDAY_WH, SATURDAY_WH, SUNDAY_WH, *[MIDWEEK_WH] * 4]


def nine_days() -> IntervalFile:
    begin = 1388552400
    days = [
        [(begin + DAY * day + HOUR * hour, HOUR, wh[hour], None) for hour in range(24)]
        for day, wh in enumerate(NINE_DAYS)
    ]
    return parse_intervals(feed([block(day) for day in days]))


@pytest.mark.published("EnergyOS/NIST sample TestGBDataHourlyNineDaysBinnedDaily.xml", "espi-ninedays")
def test_the_nine_day_sample_has_its_published_totals() -> None:
    # The file's own summary says 199,563 Wh too, but 28 days.
    (found,) = nine_days().meters
    assert found.value.size == 216
    assert found.value.sum() == pytest.approx(199.563, abs=1e-6)
    assert (found.commodity, found.unit, found.direction) == ("electricity", "kWh", "delivered")
    assert nine_days().remarks == ()


@pytest.mark.published("EnergyOS/NIST sample TestGBDataHourlyNineDaysBinnedDaily.xml", "espi-first-reading")
def test_the_first_reading_of_the_sample_is_decoded() -> None:
    (found,) = nine_days().meters
    assert datetime.fromtimestamp(found.start[0], UTC).isoformat() == "2014-01-01T05:00:00+00:00"
    local = datetime.fromtimestamp(found.start[0] + found.clock.ahead(found.start)[0], UTC)
    assert (local.hour, local.day) == (0, 1)
    assert found.value[0] == pytest.approx(0.273, abs=1e-12)


def test_the_sample_shows_its_days() -> None:
    (found,) = nine_days().meters
    months, profile = monthly_use(found), daily_profile(found)
    assert months.days[0] == pytest.approx(9)
    assert months.use[0] == pytest.approx(199.563 / 9 * 31)
    assert np.isnan(months.use[1:]).all()
    assert profile[0, 0] == pytest.approx(0.273)
    assert profile[0].sum() == pytest.approx(199.563 / 9)
    assert np.isnan(profile[1:]).all()


# Sample gas_direct.xml (Apache-2.0) of the same repository, the same bills in its full file of 35: milli-therms over
# months, the block tied by its own `self`, and nothing said of the local time. start, duration, value, cost.
GAS = [
    (1621987200, 3024000, 37000, 5100000),
    (1625011200, 2419200, 14000, 2493000),
    (1627430400, 2592000, 21000, 3281000),
    (1630022400, 2851200, 27000, 4207000),
    (1632873600, 2332800, 41000, 5543000),
]
GAS_FORM = "<currency>840</currency><powerOfTenMultiplier>-3</powerOfTenMultiplier><uom>169</uom>"


def gas_bills() -> IntervalFile:
    meter = "/v1/User/1234567890/UsagePoint/NET_USAGE/MeterReading/1"
    entries = [
        entry(espi("UsagePoint", "<ServiceCategory><kind>1</kind></ServiceCategory>"), "/v1/UsagePoint", "", meter),
        entry(espi("MeterReading"), meter, "", "/v1/ReadingType/0", f"{meter}/IntervalBlock/1"),
        entry(espi("ReadingType", GAS_FORM), "/v1/ReadingType/0"),
        entry(block(GAS), f"{meter}/IntervalBlock/1"),
    ]
    return parse_intervals(f'<feed xmlns="http://www.w3.org/2005/Atom">{"".join(entries)}</feed>'.encode())


@pytest.mark.published("sample gas_direct.xml of an open set", "espi-gas-therms")
def test_gas_bills_in_milli_therms_have_their_published_values() -> None:
    (found,) = gas_bills().meters
    assert found.value / 29.307107 == pytest.approx([37, 14, 21, 27, 41], rel=1e-9)
    assert (found.commodity, found.unit) == ("gas", "kWh")
    assert gas_bills().remarks == ("The file does not say what the local time is; hours and months are those of UTC.",)


def test_bills_over_months_ends_are_split_by_time() -> None:
    (found,) = gas_bills().meters
    months = monthly_use(found)
    # by hand: of June's 30 days, 29 lie in the first bill (35 days, 37 therms), 1 in the second (28 days, 14 therms)
    assert months.use[5] / 29.307107 == pytest.approx(29 * 37 / 35 + 14 / 28)
    assert months.days[[4, 5, 6, 7, 8, 9]] == pytest.approx([6, 30, 31, 31, 30, 25])
    with pytest.raises(CaseError, match="must last an hour at most to tell hours apart, got 840 hour"):
        daily_profile(found)


# ---- The clock ----


@pytest.mark.published("NAESB ESPI usage.xsd, DstRuleType", "espi-dst-rule")
def test_daylight_rules_are_decoded_as_the_schema_says() -> None:
    # NAESB ESPI usage.xsd, DstRuleType: the North American rules; and its own example, the third Friday of March, 1:45.
    assert DaylightRule.decoded("B40E2000") == DaylightRule(11, 2, 7, 0, 2, 0)
    assert DaylightRule.decoded("360E2000") == DaylightRule(3, 3, 7, 0, 2, 0)
    example = (3 << 28) | (4 << 25) | (0 << 20) | (5 << 17) | (1 << 12) | 2700
    rule = DaylightRule.decoded(f"{example:08X}")
    assert rule == DaylightRule(3, 4, 5, 0, 1, 2700)
    assert rule.moment(2014) == epoch(2014, 3, 21, 1, 45)
    # the Sunday on or after 25 October, at 3:00, as Europe's rule may be put as well
    european = (10 << 28) | (1 << 25) | (25 << 20) | (7 << 17) | (3 << 12)
    assert DaylightRule.decoded(f"{european:08X}") == DaylightRule(10, 1, 7, 25, 3, 0)
    assert DaylightRule.decoded("FFFFFFFF") is None
    assert DaylightRule.decoded("00000000") is None


@pytest.mark.parametrize(
    ("operator", "weekday", "day", "expected"),
    [
        (0, 0, 9, 9),
        (1, 7, 8, 8),
        (1, 7, 9, 15),
        (2, 7, 0, 1),
        (5, 7, 0, 22),
        (6, 7, 0, 29),
        (7, 7, 0, 29),
        (6, 1, 0, 30),
        (6, 2, 0, 24),
    ],
)
def test_each_operator_finds_its_day(operator: int, weekday: int, day: int, expected: int) -> None:
    # June 2014 began on a Sunday: by hand. A fifth Tuesday does not exist in it: the last is taken.
    assert DaylightRule(6, operator, weekday, day, 2, 0).moment(2014) == epoch(2014, 6, expected, 2)


EASTERN = Clock(-18000, 3600, DaylightRule.decoded("360E2000"), DaylightRule.decoded("B40E2000"))
# the last Sunday of March at 2:00 and of October at 3:00; the first Sundays of October at 2:00 and of April at 3:00
PARIS = Clock(3600, 3600, DaylightRule(3, 7, 7, 0, 2, 0), DaylightRule(10, 7, 7, 0, 3, 0))
SYDNEY = Clock(36000, 3600, DaylightRule(10, 2, 7, 0, 2, 0), DaylightRule(4, 2, 7, 0, 3, 0))
ZONES = [(EASTERN, "America/New_York"), (PARIS, "Europe/Paris"), (SYDNEY, "Australia/Sydney")]


@given(st.sampled_from(ZONES), st.integers(epoch(2009, 1, 1), epoch(2030, 12, 31)))
def test_the_clock_agrees_with_the_time_zone_database(zone: tuple[Clock, str], moment: int) -> None:
    clock, name = zone
    there = datetime.fromtimestamp(moment, ZoneInfo(name)).utcoffset()
    assert there is not None
    assert clock.ahead(np.array([moment]))[0] == there.total_seconds()


@pytest.mark.parametrize(("clock", "name"), ZONES)
def test_the_clock_turns_at_the_very_second(clock: Clock, name: str) -> None:
    hours = np.arange(epoch(2013, 12, 31), epoch(2015, 1, 2), HOUR)
    for shift in (0, -1):
        expected = [
            datetime.fromtimestamp(int(t), ZoneInfo(name)).utcoffset() / timedelta(seconds=1) for t in hours + shift
        ]
        assert clock.ahead(hours + shift).tolist() == expected


def test_days_of_23_and_25_hours_belong_to_their_months() -> None:
    # After sample TestGBDataOneYearDailyBinnedMonthly.xml (Apache-2.0): daily readings that last 82,800 s and 90,000 s
    # when the clock turns. Readings here are ours: 1 kWh an hour through 2014 in New York.
    midnights = [datetime(2014, 1, 1, tzinfo=ZoneInfo("America/New_York")) + timedelta(days=d) for d in range(366)]
    at = [int(midnight.timestamp()) for midnight in midnights]
    rows: list[Reading] = [(a, b - a, 1000 * (b - a) / HOUR, None) for a, b in pairwise(at)]
    assert sorted({row[1] for row in rows}) == [82_800, 86_400, 90_000]
    months = monthly_use(meter(rows))
    expected = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]) * 24.0
    assert months.use == pytest.approx(expected)
    assert months.days * 24 == pytest.approx(expected + np.array([0, 0, -1, 0, 0, 0, 0, 0, 0, 0, 1, 0]))


def test_hours_of_a_profile_are_those_of_the_local_clock() -> None:
    # 1 kWh in each hour from 17:00 to 20:00 of the local day, all through 2014, in New York
    hours = np.arange(epoch(2014, 1, 1, 5), epoch(2015, 1, 1, 5), HOUR)
    local = [datetime.fromtimestamp(int(t), ZoneInfo("America/New_York")).hour for t in hours]
    rows: list[Reading] = [(int(t), HOUR, 1000.0 * (17 <= h < 20), None) for t, h in zip(hours, local, strict=True)]
    profile = daily_profile(meter(rows))
    assert (profile[:, 17:20] == 1).all()
    assert profile.sum() == pytest.approx(36)


# ---- Properties ----


@given(st.lists(st.floats(0.0, 5000.0), min_size=1, max_size=60), st.integers(1, 40), st.integers(0, 400))
def test_no_use_is_lost_or_made(values: list[float], hours: int, first: int) -> None:
    begin = epoch(2013, 1, 1) + first * DAY
    rows: list[Reading] = [(begin + n * hours * HOUR, hours * HOUR, value, None) for n, value in enumerate(values)]
    found = meter(rows)
    months = monthly_use(found)
    metered = np.nansum(months.use / np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]) * months.days)
    assert metered == pytest.approx(sum(values) / 1000, rel=1e-9, abs=1e-9)
    assert months.days.sum() * DAY == pytest.approx(hours * HOUR * len(values))


@given(st.permutations(range(8)))
def test_readings_come_in_any_order(order: list[int]) -> None:
    rows: list[Reading] = [(1678000000 + HOUR * n, HOUR, 100.0 * n, None) for n in range(8)]
    found = meter([rows[n] for n in order])
    assert found.value.tolist() == pytest.approx([0.1 * n for n in range(8)])


# ---- Units ----


@pytest.mark.parametrize(
    ("uom", "power", "value", "unit", "expected"),
    [
        (72, 3, 2, "kWh", 2.0), (72, -3, 5000, "kWh", 0.005), (169, 0, 1, "kWh", 29.307107),
        (132, 6, 1, "kWh", 293.07107), (31, 6, 3.6, "kWh", 1.0), (42, 0, 7, "m3", 7.0),
        (119, 2, 1, "m3", 2.8316846592), (134, 0, 250, "m3", 0.25), (128, 3, 1, "m3", 3.785411784),
    ],
)  # fmt: skip
def test_each_unit_of_the_schema_is_what_it_says(
    uom: int, power: int, value: float, unit: str, expected: float
) -> None:
    form = f"<uom>{uom}</uom><powerOfTenMultiplier>{power}</powerOfTenMultiplier>"
    found = meter([(1700000000, HOUR, value, None)], form=form)
    assert found.unit == unit
    assert found.value[0] == pytest.approx(expected, rel=1e-9)


def test_a_therm_and_a_gallon_are_the_same_in_every_file() -> None:
    assert UNITS[UNIT_NAMES["therm"]] == ("kWh", float(therms_to_kwh(1.0)))
    assert UNITS[UNIT_NAMES["gallon"]] == ("m3", LITRES_PER_GALLON / 1000)


def test_gas_by_volume_becomes_energy_with_its_heat() -> None:
    found = meter([(1700000000, 30 * DAY, 100, None)], form="<uom>42</uom><commodity>7</commodity>", service="1")
    energy = as_energy(found, float(gas_energy(1.0, 39.5)))
    assert (energy.commodity, energy.unit) == ("gas", "kWh")
    assert energy.value[0] == pytest.approx(100 * 1.02264 * 39.5 / 3.6)
    with pytest.raises(CaseError, match="must be in m3, got kWh"):
        as_energy(energy, 11.0)


# ---- What real files get wrong, and is borne ----


def test_a_supplier_s_defects_are_read_with_remarks() -> None:
    found = read_intervals(DATA / "gas_with_defects.xml", unit="therm")
    (gas,) = found.meters
    assert gas.value.sum() / 29.307107 == pytest.approx(11 + 16)
    assert gas.clock.offset == -18000
    assert found.remarks == (
        "Readings that were estimated or entered by hand: 1 of 2.",
        "The file does not say what was metered; by its unit, gas.",
        "The clock was said to be ahead of UTC under American daylight saving; read as behind.",
    )
    for measure in (monthly_use, daily_profile):
        with pytest.raises(CaseError, match="lie over one another"):
            measure(gas)


def test_a_file_that_does_not_say_its_unit_is_not_guessed() -> None:
    with pytest.raises(OneOf, match=r"one of Wh, therm.*does not say what its readings are in"):
        read_intervals(DATA / "gas_with_defects.xml")
    with pytest.raises(ReadError, match="unit must be one of"):
        read_intervals(DATA / "gas_with_defects.xml", unit="quad")


def test_prefixes_other_namespaces_or_none_are_all_read() -> None:
    plain = feed([block([(1700000000, HOUR, 500, 1000)])])
    none = plain.replace(b' xmlns="http://naesb.org/espi"', b"").replace(b' xmlns="http://www.w3.org/2005/Atom"', b"")
    assert b"xmlns" not in none
    assert parse_intervals(none).meters[0].value.tolist() == parse_intervals(plain).meters[0].value.tolist() == [0.5]


def test_readings_given_twice_count_once() -> None:
    rows: list[Reading] = [(1700000000, HOUR, 500, 1000), (1700003600, HOUR, 700, None)]
    found = parse_intervals(feed([block(rows), block(rows)]))
    assert found.meters[0].value.sum() == pytest.approx(1.2)
    assert found.remarks == ("Readings that are in the file twice were counted once.",)


def test_a_reading_that_was_taken_after_all_is_no_estimate() -> None:
    def reading(quality: int) -> str:
        period = "<timePeriod><duration>3600</duration><start>1700000000</start></timePeriod>"
        return f"<IntervalReading>{period}<quality>{quality}</quality><value>500</value></IntervalReading>"

    found = parse_intervals(feed([espi("IntervalBlock", reading(8) + reading(19))]))
    assert found.remarks == ("Readings that are in the file twice were counted once.",)


def test_a_reading_without_value_or_duration_is_borne() -> None:
    rows = """<IntervalReading><timePeriod><start>1700000000</start></timePeriod><value>500</value></IntervalReading>
              <IntervalReading><timePeriod><start>1700003600</start></timePeriod><value/></IntervalReading>"""
    found = parse_intervals(feed([espi("IntervalBlock", rows)]))
    assert found.meters[0].duration.tolist() == [3600]
    assert found.remarks == ("Readings without a value were left out.",)


def test_a_reading_s_own_offset_serves_where_the_file_has_no_clock() -> None:
    row = "<timePeriod><duration>3600</duration><start>1678165200</start><timezone>-0500</timezone></timePeriod>"
    rows = espi("IntervalBlock", f"<IntervalReading>{row}<value>320</value></IntervalReading>")
    found = parse_intervals(feed([rows], clock=""))
    assert found.meters[0].clock == Clock(-18000)
    assert found.remarks == ()


def remarks_of(content: bytes) -> list[str]:
    """What is said of a file, be it read or refused."""
    try:
        return list(parse_intervals(content).remarks)
    except ReadError as refusal:
        return [refusal.message]


@pytest.mark.parametrize("language", sorted(set(languages()) - {"en"}))
def test_every_remark_is_told_in_the_language(language: str) -> None:
    rows: list[Reading] = [(1700000000, HOUR, 500, None)]
    blank = "<IntervalReading><timePeriod><start>1700003600</start></timePeriod><value/></IntervalReading>"
    stray = entry(block(rows), "elsewhere/1", "elsewhere")
    two = "".join(
        entry(espi("MeterReading"), f"m/{n}", "m", f"m/{n}/b", "t") + entry(block(rows), f"m/{n}/b/1", f"m/{n}/b")
        for n in (1, 2)
    )
    remarks = [
        *read_intervals(DATA / "gas_with_defects.xml", unit="therm").remarks,
        *remarks_of(feed([block(rows), block(rows), espi("IntervalBlock", blank)], clock="")),
        *remarks_of(feed([block([])])),
        *(remark for form, _ in OTHER_READINGS for remark in remarks_of(feed([block(rows)], form=form))),
        *remarks_of(feed([block(rows)], form="<uom>72</uom>", service="9")),
        *remarks_of(feed([block(rows)], form="<uom>42</uom>", service="9")),
        *remarks_of(f"<feed>{entry(espi('ReadingType', WATT_HOURS), 't')}{two}{stray}</feed>".encode()),
    ]
    assert len(set(remarks)) == 13
    words = Words.of(language)
    for remark in remarks:
        text = words.translated(remark)
        assert text != remark
        assert not re.search(r"\b(the|were|was|read|out)\b", text, re.IGNORECASE), text


OTHER_READINGS = [
    ("<uom>38</uom><kind>8</kind>", r"their unit \(code 38\) is no energy or volume"),
    ("<uom>72</uom><flowDirection>19</flowDirection>", r"not drawn from the grid \(flow direction 19\)"),
    ("<uom>72</uom><accumulationBehaviour>3</accumulationBehaviour>", r"a register, no intervals \(behaviour 3\)"),
]


@pytest.mark.parametrize(("form", "text"), OTHER_READINGS)
def test_readings_that_are_no_use_are_left_out_and_said(form: str, text: str) -> None:
    with pytest.raises(ReadError, match=f"holds no use that can be read. Readings were left out: .*{text}"):
        meter([(1700000000, HOUR, 1, None)], form=form)


def test_use_and_feed_in_of_one_house_are_told_apart() -> None:
    def side(number: int, direction: int, value: float) -> str:
        meter = f"U/1/MeterReading/{number}"
        form = f"<uom>72</uom><flowDirection>{direction}</flowDirection>"
        return (
            entry(espi("MeterReading"), meter, "U/1/MeterReading", f"{meter}/IntervalBlock", f"ReadingType/{number}")
            + entry(espi("ReadingType", form), f"ReadingType/{number}")
            + entry(block([(1700000000, HOUR, value, None)]), f"{meter}/IntervalBlock/1", f"{meter}/IntervalBlock")
        )

    point = entry(
        espi("UsagePoint", "<ServiceCategory><kind>0</kind></ServiceCategory>"), "U/1", "", "U/1/MeterReading"
    )
    stray = entry(block([(1700000000, HOUR, 9, None)]), "elsewhere/1", "elsewhere")
    found = parse_intervals(f"<feed>{point}{side(1, 1, 800)}{side(2, 19, 300)}{stray}</feed>".encode())
    assert [found.value.tolist() for found in found.meters] == [[0.8]]
    assert "An interval block that belongs to no meter was left out." in found.remarks
    assert any("flow direction 19" in remark for remark in found.remarks)


# ---- What is refused ----

BOMB = b"""<?xml version="1.0"?><!DOCTYPE feed [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><feed><entry>&c;</entry></feed>"""
OUTSIDE = b"""<?xml version="1.0"?><!DOCTYPE feed [<!ENTITY x SYSTEM "file:///etc/hostname">]><feed>&x;</feed>"""
PARAMETER = b"""<?xml version="1.0"?><!DOCTYPE feed [<!ENTITY % x SYSTEM "http://localhost/x.dtd"> %x;]><feed/>"""
OUTSIDE_DTD = b"""<?xml version="1.0"?><!DOCTYPE feed SYSTEM "http://localhost/feed.dtd"><feed/>"""


@pytest.mark.parametrize("attack", [BOMB, OUTSIDE, PARAMETER, OUTSIDE_DTD])
def test_entities_and_document_types_are_refused(attack: bytes) -> None:
    with pytest.raises(ReadError, match="declares a document type or entities"):
        parse_intervals(attack)


def test_a_file_too_large_is_refused_unread(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="is larger than 40,000,000 bytes"):
        parse_intervals(b" " * (LARGEST_FILE + 1))
    big = tmp_path / "big.xml"
    with big.open("wb") as file:
        file.truncate(LARGEST_FILE + 1)
    with pytest.raises(ReadError, match=r"big\.xml: is larger"):
        read_intervals(big)


def test_a_tower_of_elements_falls_without_harm() -> None:
    with pytest.raises(ReadError, match="holds no use that can be read"):
        parse_intervals(b"<feed>" + b"<a>" * 200_000 + b"</a>" * 200_000 + b"</feed>")


@pytest.mark.parametrize(
    "content", [b"", b"start,value\n1,2", b"<feed>", b"\xff\xfe\x00", b"<?xml version='1.0' encoding='none'?><a/>"]
)
def test_what_is_no_xml_is_refused(content: bytes) -> None:
    with pytest.raises(ReadError, match="interval data: is no XML file"):
        parse_intervals(content)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="No such file"):
        read_intervals(tmp_path / "none.xml")


READINGS_REFUSED = [
    ((1700000000, HOUR, "much", None), "reading 1, value must be a number, got 'much'"),
    ((1700000000, HOUR, "nan", None), "reading 1, value must be a number, got 'nan'"),
    (("", HOUR, 1, None), "reading 1 must begin after 1970 and last up to 400 days, got None and 3600.0"),
    ((1e18, HOUR, 1, None), "reading 1 must begin after 1970"),
    ((1700000000, -HOUR, 1, None), "last up to 400 days, got 1700000000.0 and -3600.0"),
    ((1700000000, 1e9, 1, None), "last up to 400 days"),
]


@pytest.mark.parametrize(("reading", "text"), READINGS_REFUSED)
def test_a_reading_that_cannot_be_is_refused_with_its_number(reading: Reading, text: str) -> None:
    with pytest.raises(ReadError) as caught:
        meter([reading])
    assert text in str(caught.value)


def test_a_rule_or_power_that_cannot_be_is_refused() -> None:
    with pytest.raises(ReadError, match="dstStartRule must be hexadecimal digits, got 'March'"):
        meter([(1700000000, HOUR, 1, None)], clock="<dstStartRule>March</dstStartRule>")
    with pytest.raises(ReadError, match="powerOfTenMultiplier must be from -12 to 12, got 400"):
        meter([(1700000000, HOUR, 1, None)], form="<uom>72</uom><powerOfTenMultiplier>400</powerOfTenMultiplier>")
