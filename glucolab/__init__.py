"""After each glucose sensor wear: what happened, what it goes with, did it change, what to ask next."""

__version__ = "0.1.0"
