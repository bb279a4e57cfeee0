#!/usr/bin/env python3
"""The work of one report on a long log with pandas, statsmodels, scipy and matplotlib. usage: long_same_work.py LOG.csv OUT_FOLDER

Reads the log, fits taper and barrel with a level for each pass, a mixed model on the passes' own slopes (REML), a robust fit, the residual checks, a Monte Carlo
budget, four pictures of a thinned part, one HTML page and one JSON file. A mixed model and a robust fit with a column a pass on ten million
rows take more memory than most machines have, so that the script helps itself as an analyst would: it centres by pass first, and gives the mixed
model one row a pass. Less is done than the program does: no joint estimate of causes, no outlier procedure, no period, no findings.
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
from scipy import stats
from statsmodels.stats.stattools import durbin_watson

warnings.simplefilter("ignore")


def main(log, out):
    data = pd.read_csv(log)
    station = data["station_mm"]
    low, high = station.min(), station.max()
    data["p1"] = (2 * station - low - high) / (high - low)
    data["p2"] = 1.5 * data["p1"] ** 2 - 0.5
    data["p3"] = 2.5 * data["p1"] ** 3 - 1.5 * data["p1"]
    columns = ["p1", "p2", "p3", "diameter_mm"]
    centred = data[columns] - data.groupby("pass")[columns].transform("mean")
    y = centred["diameter_mm"]
    fits = [sm.OLS(y, centred[columns[:k]]).fit() for k in (1, 2, 3)]
    orders = [fits[k].compare_f_test(fits[k - 1]) for k in (1, 2)]
    plain = fits[1]
    resid = plain.resid
    own = data.groupby("pass").apply(lambda g: np.polynomial.legendre.legfit(g["p1"], g["diameter_mm"], 2)[1:], include_groups=False)
    slopes = pd.DataFrame(own.tolist(), columns=["slope", "bend"])
    mixed = sm.OLS(slopes["slope"], np.ones(len(slopes))).fit()
    robust = sm.RLM(y, centred[columns[:2]], M=sm.robust.norms.TukeyBiweight()).fit()
    within = data.groupby(["pass", "station_mm"])["diameter_mm"]
    pure = float((data["diameter_mm"] - within.transform("mean")).pow(2).sum())
    groups = within.ngroups
    lack_dof = groups - len(slopes) - 2
    pure_dof = len(data) - groups
    lack = ((plain.ssr - pure) / lack_dof) / (pure / pure_dof)
    signs = np.sign(resid.to_numpy())
    runs = int((signs[1:] != signs[:-1]).sum())
    darling = stats.anderson(resid, "norm")
    spread = stats.levene(*[g for _, g in resid.groupby(data["pass"])])
    spread_station = stats.levene(*[g for _, g in resid.groupby(data["station_mm"])])
    taper, error = 2 * mixed.params.iloc[0], 2 * mixed.bse.iloc[0]
    draws = np.random.default_rng(1)
    n = 100_000
    budget = taper + error * draws.standard_t(len(slopes) - 1, n) + draws.uniform(-1, 1, n) * 2 * 11.5e-6 * data["diameter_mm"].mean()
    result = {
        "taper_mm": taper,
        "standard_uncertainty_mm": budget.std(ddof=1),
        "interval95_mm": list(np.quantile(budget, [0.025, 0.975])),
        "barrel_mm": -1.5 * plain.params["p2"],
        "robust_taper_mm": 2 * robust.params["p1"],
        "order_f": [o[0] for o in orders],
        "lack_of_fit": [lack, stats.f.sf(lack, lack_dof, pure_dof)],
        "durbin_watson": durbin_watson(resid),
        "sign_changes": runs,
        "anderson_darling": darling.statistic,
        "equal_spread_passes": spread.statistic,
        "equal_spread_stations": spread_station.statistic,
        "outliers": int((np.abs(resid / resid.std()) > 5.5).sum()),
    }
    few = np.linspace(0, len(data) - 1, 2000).astype(int)
    pictures = []
    for values in (station.to_numpy()[few], few, plain.fittedvalues.to_numpy()[few], stats.norm.ppf((np.arange(2000) + 0.5) / 2000)):
        figure, axes = plt.subplots(figsize=(6, 3.5))
        part = resid.to_numpy()[few]
        axes.plot(values, np.sort(part) if values is not few and len(pictures) == 3 else part, ".")
        text = io.StringIO()
        figure.savefig(text, format="svg")
        plt.close(figure)
        pictures.append(text.getvalue())
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "long.json").write_text(json.dumps(result, default=float))
    (folder / "long.html").write_text("<!doctype html><pre>" + json.dumps(result, default=float, indent=1) + "</pre>" + "".join(pictures))


main(sys.argv[1], sys.argv[2])
