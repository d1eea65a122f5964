"""Yearly energy from power, cycles, ratings and labels, against printed figures and worked regulations."""

import numpy as np
import pytest
import referees_labels
from hypothesis import given
from hypothesis import strategies as st

from decide.energy import consumption as energy
from decide.energy import eu_labels as energy_eu
from decide.energy import us_labels as energy_us
from decide.errors import CaseError, OutOfRange

# --- Power, runs and cycles -------------------------------------------------------------------------------------


@pytest.mark.published("utility customer page 'Determining kWh Use - Estimating', content 4589", "meas-nameplate-duty")
def test_a_nameplate_and_a_duty_give_the_customer_pages_figure() -> None:
    # Utility customer page 'Determining kWh Use - Estimating' (content 4589): 1200 W, a fifth of the time:
    # 5.76 kWh a day; the page prints 'about 2100 kWh a year'.
    assert energy.from_power(1200.0, 0.2 * 24) == pytest.approx(2102.4, abs=1e-9)


# IBPSA Modelica library (IDEAS), Occupants/Stochastic/Data/Residential: runs a year, minutes, W, standby W, kWh/year.
IDEAS_APPLIANCES = [
    ("FridgeFreezer", 6115.75932851014, 22.0, 190.0, 0.0, 426.064566552874),
    ("TumbleDryer", 122.072915738278, 60.0, 2500.0, 1.0, 313.820216429956),
]


@pytest.mark.parametrize(
    ("name", "runs", "minutes", "watts", "standby", "printed"), IDEAS_APPLIANCES, ids=lambda v: str(v)[:12]
)
@pytest.mark.published("IBPSA Modelica library (IDEAS), residential appliance records", "meas-cycles-per-year")
def test_runs_of_known_length_give_the_librarys_yearly_energy(
    name: str, runs: float, minutes: float, watts: float, standby: float, printed: float
) -> None:
    assert referees_labels.from_runs(runs, minutes, watts, standby) == pytest.approx(printed, abs=1e-6), name


@pytest.mark.published("definition: 5 W through 8760 h", "meas-standby-year")
def test_standby_alone_is_watts_times_the_hours_of_the_year() -> None:
    # Definition: 5 W x 8760 h = 43.8 kWh.
    assert energy.from_power(0.0, 0.0, 5.0) == pytest.approx(43.8, abs=1e-9)


def test_an_hour_a_day_leaves_standby_to_the_other_twenty_three() -> None:
    # By hand: 365 x (2000 x 1 + 3 x 23)/1000 = 755.185.
    assert energy.from_power(2000.0, 1.0, 3.0) == pytest.approx(755.185, abs=1e-9)


@pytest.mark.published("NIST/FEMP price tables, heat units")
def test_therms_agree_with_the_table_of_heat_units() -> None:
    # NIST/FEMP price tables: 293.07107 kWh in 10 therms.
    assert energy.therms_to_kwh(10.0) == pytest.approx(293.07107, abs=5e-6)


def test_a_label_turned_to_its_own_cycles_is_itself() -> None:
    assert energy.at_own_cycles(262.0, 280.0, 280.0) == pytest.approx(262.0, rel=1e-15)


def test_the_two_ways_over_cycles_agree() -> None:
    assert energy.per_cycle_energy(0.54, 210.0) == pytest.approx(energy_eu.per_hundred_cycles_energy(54.0, 210.0))


# --- Rounding ---------------------------------------------------------------------------------------------------

# 10 CFR 430.32(a): halfway between two kWh goes to the higher; the binary half just below itself too.
HALVES = [
    (512.5, 0, 513.0),
    (513.5, 0, 514.0),
    (40.95, 1, 41.0),
    (40.85, 1, 40.9),
    (0.4765, 3, 0.477),
    (2.675, 2, 2.68),
]


@pytest.mark.parametrize(("value", "decimals", "rounded"), HALVES)
@pytest.mark.published("10 CFR 430.32(a), rounding")
def test_an_exact_half_goes_up(value: float, decimals: int, rounded: float) -> None:
    assert energy.round_half_up(value, decimals) == pytest.approx(rounded, abs=1e-12)


@given(st.floats(0, 1e5), st.integers(0, 3))
def test_rounding_moves_nothing_by_more_than_half_of_the_last_place(value: float, decimals: int) -> None:
    assert abs(float(energy.round_half_up(value, decimals)) - value) <= 0.5 * 10.0**-decimals + 2e-9


