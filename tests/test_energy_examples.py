"""One worked example of each formula of energy, as small as it can be."""

import re

import numpy as np
import pytest

from decide.energy.consumption import (
    at_own_cycles,
    from_power,
    linear_standard,
    per_cycle_energy,
    per_cycle_water,
    require_within,
    round_half_up,
    therms_to_kwh,
)
from decide.energy.eu_labels import (
    ClassScale,
    Compartment,
    class_range,
    consumption_range,
    dishwasher_standard_energy,
    equivalent_volume,
    fridge_combi_factor,
    fridge_standard_energy,
    per_hundred_cycles_energy,
    power_law_standard,
    washer_dryer_standard_energy,
    washer_standard_energy,
)
from decide.energy.interval import ErrorSources, Interval, half_width, interval_around, pooled
from decide.energy.load_profile import Calendar, Totals, evenly, gas_energy
from decide.energy.metering import (
    against_rated,
    annualise,
    annualise_counted_runs,
    annualise_readings,
    annualise_runs,
    day_scatter,
    linear_response,
    season_by_temperature,
)
from decide.energy.power_log import (
    DAY,
    PowerLog,
    deviation,
    find_defrosts,
    find_runs,
    left_of_rhythm,
    log_of_counter,
    log_of_energy,
    log_of_power,
    mean_power,
    missing_share,
    plateau_power,
    resample,
)
from decide.energy.tariff import Block, Tariff, Usage, half_up, marginal_price, steady_escalation, steady_levels
from decide.energy.us_labels import (
    adjusted_volume,
    dishwasher_from_energy_factor,
    dryer_from_combined_energy_factor,
    from_energy_efficiency_ratio,
    furnace,
    hot_water_heat,
    integrated_modified_energy_factor,
    refrigerator_limit,
    split_gas_dryer,
    washer_from_modified_energy_factor,
    water_heater,
)
from decide.errors import OutOfRange


def test_require_within() -> None:
    with pytest.raises(OutOfRange, match=re.escape("hours: must be from 0 to 24 hour, got 30.0")):
        require_within("hours", 30.0, 0, 24, "hour")


def test_round_half_up() -> None:
    assert (float(round_half_up(512.5, 0)), float(round_half_up(40.95, 1))) == (513.0, 41.0)


def test_therms_to_kwh() -> None:
    assert round(float(therms_to_kwh(1.0)), 3) == 29.307


def test_from_power() -> None:
    assert round(float(from_power(1200.0, 0.2 * 24)), 1) == 2102.4


def test_per_cycle_energy() -> None:
    assert float(per_cycle_energy(0.5, 220.0)) == 110.0


def test_per_cycle_water() -> None:
    assert float(per_cycle_water(50.0, 220.0)) == 11.0


def test_at_own_cycles() -> None:
    assert round(float(at_own_cycles(262.0, 280.0, 140.0)), 1) == 131.0


def test_linear_standard() -> None:
    assert round(float(linear_standard(40.0, -0.0017, 0.6483)), 4) == 0.5803


def test_adjusted_volume() -> None:
    assert round(float(adjusted_volume(14.0, 4.0, 1.63)), 2) == 20.52


def test_refrigerator_limit() -> None:
    assert float(refrigerator_limit(20.5, 9.8, 276.0)) == 477.0


def test_dishwasher_from_energy_factor() -> None:
    assert round(float(dishwasher_from_energy_factor(0.46, 215.0))) == 467


def test_integrated_modified_energy_factor() -> None:
    assert round(float(integrated_modified_energy_factor(1.26, 0.503, 0.95)), 3) == 0.797


def test_washer_from_modified_energy_factor() -> None:
    assert round(float(washer_from_modified_energy_factor(3.5, 1.29, 295.0)), 1) == 800.4


def test_dryer_from_combined_energy_factor() -> None:
    assert round(float(dryer_from_combined_energy_factor(3.73, 283.0, 8.45))) == 641


def test_split_gas_dryer() -> None:
    use = split_gas_dryer(700.0, 0.07)
    assert (round(float(use.electricity), 1), round(float(use.gas), 1)) == (49.0, 651.0)


