"""Which faults once went unseen? Seventeen, planted by hand in central code: no test of their room noticed them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.mutation.operators import Fault


@dataclass(frozen=True)
class Named:
    """A fault by what it does, its file below the package, the text that it replaces, and the constant or function that
    it stands in where that is read once, with the module."""

    what: str
    file: str
    before: str
    after: str
    name: str = ""

    def find(self, root: Path) -> Fault:
        """The fault in the code as it is; its text stands there once."""
        path = root / "glucolab" / self.file
        source, before = path.read_bytes(), self.before.encode()
        assert source.count(before) == 1, f"{self.what}: found {source.count(before)} times in {self.file}"
        start = source.index(before)
        line = source[:start].count(b"\n") + 1
        names = (self.name,) if self.name else ()
        end = start + len(before)
        return Fault(f"glucolab/{self.file}", line, self.what, start, end, self.before, self.after, names)


NAMED = (
    Named("drift dropped", "aligning/trace.py", "offset - stretch * level + drift * place", "offset - stretch * level"),
    Named("shrinking of noisy checks dropped", "aligning/trace.py", "np.maximum(1 - (se / spread) ** 2, 0.5)",
          "np.ones_like(se)"),
    Named("the lag's weight of checks doubled", "aligning/lag.py", "CHECKS_WORD = 0.5", "CHECKS_WORD = 1.0",
          "CHECKS_WORD"),
    Named("area not moved to the meal's time", "measuring/meals.py",
          "np.where(part > 0, before * (1 - part) + curve * part, curve)", "curve"),
    Named("a dip of just ten not counted", "measuring/whole_wear.py", 'responses["dip_mg_dl"][judged] >= 10',
          'responses["dip_mg_dl"][judged] > 10'),
    Named("the lag's interval × 0.85", "aligning/lag.py", "spread = np.sqrt(", "spread = 0.85 * np.sqrt("),
    Named("the mean's interval × 0.85", "measuring/whole_wear.py", '"mean": normal_interval_of_draws(mean)',
          '"mean": normal_interval_of_draws(mean.mean() + 0.85 * (mean - mean.mean()))'),
    Named("the usual mean's interval × 0.85", "measuring/whole_wear.py",
          "as_estimate(usual, usual - half, usual + half)",
          "as_estimate(usual, usual - 0.85 * half, usual + 0.85 * half)"),
    Named("a comparison's interval × 0.85", "relating/comparing/comparisons.py",
          "half = half_width([days, hours + sensor], [df, np.inf])",
          "half = 0.85 * half_width([days, hours + sensor], [df, np.inf])"),
    Named("days' autocorrelation ignored", "measuring/days_apart.py", "variance * (1 + rho) / (1 - rho)", "variance"),
    Named("a jump from 20 on", "cleaning/jumps.py", "LEAST_MG_DL = 15.0", "LEAST_MG_DL = 20.0",
          "LEAST_MG_DL"),
    Named("pressed from 8 on", "cleaning/pressure.py", "PRESSED_MG_DL = 4.0", "PRESSED_MG_DL = 8.0",
          "PRESSED_MG_DL"),
    Named("a period's variance of hours dropped", "relating/comparing/periods.py",
          'float(share**2 @ np.array([f.variances["hours"] for f in figures]))', "0.0"),
    Named("the trend's degrees of freedom", "relating/comparing/trend.py", "df = len(mine) - 2", "df = len(mine)"),
    Named("days of two sensors counted twice", "relating/comparing/periods.py", "len(np.unique(cells // 300_000_000))",
          "len(cells)"),
    Named("expected days inverted", "relating/planning/precision.py",
          "expected = days * float(used.sum() / worn.sum())", "expected = days * float(worn.sum() / used.sum())"),
    Named("the sign of the goal's chance", "relating/comparing/periods.py", "ndtr((goal_mg_dl - period.mean_mg_dl)",
          "ndtr((period.mean_mg_dl - goal_mg_dl)"),
)  # fmt: skip