# --- Federal limits of refrigerators ----------------------------------------------------------------------------


@pytest.mark.published("10 CFR 430.32(a), class 3 of 2001")
def test_a_refrigerator_limit_by_hand() -> None:
    # 10 CFR 430.32(a), class 3 of 2001: 14 ft3 fresh and 4 ft3 frozen: AV = 14 + 1.63 x 4 = 20.52;
    # 9.80 x 20.52 + 276.0 = 201.096 + 276.0 = 477.096 -> 477.
    volume = energy_us.adjusted_volume(14.0, 4.0, 1.63)
    assert volume == pytest.approx(20.52)
    assert energy_us.refrigerator_limit(volume, 9.80, 276.0) == 477.0


@pytest.mark.published("public comparison of refrigerator rules, 10 CFR 430.32(a), second-hand")
def test_a_published_example_of_three_vintages() -> None:
    # A public comparison of refrigerator rules reckons class 3 at AV about 16.4 ft3: '~436/366/311 kWh/yr' for 2001,
    # 2014 and the later rule (second-hand, 10 CFR 430.32(a)). By hand 436.72, 366.05, 311.10; the page cut the first.
    at = [energy_us.refrigerator_limit(16.4, *line) for line in ((9.80, 276.0), (8.07, 233.7), (6.86, 198.6))]
    assert [float(limit) for limit in at] == pytest.approx([436, 366, 311], abs=1)


@pytest.mark.published("42 U.S.C. 6295(b)(1), rounding of 10 CFR 430.32(a)")
def test_half_a_kilowatt_hour_of_a_limit_goes_up() -> None:
    # 16.3 x 15 + 316 = 560.5 exactly: 42 U.S.C. 6295(b)(1) first class, rounding of 10 CFR 430.32(a) -> 561.
    assert energy_us.refrigerator_limit(15.0, 16.3, 316.0) == 561.0


@pytest.mark.published("10 CFR 430.32(a)(3), class 5 of 2030")
def test_doors_multiply_and_an_icemaker_adds() -> None:
    # 10 CFR 430.32(a)(3) class 5 of 2030: (7.61 x 20 + 272.6) x 1.10 + 28 = 424.8 x 1.10 + 28 = 495.28 -> 495.
    assert energy_us.refrigerator_limit(20.0, 7.61, 272.6, 1.10, 28.0) == 495.0


# --- Other federal ratings --------------------------------------------------------------------------------------


@pytest.mark.published("10 CFR 430 Subpart B App. E; label from memory")
def test_a_water_heater_gives_the_figure_on_its_rating_label() -> None:
    # 10 CFR 430 Subpart B App. E: 365 x 55 x 8.24 x 67/(0.93 x 3412) = 3492.7; labels print 3493 (from memory).
    at_55 = energy_us.water_heater(energy_us.hot_water_heat(55.0, 67.0), 0.93)
    assert at_55 == pytest.approx(3492.7, abs=0.05)
    assert round(float(at_55)) == 3493


# U.S. Department of Energy, 'Estimating Costs and Efficiency of Storage, Demand and Heat Pump Water Heaters', read in
# a reprint: 365 x 41045/EF x price. Energy factor, price of a kWh of fuel, printed cost of a year.
ENERGY_FACTOR_EXAMPLES = [(0.57, 0.00000619 * 3412, 163.0), (2.0, 0.0842, 185.0)]


@pytest.mark.parametrize(("factor", "price", "printed"), ENERGY_FACTOR_EXAMPLES)
@pytest.mark.published("U.S. DOE, costs and efficiency of water heaters, reprint, second-hand")
def test_the_older_energy_factor_gives_the_departments_yearly_cost(factor: float, price: float, printed: float) -> None:
    assert energy_us.water_heater(41045.0, factor) * price == pytest.approx(printed, abs=0.5)


@pytest.mark.published("rating label in a stored manual of 2007")
def test_a_printed_water_heater_label_of_2007_is_met_at_a_round_energy_factor() -> None:
    # A rating label read in a stored manual prints 4622 kWh/year; 365 x 41045/(3412 x 0.95) = 4621.9.
    assert round(float(energy_us.water_heater(41045.0, 0.95))) == 4622


