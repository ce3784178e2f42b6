"""Jumps that bring soil and mineral grains: root feeds, new soil, shell grit, coral sand.

Soil put in brings its stores and its mass to the bed that is there, as a dressing does; root
feeds bring stores alone.
"""

from __future__ import annotations

from typing import Any

from pleuston.model.declare import move


@move("add_soil", "kg", soil_mass=1)
def add_soil_mass(soil_in_mass: Any) -> Any:
    """Dry soil put in."""
    return soil_in_mass


@move("add_soil", "mg", soil_carbon=1, crosses="soil", carries=("C", "oxygen_demand"))
def add_soil_carbon(soil_in_carbon: Any) -> Any:
    """Labile carbon of soil put in."""
    return soil_in_carbon


@move("add_soil", "mg", soil_nitrogen=1, crosses="soil", carries=("N",))
def add_soil_nitrogen(soil_in_nitrogen: Any) -> Any:
    """Labile nitrogen of soil put in."""
    return soil_in_nitrogen


@move("add_soil", "mg", soil_phosphorus=1, crosses="soil", carries=("P",))
def add_soil_phosphorus(soil_in_phosphorus: Any) -> Any:
    """Labile phosphorus of soil put in."""
    return soil_in_phosphorus


@move("add_soil", "mg", soil_slow_carbon=1, crosses="soil", carries=("C", "oxygen_demand"))
def add_soil_slow_carbon(soil_in_slow_carbon: Any) -> Any:
    """Resistant carbon of soil put in."""
    return soil_in_slow_carbon


@move("add_soil", "mg", soil_slow_nitrogen=1, crosses="soil", carries=("N",))
def add_soil_slow_nitrogen(soil_in_slow_nitrogen: Any) -> Any:
    """Resistant nitrogen of soil put in."""
    return soil_in_slow_nitrogen


@move("add_soil", "mg", soil_slow_phosphorus=1, crosses="soil", carries=("P",))
def add_soil_slow_phosphorus(soil_in_slow_phosphorus: Any) -> Any:
    """Resistant phosphorus of soil put in."""
    return soil_in_slow_phosphorus


@move("add_soil", "mg", ammonium_soil=1, crosses="soil", carries=("N", "charge"))
def add_soil_ammonium(soil_in_ammonium: Any) -> Any:
    """Ammonium held by soil put in."""
    return soil_in_ammonium


@move("add_soil", "mg", phosphate_soil=1, crosses="soil", carries=("P", "charge"))
def add_soil_phosphate(soil_in_phosphate: Any) -> Any:
    """Phosphate held by soil put in."""
    return soil_in_phosphate


@move("add_soil", "mg", potassium_soil=1, crosses="soil", carries=("K",))
def add_soil_potassium(soil_in_potassium: Any) -> Any:
    """Exchangeable potassium of soil put in."""
    return soil_in_potassium


@move("add_soil", "mg", calcium_soil=1, crosses="soil", carries=("Ca",))
def add_soil_calcium(soil_in_calcium: Any) -> Any:
    """Exchangeable calcium of soil put in."""
    return soil_in_calcium


@move("add_soil", "mg", iron_soil=1, crosses="soil", carries=("Fe",))
def add_soil_iron(soil_in_iron: Any) -> Any:
    """Reducible iron of soil put in."""
    return soil_in_iron


@move("add_soil", "mg", metal_soil=1, crosses="soil", carries=("metal",))
def add_soil_metal(soil_in_metal: Any) -> Any:
    """A metal held by soil put in."""
    return soil_in_metal


@move("add_shell", "mg", shell=1, crosses="dose", carries=("Ca", "C"))
def add_shell_grains(shell_grains: Any) -> Any:
    """Calcium carbonate of shell grit or coral sand put in; it dissolves as shells do."""
    return shell_grains
