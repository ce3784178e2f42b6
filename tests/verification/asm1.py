"""Activated sludge model no. 1 (Henze et al. 1987) in the table language: one mixed tank.

Concentrations, g/m3 (alkalinity mol/m3). Contents are chemical oxygen demand with
oxygen -1, nitrate -4.57 and nitrogen gas -1.71, so that 2.86 = 4.57 - 1.71 is what
denitrification spares, as the model prints it.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from tests.engine.built import changes

from pleuston.model.assemble import Model, assemble
from pleuston.model.declare import CLOSE, State, row

REPORT = "henze1987"
Y_H, Y_A = Fraction(67, 100), Fraction(24, 100)
PRODUCTS = Fraction(8, 100)
I_XB, I_XP = Fraction(8, 100), Fraction(6, 100)
MOLE = Fraction(1, 14)

_HOLDS: dict[str, dict[str, Fraction]] = {
    "S_I": {"cod": Fraction(1)}, "S_S": {"cod": Fraction(1)}, "X_I": {"cod": Fraction(1)},
    "X_S": {"cod": Fraction(1)}, "X_BH": {"cod": Fraction(1), "N": I_XB},
    "X_BA": {"cod": Fraction(1), "N": I_XB}, "X_P": {"cod": Fraction(1), "N": I_XP},
    "S_O": {"cod": Fraction(-1)},
    "S_NO": {"cod": Fraction(-457, 100), "N": Fraction(1), "charge": -MOLE},
    "S_NH": {"N": Fraction(1), "charge": MOLE}, "S_ND": {"N": Fraction(1)},
    "X_ND": {"N": Fraction(1)}, "S_ALK": {"charge": Fraction(-1)},
    "S_N2": {"cod": Fraction(-171, 100), "N": Fraction(1)},
}  # fmt: skip
STATES = tuple(_HOLDS)[:13]
"""The thirteen states of the report; S_N2 is kept beside them so that nitrogen closes."""


@row("g/m^3/d", source=REPORT, where="process 1",
     X_BH=+1, S_S=-1 / Y_H, S_O=CLOSE, S_NH=CLOSE, S_ALK=CLOSE)  # fmt: skip
def grow_heterotrophs_aerobic(mu_H: Any, K_S: Any, K_OH: Any, S_S: Any, S_O: Any, X_BH: Any) -> Any:
    """Heterotrophs grow on oxygen."""
    return mu_H * S_S / (K_S + S_S) * S_O / (K_OH + S_O) * X_BH


@row("g/m^3/d", source=REPORT, where="process 2",
     X_BH=+1, S_S=-1 / Y_H, S_NO=-(1 - Y_H) / (Fraction(286, 100) * Y_H), S_N2=CLOSE, S_NH=CLOSE,
     S_ALK=CLOSE)  # fmt: skip
def grow_heterotrophs_anoxic(
    mu_H: Any, K_S: Any, K_OH: Any, K_NO: Any, eta_g: Any, S_S: Any, S_O: Any, S_NO: Any, X_BH: Any
) -> Any:
    """Heterotrophs grow on nitrate."""
    anoxic = eta_g * K_OH / (K_OH + S_O) * S_NO / (K_NO + S_NO)
    return mu_H * S_S / (K_S + S_S) * anoxic * X_BH


@row("g/m^3/d", source=REPORT, where="process 3",
     X_BA=+1, S_NO=1 / Y_A, S_O=CLOSE, S_NH=CLOSE, S_ALK=CLOSE)  # fmt: skip
def grow_autotrophs(mu_A: Any, K_NH: Any, K_OA: Any, S_NH: Any, S_O: Any, X_BA: Any) -> Any:
    """Autotrophs grow on ammonium and oxygen."""
    return mu_A * S_NH / (K_NH + S_NH) * S_O / (K_OA + S_O) * X_BA


@row("g/m^3/d", source=REPORT, where="process 4", X_BH=-1, X_P=PRODUCTS, X_S=CLOSE, X_ND=CLOSE)
def decay_heterotrophs(b_H: Any, X_BH: Any) -> Any:
    """Heterotrophs die and become substrate."""
    return b_H * X_BH


@row("g/m^3/d", source=REPORT, where="process 5", X_BA=-1, X_P=PRODUCTS, X_S=CLOSE, X_ND=CLOSE)
def decay_autotrophs(b_A: Any, X_BA: Any) -> Any:
    """Autotrophs die and become substrate."""
    return b_A * X_BA


@row("g/m^3/d", source=REPORT, where="process 6", S_ND=-1, S_NH=CLOSE, S_ALK=CLOSE)
def ammonify(k_a: Any, S_ND: Any, X_BH: Any) -> Any:
    """Dissolved organic nitrogen becomes ammonium."""
    return k_a * S_ND * X_BH


def hydrolysis_per_substrate(
    k_h: Any, K_X: Any, K_OH: Any, K_NO: Any, eta_h: Any, X_S: Any, X_BH: Any, S_O: Any, S_NO: Any
) -> Any:
    """Specific rate of hydrolysis [1/d]."""
    anoxic = eta_h * K_OH / (K_OH + S_O) * S_NO / (K_NO + S_NO)
    return k_h * X_BH / (K_X * X_BH + X_S) * (S_O / (K_OH + S_O) + anoxic)


@row("g/m^3/d", source=REPORT, where="process 7", X_S=-1, S_S=CLOSE)
def hydrolyse_carbon(hydrolysis_per_substrate: Any, X_S: Any) -> Any:
    """Particles become dissolved substrate."""
    return hydrolysis_per_substrate * X_S


@row("g/m^3/d", source=REPORT, where="process 8", X_ND=-1, S_ND=CLOSE)
def hydrolyse_nitrogen(hydrolysis_per_substrate: Any, X_ND: Any) -> Any:
    """Their nitrogen dissolves with them."""
    return hydrolysis_per_substrate * X_ND


@row("g/m^3/d", source=REPORT, where="aeration", S_O=+1, crosses="air", carries=("cod",))
def dissolve_oxygen(kLa: Any, S_O_saturated: Any) -> Any:
    """Oxygen in from air."""
    return kLa * S_O_saturated


@row("g/m^3/d", source=REPORT, where="aeration", S_O=-1, crosses="air", carries=("cod",))
def lose_oxygen(kLa: Any, S_O: Any) -> Any:
    """Oxygen out to air."""
    return kLa * S_O


FAMILIES = {
    "carbonaceous": ("S_I", "S_S", "X_I", "X_S", "S_O"),
    "living": ("X_BH", "X_BA", "X_P"),
    "nitrogenous": ("S_ND", "X_ND"),
    "charged": ("S_NH",),
    "oxidised": ("S_NO",),
    "strong": ("S_ALK",),
}
"""States that cross the tank's ends alike."""


