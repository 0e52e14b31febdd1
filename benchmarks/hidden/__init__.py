"""Hidden faults, looked for by whoever follows the program's own advice: `python -m benchmarks.hidden`."""
