"""Vertical misalignment of invented runs of 10 to 20,000 readings, by brute force. Python 3, numpy 2.4.6, scipy 1.17.1. Run: python3 vertical_many.py

The model of vertical.py beside this file: taper 3 +- 2 um over 200 mm, noise log-normal about 1 um with factor 1.8. Reading i is at the station and angle of
place i % 9 (angles 0, 75, 200 degrees, at each stations 20, 90, 180 mm), 0.3 mm + 0.06 um/mm of the station + the place's scatter + 0.1 ((7 i) % 11 - 5) um.
Given the noise the means of the places and the squares within them are all that the readings say: generalised least squares of nine means, the noise summed
over 36,001 levels; some 17 levels a standard deviation of its logarithm with 20,000 readings.
"""
import numpy as np
import scipy.optimize, scipy.stats

z9 = np.tile([20.0, 90.0, 180.0], 3)
a9 = np.radians(np.repeat([0.0, 75.0, 200.0], 3))
scatter = np.array([0.6, -1.9, 1.3, 0.2, -0.7, 2.1, -1.2, 0.4, 1.6])
weight = 7850e-9 * 9.80665 * np.pi / 4 * 25**2  # N/mm
stiffness = 206e3 * np.pi / 64 * 25**4
sag = weight * z9**2 * (z9**2 - 4 * 200 * z9 + 6 * 200**2) / (24 * stiffness)
flat = np.column_stack([np.ones(9), z9 / 1000])
prior = np.column_stack([0.5 * 0.002 / 200 * z9, 0.1 * sag, 0.01 * np.cos(a9), 0.01 * np.sin(a9), 0.02 / 300 * z9 * np.cos(a9), 0.02 / 300 * z9 * np.sin(a9)])
for n in (10, 135, 1000, 20000):
    i = np.arange(n)
    um = scatter[i % 9] + 0.1 * ((7 * i) % 11 - 5)
    y = (1e-3 * um + 0.3 + 0.06e-3 * z9[i % 9]) + sag[i % 9] - 0.5 * 0.003 / 200 * z9[i % 9]
    count = np.bincount(i % 9)
    mean = np.bincount(i % 9, y) / count
    within = np.sum((y - mean[i % 9]) ** 2)
    parts = []
    for x in np.linspace(-9, 9, 36001):
        sigma = 0.001 * 1.8**x
        V = np.diag(sigma**2 / count) + prior @ prior.T
        Vi = np.linalg.inv(V)
        C = np.linalg.inv(flat.T @ Vi @ flat)
        beta = C @ flat.T @ Vi @ mean
        rest = mean - flat @ beta
        log = -0.5 * x * x - (n - 9) * np.log(sigma) - 0.5 * within / sigma**2
        log += -0.5 * np.linalg.slogdet(V)[1] + 0.5 * np.linalg.slogdet(C)[1] - 0.5 * rest @ Vi @ rest
        parts.append((log, beta[1], np.sqrt(C[1, 1])))
    log, centre, sd = np.array(parts).T
    w = np.exp(log - log.max())
    w /= w.sum()
    keep = w > 1e-18
    w, centre, sd = w[keep], centre[keep], sd[keep]
    m = w @ centre
    u = np.sqrt(w @ (sd**2 + (centre - m) ** 2))
    high = scipy.optimize.brentq(lambda q: w @ scipy.stats.norm.cdf((q - centre) / sd) - 0.975, m, m + 10 * u, xtol=1e-15)
    print(f"{n} mean {m:.12g} u {u:.12g} high {high:.12g} levels that matter {keep.sum()}")