@pytest.mark.published("10 CFR 430 App. D1, from memory")
def test_a_dryer_at_its_limit_uses_the_tables_figure() -> None:
    # 10 CFR 430 App. D1 (from memory): 8.45 lb x 283/3.73 = 641.1.
    assert energy_us.dryer_from_combined_energy_factor(3.73, 283.0, 8.45) == pytest.approx(641.1, abs=0.05)


@pytest.mark.published("ANSI/RESNET/ICC 301, reference pair of the open home-energy model")
def test_the_dishwasher_limit_of_1994_is_the_label_of_the_open_model() -> None:
    # ANSI/RESNET/ICC 301: kWh = 215/EF; EF 0.46 and 467 kWh/year are the reference pair of the open home-energy model.
    assert round(float(energy_us.dishwasher_from_energy_factor(0.46, 215.0))) == 467


@pytest.mark.published("ANSI/RESNET/ICC 301 as coded in the open home-energy model")
def test_a_washers_ratings_of_two_procedures_are_turned_there_and_back() -> None:
    # ANSI/RESNET/ICC 301 as coded in the open model: MEF = 0.503 + 0.95 IMEF.
    assert energy_us.integrated_modified_energy_factor(0.503 + 0.95 * 1.29, 0.503, 0.95) == pytest.approx(1.29)


@pytest.mark.published("42 U.S.C. 6295(g)(9)")
def test_a_washers_energy_and_water_by_hand() -> None:
    # 42 U.S.C. 6295(g)(9): MEF 1.26, WF 9.5. Drum 3.5 ft3, 295 washes: 295 x 3.5/1.26 = 819.44 kWh with drying;
    # 9.5 x 3.5 = 33.25 gal = 125.87 litres a wash, x 295 = 37.13 m3.
    assert energy_us.washer_from_modified_energy_factor(3.5, 1.26, 295.0) == pytest.approx(819.44, abs=0.005)
    assert referees_labels.gallons_to_water(33.25, 295.0) == pytest.approx(37.13, abs=0.005)


@given(st.floats(1, 500), st.floats(0, 500), st.floats(0.05, 0.4), st.floats(0.3, 3.0))
def test_a_split_label_makes_both_of_its_prints_again(machine: float, water: float, price: float, gas: float) -> None:
    # What the split must undo (ANSI/RESNET/ICC 301): water use, priced once by electricity and once by gas.
    per_kwh, per_therm = 0.02504, 0.5497
    gallons = water * per_kwh
    label, gas_cost = machine + water, machine * price + gallons / per_therm * gas
    if price * per_therm / gas - per_kwh < 1e-3:  # gas as dear as electricity: the label cannot be split
        return
    found = referees_labels.split_label(label, gas_cost, price, gas, per_kwh, per_therm)
    assert found[0] == pytest.approx(machine, rel=1e-6, abs=1e-6)
    assert found[1] == pytest.approx(water, rel=1e-6, abs=1e-6 * label)


def test_a_label_whose_gas_cost_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="label_gas_cost gives"):
        referees_labels.split_label(300.0, 90.0, 0.12, 1.09, 0.02504, 0.5497)


def test_an_air_conditioner_by_hand() -> None:
    # 10 000 Btu/h at 10 CEER for 750 h: 10 000/10/1000 x 750 = 750 kWh.
    assert energy_us.from_energy_efficiency_ratio(10_000.0, 750.0, 10.0) == pytest.approx(750.0)


def test_a_pound_of_water_takes_a_heat_unit_a_degree_up_to_its_boiling_point() -> None:
    assert energy_us.hot_water_heat(1.0, 180.0) == pytest.approx(8.24 * 180)


def test_a_ratio_of_the_heat_unit_gives_back_the_heat_itself() -> None:
    # At 3.412 Btu/Wh (coefficient of performance 1) the electricity is the heat, here 1 kW for 1000 h.
    heat = energy_us.from_energy_efficiency_ratio(energy.BTU_PER_KWH, 1000.0, energy.BTU_PER_KWH / 1000)
    assert heat == pytest.approx(1000.0)


def test_a_furnace_gives_its_heat_back() -> None:
    use = energy_us.furnace(16_000.0, 0.8, 500.0, 1000.0)
    assert use.gas * 0.8 == pytest.approx(16_000.0)
    assert use.electricity == pytest.approx(500.0)


