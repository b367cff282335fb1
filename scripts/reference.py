"""Recomputes statistics of a season from its Parquet tables and compares them with findings.json.

The formulas are written anew, with NumPy, SciPy and statsmodels; nothing is shared with the program
but the constants that its documentation states (exponents of speed and current with voltage).
"""

import itertools
import json
import math
import sys
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import statsmodels.api as sm
from scipy import optimize, stats
from statsmodels.stats.multitest import multipletests

SPEED_EXPONENT, CURRENT_EXPONENT = 0.97, 1.88

folder = Path(sys.argv[1])
findings = json.loads((folder / "findings.json").read_text())
flights = pq.read_table(folder / "tables" / "flights.parquet").to_pylist()
static = pq.read_table(folder / "tables" / "static_gains.parquet").to_pylist()
budgets = pq.read_table(folder / "tables" / "gain_budgets.parquet").to_pylist()
pack_flights = pq.read_table(folder / "tables" / "pack_flights.parquet").to_pylist()
points = pq.read_table(folder / "tables" / "bench_points.parquet").to_pylist()

done = {}
wrong = []


def check(name, got, expected, tolerance=1e-9):
    """Relative, absolute below 1e-3 (gains of a tenth of a percent)."""
    done[name] = done.get(name, 0) + 1
    if (got is None) != (expected is None):
        wrong.append(f"{name}: findings.json has {got}, reference {expected}")
    elif got is not None and not abs(got - expected) <= tolerance * max(abs(expected), 1e-3):
        wrong.append(f"{name}: findings.json has {got!r}, reference {expected!r}")


def mean(values):
    values = [v for v in values if v is not None]
    return sum(values) / len(values) if values else None


def charge_half_width(power):
    widths = [
        (f["charge_high_mah"] - f["charge_low_mah"]) / (2 * f["charge_mah"])
        for f in flights
        if f["power"] == power and f["has_current"] and f["charge_mah"]
    ]
    return float(np.median(widths))


def conditions(powers):
    """Terminal voltage, and open-circuit voltage with resistance, that speeds are brought to."""
    of = [[f for f in flights if f["power"] == p] for p in powers]
    over = lambda pick: mean([mean([pick(f) for f in fs]) for fs in of])
    sag = lambda f: (
        (f["pass_open_circuit_v"] - f["pass_voltage_v"]) / f["pass_current_a"]
        if f["pass_open_circuit_v"] and f["pass_voltage_v"] and f["pass_current_a"]
        else None
    )
    return (
        over(lambda f: f["pass_voltage_v"]),
        over(lambda f: f["pass_open_circuit_v"]),
        over(sag),
    )


def states(powers):
    """Voltage and current on the passes; a system's mean stands in for what is missing."""
    means = {}
    for p in powers:
        own = [f for f in flights if f["power"] == p and f["pass_voltage_v"] is not None]
        full = [f for f in own if f["pass_current_a"] is not None] or own
        means[p] = (mean([f["pass_voltage_v"] for f in full]), mean([f["pass_current_a"] for f in full]))
    out = {}
    for f in flights:
        if f["power"] not in powers or f["level_speed_m_s"] is None:
            continue
        volts, amps = f["pass_voltage_v"], f["pass_current_a"]
        m = means[f["power"]]
        if volts is None:
            volts, amps = m
        elif amps is None and m[1] is not None:
            amps = m[1] * (volts / m[0]) ** CURRENT_EXPONENT
        out[f["flight"]] = (volts, amps)
    return out


def log_speeds(powers, pack):
    """ln of level top speed of each flight at the same terminal voltage, or as on the same pack."""
    volts, open_circuit, resistance = conditions(powers)
    out = {}
    for name, (v, i) in states(powers).items():
        at = volts
        if pack:
            falls = lambda x: x - open_circuit + resistance * i * (x / v) ** CURRENT_EXPONENT
            at = optimize.brentq(falls, 1e-6, open_circuit, xtol=1e-14, rtol=1e-15)
        speed = next(f["level_speed_m_s"] for f in flights if f["flight"] == name)
        out[name] = math.log(speed) + SPEED_EXPONENT * math.log(at / v)
    return out


def design(rows, candidate, covariate=None):
    """Intercept, days, covariate, airframes, fan (last)."""
    columns, names = [np.ones(len(rows))], ["1"]
    for key in ("day", "airframe"):
        if key == "airframe" and covariate is not None:
            values = np.array([f[covariate] for f in rows], float)
            columns.append(values - values.mean())
            names.append(covariate)
        for level in sorted({f[key] for f in rows})[1:]:
            columns.append(np.array([float(f[key] == level) for f in rows]))
            names.append(f"{key} {level}")
    columns.append(np.array([float(f["power"] == candidate) for f in rows]))
    names.append("fan")
    return np.column_stack(columns), names


