"""Resistor networks: values, port resistances of many networks at once, routes. Knows nothing of fencing."""

from foible.circuit.network import OPEN, Branch, Network
from foible.circuit.ports import Port, conductances_of, port_resistances
from foible.circuit.starmesh import Shape

__all__ = ["OPEN", "Branch", "Network", "Port", "Shape", "conductances_of", "port_resistances"]