def test_a_gas_dryer_is_split_without_loss() -> None:
    use = energy_us.split_gas_dryer(727.0, 0.07)
    assert use.electricity + use.gas == pytest.approx(727.0)
    assert use.electricity == pytest.approx(50.89)


@pytest.mark.published("10 CFR 430 Subpart B App. A", "meas-doe-icemaker")
def test_an_icemakers_fixed_allowance_is_84_a_year() -> None:
    # 10 CFR 430 Subpart B App. A: 0.23 kWh x 365 = 83.95.
    assert energy.per_cycle_energy(0.23, 365.0) == pytest.approx(83.95, abs=1e-9)


# --- European label: refrigerating appliances, (EU) 2019/2016 ---------------------------------------------------

FRIDGE = energy_eu.ClassScale(letters=tuple("ABCDEFG"), bounds=(41, 51, 64, 80, 100, 125), bound_in="better")
WASHER = energy_eu.ClassScale(letters=tuple("ABCDEFG"), bounds=(52, 60, 69, 80, 91, 102), bound_in="better")
DISHWASHER = energy_eu.ClassScale(letters=tuple("ABCDEFG"), bounds=(32, 38, 44, 50, 56, 62), bound_in="worse")
WASHER_1996 = energy_eu.ClassScale(
    letters=tuple("ABCDEFG"),
    bounds=(0.19, 0.23, 0.27, 0.31, 0.35, 0.39),
    bound_in="better",
    full=1.0,
    decimals=None,
)
SCALES = [FRIDGE, WASHER, DISHWASHER, WASHER_1996]


@pytest.mark.published("UK SI 2021/745 Sch. 14 para 3(4)(d), (EU) 2019/2019 Annex IV 3(b)", "meas-iec-daily")
def test_daily_energy_by_the_measuring_rule() -> None:
    # Annex IV point 3(b), UK SI 2021/745 Sch. 14 para 3(4)(d): 0.001 x 24 x (Pss + dE/t);
    # 0.024 x (18 + 75/40) = 0.477, 0.024 x (42 + 85/20) = 1.110.
    found = referees_labels.daily_energy(np.array([18.0, 42.0]), np.array([75.0, 85.0]), np.array([40.0, 20.0]))
    assert found == pytest.approx([0.477, 1.110], abs=0.0005)


@pytest.mark.published("(EU) 2019/2016 Annex IV point 3(a)", "meas-eu-annual")
def test_yearly_energy_from_the_two_room_temperatures() -> None:
    # Annex IV point 3(a): 365 x 0.5 x (0.477 + 1.110) = 289.6275; over 0.9 for a freezer 321.8083. Label: 290.
    assert referees_labels.fridge_annual_energy(0.477, 1.110, 1.0) == pytest.approx(289.6275, abs=0.005)
    assert referees_labels.fridge_annual_energy(0.477, 1.110, 0.9) == pytest.approx(321.8083, abs=0.005)


@pytest.mark.published("JIS C 9801:2006, second-hand", "meas-jis2006-annual")
def test_the_japanese_weights_give_their_worked_year() -> None:
    # JIS C 9801:2006: 180 days at 30 degC, 185 at 15 degC: 180 x 1.5 + 185 x 0.7 = 399.5.
    assert referees_labels.two_ambient_energy(0.7, 1.5, 185, 180) == pytest.approx(399.5, abs=1e-9)


@pytest.mark.published("(EU) 2019/2016 Annex IV point 4, tables 4 and 5")
def test_a_fridge_freezer_by_hand() -> None:
    # Annex IV point 4, Tables 4 and 5. Fresh food 200 l, four-star 100 l with automatic defrost, two doors, V = 300.
    # Fresh:  1.00 x 200/300 x (75 + 300 x 1.0 x 0.12)  = 2/3 x 111.0 = 74.00
    # Frozen: 1.10 x 100/300 x (138 + 300 x 2.1 x 0.15) = 1.1/3 x 232.5 = 85.25
    # Frozen share 1/3: C = 1.87 - 1.0275/3 = 1.5275; SAE = 1.5275 x 1.0 x 159.25 = 243.254 -> 243.25.
    parts = [
        energy_eu.Compartment(200.0, 1.0, 75.0, 0.12),
        energy_eu.Compartment(100.0, 2.1, 138.0, 0.15, defrost_factor=1.10),
    ]
    standard = energy_eu.fridge_standard_energy(parts, energy_eu.fridge_combi_factor(1 / 3), 1.0)
    assert standard == pytest.approx(243.25, abs=1e-9)
    # 194 kWh a year: 100 x 194/243.25 = 79.75 -> 79.8, class D (64 < EEI <= 80).
    assert referees_labels.energy_efficiency_index(194.0, standard) == pytest.approx(79.8)
    assert referees_labels.class_letter(79.8, FRIDGE) == "D"


