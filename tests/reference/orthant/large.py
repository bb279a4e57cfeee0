"""Upper quadrant P(X > h, Y > k) of a standard bivariate normal with a large correlation r.

Run with Python 3 and mpmath; writes large.csv beside itself. Each value is the integral over x > h of phi(x) Q((k - r x) / sqrt(1 - r^2)) at 50
digits, cut where the second factor turns and into steps of the width of either factor.
"""
import os
import mpmath
from mpmath import mpf, exp, sqrt, pi, erfc, quad

mpmath.mp.dps = 50
here = os.path.dirname(os.path.abspath(__file__))


def quadrant(h, k, r):
    h, k, r = mpf(h), mpf(k), mpf(r)
    s = sqrt(1 - r * r)
    tail = lambda z: erfc(z / sqrt(mpf(2))) / 2
    value = lambda x: exp(-x * x / 2) / sqrt(2 * pi) * tail((k - r * x) / s)
    turn = k / r if r else h
    # beyond where either factor ends nothing is left of the fifty digits that could be told in seventeen
    far = max(h, k, 0) + 14
    cuts = {h, far}
    for centre, width in ((turn, s / abs(r) if r else 1), (max(h, k if r > 0 else h), mpf(1) / (1 + max(abs(h), abs(k)))), (mpf(0), mpf(1))):
        for i in range(-14, 140):
            cuts.add(centre + i * width)
    cuts = sorted(c for c in cuts if h <= c <= far)
    return quad(value, cuts)


with open(os.path.join(here, "large.csv"), "w") as out:
    out.write(f"# mpmath {mpmath.__version__}, 50 digits; large.py beside this file; no random numbers\n")
    out.write("h,k,r,probability\n")
    for h, k in (("-2.5", "-1"), ("-1", "-1.2"), ("0", "0"), ("0.3", "-0.4"), ("1", "1.5"), ("2", "-2.1"), ("-1.4", "1.5"), ("3", "2.5"), ("-0.5", "2")):
        for r in ("-0.999999", "-0.9999", "-0.99", "-0.93", "-0.925", "0.925", "0.93", "0.99", "0.9999", "0.999999"):
            out.write(f"{h},{k},{r},{mpmath.nstr(quadrant(h, k, r), 17)}\n")