def unequal(x, y):
    """Standard error and degrees of freedom of the last column's coefficient, a 0/1 column whose two
    sides scatter by amounts of their own: unbiased quadratic estimates of both variances (Rao 1970),
    Satterthwaite's degrees of freedom at variances to which one pooled degree of freedom is added,
    never above those of equal scatter. By matrices as they stand."""
    n, share = len(y), x[:, -1]
    hat = x @ np.linalg.pinv(x)
    maker, weights = np.eye(n) - hat, np.linalg.pinv(x)[-1]
    sides = [np.diag(1 - share), np.diag(share)]
    trace = lambda *m: np.trace(np.linalg.multi_dot(m))
    sums = np.array([[trace(maker, v, maker, w) for w in sides] for v in sides])
    assert np.linalg.matrix_rank(sums, tol=1e-9) == 2, "both sides were expected to tell their scatter"
    solve = np.linalg.inv(sums)
    residuals = maker @ y
    found = solve @ [residuals @ v @ residuals for v in sides]
    count = solve @ [weights @ v @ weights for v in sides]
    combined = lambda c: maker @ (c[0] * sides[0] + c[1] * sides[1]) @ maker
    form, forms = combined(count), [combined(row) for row in solve]
    variance = y @ form @ y
    alike = np.trace(form) ** 2 / trace(form, form)
    freedom = np.array([np.trace(f) ** 2 / trace(f, f) for f in forms])
    pooled = residuals @ residuals / np.trace(maker)
    drawn = (freedom * np.maximum(found, 0) + pooled) / (freedom + 1)
    scatter = np.diag(drawn[0] * (1 - share) + drawn[1] * share)
    satterthwaite = np.trace(form @ scatter) ** 2 / trace(form, scatter, form, scatter)
    return math.sqrt(variance), min(max(satterthwaite, 1), alike)


def half(estimate, end):
    """Half-width of a gain's interval on the log scale."""
    return abs(math.log1p(estimate[end]) - math.log1p(estimate["value"]))


def t_factor(df, p=0.975):
    return stats.norm.ppf(p) if math.isinf(df) else stats.t.ppf(p, df)


def fieller(numerator, denominator):
    """Ends of {theta: (a - theta b)^2 <= T_a^2 + theta^2 T_b^2} where that is an interval."""
    (a, a_parts), (b, b_parts) = numerator, denominator
    reach = lambda parts: math.sqrt(sum((t_factor(df) * u) ** 2 for u, df in parts))
    ta, tb = reach(a_parts), reach(b_parts)
    beyond = lambda theta: abs(a - theta * b) - math.hypot(ta, theta * tb)
    centre, far = a / b, 1.0
    while beyond(centre + far) < 0 or beyond(centre - far) < 0:
        far *= 2
        assert far < 1e6, "the set is not an interval"
    solve = lambda low, high: optimize.brentq(beyond, low, high, xtol=1e-13, rtol=1e-14)
    return solve(centre - far, centre), solve(centre, centre + far)


def gain_row(pair, quantity, condition):
    return next(
        r
        for r in static
        if (r["baseline"], r["candidate"], r["quantity"], r["condition"]) == (*pair, quantity, condition)
    )


def carry_over(answer, covariate):
    pair = (answer["baseline"], answer["candidate"])
    estimates = answer["estimates"]
    for pack, name in ((True, "same_pack"), (False, "same_terminal_voltage")):
        key = f"observed_speed_gain_{name}"
        logs = log_speeds(pair, pack)
        rows = [f for f in flights if f["flight"] in logs and (covariate is None or f[covariate] is not None)]
        y = np.array([logs[f["flight"]] for f in rows])
        x, names = design(rows, pair[1], covariate)
        assert np.linalg.matrix_rank(x) == x.shape[1], "the design was expected to have full rank"
        model = sm.OLS(y, x).fit()
        b = model.params[-1]
        se, df = unequal(x, y)
        alone = estimates[key + "_by_scatter_alone"]
        low, high = b - t_factor(df) * se, b + t_factor(df) * se
        check(f"gain, {name}", estimates[key]["value"], math.expm1(b))
        check("degrees of freedom", estimates[key]["at"]["degrees_of_freedom"]["value"], df)
        check("t interval of the gain", alone["low"], math.expm1(low))
        check("t interval of the gain", alone["high"], math.expm1(high))
        # What flights have wrong together widens both ends alike.
        common = [
            math.sqrt(max(half(estimates[key], end) ** 2 - half(alone, end) ** 2, 0)) / stats.norm.ppf(0.975)
            for end in ("low", "high")
        ]
        check("shared error, both ends", common[0], common[1], 1e-6)
        if covariate is not None and pack:
            slope = estimates["level_speed_change_by_charge_used"]
            at = names.index(covariate)
            low, high = model.conf_int(0.05)[at]
            check("covariate slope", slope["value"], math.expm1(0.1 * model.params[at]))
            check("covariate slope", slope["low"], math.expm1(0.1 * low))
            check("covariate slope", slope["high"], math.expm1(0.1 * high))
        if not pack:
            shares(estimates, pair, (b, se, df, common[0]))
            continue
        total = math.hypot(se, common[0])
        check("p of no gain", estimates["p_no_gain"]["value"], 2 * stats.t.sf(abs(b) / total, df), 1e-7)
        if "p_difference_that_matters" in estimates:
            m = math.log1p(estimates["margin"]["value"])
            p = max(stats.t.sf((b + m) / total, df), stats.t.cdf((b - m) / total, df))
            check("two one-sided tests", estimates["p_difference_that_matters"]["value"], p, 1e-6)
        robust = sm.RLM(y, x, M=sm.robust.norms.HuberT(1.345)).fit(maxiter=5000, tol=1e-14)
        check("Huber's fit", estimates["gain_by_robust_fit"]["value"], math.expm1(robust.params[-1]), 1e-6)
        leave_one_out(answer, pair[1], rows, y, covariate)
        permutation(estimates, rows, y, pair[1], covariate)
    bench(answer, pair)


