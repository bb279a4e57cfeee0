"""The work of one report done with pandas, statsmodels and matplotlib: what the program is measured against.

Reads a small log, fits taper and barrel per pass by a mixed model (REML, random slope per pass), least squares and a robust
fit beside it, the usual residual checks, a Monte Carlo budget, four residual pictures as SVG, one HTML page and one JSON file.

usage: same_work.py LOG.csv OUT_FOLDER
"""
import io
import json
import sys
import warnings
from pathlib import Path

import matplotlib
matplotlib.use("svg")
import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import statsmodels.api as sm
import statsmodels.formula.api as smf
from scipy import stats
from statsmodels.stats.stattools import durbin_watson

warnings.simplefilter("ignore")


def picture(draw):
    figure, axes = plt.subplots(figsize=(6, 3.5))
    draw(axes)
    text = io.StringIO()
    figure.savefig(text, format="svg")
    plt.close(figure)
    return text.getvalue()


def main(log, out):
    data = pd.read_csv(log)
    station = data["station_mm"]
    low, high = station.min(), station.max()
    x = (2 * station - low - high) / (high - low)
    data["p1"], data["p2"] = x, 1.5 * x**2 - 0.5
    data["cut"] = range(1, len(data) + 1)
    data["cut_number"] = data["pass"]

    plain = smf.ols("diameter_mm ~ 0 + C(cut_number) + p1 + p2", data).fit()
    first = smf.ols("diameter_mm ~ 0 + C(cut_number) + p1", data).fit()
    third = smf.ols("diameter_mm ~ 0 + C(cut_number) + p1 + p2 + I(p1**3)", data).fit()
    orders = sm.stats.anova_lm(first, plain, third)
    mixed = smf.mixedlm("diameter_mm ~ C(cut_number) + p1 + p2", data, groups="pass", re_formula="0 + p1").fit(reml=True)
    robust = smf.rlm("diameter_mm ~ 0 + C(cut_number) + p1 + p2", data, M=sm.robust.norms.HuberT()).fit()
    taper, error = 2 * mixed.params["p1"], 2 * mixed.bse["p1"]
    influence = plain.get_influence()

    draws = np.random.default_rng(1)
    n = 100_000
    budget = (
        taper
        + error * draws.standard_t(plain.df_resid, n)
        + draws.uniform(-1, 1, n) * 2 * 11.5e-6 * data["diameter_mm"].mean()
        + draws.uniform(-0.0005, 0.0005, n)
    )
    interval = np.quantile(budget, [0.025, 0.975])

    result = {
        "taper_mm": taper,
        "standard_uncertainty_mm": budget.std(ddof=1),
        "interval95_mm": list(interval),
        "barrel_mm": -1.5 * mixed.params["p2"],
        "robust_taper_mm": 2 * robust.params["p1"],
        "order_p": [None if np.isnan(p) else p for p in orders["Pr(>F)"]],
        "durbin_watson": durbin_watson(plain.resid),
        "normality_p": stats.shapiro(plain.resid).pvalue,
        "equal_spread_p": stats.levene(*[group for _, group in plain.resid.groupby(data["pass"])]).pvalue,
        "largest_cook": influence.cooks_distance[0].max(),
        "outliers": int((np.abs(influence.resid_studentized_external) > 3.5).sum()),
    }

    def bar(axes):
        for number, group in data.groupby("pass"):
            axes.plot(group["station_mm"], group["diameter_mm"], "o", label=f"pass {number}")
            axes.plot(group["station_mm"], plain.fittedvalues[group.index])
        axes.legend()

    pictures = [
        picture(bar),
        picture(lambda axes: axes.plot(station, plain.resid, "o")),
        picture(lambda axes: axes.plot(data["cut"], plain.resid, "o")),
        picture(lambda axes: axes.plot(plain.fittedvalues, plain.resid, "o")),
        picture(lambda axes: stats.probplot(plain.resid, plot=axes)),
    ]
    out.mkdir(parents=True, exist_ok=True)
    (out / "result.json").write_text(json.dumps(result, indent=2, default=float))
    table = data.assign(fitted=plain.fittedvalues, residual=plain.resid).to_html()
    page = "<!doctype html><title>Report</title><pre>" + str(mixed.summary()) + "</pre>" + "".join(pictures) + table
    (out / "result.html").write_text(page)


main(Path(sys.argv[1]), Path(sys.argv[2]))