@pytest.mark.published("(EU) 2019/2016 Annex IV point 4")
def test_a_compartment_counts_to_the_tenth_of_a_litre_and_all_together_to_the_litre() -> None:
    # Annex IV point 4(a): a larder of 300.44 l counts 300.4 of 300 l: 300.4/300 x (75 + 300 x 0.12) = 111.148.
    larder = energy_eu.Compartment(300.44, 1.0, 75.0, 0.12)
    assert energy_eu.fridge_standard_energy([larder], 1.0, 1.0) == pytest.approx(111.15, abs=1e-9)


@pytest.mark.published("(EU) 2019/2016 Annex IV table 4 note 2")
def test_the_allowance_of_a_combi_is_met_from_both_sides() -> None:
    # Annex IV Table 4 note 2: 1.3 + 0.87 x 0.3 = 1.561 against 1.87 - 1.0275 x 0.3 = 1.56175 just above; at 0.7 the
    # falling line reaches 1.15075 against 1.15. So the printed lines meet to a thousandth.
    below, above = energy_eu.fridge_combi_factor(np.array([0.3, 0.3 + 1e-9]))
    assert (below, above) == pytest.approx((1.561, 1.56175), abs=1e-6)
    below, above = energy_eu.fridge_combi_factor(np.array([0.7 - 1e-9, 0.7]))
    assert (below, above) == pytest.approx((1.15075, 1.15), abs=1e-6)


@pytest.mark.published("(EC) No 643/2009 Annex IV table 5")
def test_the_equivalent_volume_of_the_older_label_by_hand() -> None:
    # (EC) No 643/2009 Annex IV Table 5: fresh food 1.0, four-star 2.15: 200 + 2.15 x 100 = 415 litres.
    assert energy_eu.equivalent_volume([200.0, 100.0], [1.0, 2.15]) == 415.0
    assert energy_eu.equivalent_volume([200.0, 101.0], [1.0, 2.15]) == 417.0  # 417.15, to the litre


# --- European label: the others ---------------------------------------------------------------------------------


@pytest.mark.published("(EU) 2019/2014 Annex IV point 2.1")
def test_a_washing_machine_by_hand() -> None:
    # (EU) 2019/2014 Annex IV point 2.1: c = 8 kg: -0.0025 x 64 + 0.0846 x 8 + 0.3920 = -0.16 + 0.6768 + 0.392 = 0.9088
    # -> 0.909. 54 kWh for 100 cycles: 100 x 0.54/0.909 = 59.41 -> 59.4, class B (52 < EEI <= 60).
    standard = energy_eu.washer_standard_energy(8.0)
    assert standard == pytest.approx(0.909, abs=1e-12)
    index = referees_labels.energy_efficiency_index(0.54, standard)
    assert index == pytest.approx(59.4)
    assert referees_labels.class_letter(float(index), WASHER) == "B"


@pytest.mark.published("(EU) 2019/2014 Annex IV point 2.2(b)")
def test_a_washer_dryer_by_hand() -> None:
    # (EU) 2019/2014 Annex IV point 2.2(b), d = 5 kg: -0.0502 x 25 + 1.1742 x 5 - 0.644 = -1.255 + 5.871 - 0.644.
    assert energy_eu.washer_dryer_standard_energy(5.0) == pytest.approx(3.972, abs=1e-12)
    # d = 4.5 kg: -1.01655 + 5.2839 - 0.644 = 3.62335, printed with three decimals.
    assert energy_eu.washer_dryer_standard_energy(4.5) == pytest.approx(3.623, abs=1e-12)


