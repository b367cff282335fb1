"""Measures `benchborne run` against two other ways through the same files, and prints a table.

Each measurement is a process of its own: wall, CPU (user and system) and peak memory as the operating
system counts them (wait4). The files are read once before, so that no measurement waits for the disk.
"""

import csv
import os
import platform
import shutil
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
RELEASE = ROOT / "target" / "release"
WORK = ROOT / "target" / "bench"
REPEATS = 3

SCAN = """
import sys, polars as pl
import polars.selectors as cs
print(pl.scan_csv(sys.argv[1] + '/logs/*.csv').select(cs.numeric().mean()).collect())
"""

# What a pilot who knows data frames would write: means of throttle holds, speeds of passes.
FRAMES = """
import glob, sys
import numpy as np, pandas as pd

def runs(mask):
    edges = np.flatnonzero(np.diff(np.r_[0, mask.astype(np.int8), 0]))
    return edges.reshape(-1, 2)

holds, passes = [], []
for name in sorted(glob.glob(sys.argv[1] + '/logs/*.csv')):
    log = pd.read_csv(name)
    t, throttle = log['time (s)'].to_numpy(), log['throttle (%)'].to_numpy()
    speed = log['GPS speed (m/s)'].to_numpy()
    steady = log['throttle (%)'].rolling(100).std().to_numpy() < 1.0
    log['bin'] = (throttle / 5).round() * 5
    holds.append(log[steady].groupby('bin')[['voltage (V)', 'current (A)', 'power (W)']].mean())
    for a, b in runs((throttle > 97) & (speed > 15)):
        if t[b - 1] - t[a] > 3:
            passes.append((name, t[a], t[b - 1], speed[a:b].max()))
holds = pd.concat(holds).groupby('bin').mean()
passes = pd.DataFrame(passes, columns=['file', 'from', 'to', 'top'])
print(holds)
print(len(passes), passes['top'].mean())
"""


def measure(command):
    """Wall s, CPU s, peak MB of a process."""
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = child.stderr.read()
    _, status, usage = os.wait4(child.pid, 0)
    wall = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status) != 0:
        sys.exit(f"{command} failed:\n{said.decode()[-2000:]}")
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def best(command, before=lambda: None, repeats=REPEATS):
    """The quickest of some: what else the machine does only ever adds."""
    found = []
    for _ in range(repeats):
        before()
        found.append(measure(command))
    return min(found)


def season(flights):
    folder = WORK / f"season-{flights}"
    if not (folder / "logbook.csv").exists():
        make = ROOT / "target" / "debug" / "examples" / "make_flights"
        subprocess.run([make, folder, str(flights)], check=True)
    for log in folder.glob("logs/*.csv"):
        log.read_bytes()
    return folder


def megabytes(folder):
    return sum(f.stat().st_size for f in folder.glob("logs/*.csv")) / 1e6


def of_size(flights):
    folder, out = season(flights), WORK / f"out-{flights}"
    store = out.with_name(out.name + ".cache")
    run = [RELEASE / "benchborne", "run", folder, "--out", out]
    tables = [*run, "--no-pages"]
    repeats = REPEATS if flights < 1000 else 1

    def fresh():
        for made in out, store:
            shutil.rmtree(made, ignore_errors=True)

    rows = {
        "scan, polars": best([sys.executable, "-c", SCAN, folder], repeats=repeats),
        "script, pandas and NumPy": best([sys.executable, "-c", FRAMES, folder], repeats=repeats),
        "run, no pages, no store": best([*tables, "--no-cache"], fresh, repeats),
        "run, cold": best(run, fresh, repeats),
        "run, again": best(run, repeats=repeats),
        "run, no pages, cold": best(tables, fresh, repeats),
        "run, no pages, again": best(tables, repeats=repeats),
    }
    more = folder / "logs" / "f9999.csv"
    logbook = (folder / "logbook.csv").read_text()
    first = folder / "logs" / "f0000.csv"
    # The first flight's readings one row later: a new record, not a copy.
    lines = first.read_text().splitlines(keepends=True)
    row = logbook.splitlines()[1].replace("f0000,", "f9999,", 1).replace("f0000.csv", "f9999.csv")
    try:
        more.write_text("".join(lines[:1] + lines[3:]))
        (folder / "logbook.csv").write_text(logbook + row + "\n")
        rows["run, no pages, one flight added"] = measure(tables)
    finally:
        more.unlink(missing_ok=True)
        (folder / "logbook.csv").write_text(logbook)
    return megabytes(folder), rows


