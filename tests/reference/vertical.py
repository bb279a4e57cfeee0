"""Vertical misalignment of an invented run along a test bar, by brute force. Python 3, numpy 2.4.6, scipy 1.17.1. Run: python3 vertical.py

y = c + v z/1000 - sag(z) + (taper/2) z + (A cos + B sin) + z (C cos + D sin) + noise; c and v flat, the taper 1 +- 1 um over 200 mm, the sag of a 25 mm bar of
206 GPa and 7850 kg/m3 known to a tenth, run-out 0.01 mm and 0.02 mm in 300, noise log-normal about 1 um with factor 1.5, summed over 4001 levels.
"""
import numpy as np
import scipy.optimize, scipy.stats

z = np.tile([40.0, 110.0, 180.0], 2)
angle = np.radians(np.repeat([0.0, 180.0], 3))
scatter = np.array([0.4, -2.9, 1.3, -0.2, 2.8, -1.3])
y = 0.5 + 0.04 * z / 1000 + (0.004 + 2e-5 * z) * np.cos(angle - np.radians(25.0)) + 0.0006 * scatter
weight = 7850e-9 * 9.80665 * np.pi / 4 * 25**2  # N/mm
stiffness = 206e3 * np.pi / 64 * 25**4
sag = weight * z**2 * (z**2 - 4 * 200 * z + 6 * 200**2) / (24 * stiffness)
known = y + sag - 0.5 * 0.001 / 200 * z
flat = np.column_stack([np.ones(6), z / 1000])
prior = np.column_stack([0.5 * 0.001 / 200 * z, 0.1 * sag, 0.01 * np.cos(angle), 0.01 * np.sin(angle), 0.02 / 300 * z * np.cos(angle), 0.02 / 300 * z * np.sin(angle)])
parts = []
for x in np.linspace(-8, 8, 4001):
    V = (0.001 * 1.5**x) ** 2 * np.eye(6) + prior @ prior.T
    Vi = np.linalg.inv(V)
    C = np.linalg.inv(flat.T @ Vi @ flat)
    beta = C @ flat.T @ Vi @ known
    rest = known - flat @ beta
    log = -0.5 * x * x - 0.5 * np.linalg.slogdet(V)[1] + 0.5 * np.linalg.slogdet(C)[1] - 0.5 * rest @ Vi @ rest
    parts.append((log, beta[1], np.sqrt(C[1, 1])))
log, mean, sd = np.array(parts).T
w = np.exp(log - log.max())
w /= w.sum()
centre = w @ mean
print("mean", centre, "sd", np.sqrt(w @ (sd**2 + mean**2) - centre**2))
for p in (0.025, 0.975):
    print(p, scipy.optimize.brentq(lambda q: w @ scipy.stats.norm.cdf((q - mean) / sd) - p, -1, 1, xtol=1e-14))
