"""What did an analysis find? Its tables and figures by name, and how they look when they are printed or shown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from glucolab.aligning.trace_record import Trace
from glucolab.cleaning.clean import CleanRecord
from glucolab.clock import Days, to_local
from glucolab.errors import NothingToDo, Problem
from glucolab.measuring.cautions import DESCRIBE_ONLY
from glucolab.measuring.whole_wear import WearFigures
from glucolab.record import WEAR_OUTPUTS, WEAR_TABLES, ByName, Study, WearPeriod, empty_output
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.predicting.forecasts import forecast_meals

NO_FIGURES = "study.toml asks for no glucose figures (numbers = false), and these tables are made of them"


@dataclass(frozen=True, eq=False, repr=False)
class WearAnalysis:
    """All that one wear says, from its own folder alone.

    Printed, it says so in ten lines at most; as the last line of a notebook's cell it is the first screen of its page,
    as it is known with this wear and the `earlier` ones.

    Attributes
    ----------
    wear : WearPeriod
    study : Study
        Whose range, goal, unit and person it was analysed with.
    days : Days
        Its local days.
    tables : mapping of str to DataFrame
        By the names of :data:`glucolab.record.WEAR_OUTPUTS`, with their columns.
    summary : dict
        As ``summary.json``.
    trace : Trace
    related : WearTables
        What :mod:`glucolab.relating` starts from.
    worth_noticing_mg_dl : float or None
        None where the tool only describes. [mg/dL]
    blocks : DataFrame
        See :func:`glucolab.measuring.time_of_day.measure_block_means`.
    nights : DataFrame
        See :func:`glucolab.measuring.nights.find_nights`.
    figures : WearFigures
    clean : CleanRecord
    earlier : tuple of WearAnalysis
        The wears before it, where a whole study was analysed.
    """

    wear: WearPeriod
    study: Study
    days: Days
    tables: Mapping[str, pd.DataFrame]
    summary: dict[str, Any]
    trace: Trace
    related: WearTables
    worth_noticing_mg_dl: float | None
    blocks: pd.DataFrame
    nights: pd.DataFrame
    figures: WearFigures
    clean: CleanRecord
    earlier: tuple[WearAnalysis, ...] = ()

    @property
    def name(self) -> str:
        """Of the wear."""
        return self.wear.name

    @cached_property
    def forecasts(self) -> pd.DataFrame:
        """Each judged occasion predicted from earlier days of this wear alone, columns of ``forecasts.csv``."""
        if self.worth_noticing_mg_dl is None:
            return empty_output("forecasts")
        return forecast_meals([self.related.as_asked])

    def to_frame(self) -> pd.DataFrame:
        """The wear's figures with their 90 % intervals, a row each.

        Returns
        -------
        DataFrame
            Indexed by the name of ``summary.json`` (``minutes_per_day.in_range``): ``estimate, low, high``, NaN where
            ``withheld`` says why. In mg/dL, except what is named after its unit (``lag_min``, ``cv_percent``,
            ``minutes_per_day``).

        Raises
        ------
        NothingToDo
            If the study wants no glucose figures.
        """
        if not self.study.numbers:
            raise NothingToDo(NO_FIGURES)
        rows = dict(_find_estimates(self.summary))
        frame = pd.DataFrame.from_dict(rows, orient="index", columns=["estimate", "low", "high"]).astype(float)
        why = pd.Series(self.summary["withheld"], dtype="str").reindex(frame.index)
        return frame.assign(withheld=why).rename_axis("figure")

    def __repr__(self) -> str:
        from glucolab.showing.at_sight import print_wear

        return print_wear(self)

    def _repr_html_(self) -> str:
        from glucolab.showing.at_sight import show_wear

        return show_wear(self)


def _find_estimates(summary: Mapping[str, Any]) -> Iterator[tuple[str, tuple[float, float, float]]]:
    """Every figure of a summary that has an interval, and those that are withheld."""
    for name, value in summary.items():
        if name in summary["withheld"] and value is None:
            yield name, (np.nan, np.nan, np.nan)
        elif isinstance(value, dict) and {"estimate", "low", "high"} <= value.keys():
            yield name, (value["estimate"], value["low"], value["high"])
        elif isinstance(value, dict) and name == "minutes_per_day":
            yield from ((f"{name}.{part}", (one["estimate"], one["low"], one["high"])) for part, one in value.items())


@dataclass(frozen=True, eq=False, repr=False)
class StudyAnalysis:
    """All wears, and what they say together.

    Printed, it says so in ten lines at most; as the last line of a notebook's cell it is the first screen of the
    study's page.

    Attributes
    ----------
    study : Study
    wears : ByName of WearAnalysis
        By place or by name: ``analysis.wears[-1]``, ``analysis.wears["2026-10_autumn"]``.
    tables : mapping of str to DataFrame
        By the names of :data:`glucolab.record.STUDY_OUTPUTS`, with their columns.
    summary : dict
        As ``study/summary.json``.
    left_out : tuple of Problem
        Everything that was not used, of reading and of analysing.
    fault : Problem or None
        Why the wears could not be set beside each other, which is among `left_out` too: `tables` are then without rows.
        None if they could.
    """

    study: Study
    wears: ByName[WearAnalysis]
    tables: Mapping[str, pd.DataFrame]
    summary: dict[str, Any]
    left_out: tuple[Problem, ...]
    fault: Problem | None = field(default=None)

    def to_frame(self, name: str = "") -> pd.DataFrame:
        """Something of every wear, one under the other: where a question of one's own begins, in plain pandas.

        Parameters
        ----------
        name : str, optional
            Of a table that a wear's report holds (``daily``) or that was written down (``sleep``), as its file is
            called; empty for the wears' figures with their intervals.

        Returns
        -------
        pandas.DataFrame
            First the column ``wear``, then the contract's; times are the wearer's wall clock, without a zone, numbers
            are floats (NaN: not known), glucose is in mg/dL.

        Raises
        ------
        NothingToDo
            If no wear was analysed or has a table of that name, or the study wants no figures, or a table is asked for
            where none but descriptions may be given.

        Examples
        --------
        >>> analysis.to_frame("daily").groupby("wear")["mean_mg_dl"].mean()  # doctest: +SKIP
        """
        if not self.study.numbers:
            raise NothingToDo(NO_FIGURES)
        if not self.wears:
            raise NothingToDo("no wear could be analysed, so there is nothing to put together")
        if not name:
            parts = [one.to_frame().reset_index().assign(wear=one.name) for one in self.wears]
        else:
            if self.study.person.describe_only:
                raise NothingToDo(DESCRIBE_ONLY)
            if name not in WEAR_OUTPUTS and name not in WEAR_TABLES:
                known = ", ".join([*WEAR_OUTPUTS, *WEAR_TABLES])
                raise NothingToDo(f"no wear has a table “{name}”: there are {known}")
            parts = [_as_plain(_find_table(one, name), one).assign(wear=one.name) for one in self.wears]
        stacked = pd.concat(parts, ignore_index=True)
        return stacked[["wear", *stacked.columns.drop("wear")]]

    def __repr__(self) -> str:
        from glucolab.showing.at_sight import print_study

        return print_study(self)

    def _repr_html_(self) -> str:
        from glucolab.showing.at_sight import show_study

        return show_study(self)


def _find_table(one: WearAnalysis, name: str) -> pd.DataFrame:
    return one.tables[name] if name in WEAR_OUTPUTS else one.wear.table(name).reset_index(drop=True)


def _as_plain(table: pd.DataFrame, one: WearAnalysis) -> pd.DataFrame:
    """A table with times on the wearer's clock and numbers as floats."""
    plain = table.astype(dict.fromkeys(table.select_dtypes("number"), float))
    for name in table.select_dtypes("datetimetz"):
        plain[name] = to_local(table[name], one.wear.zones)
    return plain
