#!/usr/bin/env python3
"""Writes an invented long log of an in-process gauge, as CSV, to standard output.

usage: long_log.py STATIONS PASSES REPEATS [STEP_MM] > long.csv

Every pass is read along its way: at each station REPEATS readings, one row each. Taper, barrel, spread between passes and noise are known,
one reading in a million is a stray. The same arguments give the same bytes.
"""
import sys

import numpy as np

stations, passes, repeats = (int(word) for word in sys.argv[1:4])
step = float(sys.argv[4]) if len(sys.argv) > 4 else 0.001
decimals = max(0, round(-np.log10(step)))
rng = np.random.Generator(np.random.PCG64(20260314))
station = np.round(10.0 + 200.0 * np.arange(stations) / (stations - 1), 3 if stations < 10_000 else 5)
x = (station - 110.0) / 100.0
out = sys.stdout.buffer
out.write(b"pass,direction,station_mm,diameter_mm\n")
for number in range(1, passes + 1):
    back = number % 2 == 0
    order = np.arange(stations) if back else np.arange(stations)[::-1]
    base = 38.0 - 0.1 * (number - 1) / max(1, passes - 1)
    slope = 0.006 + rng.normal(0.0, 0.0006)
    curve = base + slope * x[order] + 0.001 * (0.5 - 1.5 * x[order] ** 2)
    value = np.repeat(curve, repeats) + rng.normal(0.0, 0.002, stations * repeats)
    value[rng.random(value.size) < 1e-6] += 0.06
    value = np.round(value / step) * step
    head = f"{number},{'to-tailstock' if back else 'to-headstock'},"
    names = [f"{head}{z:g}," for z in station[order]]
    lines = [f"{names[i // repeats]}{v:.{decimals}f}\n" for i, v in enumerate(value.tolist())]
    out.write("".join(lines).encode())
