"""How long does it take? Not run by pytest: `python -m tests.benchmarks`."""