@row("g/m^3/d", source=REPORT, where="mixed tank", carbonaceous=+1, crosses="inlet",
     carries=("cod",))  # fmt: skip
def carbonaceous_inlet(flow: Any, volume: Any, carbonaceous_feed: Any) -> Any:
    """What flows in."""
    return flow / volume * carbonaceous_feed


@row("g/m^3/d", source=REPORT, where="mixed tank", carbonaceous=-1, crosses="outlet",
     carries=("cod",))  # fmt: skip
def carbonaceous_outlet(flow: Any, volume: Any, carbonaceous: Any) -> Any:
    """What flows out."""
    return flow / volume * carbonaceous


@row("g/m^3/d", source=REPORT, where="mixed tank", living=+1, crosses="inlet",
     carries=("cod", "N"))  # fmt: skip
def living_inlet(flow: Any, volume: Any, living_feed: Any) -> Any:
    """What flows in."""
    return flow / volume * living_feed


@row("g/m^3/d", source=REPORT, where="mixed tank", living=-1, crosses="outlet",
     carries=("cod", "N"))  # fmt: skip
def living_outlet(flow: Any, volume: Any, living: Any) -> Any:
    """What flows out."""
    return flow / volume * living


@row("g/m^3/d", source=REPORT, where="mixed tank", nitrogenous=+1, crosses="inlet",
     carries=("N",))  # fmt: skip