def leave_one_out(answer, candidate, rows, y, covariate):
    table = next(t for t in findings["tables"] if t["id"] == f"influence-{answer['id']}")
    told = {row[0]: row for row in table["rows"]}
    x, _ = design(rows, candidate, covariate)
    weights = np.linalg.pinv(x)[-1]
    for i, flight in enumerate(rows):
        rest = rows[:i] + rows[i + 1 :]
        x, _ = design(rest, candidate, covariate)
        b = sm.OLS(np.delete(y, i), x).fit().params[-1]
        check("gain without one flight", told[flight["flight"]][4]["value"], math.expm1(b))
        check("weight of one flight", told[flight["flight"]][3], weights[i])


def permutation(estimates, rows, y, candidate, covariate):
    """Fans re-dealt among flights of one day with one airframe, every arrangement."""
    cells = {}
    for i, f in enumerate(rows):
        cells.setdefault((f["day"], f["airframe"]), []).append(i)
    if covariate is not None:
        x = np.column_stack(
            [[float((f["day"], f["airframe"]) == c) for f in rows] for c in cells]
            + [[f[covariate] for f in rows]]
        )
        y = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
    flew = np.array([f["power"] == candidate for f in rows])
    sums = [0.0]
    observed, dealt = 0.0, False
    for cell in cells.values():
        values = y[cell] - y[cell].mean()
        k = int(flew[cell].sum())
        if 0 < k < len(cell):
            dealt = True
            observed += values[flew[cell]].sum()
            sums = [s + values[list(c)].sum() for s in sums for c in itertools.combinations(range(len(cell)), k)]
    told = estimates.get("permutation_p", {}).get("value")
    p = np.mean([abs(s) >= abs(observed) - 1e-12 for s in sums]) if dealt else None
    check("permutation", told, p)


def shares(estimates, pair, flown):
    """The carry-over fraction of both reference cases."""
    b, se, df, common = flown
    gain = math.expm1(b)
    for case, quantity in (("from_thrust", "thrust"), ("from_power", "power")):
        row = gain_row(pair, quantity, "same_terminal_voltage")
        g, u = row["gain"], row["u"]
        reference, slope = (
            (math.sqrt(1 + g) - 1, 0.5 / math.sqrt(1 + g))
            if case == "from_thrust"
            else (math.cbrt(1 + g) - 1, (1 + g) ** (-2 / 3) / 3)
        )
        told = estimates[f"reference_speed_gain_{case}"]
        check("reference case", told["value"], reference)
        rows = [gain_row(pair, q, "same_terminal_voltage") for q in ("thrust", "power")]
        fewest = max(1.0, min(r["degrees_of_freedom"] for r in rows))
        check("reference case", told["high"], reference + stats.t.ppf(0.975, fewest) * slope * u, 1e-6)
        fraction = estimates.get(f"carry_over_fraction_{case}")
        low, high = fieller(
            (gain, [((1 + gain) * se, df), ((1 + gain) * common, math.inf)]),
            (reference, [(slope * u, row["degrees_of_freedom"] or math.inf)]),
        )
        check("carry-over fraction", fraction["value"], gain / reference)
        # The shared error is read back from rounded interval ends.
        check("carry-over fraction", fraction["low"], low, 1e-6)
        check("carry-over fraction", fraction["high"], high, 1e-6)


