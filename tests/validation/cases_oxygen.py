"""Oxygen that others measured: a shrimp tank at night, bubbles, a lake, a stream.

Each curve is fitted with the oxygen equation of the model, dC/dt = k (Cs - C) + sources,
Cs from the model's saturation equation, so that what is recovered can be compared.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np

from pleuston.base import parameters
from pleuston.chemistry.gas_exchange import schmidt_oxygen, transfer_moving
from pleuston.chemistry.oxygen import oxygen_at_saturation, pressure_at_altitude
from pleuston.inference.night import linear_fit, profile

from .case import Case, Finding, one, open_data, open_rows

ATMOSPHERE = 760.0
"""Mercury of one atmosphere [mm]."""
FLOWS = (100, 250, 350, 450, 650, 750)
Array = np.ndarray


def saturation(celsius: Array | float, atmospheres: Array | float = 1.0) -> Array:
    """Oxygen at saturation [mg/L]."""
    return np.asarray(oxygen_at_saturation(np.asarray(celsius) + 273.15, atmospheres))


def sonde() -> dict[str, Array]:
    """The night of the shrimp tank: days from the first reading, oxygen, and what goes with it."""
    rows = open_rows("small_tank/sonde_20240316.csv")
    celsius = next(name for name in rows[0] if name.startswith("Temp"))
    at = [datetime.strptime(r["Time (HH:mm:ss)"], "%H:%M:%S") for r in rows]
    named = {"oxygen": "ODO mg/L", "percent": "ODO % sat", "celsius": celsius,
             "mercury": "Barometer mmHg"}  # fmt: skip
    found = {key: np.array([float(r[name]) for r in rows]) for key, name in named.items()}
    return found | {"days": np.array([(t - at[0]).total_seconds() / 86400 for t in at])}


def expected(name: str, k: tuple[float, float, float], schmidt: float) -> Finding:
    """The exchange that the model expects beside the recovered interval."""
    prior = parameters.load()[f"gas_exchange_{name}"]
    rate = float(transfer_moving(prior.value, schmidt)) / DEPTH
    low, high = k[1] * prior.value / prior.high, k[2] * prior.value / prior.low
    return Finding(
        f"exchange rate that the model expects, {name} current", "1/d", k[1:], rate, low, high,
        f"recovered {k[0]:.2g}; the ranges must overlap, the model's being "
        f"{rate * prior.low / prior.value:.2g} to {rate * prior.high / prior.value:.2g}",
        held=(low / 2.0, low) if name == "gentle" else None,
        because="the tank has a filter whose current is not noted; it must be more than gentle"
        if name == "gentle" else "",
    )  # fmt: skip


def shrimp_tank() -> list[Finding]:
    """A night of a planted shrimp tank: saturation, exchange, respiration."""
    all_of_it = sonde()
    by_sonde = all_of_it["oxygen"] / all_of_it["percent"] * 100.0
    ours = saturation(all_of_it["celsius"])
    dark = all_of_it["days"] < 7.0 / 24.0
    night = {key: value[dark] for key, value in all_of_it.items()}
    equilibrium = saturation(night["celsius"], night["mercury"] / ATMOSPHERE)
    step = np.diff(night["days"])
    rates = np.geomspace(0.3, 40.0, 400)
    k, ((use, least, most),) = profile(
        rates, equilibrium, step, night["oxygen"], -np.ones(dark.sum())
    )
    _, _, misfit = linear_fit(
        k[0], equilibrium, step, night["oxygen"], -np.ones(dark.sum())
    )
    schmidt = schmidt_oxygen(float(night["celsius"].mean()) + 273.15)
    return [
        Finding("saturation at one atmosphere over the sonde's own, mean of the night", "1",
                one(1.0), float((ours / by_sonde).mean()), 0.995, 1.005,
                "the sonde prints three digits"),
        Finding("misfit of the fitted night, standard deviation", "mg/L", one(0.0),
                float(misfit.std()), 0.0, 0.05, "five times the last digit of the sonde"),
        *(expected(name, k, schmidt) for name in ("gentle", "strong")),
        Finding("respiration recovered from the night", "mg/L/d", None, use, 1.0, 60.0,
                f"95 %: {least:.2g} to {most:.2g}; "
                "0.04 to 2.5 mg/L an hour is what lightly to heavily stocked tanks use"),
    ]  # fmt: skip


DEPTH = 0.25
"""Depth of the water in a tank of 38 L, assumed [m]."""


def bubbles(flow: int) -> tuple[float, float]:
    """Exchange rate [1/s] and misfit [mg/L] of a run at an air flow, from an eighth of Cs on."""
    path: Path = open_data(f"aeration/airflow_{flow}_umol_s.tsv")
    table = np.genfromtxt(path, skip_header=1, delimiter="\t", usecols=(0, 2))
    top = float(saturation(22.0))
    days, seen = table[:, 0], table[:, 1]
    first = int(np.flatnonzero(seen < top / 8.0).max(initial=-1)) + 1
    seconds, rise = (days[first:] - days[first]) * 86400.0, np.log(1.0 - seen[first:] / top)
    slope, start = np.polyfit(seconds, rise, 1)
    fitted = top * (1.0 - np.exp(start + slope * seconds))
    return -float(slope), float(np.std(seen[first:] - fitted))


def aeration() -> list[Finding]:
    """Bubbles in a small vessel after sulphite, six air flows."""
    found = {flow: bubbles(flow) for flow in FLOWS}
    typical = float(np.median([f[1] for f in found.values()]))
    odd = [flow for flow, (_, misfit) in found.items() if misfit > 3.0 * typical]
    good = [flow for flow in FLOWS if flow not in odd]
    power = np.polyfit(np.log(good), np.log([found[f][0] for f in good]), 1)[0]
    return [
        Finding("air flow of the run whose misfit stands out", "umol/s", None,
                float(sum(odd)), 450.0, 450.0,
                "it began with air in the water and jumped; the other five rise smoothly"),
        Finding("largest misfit of the exchange equation to the other runs", "mg/L", one(0.0),
                max(found[f][1] for f in good), 0.0, 0.1, "the scatter of the probe"),
        Finding("exchange rate at the lowest air flow", "1/h", None, found[100][0] * 3600.0, 5.0,
                20.0, "what stones in a jar give"),
        Finding("power of the air flow in the exchange rate", "1", None, float(power), 0.4,
                1.0, "range of bubbled vessels, common practice"),
    ]  # fmt: skip


def column(name: str) -> tuple[list[datetime], Array]:
    """Times and values of one series of the lake."""
    lines = open_data(f"lake_oxygen/sparkling.{name}").read_text(encoding="utf-8").splitlines()[1:]
    cells = [line.split("\t") for line in lines if line]
    return [datetime.fromisoformat(c[0]) for c in cells], np.array([float(c[1]) for c in cells])


def lake() -> list[Finding]:
    """Nine days of a lake: light makes oxygen, the night takes it."""
    times, oxygen = column("doobs")
    light = column("par")[1]
    hour = np.array([t.hour for t in times])
    offset = float(np.median(light[(hour < 3) | (hour > 22)]))
    lit = np.maximum(light - offset, 0.0) / 1000.0
    step = np.full(len(times) - 1, 10.0 / 1440.0)
    level = np.full(len(times), float(oxygen.mean()))
    k, (made, used) = profile(
        np.geomspace(0.02, 5.0, 120), level, step, oxygen, lit, -np.ones(len(times))
    )
    _, _, misfit = linear_fit(k[0], level, step, oxygen, lit, -np.ones(len(times)))
    share = 1.0 - float(misfit.var() / oxygen.var())
    return [
        Finding("light at night, the sensor's offset", "umol/m^2/s", one(-0.065), offset, -0.07,
                -0.06, "as the data's notes say"),
        Finding("oxygen made per 1000 umol/m2/s of light", "mg/L/d", None, made[0], 0.1, 10.0,
                f"95 %: {made[1]:.2g} to {made[2]:.2g}; more than none, and no "
                "more than rich lakes make"),
        Finding("variance that light, respiration and exchange explain", "1", None, share, 0.3,
                1.0, "no temperature is given, so that saturation stands still here"),
        Finding("respiration, beyond what saturation and its mean differ by", "mg/L/d", None,
                used[0], 0.0, 5.0,
                f"95 %: {used[1]:.2g} to {used[2]:.2g}; a lake with little food"),
    ]  # fmt: skip


def stream() -> list[Finding]:
    """The second night of a mountain stream, dusk to dawn, by its temperature and oxygen."""
    rows = open_rows("lake_oxygen/streamMetabolizer_spring14.csv")
    table = np.array([[float(v) for v in r.values()] for r in rows])
    hour = (table[:, 0] / 3600.0) % 24.0
    dark = np.flatnonzero((hour > 0.3) & (hour < 13.2))
    second = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)[1]
    days, celsius, oxygen = table[second, 0] / 86400.0, table[second, 1], table[second, 2]
    level = saturation(celsius, float(pressure_at_altitude(HIGH)))
    k, (used,) = profile(
        np.geomspace(2.0, 200.0, 200), level, np.diff(days), oxygen, -np.ones(len(days))
    )
    _, _, misfit = linear_fit(k[0], level, np.diff(days), oxygen, -np.ones(len(days)))
    return [
        Finding("misfit of the fitted night, standard deviation", "mg/L", one(0.0),
                float(misfit.std()), 0.0, 0.05, "the scatter of such sondes"),
        Finding("exchange rate recovered", "1/d", None, k[0], 5.0, 100.0,
                f"95 %: {k[1]:.2g} to {k[2]:.2g}; steep shallow streams; rivers below"),
        Finding("respiration recovered", "mg/L/d", None, used[0], 0.0, 60.0,
                f"95 %: {used[1]:.2g} to {used[2]:.2g}; not negative, and no sewer; it hangs on "
                "the air pressure, which is assumed"),
    ]  # fmt: skip


HIGH = 2200.0
"""Height of the stream above the sea, assumed [m]."""
CASES = (
    Case("tank night", "One night of a planted shrimp tank", "tank2024", "open data, 5 min",
         f"depth {DEPTH} m; the first seven hours, dark; respiration steady", shrimp_tank),
    Case("bubbles", "Bubbles after sulphite at six air flows", "aeration_course", "open data",
         "22 degC as noted, one atmosphere", aeration),
    Case("lake", "Nine days of a lake", "winslow2016", "open data, 10 min",
         "saturation steady, since no temperature is in the data", lake),
    Case("stream", "A night of a stream", "appling2018", "open data, 10 min",
         f"{HIGH:.0f} m above the sea; night from 00:20 to 13:10 UTC", stream),
)  # fmt: skip
