#!/usr/bin/env python3
"""Reads a long log with polars and makes the sums of a fit with numpy, nothing else. usage: long_sums.py LOG.csv

By pass the sums of products of 1, x, P2 and the diameter; slope and bend by least squares with a level for each pass. No checks, no uncertainty,
no tolerance of faults.
"""
import sys

import numpy as np
import polars as pl

kinds = {"pass": pl.Int64, "station_mm": pl.Float64, "diameter_mm": pl.Float64}
data = pl.read_csv(sys.argv[1], columns=list(kinds), schema_overrides=kinds)
station = data["station_mm"].to_numpy()
low, high = station.min(), station.max()
x = (2 * station - low - high) / (high - low)
bend = 1.5 * x * x - 0.5
y = data["diameter_mm"].to_numpy()
y = y - y[0]
number = data["pass"].to_numpy()
group = number - number.min()
columns = [x, bend, y]
count = np.bincount(group)
means = [np.bincount(group, c) / np.maximum(count, 1) for c in columns]
gram = np.zeros((3, 3))
for i in range(3):
    for j in range(i + 1):
        total = columns[i] @ columns[j] - (count * means[i] * means[j]).sum()
        gram[i, j] = gram[j, i] = total
slope, curve = np.linalg.solve(gram[:2, :2], gram[:2, 2])
rss = gram[2, 2] - slope * gram[0, 2] - curve * gram[1, 2]
print({"rows": len(y), "taper_mm": 2 * slope, "barrel_mm": -1.5 * curve, "sd_mm": float(np.sqrt(rss / (len(y) - (count > 0).sum() - 2)))})
