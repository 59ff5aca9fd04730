"""What do the pages of figures print? Their tables in Markdown, between the marks that name them."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

CALIBRATION, SPEED, LIMITS = "calibration.md", "speed.md", "limits.md"
"""The pages of figures, in `reports`."""
LEAST_HOLD = 0.85
"""What 90 % intervals should hold at least; less is printed bold, and again on the page of limits."""

FIGURE_COLUMNS = {
    "kind": "invented wearers", "figure": "figure", "n": "n", "withheld": "withheld", "bias": "bias",
    "ratio": "error ratio", "hold": "holds", "width": "width",
}  # fmt: skip
FLAG_COLUMNS = {
    "kind": "invented wearers", "flag": "flag", "true": "readings", "recall": "recall", "precision": "precision",
    "faulty": "faulty", "lost": "clean lost",
}  # fmt: skip
STUDY_COLUMNS = {
    "kind": "invented studies", "studies": "n", "difference": "difference holds", "difference_nil": "claimed where nil",
    "effects": "effects hold", "effects_nil": "claimed where nil", "file_nil": "any in a study",
    "false_share": "share of claims",
    "wrong_way": "wrong way", "dish_rise": "dish holds", "dish_pair": "pair holds",
}  # fmt: skip
REAL_COLUMNS = {
    "kind": "real traces", "figure": "figure", "people": "people", "n": "n", "withheld": "withheld", "bias": "bias",
    "hold": "holds", "se": "±", "half": "half-width", "claimed": "claimed", "claimed_se": "±", "wrong_way": "wrong way",
}  # fmt: skip
BOUND_COLUMNS = {
    "kind": "real traces", "figure": "figure", "share": "share", "least": "at least", "most": "at most",
    "found": "found", "se": "±", "met": "met",
}  # fmt: skip
FAMILY_COLUMNS = {
    "question": "question", "kind": "second family", "n": "n", "found": "found", "wrong": "wrong way", "bias": "bias",
    "rmse": "RMSE", "hold": "holds", "width": "width", "share_hold": "share holds", "nil_claimed": "claimed where nil",
    "nil_hold": "nil holds",
}  # fmt: skip
HOLDS = ("hold", "share_hold", "nil_hold", "difference", "effects", "dish_rise", "dish_pair")
PLAN_COLUMNS = {
    "what": "planned", "planned between": "chances between", "n": "n", "planned": "planned (mean)",
    "came": "came (mean)", "ratio_low": "ratio, 5 %", "ratio_high": "95 %",
}  # fmt: skip
LOOK_COLUMNS = {
    "kind": "from eating to eating", "pairs": "pairs", "effect": "true difference, in spreads", "usable": "usable",
    "n": "n", "stopped": "stopped at a look", "claimed": "claimed, stopped or at the end",
    "exact": "by the exact test at the end alone", "naive": "by the exact test at any look", "saved": "dates saved",
}  # fmt: skip
CLAIM_COLUMNS = {
    "kind": "invented studies", "what": "what", "n": "n", "claimed_nil": "claimed where nil",
    "claimed_real": "claimed where real", "wrong_way": "wrong way", "hold": "holds",
}  # fmt: skip


def write_known_truth(
    folder: Path, figures: pd.DataFrame, flags: pd.DataFrame, studies: pd.DataFrame, claims: pd.DataFrame
) -> None:
    """Replace what stands between the marks of the pages in `folder` by the summarised tables.

    Raises
    ------
    ValueError
        Where the marks are missing.
    """
    parts = [
        _overview(figures),
        *([_whole(studies, STUDY_COLUMNS)] if len(studies) else []),
        _folded("Every figure and kind", _whole(figures, FIGURE_COLUMNS)),
    ]
    if len(flags):
        parts.append(_folded("Readings by flag", _whole(flags, FLAG_COLUMNS)))
    if len(claims):
        parts.append(_folded("Every effect", _whole(claims, CLAIM_COLUMNS)))
    print_into(folder / CALIBRATION, "known truth", "\n\n".join(parts))
    of_effects = claims.rename(columns={"what": "figure"}) if len(claims) else claims
    print_into(folder / LIMITS, "known truth", _too_seldom(pd.concat([figures, of_effects])))


def write_plans(folder: Path, plans: pd.DataFrame) -> None:
    """Replace what stands between the marks of the page of calibration by what was planned beside what came.

    Raises
    ------
    ValueError
        Where the marks are missing.
    """
    print_into(folder / CALIBRATION, "plans", _whole(plans, PLAN_COLUMNS))


def write_looks(folder: Path, looks: pd.DataFrame) -> None:
    """Replace what stands between its marks by what experiments claim that are looked at after every date.

    Raises
    ------
    ValueError
        Where the marks are missing.
    """
    print_into(folder / CALIBRATION, "looks", _whole(looks, LOOK_COLUMNS))


def write_real_traces(folder: Path, table: pd.DataFrame, bounds: pd.DataFrame) -> None:
    """Replace what stands between the marks of the pages in `folder` by what held on real traces, and what is asked.

    Raises
    ------
    ValueError
        Where the marks are missing.
    """
    asked = _whole(bounds, BOUND_COLUMNS)
    whole = f"{asked}\n\n{_folded('Every figure on real traces', _whole(table, REAL_COLUMNS))}"
    print_into(folder / CALIBRATION, "real traces", whole)
    print_into(folder / LIMITS, "real traces", _too_seldom(table))


def write_other_family(folder: Path, table: pd.DataFrame) -> None:
    """Replace what stands between its marks by what held on invented wearers of the second family.

    Raises
    ------
    ValueError
        Where the marks are missing.
    """
    over_all = table["kind"] == "all kinds"
    by_kind = _folded("Every kind of the second family", _whole(table[~over_all], FAMILY_COLUMNS))
    print_into(folder / CALIBRATION, "other family", f"{_whole(table[over_all], FAMILY_COLUMNS)}\n\n{by_kind}")


def print_into(path: Path, name: str, markdown: str) -> None:
    """Replace what stands between the marks of that name.

    Raises
    ------
    ValueError
        Where the marks are missing.
    """
    begin, end = f"<!-- {name}: begin -->", f"<!-- {name}: end -->"
    text = path.read_text(encoding="utf-8")
    before, begun, rest = text.partition(begin)
    _, ended, after = rest.partition(end)
    if not begun or not ended:
        raise ValueError(f"{path} has no place for it: {begin} … {end}")
    path.write_text(f"{before}{begin}\n{markdown}\n{end}{after}", encoding="utf-8")


def _overview(figures: pd.DataFrame) -> str:
    """A row a figure: its error ratio with six checks, and between which kinds its hold lies."""
    rows = []
    for figure, mine in figures.dropna(subset=["hold"]).groupby("figure", sort=False):
        first, low, high = mine.iloc[0], mine.loc[mine["hold"].idxmin()], mine.loc[mine["hold"].idxmax()]
        rows.append([
            figure, first["kind"], _short(first["bias"]), _short(first["ratio"]), _short(first["width"]),
            f"{low['hold']:.2f} ({low['kind']})", f"{high['hold']:.2f} ({high['kind']})",
        ])  # fmt: skip
    return _table(["figure", "kind", "bias", "error ratio", "width", "holds least", "holds most"], rows)


def _too_seldom(table: pd.DataFrame) -> str:
    """A row a figure whose intervals contain the truth too seldom somewhere: of which kinds, the fewest first."""
    below = table[table["hold"].round(2) < LEAST_HOLD].sort_values("hold", kind="stable")
    rows = [
        [str(figure), "; ".join(f"{kind} {hold:.2f}" for kind, hold in zip(mine["kind"], mine["hold"], strict=True))]
        for figure, mine in below.groupby("figure", sort=False)
    ]
    return _table(["figure", "contains the truth"], rows)


def _whole(table: pd.DataFrame, columns: dict[str, str]) -> str:
    """Every row of a summary, its columns named for the reader."""
    rows = [[_cell(name, row[name]) for name in columns] for row in table.to_dict("records")]
    return _table(list(columns.values()), rows)


def _cell(name: str, value: float | int | str) -> str:
    if isinstance(value, float):
        return _hold(value) if name in HOLDS else _short(value)
    return str(value)


def _short(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.3g}"


def _hold(value: float) -> str:
    if pd.isna(value):
        return "-"
    # rounded first, so that what is printed as 0.85 is not called too little
    return f"{value:.2f}" if round(value, 2) >= LEAST_HOLD else f"**{value:.2f}**"


def _table(header: list[str], rows: list[list[str]]) -> str:
    lines = [header, ["---"] * len(header), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _folded(title: str, table: str) -> str:
    return f"<details><summary>{title}</summary>\n\n{table}\n\n</details>"
