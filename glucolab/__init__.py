"""After each glucose sensor wear: what happened, what it goes with, did it change, what to ask next.

A *wear* is one sensor on the skin, about two weeks; a *study* is all wears of one person. The *contract* is what the
files in and out hold and what every figure means: `glucolab.record` has its tables, `reports/README.md` prints them.
Data moves one way: reading, cleaning, aligning (blood from the sensor), measuring (one wear), relating (all wears),
showing, running.
"""

__version__ = "0.1.0"
