"""Faults on purpose: killed, full, locked, damaged, silent, guessing, mutated, made up; what is lost and what gets in.

`make faults` runs every part, `make faults PART=killed` one of them, on this machine alone. A part is a module of this package
with `run(*, short=False)`, which returns a list of `Row`; `short` is the same with few rounds, for the tests.
"""