def nitrogenous_inlet(flow: Any, volume: Any, nitrogenous_feed: Any) -> Any:
    """What flows in."""
    return flow / volume * nitrogenous_feed


@row("g/m^3/d", source=REPORT, where="mixed tank", nitrogenous=-1, crosses="outlet",
     carries=("N",))  # fmt: skip
def nitrogenous_outlet(flow: Any, volume: Any, nitrogenous: Any) -> Any:
    """What flows out."""
    return flow / volume * nitrogenous


@row("g/m^3/d", source=REPORT, where="mixed tank", charged=+1, crosses="inlet",
     carries=("N", "charge"))  # fmt: skip
def charged_inlet(flow: Any, volume: Any, charged_feed: Any) -> Any:
    """What flows in."""
    return flow / volume * charged_feed


@row("g/m^3/d", source=REPORT, where="mixed tank", charged=-1, crosses="outlet",
     carries=("N", "charge"))  # fmt: skip
def charged_outlet(flow: Any, volume: Any, charged: Any) -> Any:
    """What flows out."""
    return flow / volume * charged


@row("g/m^3/d", source=REPORT, where="mixed tank", oxidised=+1, crosses="inlet",
     carries=("cod", "N", "charge"))  # fmt: skip
def oxidised_inlet(flow: Any, volume: Any, oxidised_feed: Any) -> Any:
    """What flows in."""
    return flow / volume * oxidised_feed


@row("g/m^3/d", source=REPORT, where="mixed tank", oxidised=-1, crosses="outlet",
     carries=("cod", "N", "charge"))  # fmt: skip
def oxidised_outlet(flow: Any, volume: Any, oxidised: Any) -> Any:
    """What flows out."""
    return flow / volume * oxidised


@row("g/m^3/d", source=REPORT, where="mixed tank", strong=+1, crosses="inlet",
     carries=("charge",))  # fmt: skip
def strong_inlet(flow: Any, volume: Any, strong_feed: Any) -> Any:
    """What flows in."""
    return flow / volume * strong_feed


@row("g/m^3/d", source=REPORT, where="mixed tank", strong=-1, crosses="outlet",
     carries=("charge",))  # fmt: skip
def strong_outlet(flow: Any, volume: Any, strong: Any) -> Any:
    """What flows out."""
    return flow / volume * strong


PROCESSES = (
    grow_heterotrophs_aerobic, grow_heterotrophs_anoxic, grow_autotrophs, decay_heterotrophs,
    decay_autotrophs, ammonify, hydrolyse_carbon, hydrolyse_nitrogen,
)  # fmt: skip
ENDS = (
    dissolve_oxygen, lose_oxygen, carbonaceous_inlet, carbonaceous_outlet, living_inlet,
    living_outlet, nitrogenous_inlet, nitrogenous_outlet, charged_inlet, charged_outlet,
    oxidised_inlet, oxidised_outlet, strong_inlet, strong_outlet,
)  # fmt: skip


def tank() -> Model:
    """One mixed tank with an inlet, an outlet and air."""
    kinetics = (
        "mu_H", "K_S", "K_OH", "K_NO", "b_H", "eta_g", "eta_h", "k_h", "K_X", "mu_A", "K_NH",
        "b_A", "K_OA", "k_a",
    )  # fmt: skip
    return assemble(
        "activated sludge",
        states=[State(n, "g/m^3", held, typical=1e-3) for n, held in _HOLDS.items()],
        rows=changes((*PROCESSES, *ENDS)),
        quantities=(hydrolysis_per_substrate,),
        parameters=(
            *kinetics, "flow", "volume", "kLa", "S_O_saturated", *(f"{n}_feed" for n in STATES),
        ),
        families=FAMILIES,
        fast=("S_S", "S_O", "S_NO", "S_NH", "S_ND", "S_ALK"),
        observed=STATES,
        conserved=("cod", "N", "charge"),
    )  # fmt: skip
