"""Going on from a report's tables: the same question in Python, by a data-frame library, and in SQL.

    python scripts/tables_example.py reports/demo/report

What does each power system draw on average in the air, and does it draw more on some days? The first
answer also stands in findings.json, so the example checks itself against it. Needs polars, duckdb and
pyarrow; `scripts/reference` has them.
"""

import json
import sys
from pathlib import Path

import duckdb
import polars as pl
import pyarrow.parquet as pq

report = Path(sys.argv[1])
tables = report / "tables"
findings = json.loads((report / "findings.json").read_text())

# Every column has its unit, a UCUM code, in its field metadata.
unit = pq.read_schema(tables / "flights.parquet").field("mean_power_w").metadata[b"unit"].decode()

# In Python: one row a flight; flights without a current sensor have an estimate only.
flights = pl.read_parquet(tables / "flights.parquet")
measured = flights.filter(pl.col("has_current"))
by_power = measured.group_by("power").agg(pl.col("mean_power_w").mean(), pl.len().alias("flights")).sort("power")
print(by_power.rename({"mean_power_w": f"mean power, {unit}"}))

# In SQL, straight over the file.
QUERY = """
SELECT power, avg(mean_power_w) AS mean_power, count(*) AS flights
FROM 'flights.parquet' WHERE has_current GROUP BY power ORDER BY power
"""
BY_DAY = """
WITH held AS (SELECT flight, avg(throttle) AS held_throttle FROM 'holds.parquet' GROUP BY flight)
SELECT power, day, avg(mean_power_w) AS mean_power, avg(held_throttle) AS held_throttle, count(*) AS flights
FROM 'flights.parquet' LEFT JOIN held USING (flight) WHERE has_current GROUP BY ALL ORDER BY ALL
"""


def sql(query):
    for name in ("flights", "holds"):
        query = query.replace(f"'{name}.parquet'", f"read_parquet('{tables / name}.parquet')")
    return duckdb.sql(query)


print(sql(BY_DAY))

# The same numbers three times: data frame, SQL, findings.json.
told = {
    q["candidate"]: q["estimates"]["mean_power_in_flight"]
    for q in findings["questions"]
    if q["question"] == "power-and-duration" and "mean_power_in_flight" in q["estimates"]
}
rows = {power: (mean, count) for power, mean, count in by_power.iter_rows()}
assert told and set(told) == set(rows), f"findings.json has {sorted(told)}, the tables {sorted(rows)}"
for power, mean, count in sql(QUERY).fetchall():
    estimate = told[power]
    assert estimate["unit"] == unit, f"{power}: {estimate['unit']} in findings.json, {unit} in the table"
    assert rows[power][1] == count == estimate["basis"]["counts"]["flights"], f"{power}: {count} flights"
    for got in (mean, rows[power][0]):
        assert abs(got - estimate["value"]) <= 1e-12 * mean, f"{power}: {got!r}, findings.json {estimate['value']!r}"
print(f"{len(told)} mean powers agree between data frame, SQL and findings.json")
