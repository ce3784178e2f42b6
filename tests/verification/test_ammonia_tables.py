"""Ammonia against grids and against a speciation program."""

from __future__ import annotations

import numpy as np
import pytest

from pleuston.chemistry import ammonia
from pleuston.chemistry.carbonate import activity_log

from .compare import assert_relative, table

KELVIN = 273.15
STRENGTHS = ("0", "0.002", "0.005", "0.01", "0.02")
SAME_CONSTANT = ("phreeqc.dat", "wateq4f.dat", "Amm.dat")
"""Databases whose constant is that of the cited equation within 0.003."""


def test_fraction_on_the_grid() -> None:
    rows = table("nh3_fraction_grid")
    assert len(rows) > 800
    for row in rows:
        kelvin, ph = float(row["T_C"]) + KELVIN, float(row["pH"])
        assert_relative(-ammonia.ammonia_dissociation_log(kelvin), float(row["pKa"]), 1e-6, row)
        for strength in STRENGTHS:
            share = ammonia.ammonia_fraction(ph, kelvin, float(strength))
            assert_relative(share, float(row[f"f_I{strength}"]), 1e-6, (kelvin, ph, strength))


def test_fraction_of_the_speciation_program() -> None:
    rows = [r for r in table("nh3_pka_phreeqc") if r["database"] in SAME_CONSTANT]
    assert len(rows) == 42
    for row in rows:
        share = ammonia.ammonia_fraction(8.0, float(row["T_C"]) + KELVIN, float(row["I_mol"]))
        assert share == pytest.approx(float(row["fraction_pH8"]), rel=0.01), row


def test_activity_of_the_speciation_program() -> None:
    """With each database's own constant the effect of salts agrees within 1 %."""
    rows = table("nh3_pka_phreeqc")
    assert {r["database"] for r in rows} > set(SAME_CONSTANT)
    for row in rows:
        kelvin, strength = float(row["T_C"]) + KELVIN, float(row["I_mol"])
        effect = activity_log(kelvin, strength)
        share = 1.0 / (1.0 + 10.0 ** (float(row["pKa"]) - effect - 8.0))
        assert share == pytest.approx(float(row["fraction_pH8"]), rel=0.01), row


def test_criteria_on_the_grid() -> None:
    rows = table("epa2013_ammonia_grid")
    assert len(rows) > 1100
    for row in rows:
        ph, kelvin = float(row["pH"]), float(row["T_C"]) + KELVIN
        acute = ammonia.ammonia_cmc_epa2013(ph, kelvin)
        salmonids = ammonia.ammonia_cmc_salmonids_epa2013(ph, kelvin)
        chronic = ammonia.ammonia_ccc_epa2013(ph, kelvin)
        assert_relative(acute, float(row["CMC_no_salmonids"]), 1e-5, row)
        assert_relative(salmonids, float(row["CMC_salmonids"]), 1e-5, row)
        assert_relative(chronic, float(row["CCC_30d"]), 1e-5, row)
        assert_relative(2.5 * chronic, float(row["CCC_4d"]), 1e-5, row)


def test_arrays_give_what_numbers_give() -> None:
    ph, kelvin = np.linspace(6.0, 10.0, 5), np.linspace(278.0, 303.0, 5)
    together = ammonia.ammonia_fraction(ph, kelvin, 0.005)
    alone = [ammonia.ammonia_fraction(p, t, 0.005) for p, t in zip(ph, kelvin, strict=True)]
    assert together == pytest.approx(alone, rel=1e-14)