QUERIES = [
    "SELECT power, count(*) AS flights, avg(energy_wh) AS wh, max(peak_current_a) AS peak_a "
    "FROM flights GROUP BY power ORDER BY power",
    "SELECT f.airframe, count(*) AS holds, avg(h.current_a) AS a FROM holds AS h "
    "JOIN flights AS f ON h.flight = f.flight WHERE h.throttle > 0.95 GROUP BY f.airframe ORDER BY f.airframe",
    "SELECT flight, count(*) AS points, max(height_m) AS m FROM strips WHERE flight = 'f0003' GROUP BY flight",
]


def queries():
    """The same SQL over every report's tables by two engines; stops where they differ."""
    import duckdb
    import polars as pl

    duck, context = duckdb.connect(), pl.SQLContext()
    for table in ["flights", "holds", "strips"]:
        files = str(WORK / "out-*" / "tables" / f"{table}.parquet")
        duck.execute(f"CREATE VIEW {table} AS SELECT * FROM read_parquet('{files}')")
        context.register(table, pl.scan_parquet(files))
    close = lambda a, b: abs(a - b) <= 1e-12 * abs(b) if isinstance(a, float) else a == b
    for sql in QUERIES:
        start = time.perf_counter()
        one = duck.execute(sql).fetchall()
        half = time.perf_counter()
        other = context.execute(sql, eager=True).rows()
        end = time.perf_counter()
        same = len(one) == len(other) > 0
        if not same or not all(close(a, b) for x, y in zip(one, other) for a, b in zip(x, y)):
            sys.exit(f"two engines differ on: {sql}\n{one}\n{other}")
        print(f"two engines agree ({len(one)} rows; {half - start:.3f} s, {end - half:.3f} s): {sql}")


def main():
    sizes = [int(n) for n in sys.argv[1:]]
    WORK.mkdir(parents=True, exist_ok=True)
    table = []
    for flights in sizes:
        size, rows = of_size(flights)
        scan, script = rows["scan, polars"], rows["script, pandas and NumPy"]
        for way, (wall, cpu, peak) in rows.items():
            table.append(
                [flights, f"{size:.0f}", way, f"{wall:.3f}", f"{cpu:.2f}", f"{peak:.0f}",
                 f"{wall / scan[0]:.2f}", f"{cpu / scan[1]:.2f}", f"{script[0] / wall:.2f}",
                 f"{script[1] / cpu:.2f}"]
            )
            print(*table[-1], sep="\t", flush=True)
    queries()
    cores = os.cpu_count()
    with open(ROOT / "datasets" / "studies" / "bench.csv", "w", newline="") as out:
        out.write(
            f"# Whole processes on {cores} cores of a virtual machine ({platform.machine()}), files in the "
            f"page cache, quickest of three (one at 1000 flights), load average {os.getloadavg()[1]:.1f};\n"
            "# made by scripts/bench. Flights of ten minutes at 50 Hz with 16 columns.\n"
            "# Where others keep the machine busy, CPU s compare better than wall s.\n"
        )
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(
            ["flights", "size_mb", "way", "wall_s", "cpu_s", "peak_mb", "wall_over_scan", "cpu_over_scan",
             "script_wall_over", "script_cpu_over"]
        )
        writer.writerows(table)


main()