@pytest.mark.published("(EU) 2019/2017 Annex IV point 1")
def test_a_dishwasher_by_hand() -> None:
    # (EU) 2019/2017 Annex IV point 1: 13 settings, 60 cm: 0.025 x 13 + 1.350 = 1.675. 0.95 kWh: 56.7 -> class F.
    # 9 settings, 45 cm: 0.090 x 9 + 0.450 = 1.260; 10 settings but 45 cm wide stay small: 1.350.
    found = energy_eu.dishwasher_standard_energy(np.array([13.0, 9.0, 10.0]), np.array([60.0, 45.0, 45.0]))
    assert found == pytest.approx([1.675, 1.260, 1.350], abs=1e-12)
    assert referees_labels.energy_efficiency_index(0.95, 1.675) == pytest.approx(56.7)
    assert referees_labels.class_letter(56.7, DISHWASHER) == "F"


@pytest.mark.published("(EU) 2019/2016 and 2019/2017, each Annex II table 1")
def test_the_regulations_do_not_agree_on_who_owns_a_bound() -> None:
    # (EU) 2019/2017 Annex II Table 1: A < 32 <= B. (EU) 2019/2016 Annex II Table 1: A <= 41 < B.
    letters = [referees_labels.class_letter(index, DISHWASHER) for index in (31.9, 32.0, 61.9, 62.0)]
    assert letters == [
        "A",
        "B",
        "F",
        "G",
    ]
    letters = [referees_labels.class_letter(index, FRIDGE) for index in (41.0, 41.1, 125.0, 125.1)]
    assert letters == ["A", "B", "F", "G"]


def test_the_index_is_rounded_before_it_is_compared() -> None:
    # 41.04 counts as 41.0: class A; 31.96 counts as 32.0: class B.
    assert referees_labels.class_letter(41.04, FRIDGE) == "A"
    assert referees_labels.class_letter(31.96, DISHWASHER) == "B"


# --- Round trips and directions ---------------------------------------------------------------------------------


@given(st.sampled_from(SCALES), st.integers(0, 6), st.floats(0.001, 0.999), st.floats(0.1, 500.0))
def test_a_use_within_a_classs_range_bears_its_letter(
    scale: energy_eu.ClassScale, place: int, share: float, standard: float
) -> None:
    letter = scale.letters[place]
    low, high = (float(end) for end in energy_eu.consumption_range(letter, scale, standard))
    use = low + share * (min(high, low + standard) - low)
    assert referees_labels.class_letter(scale.full * use / standard, scale) == letter


@pytest.mark.parametrize("scale", SCALES)
def test_the_ranges_of_a_scale_join_without_gap(scale: energy_eu.ClassScale) -> None:
    ranges = [energy_eu.class_range(letter, scale) for letter in scale.letters]
    assert ranges[0][0] == 0
    assert ranges[-1][1] == np.inf
    assert [high for _, high in ranges[:-1]] == [low for low, _ in ranges[1:]]


@given(st.sampled_from(SCALES), st.lists(st.floats(0, 300), min_size=2, max_size=20))
def test_a_higher_index_never_bears_a_better_letter(scale: energy_eu.ClassScale, indices: list[float]) -> None:
    positions = referees_labels.class_positions(np.sort(indices), scale)
    assert np.all(np.diff(positions) >= 0)


def test_standard_uses_grow_with_the_unit() -> None:
    for grows, sizes in (
        (energy_eu.washer_standard_energy, np.linspace(2, 16, 57)),
        (energy_eu.washer_dryer_standard_energy, np.linspace(1, 11, 41)),
        (lambda s: energy_eu.dishwasher_standard_energy(s, 60.0), np.arange(1.0, 31.0)),
        (lambda c: energy_eu.power_law_standard(c, 140.0, 0.8), np.linspace(3, 10, 29)),
    ):
        assert np.all(np.diff(grows(sizes)) > 0)


@given(st.floats(1, 30), st.floats(1.01, 3))
def test_a_better_rating_uses_less(size: float, better: float) -> None:
    assert energy_us.water_heater(30_000.0, 0.6 * better) < energy_us.water_heater(30_000.0, 0.6)
    assert energy_us.from_energy_efficiency_ratio(
        1000 * size, 750.0, 9 * better
    ) < energy_us.from_energy_efficiency_ratio(1000 * size, 750.0, 9)
    assert energy_us.refrigerator_limit(size * better, 9.8, 276.0) >= energy_us.refrigerator_limit(size, 9.8, 276.0)


