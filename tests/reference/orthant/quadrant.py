"""Probabilities of the positive quadrant of a bivariate normal: P(X > 0, Y > 0), means a and b, unit variances, correlation r.

Run with Python 3 and scipy; writes quadrant.csv beside itself. Each value is the one-dimensional integral
of phi(x - a) * Phi((b + r (x - a)) / sqrt(1 - r^2)) over x > 0 by scipy.integrate.quad (relative tolerance 1e-12), and where scipy's
multivariate_normal.cdf has the digits (above 1e-6) the two are asserted to agree.
"""
import os, sys
import numpy as np
import scipy
from scipy.integrate import quad
from scipy.stats import multivariate_normal, norm

here = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(here, "quadrant.csv"), "w") as out:
    out.write(f"# scipy {scipy.__version__}, numpy {np.__version__}; quadrant.py beside this file; no random numbers\n")
    out.write("a,b,r,probability\n")
    for a in (-4.0, -1.5, -0.2, 0.7, 2.5):
        for b in (-3.0, -0.5, 1.2):
            for r in (-0.99, -0.9, -0.5, 0.0, 0.4, 0.93, 0.99):
                s = np.sqrt(1 - r * r)
                f = lambda x: norm.pdf(x - a) * norm.cdf((b + r * (x - a)) / s)
                edges = sorted({0.0, max(0.0, a), max(0.0, a - b / r) if r else 0.0, max(0.0, a) + 1, max(0, a) + 3, max(0, a) + 12})
                p = sum(quad(f, lo, hi, epsrel=1e-12, epsabs=0, limit=400)[0] for lo, hi in zip(edges, edges[1:]))
                if p < 1e-12:
                    continue
                if p > 1e-6:
                    q = multivariate_normal.cdf([a, b], mean=[0, 0], cov=[[1, r], [r, 1]])
                    assert abs(q / p - 1) < 1e-5, (a, b, r, p, q)
                out.write(f"{a},{b},{r},{float(p)!r}\n")
