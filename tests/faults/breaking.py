"""How can a study folder be broken? Seeded mutations of files, rows, columns, cells and bytes."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np

WEAR = "wear_periods/winter"
LONG_CELL = 10**7
MANY_ROWS = 10**6

CELLS = (
    "NaN", "nan", "inf", "-inf", "1e308", "-1e308", "1e-320", "1e400", "-5", "0", "", " ", "=1+1", "@SUM(A1)", "'", '"',
    '""', "a\nb", "<script>alert(1)</script>", "../../etc/passwd", "0001-01-01T00:00", "9999-12-31T23:59:59",
    "2026-02-30T08:00", "2026-02-03", "2026-02-03T25:00", "2026-02-03T12:00+99:00", "2026-02-03T12:00Z", "1970", "١٢",
    "1,234", "1.234,5", "0x10", "1_000", "１２", "−5", "true", "maybe", "None", "null", "#N/A", "\u202eabc", "\u2028",
    "😀" * 50, "a" * 5000, "12:99", "travel", "America/Nowhere", "carbs", "fingerstick", "{}", "[1]", "%s%n", "\\",
    "9" * 400, "-9223372036854775808", "2026-02-04T00:00:00.123456789", "Infinity", "5e-324", "\x7f", "\x0b",
)  # fmt: skip
TOML_VALUES = (
    "", "nan", "inf", "-inf", "-1", "0", "1e308", "9" * 400, "true", '""', '"stone"', '"Mars/Olympus"', '"../../x"',
    "0001-01-01T00:00:00", "9999-12-31T23:59:59", "2026-02-03", "2026-02-03T08:00", "08:00:00", "[1, 2]", "{a = 1}",
    "'''", '"', "[[", "2026-13-01T00:00:00", '"<script>alert(1)</script>"', '"mg/dL"', '"mmol/L"', "1_000",
    '"Pacific/Apia"', '"Africa/Monrovia"', "2026-02-05T08:00:00+14:00", "1901-01-01T00:00:00", '"\\u0000"',
)  # fmt: skip
NAMES = (
    "..winter", "winter\nnew", "<img src=x onerror=alert(1)>", "it's", 'quo"te', "=cmd", "study", "Study", "CON",
    ".hidden", "w" * 200, " ", "a b", "ünïcode", "😀", "kept.sqlite", "winter.", "older",
)  # fmt: skip

Rng = np.random.Generator


def pick(rng: Rng, options):
    return options[int(rng.integers(len(options)))]


def table_files(root: Path) -> list[Path]:
    return [path for path in sorted(root.rglob("*.csv")) if path.is_file() and not path.is_symlink()]


def all_files(root: Path) -> list[Path]:
    return [path for path in sorted(root.rglob("*")) if path.is_file() and not path.is_symlink()]


def read_lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8", errors="surrogateescape").split("\n")


def write_lines(path: Path, lines: list[str]) -> None:
    path.write_text("\n".join(lines), encoding="utf-8", errors="surrogateescape", newline="")


def break_bytes(rng: Rng, path: Path) -> None:
    data = bytearray(path.read_bytes())
    at = int(rng.integers(len(data) + 1))
    how = int(rng.integers(9))
    if how == 0 and data:
        for place in rng.integers(len(data), size=int(rng.integers(1, 20))):
            data[int(place)] = int(rng.integers(256))
    elif how == 1:
        data[at:at] = rng.bytes(int(rng.integers(1, 300)))
    elif how == 2:
        del data[at : at + int(rng.integers(1, 2000))]
    elif how == 3:
        del data[at:]
    elif how == 4:
        data[at:at] = b"\0" * int(rng.integers(1, 50))
    elif how == 5:
        data[:0] = pick(rng, (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b"PK\x03\x04", b"\x1f\x8b"))
    elif how == 6:
        data = bytearray(bytes(data).decode("utf-8", "replace").encode(pick(rng, ("utf-16", "utf-32", "utf-7"))))
    elif how == 7:
        data = bytearray(bytes(data).replace(b"\n", pick(rng, (b"\r", b"\r\n", b"\n\n", b"\x0c", b"\xe2\x80\xa8"))))
    else:
        data[at:at] = bytes(data[: int(rng.integers(1, 4000))])
    path.write_bytes(bytes(data))


def break_rows(rng: Rng, path: Path) -> None:
    lines = read_lines(path)
    at, how = int(rng.integers(len(lines))), int(rng.integers(10))
    if how == 0:
        del lines[at]
    elif how == 1:
        lines[at:at] = [lines[at]] * int(rng.integers(1, 40))
    elif how == 2:
        lines = [lines[0], *rng.permutation(lines[1:]).tolist()]
    elif how == 3:
        lines[at:at] = [""] * int(rng.integers(1, 5))
    elif how == 4:
        lines[at] += ",more,cells"
    elif how == 5:
        lines[at:at] = [lines[0]]
    elif how == 6:
        lines = lines[: 1 + int(rng.integers(2))]
    elif how == 7:
        lines[at] = lines[at].replace(",", pick(rng, (";", "\t", "|", ",,")))
    elif how == 8:
        lines = [line.replace(",", pick(rng, (";", "\t", "|"))) for line in lines]
    else:
        lines[at] = lines[at][: int(rng.integers(len(lines[at]) + 1))] + '"'
    write_lines(path, lines)


def break_columns(rng: Rng, path: Path) -> None:
    rows = [line.split(",") for line in read_lines(path)]
    width, how = len(rows[0]), int(rng.integers(6))
    at, other = int(rng.integers(width)), int(rng.integers(width))
    full = [row for row in rows if len(row) == width]
    if how == 0:
        for row in full:
            del row[at]
    elif how == 1:
        for row in full:
            row.append(row[at])
    elif how == 2:
        rows[0][at] = pick(rng, (*CELLS, "Time", " time", "glucose", "note", "wear", "mean_mg_dl"))
    elif how == 3:
        for row in full:
            row[at], row[other] = row[other], row[at]
    elif how == 4:
        name = pick(
            rng, ("../x", "<script>alert(1)</script>", "=1+1", "ill", "coverage", "a\tb", "covariate:x", "é" * 99)
        )
        for i, row in enumerate(full):
            row.append(name if i == 0 else pick(rng, ("1", "2.5", "true", "", "x", "1e999")))
    else:
        for row in full[1:]:
            row[at] = pick(rng, CELLS)
    write_lines(path, [",".join(row) for row in rows])


def break_cells(rng: Rng, path: Path) -> None:
    rows = [line.split(",") for line in read_lines(path)]
    for _ in range(int(rng.integers(1, 6))):
        row = pick(rng, rows)
        cell = pick(rng, CELLS)
        row[int(rng.integers(len(row)))] = f'"{cell}"' if rng.random() < 0.3 else cell
    write_lines(path, [",".join(row) for row in rows])


def break_toml(rng: Rng, path: Path) -> None:
    lines = read_lines(path)
    keys = ("start", "end", "unit", "ended", "life_days", "warm_up_hours", "interval_min", "memory_hours", "time_zone",
            "reads_from_mg_dl", "reads_to_mg_dl", "mean_mg_dl", "mean_mmol_l", "worth_noticing_mg_dl", "by",
            "low_mg_dl", "under_18", "numbers", "sensor", "meter", "nonsense")  # fmt: skip
    at, value = int(rng.integers(len(lines))), pick(rng, TOML_VALUES)
    if rng.random() < 0.5 and "=" in lines[at]:
        lines[at] = f"{lines[at].split('=')[0]}= {value}"
    else:
        lines[at:at] = [f"{pick(rng, keys)} = {value}"]
    write_lines(path, lines)


def break_files(rng: Rng, path: Path) -> None:
    root = next(parent for parent in path.parents if (parent / "wear_periods").exists() or parent.name == "study")
    how = int(rng.integers(9))
    if how == 1:
        path.write_bytes(b"")
        return
    if how == 2:
        other = pick(rng, all_files(root))
        a, b = path.read_bytes(), other.read_bytes()
        path.write_bytes(b)
        other.write_bytes(a)
        return
    path.unlink()
    if how == 3:
        path.mkdir()
    elif how == 4:
        path.symlink_to(pick(rng, ("/etc/passwd", path.name, "nowhere", "..", "/dev/zero", "../../study.toml")))
    elif how == 5:
        os.mkfifo(path)
    elif how == 6:
        path.with_name(path.name.upper()).write_bytes(b"time,glucose\n")
    elif how == 7:
        path.write_bytes(b"{}" if path.suffix == ".csv" else b"a,b\n1,2\n")


def break_folders(rng: Rng, path: Path) -> None:
    """A wear renamed, copied under a bad name, or nested."""
    wear = path.parent
    if wear.parent.name != "wear_periods":
        return
    name = pick(rng, NAMES)
    if rng.random() < 0.5:
        wear.rename(wear.with_name(name))
    elif not wear.with_name(name).exists():
        copy = wear.with_name(name)
        copy.mkdir()
        for file in all_files(wear):
            (copy / file.name).write_bytes(file.read_bytes())


def break_readings(rng: Rng, path: Path) -> None:
    """Readings of a shape that nobody expects, whatever the file was."""
    glucose = path.parent / "glucose.csv"
    if not glucose.is_file() or glucose.is_symlink():
        return
    head, *rows = read_lines(glucose)
    how = int(rng.integers(8))
    if how == 0:
        rows = rows[:1]
    elif how == 1:
        rows = []
    elif how == 2:
        rows = ["2026-02-03T09:00,90,automatic", "2027-02-03T09:00,95,automatic"]
    elif how == 3:
        rows = [
            row.replace(row.split(",")[1], pick(rng, ("100", "39", "401", "0", "-1", "55555")))
            for row in rows
            if "," in row
        ]
    elif how == 4:
        rows = rows[:1] * int(rng.integers(2, 3000))
    elif how == 5:
        rows = [row.replace("2026", pick(rng, ("0001", "1969", "2100", "9999"))) for row in rows]
    elif how == 6:
        rows = rows[::-1]
    else:
        rows = [
            f"2026-02-03T{8 + i // 3600:02d}:{i // 60 % 60:02d}:{i % 60:02d},{90 + i % 3},automatic"
            for i in range(9000)
        ]
    write_lines(glucose, [head, *rows])


def break_hugely(rng: Rng, path: Path) -> None:
    """A cell of ten million characters, or a row a million times."""
    lines = read_lines(path)
    at = int(rng.integers(len(lines)))
    if rng.random() < 0.5:
        lines[at] += pick(rng, ("x", "9", " ", '"')) * LONG_CELL
    else:
        lines[at:at] = [lines[at]] * MANY_ROWS
    write_lines(path, lines)


Breaker = Callable[[Rng, Path], None]
OF_TABLES: tuple[Breaker, ...] = (
    break_bytes, break_rows, break_columns, break_cells, break_cells, break_files, break_folders, break_readings,
)  # fmt: skip
OF_TOML: tuple[Breaker, ...] = (break_bytes, break_toml, break_toml, break_toml, break_files)
HUGE_SHARE = 0.004


def break_study(rng: Rng, root: Path) -> list[str]:
    """Break a study one to three times; what was done, in words."""
    done = []
    for _ in range(int(rng.integers(1, 4))):
        files = [path for path in all_files(root) if path.suffix in (".csv", ".toml")]
        if not files:
            break
        path = pick(rng, files)
        breakers = OF_TOML if path.suffix == ".toml" else OF_TABLES
        breaker = break_hugely if rng.random() < HUGE_SHARE else pick(rng, breakers)
        breaker(rng, path)
        done.append(f"{breaker.__name__}({path.relative_to(root)})")
    return done


def break_file(rng: Rng, path: Path) -> list[str]:
    """Break a file to be brought once or twice; what was done, in words."""
    done = []
    for _ in range(int(rng.integers(1, 3))):
        text = path.suffix not in (".xlsx",)
        breaker = pick(rng, (break_bytes, break_rows, break_columns, break_cells)) if text else break_bytes
        breaker(rng, path)
        done.append(f"{breaker.__name__}({path.name})")
    return done