def bench(answer, pair):
    for row in static:
        if (row["baseline"], row["candidate"]) != pair or row["gain"] is None:
            continue
        df = row["degrees_of_freedom"] or math.inf
        if row["baseline_value"] is not None:
            check("static gain", row["gain"], row["candidate_value"] / row["baseline_value"] - 1)
        check("static gain's interval", row["low"], row["gain"] - t_factor(df) * row["u"])
        check("static gain's interval", row["high"], row["gain"] + t_factor(df) * row["u"])
        parts = [
            b
            for b in budgets
            if (b["baseline"], b["candidate"], b["quantity"], b["condition"])
            == (*pair, row["quantity"], row["condition"])
        ]
        check("budget adds up", sum(b["share"] for b in parts), 1.0)
        check("budget adds up", math.sqrt(sum(b["u"] ** 2 for b in parts)), row["u"])
        for b in parts:
            assert b["half_width_if_halved"] <= b["half_width"] * (1 + 1e-9), b
            check("budget's half-width", b["half_width"], t_factor(df) * row["u"])
    # As measured: mean of the full-throttle readings of each side at its highest voltage.
    for quantity, column in (("thrust", "thrust_n"), ("current", "current_a")):
        means = []
        for power in pair:
            full = [p for p in points if p["power"] == power and (p["throttle"] or 0) >= 0.95]
            top = max(p["voltage_v"] for p in full)
            means.append(mean([p[column] for p in full if p["voltage_v"] * 1.05 >= top]))
        check("simple ratio", gain_row(pair, quantity, "as_measured")["gain"], means[1] / means[0] - 1)


carry = [q for q in findings["questions"] if q["question"] == "carry-over"]
for answer, covariate in zip(carry, (None, "pass_charge_used"), strict=True):
    carry_over(answer, covariate)
adjusted = multipletests([q["estimates"]["p_no_gain"]["value"] for q in carry], method="holm")[1]
for answer, p in zip(carry, adjusted):
    check("Holm", answer["estimates"]["p_no_gain_holm"]["value"], p)

for answer in findings["questions"]:
    estimates = answer["estimates"]
    if answer["question"] == "pack":
        pack = answer["id"].removeprefix("pack-")
        flown = [f["flight"] for f in flights if f["pack"] == pack]
        of = [r for r in pack_flights if r["pack"] == pack and r["resistance_ohm"] is not None]
        values = [r["resistance_ohm"] for r in of]
        places = [flown.index(r["flight"]) for r in of]
        n, m = len(values), np.mean(values)
        reach = stats.t.ppf(0.975, n - 1) * np.std(values, ddof=1) / math.sqrt(n)
        check("mean over flights", estimates["resistance"]["value"], 1000 * m)
        # The sensors' accuracy is their own: the largest relative half-width of the charge.
        fans = {f["power"] for f in flights if f["pack"] == pack}
        own = max(charge_half_width(fan) for fan in fans)
        check("mean over flights", estimates["resistance"]["high"], 1000 * (m + math.hypot(reach, own * m)))
        if "resistance_change_per_flight" in estimates:
            slope, _, low, high = stats.theilslopes(values, places, 0.95)
            told = estimates["resistance_change_per_flight"]
            check("Theil-Sen", told["value"], slope / m)
            check("Theil-Sen", told["low"], low / m)
            check("Theil-Sen", told["high"], high / m)
    if answer["question"] == "power-and-duration":
        method = estimates.get("timer", {}).get("basis", {}).get("method", "")
        if "k = " in method:
            n = int(method.split(" flights")[0].split()[-1])
            k = stats.nct.ppf(0.95, n - 1, stats.norm.ppf(0.95) * math.sqrt(n)) / math.sqrt(n)
            check("tolerance factor", float(method.split("k = ")[1].split(")")[0]), round(k, 2))
    if answer["question"] == "sisters":
        first, second = answer["baseline"], answer["candidate"]
        pair = (carry[0]["baseline"], carry[0]["candidate"])
        logs = log_speeds(pair, True)
        rows = [f for f in flights if f["flight"] in logs]
        x, names = design(rows, pair[1])
        model = sm.OLS([logs[f["flight"]] for f in rows], x).fit()
        effect = model.params[names.index(f"airframe {max(first, second)}")] * (1 if second > first else -1)
        check("airframe effect", estimates["level_speed_change_between_airframes"]["value"], math.expm1(effect))

expected = {
    "gain, same_pack",
    "gain, same_terminal_voltage",
    "t interval of the gain",
    "covariate slope",
    "p of no gain",
    "two one-sided tests",
    "Holm",
    "Huber's fit",
    "gain without one flight",
    "weight of one flight",
    "carry-over fraction",
    "reference case",
    "static gain",
    "static gain's interval",
    "budget adds up",
    "Theil-Sen",
    "mean over flights",
    "airframe effect",
}
wrong += [f"{name}: nothing to compare" for name in sorted(expected - done.keys())]
for name in sorted(done):
    print(f"{done[name]:4} x {name}")
for line in wrong:
    print(line, file=sys.stderr)
sys.exit(1 if wrong else 0)