# --- Columns and bounds -----------------------------------------------------------------------------------------


def test_a_column_gives_what_each_number_gives() -> None:
    litres = np.array([150.0, 200.0, 251.26])
    parts = [energy_eu.Compartment(litres, 1.0, 75.0, 0.12), energy_eu.Compartment(90.0, 2.1, 138.0, 0.15, 1.1)]
    whole = energy_eu.fridge_standard_energy(parts, 1.5, 1.02)
    singly = [
        energy_eu.fridge_standard_energy([energy_eu.Compartment(float(litre), 1.0, 75.0, 0.12), parts[1]], 1.5, 1.02)
        for litre in litres
    ]
    assert whole.tolist() == [float(single) for single in singly]
    draws = np.array([10.0, 38.0, 55.0, 84.0])
    assert energy_us.water_heater(energy_us.hot_water_heat(draws, 67.0), 0.93).shape == (4,)


LARDER = energy_eu.Compartment(200.0, 1.0, 75.0, 0.12)
REFUSED = [
    (lambda: energy.from_power(100.0, 24.5), "hours_per_day"),
    (lambda: energy.from_power(-1.0, 2.0), "watts"),
    (lambda: energy.from_power(float("nan"), 2.0), "watts"),
    (lambda: energy.from_power(float("inf"), 2.0), "watts"),
    (lambda: referees_labels.from_runs(10_000.0, 60.0, 100.0), "hours"),
    (lambda: energy.per_cycle_energy(np.array([1.0, -0.1]), 200.0), "kwh_per_cycle"),
    (lambda: energy.at_own_cycles(200.0, 0.0, 100.0), "label_cycles"),
    (lambda: energy.linear_standard(400.0, -0.0017, 0.6483), "limit"),
    (lambda: energy_us.water_heater(30_000.0, 0.0), "energy_factor"),
    (lambda: energy_us.split_gas_dryer(700.0, 1.1), "electric_share"),
    (lambda: energy_us.furnace(1000.0, 80.0, 0.0, 0.0), "utilization"),
    (lambda: energy_us.hot_water_heat(60.0, 180.1), "temperature_rise"),  # from freezing to boiling it is 180 degF
    (lambda: energy_us.refrigerator_limit(20.0, 9.8, 276.0, door_factor=0.5), "door_factor"),
    (lambda: energy_us.refrigerator_limit(20.0, 9.8, 276.0, door_factor=2.1), "door_factor"),
    (lambda: energy_us.integrated_modified_energy_factor(0.4, 0.503, 0.95), "modified"),
    (lambda: energy_eu.washer_standard_energy(1.5), "capacity"),
    (lambda: energy_eu.washer_dryer_standard_energy(11.7), "capacity"),  # from here on the line of the annex falls
    (lambda: energy_eu.dishwasher_standard_energy(0.0, 60.0), "place_settings"),
    (lambda: energy_eu.fridge_combi_factor(1.2), "frozen_share"),
    (lambda: energy_eu.fridge_standard_energy([], 1.0, 1.0), "litres in all"),
    (lambda: energy_eu.fridge_standard_energy([LARDER], 0.9, 1.0), "combi_factor"),
    (lambda: energy_eu.fridge_standard_energy([LARDER], 2.1, 1.0), "combi_factor"),
    (lambda: energy_eu.fridge_standard_energy([LARDER], 1.0, 0.9), "door_factor"),
    (lambda: energy_eu.fridge_standard_energy([LARDER], 1.0, 2.1), "door_factor"),
    (lambda: referees_labels.class_positions(float("nan"), FRIDGE), "index"),
    (lambda: referees_labels.energy_efficiency_index(100.0, 0.0), "standard"),
]


@pytest.mark.parametrize(("wrong", "field"), REFUSED)
def test_an_input_out_of_bounds_is_refused_by_name(wrong, field: str) -> None:
    with pytest.raises(OutOfRange) as raised:
        wrong()
    assert raised.value.field.startswith(field)


def test_a_letter_that_the_scale_lacks_is_refused() -> None:
    with pytest.raises(CaseError, match=r"must be one of A, B, C, D, E, F, G, got A\+\+"):
        energy_eu.class_range("A++", FRIDGE)
