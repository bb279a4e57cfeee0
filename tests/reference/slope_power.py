"""Power of the two-sided t test of a slope, and the fewest readings for it, by scipy's noncentral t.

Made with Python 3, scipy 1.17.1, statsmodels 0.15.0; no random numbers. Run: python3 slope_power.py
Cross-check inside: statsmodels' one-sample t power agrees to 1e-9 (it has dof = n - 1 and effect = d * sqrt(n)).
"""
import csv
import math

import numpy as np
from scipy.stats import nct, t
from statsmodels.stats.power import TTestPower


def power(effect, dof, alpha):
    limit = t.ppf(1 - alpha / 2, dof)
    return nct.sf(limit, dof, effect) + nct.cdf(-limit, dof, effect)


with open("slope_power.csv", "w", newline="") as file:
    out = csv.writer(file, lineterminator="\n")
    out.writerow(["effect", "dof", "alpha", "power"])
    for dof in [1, 2, 3, 5, 8, 13, 28, 100, 1000]:
        for effect in [0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0]:
            for alpha in [0.05, 0.01]:
                found = power(effect, dof, alpha)
                other = TTestPower().power(effect / math.sqrt(dof + 1), dof + 1, alpha)
                assert abs(found - other) < 1e-9, (effect, dof, alpha, found, other)
                out.writerow([effect, dof, alpha, f"{found:.12g}"])

# fewest readings, evenly spread over [-1, 1], for which a slope of `slope` standard deviations of one reading shows with `power`
with open("slope_sample_size.csv", "w", newline="") as file:
    out = csv.writer(file, lineterminator="\n")
    out.writerow(["slope", "power", "readings", "reached"])
    for slope in [0.5, 1.0, 1.5, 2.0, 3.0]:
        for wanted in [0.8, 0.9, 0.95]:
            for n in range(3, 2000):
                x = np.linspace(-1, 1, n)
                reached = power(slope * math.sqrt((x**2).sum()), n - 2, 0.05)
                if reached >= wanted:
                    out.writerow([slope, wanted, n, f"{reached:.12g}"])
                    break
