"""A case with a log and a tariff beside it, as the command reads them."""

import json
from pathlib import Path

import numpy as np
import pytest
from commands import run
from steady_refrigerator import cycling

TARIFF = (
    'commodity = "electricity"\nsource = "an invented supplier"\ncurrency = "EUR"\nrounding = 0.01\n'
    '[[line]]\nname = "energy"\nblocks = [{ price = 0.10, upto = 300 }, { price = 0.20 }]\n'
    '[[line]]\nname = "standing charge"\namount = 9.5\n[[line]]\nname = "tax"\nshare = 0.1\n'
)


def a_log(path: Path, watts: np.ndarray) -> Path:
    rows = [f"{1_700_000_000 + 60 * minute},{power:.1f}" for minute, power in enumerate(watts)]
    path.write_text("\n".join(["time,power (W)", *rows, ""]), "utf-8")
    return path


def test_a_log_of_several_columns_is_answered_as_the_command_says(tmp_path: Path) -> None:
    rows = "".join(f"2024-05-{1 + n // 24:02} {n % 24:02}:00,{400 + n % 3},{40 + n % 5}\n" for n in range(24 * 14))
    (tmp_path / "kitchen.csv").write_text(f"time,mains_w,fridge_w\n{rows}", "utf-8")
    case = tmp_path / "case.toml"
    text = '[appliance]\nclass = "refrigerator"\nage = 9\n[appliance.meter]\nfile = "kitchen.csv"\n'
    case.write_text(text, "utf-8")
    asked = run("weigh", case)
    assert asked.exit_code == 2
    assert asked.stderr.splitlines()[-1] == (
        'Say it in the case file, such as column = "mains_w" under [appliance.meter].'
    )
    case.write_text(f'{text}column = "fridge_w"\n', "utf-8")
    assert run("weigh", case).exit_code == 0


@pytest.fixture
def tariff(tmp_path: Path) -> Path:
    (tmp_path / "tariff.toml").write_text(TARIFF, "utf-8")
    return tmp_path / "tariff.toml"


def test_a_case_finds_its_log_and_its_tariff_beside_it(tmp_path: Path, tariff: Path) -> None:
    a_log(tmp_path / "kitchen.csv", cycling(3))
    case = tmp_path / "case.toml"
    case.write_text(
        '[appliance]\nclass = "refrigerator"\nage = 9\n[appliance.meter]\nfile = "kitchen.csv"\nrated = 250\n'
        '[household]\nplace = "DE"\n[household.electricity_tariff]\nfile = "tariff.toml"\nbase_use = 3200\n'
        "[repair]\nquote = 180\n",
        "utf-8",
    )
    page = run("weigh", case, "--all")
    assert page.exit_code == 0, page.stderr
    squeezed = " ".join(page.stdout.split())
    assert "Measured, it uses 1.68 times what is rated" in squeezed
    assert "an invented supplier" in squeezed
    found = json.loads(run("weigh", case, "--json").stdout)
    assert {each["field"] for each in found["derived"]} == {"appliance.electricity", "household.electricity_price"}
    assert found["findings"][0]["ratio"]["value"] == pytest.approx(420.48 / 250)
    changed = run("weigh", case, "--set", "appliance.meter.frost_free=true", "--json")
    assert json.loads(changed.stdout)["derived"][0]["value"] > found["derived"][0]["value"]
    astray = run("weigh", case, "--set", "appliance.meter.file=../kitchen.csv")
    assert astray.exit_code == 2
    assert "Log of the meter (the old one): must stand in the folder of the case file" in astray.stderr
