"""Resistor networks in, resistances and routes out, for many networks or pairs of changes at once. Knows nothing of fencing."""

from foible.circuit.grid import Grid
from foible.circuit.nest import Nest, Outcomes
from foible.circuit.network import OPEN, Branch, Network
from foible.circuit.ports import Port, conductances_of, port_resistances
from foible.circuit.regions import Change
from foible.circuit.rows import equal_rows
from foible.circuit.starmesh import Shape

__all__ = [
    "OPEN",
    "Branch",
    "Change",
    "Grid",
    "Nest",
    "Network",
    "Outcomes",
    "Port",
    "Shape",
    "conductances_of",
    "equal_rows",
    "port_resistances",
]