def test_from_energy_efficiency_ratio() -> None:
    assert round(float(from_energy_efficiency_ratio(10000.0, 750.0, 10.9)), 1) == 688.1


def test_furnace() -> None:
    use = furnace(16_000.0, 0.80, 500.0, 1000.0)
    assert (round(float(use.gas)), round(float(use.electricity))) == (20000, 500)


def test_hot_water_heat() -> None:
    assert round(float(hot_water_heat(55.0, 67.0))) == 30364


def test_water_heater() -> None:
    assert round(float(water_heater(hot_water_heat(55.0, 67.0), 0.93))) == 3493


def test_per_hundred_cycles_energy() -> None:
    assert float(per_hundred_cycles_energy(54.0, 200.0)) == 108.0


def test_class_range() -> None:
    assert class_range("F", ClassScale(letters=("E", "F", "G"), bounds=(100, 125), bound_in="better")) == (
        100.05,
        125.05,
    )


def test_consumption_range() -> None:
    scale = ClassScale(letters=("E", "F", "G"), bounds=(100, 125), bound_in="better")
    assert [round(float(end), 1) for end in consumption_range("F", scale, 200.0)] == [200.1, 250.1]


def test_fridge_combi_factor() -> None:
    assert round(float(fridge_combi_factor(0.25)), 4) == 1.5175


def test_fridge_standard_energy() -> None:
    larder = Compartment(300.0, temperature_factor=1.0, base=75, growth=0.12)
    assert float(fridge_standard_energy([larder], 1.0, 1.0)) == 111.0


def test_washer_standard_energy() -> None:
    assert float(washer_standard_energy(8.0)) == 0.909


def test_washer_dryer_standard_energy() -> None:
    assert round(float(washer_dryer_standard_energy(5.0)), 3) == 3.972


def test_dishwasher_standard_energy() -> None:
    assert (float(dishwasher_standard_energy(13.0, 60.0)), float(dishwasher_standard_energy(10.0, 45.0))) == (
        1.675,
        1.35,
    )


def test_power_law_standard() -> None:
    assert round(float(power_law_standard(8.0, 140.0, 0.8)), 1) == 738.9


def test_equivalent_volume() -> None:
    assert float(equivalent_volume([200.0, 100.0], [1.0, 2.15])) == 415.0


def test_evenly() -> None:
    assert evenly(365.0).values[:3].tolist() == [31.0, 28.0, 31.0]


def test_gas_energy() -> None:
    assert round(float(gas_energy(100, 39.5)), 1) == 1122.1


def test_interval_around() -> None:
    around = interval_around(400.0, ErrorSources(scatter=0.1, freedom=1e9, meter=0.0), 0.9)
    assert (round(float(around.low)), round(float(around.high))) == (339, 472)


def test_half_width() -> None:
    assert round(float(half_width(ErrorSources(scatter=0.03, freedom=1000000000.0, meter=0.04), 0.9)), 4) == 0.0822


def test_pooled() -> None:
    assert pooled(0.04, 1.0, 0.2, 1.0) == (0.2, 2.0)


def test_linear_response() -> None:
    assert round(float(linear_response(24.0, 2.3)), 6) == 1.65


def test_season_by_temperature() -> None:
    season = season_by_temperature(20.0, np.array([18.0, 19, 22, 26, 24, 20]))
    assert (round(float(season.factor), 3), round(float(season.ambient), 3)) == (1.081, 0.013)


def test_log_of_power() -> None:
    log = log_of_power(np.array([0.0, 60, 120, 180, 600, 660]), np.array([10.0, 10, 10, 40, 10, 10]))
    assert (missing_share(log), mean_power(log)) == (0.5, 15.0)


def test_log_of_energy() -> None:
    assert round(mean_power(log_of_energy(np.array([0.0, 3600, 7200]), np.array([0.1, 0.2, 0.3]))), 9) == 200.0


def test_log_of_counter() -> None:
    assert round(mean_power(log_of_counter(np.array([0.0, 3600, 36000]), np.array([7.0, 7.1, 8.0]))), 9) == 100.0


