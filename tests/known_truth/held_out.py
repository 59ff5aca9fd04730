"""Do real people's checks come out better than the raw sensor? python -m tests.known_truth.held_out FOLDER.

FOLDER holds glucose.csv and fingersticks.csv of ShanghaiT2DM (Zhao et al., Scientific Data 2023, figshare
10.6084/m9.figshare.21600933): people with type 2 diabetes, so for the mechanics of bias only. Every check sits on a
reading's own time there. Each check is left out in turn, a fifth at a time, and predicted from the rest.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from glucolab.aligning.trace import estimate_trace
from glucolab.cleaning.clean import clean_wear
from glucolab.reading.folder import read_study
from glucolab.record import WearPeriod

FOLDS = 5
LEAST_CHECKS = 10


def write_study(source: Path, target: Path, wears: int | None = None) -> None:
    """The first `wears` recordings with enough checks as a study folder."""
    glucose, sticks = pd.read_csv(source / "glucose.csv"), pd.read_csv(source / "fingersticks.csv")
    counts = sticks.groupby(["person", "wear"]).size()
    for person, wear in counts[counts >= LEAST_CHECKS].index[:wears]:
        folder = target / "wear_periods" / f"{person}_{wear}"
        folder.mkdir(parents=True)
        mine, checks = (t[(t["person"] == person) & (t["wear"] == wear)] for t in (glucose, sticks))
        time = pd.to_datetime(mine["time"])
        (folder / "wear.toml").write_text(
            f"start = {time.min().isoformat()}\nend = {(time.max() + pd.Timedelta('1h')).isoformat()}\nunit = 'mg/dL'\n"
        )
        mine[["time", "glucose_mg_dl"]].set_axis(["time", "glucose"], axis=1).to_csv(
            folder / "glucose.csv", index=False
        )
        checks = checks[["time", "fingerstick_mg_dl"]].set_axis(["time", "glucose"], axis=1)
        checks.to_csv(folder / "checks.csv", index=False)
    (target / "study.toml").write_text("[person]\ntime_zone = 'Asia/Shanghai'\n")


def predict_left_out(wear: WearPeriod) -> pd.DataFrame:
    """A row a check within reach: check_mg_dl, predicted_mg_dl, raw_mg_dl."""
    clean = clean_wear(wear)
    usable = clean.usable
    fold = np.random.default_rng(11).permutation(len(wear.checks)) % FOLDS
    parts = []
    for k in range(FOLDS):
        trace = estimate_trace(replace(wear, tables={**wear.tables, "checks": wear.checks[fold != k]}), clean)
        left = wear.checks[fold == k]
        place = np.round(trace.cells(left["time"])).astype(int)
        inside = (place >= 0) & (place < len(trace.time))
        left, place = left[inside], place[inside]
        nearest = usable.index.get_indexer(pd.DatetimeIndex(left["time"]), method="nearest")
        part = pd.DataFrame({
            "check_mg_dl": left["glucose_mg_dl"].to_numpy(), "predicted_mg_dl": trace.glucose_mg_dl[place],
            "raw_mg_dl": usable.to_numpy()[nearest],
        })  # fmt: skip
        parts.append(part.dropna())
    return pd.concat(parts, ignore_index=True)


def error_ratio(found: pd.DataFrame) -> float:
    """Root mean square of log(predicted / check) over that of log(raw / check)."""
    predicted, raw = (np.log(found[name] / found["check_mg_dl"]) for name in ("predicted_mg_dl", "raw_mg_dl"))
    return float(np.sqrt((predicted**2).mean() / (raw**2).mean()))


def main(arguments: list[str]) -> int:
    """Print the error ratio, checks and wears weighing alike."""
    with tempfile.TemporaryDirectory() as target:
        write_study(Path(arguments[0]), Path(target))
        found = {wear.name: predict_left_out(wear) for wear in read_study(Path(target)).wears}
    everything = pd.concat(found.values())
    ratios = pd.Series({name: error_ratio(part) for name, part in found.items()})
    print(f"{len(everything)} checks of {len(found)} wears: error ratio {error_ratio(everything):.3f}")
    print(f"by wear: median {ratios.median():.3f}, better than the raw sensor in {(ratios < 1).sum()} of {len(ratios)}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
