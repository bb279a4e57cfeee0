"""Upper quadrant P(X > h, Y > k) of a standard bivariate normal with a small correlation r.

Run with Python 3 and mpmath; writes small.csv beside itself. Each value is Q(h) Q(k) plus the integral over t from 0 to r of the bivariate
density exp(-(h^2 - 2 h k t + k^2) / (2 (1 - t^2))) / (2 pi sqrt(1 - t^2)), at 40 digits.
"""
import os
import mpmath
from mpmath import mpf, exp, sqrt, pi, erfc, quad

mpmath.mp.dps = 40
here = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(here, "small.csv"), "w") as out:
    out.write(f"# mpmath {mpmath.__version__}, 40 digits; small.py beside this file; no random numbers\n")
    out.write("h,k,r,probability\n")
    for h in ("-3", "-1", "0", "0.5", "2", "3.5"):
        for k in ("-2.5", "-0.25", "1.5", "3"):
            for r in ("-0.06", "-0.0499", "-0.001", "1e-5", "0.0201", "0.0499", "0.0501"):
                a, b, c = mpf(h), mpf(k), mpf(r)
                tail = lambda z: erfc(z / sqrt(mpf(2))) / 2
                density = lambda t: exp(-(a * a - 2 * a * b * t + b * b) / (2 * (1 - t * t))) / (2 * pi * sqrt(1 - t * t))
                out.write(f"{h},{k},{r},{mpmath.nstr(tail(a) * tail(b) + quad(density, [0, c]), 17)}\n")