def test_resample() -> None:
    log = PowerLog(begin=np.array([0.0, 90]), seconds=np.array([30.0, 90]), watts=np.array([8.0, 2.0]))
    assert [column.tolist() for column in resample(log, 60.0)] == [[8.0, 2.0, 2.0], [0.5, 0.5, 1.0]]


def test_find_runs() -> None:
    minutes = np.arange(200)
    runs = find_runs(log_of_power(60.0 * minutes, np.where(minutes // 30 % 4 == 1, 2000.0, 0.0)))
    assert (runs.kwh.round(6).tolist(), runs.whole.tolist()) == ([1.0, 1.0], [True, False])


def test_plateau_power() -> None:
    assert plateau_power(log_of_power(60.0 * np.arange(6), np.array([0.0, 120, 130, 125, 0, 0]))) == 125.0


def test_find_defrosts() -> None:
    minutes = np.arange(6 * 1440)
    watts = np.where(minutes % 40 < 16, 120.0, 0.0)
    watts[(minutes % 2880 >= 600) & (minutes % 2880 < 615)] = 450.0
    found = find_defrosts(log_of_power(60.0 * minutes, watts))
    assert (found.count, found.hours_between, round(found.steady_watts)) == (3.0, 48.0, 48)


def test_left_of_rhythm() -> None:
    assert round(left_of_rhythm(log_of_power(60.0 * np.arange(720), np.zeros(720)), DAY), 3) == 0.637


def test_deviation() -> None:
    assert round(float(deviation(-1.645, 1.645)), 3) == 1.0


def test_annualise() -> None:
    minutes = np.arange(3 * 1440)
    year = annualise(log_of_power(60.0 * minutes, np.where(minutes % 40 < 16, 125.0, 0.0))).energy
    assert [round(float(bound)) for bound in (year.value, year.low, year.high)] == [438, 368, 522]


def test_day_scatter() -> None:
    assert [
        round(figure, 3) for figure in day_scatter(log_of_power(60.0 * np.arange(14400), np.full(14400, 50.0)))
    ] == [0.038, 15.0]


def test_annualise_readings() -> None:
    year = annualise_readings(12.40, 14.83, 48.0)
    assert [round(float(bound)) for bound in (year.value, year.low, year.high)] == [443, 365, 538]


def test_annualise_counted_runs() -> None:
    year = annualise_counted_runs(20.0, 27.2, 6, 200)
    assert [round(float(bound)) for bound in (year.value, year.low, year.high)] == [240, 142, 406]


def test_annualise_runs() -> None:
    minutes = np.arange(2880)
    log = log_of_power(60.0 * minutes, np.where(minutes % 1440 // 60 == 20, 1200.0, 3.0))
    use = annualise_runs(log, find_runs(log), 200.0)
    assert (round(float(use.per_run.value), 3), round(use.standby_watts, 3), round(float(use.energy.value), 2)) == (
        1.2,
        3.0,
        265.68,
    )


def test_against_rated() -> None:
    finding = against_rated(Interval(600.0, 500.0, 720.0, 0.9), 400.0)
    assert (float(finding.excess.value), round(float(finding.ratio.low), 2), round(float(finding.chance_above), 4)) == (
        200.0,
        1.25,
        0.9999,
    )


def test_half_up() -> None:
    assert [round(float(amount), 2) for amount in half_up(np.array([26.125, 26.1249, -0.005]), 0.01)] == [
        26.13,
        26.12,
        -0.01,
    ]


def test_marginal_price() -> None:
    steps = Tariff(unit="kWh", lines=(Usage(name="energy", bands=((Block(0.10, 300), Block(0.20)),)),))
    base, flow = Totals(np.array([270.0])), Totals(np.array([50.0]))
    assert round(float(marginal_price(steps, base, flow, Calendar(periods=(30,)))), 2) == 0.14


def test_steady_escalation() -> None:
    assert round(float(steady_escalation(steady_levels(0.02, 10), 0.03)), 6) == 0.02
