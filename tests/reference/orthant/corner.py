"""Logarithm of the upper quadrant P(X > h, Y > k) of a standard bivariate normal far out, h = -a and k = -b.

Run with Python 3 and mpmath; writes corner.csv beside itself. Each value is the integral over x > h of phi(x) Q((k - r x) / sqrt(1 - r^2)) at 30 digits, from
where the integrand is largest (found by thirds) to both sides in steps that double, until it is below 1e-25 of that.
"""
import os
import mpmath
from mpmath import mpf, exp, sqrt, pi, erfc, quad, log

mpmath.mp.dps = 30
here = os.path.dirname(os.path.abspath(__file__))


def log_quadrant(h, k, r):
    h, k, r = mpf(h), mpf(k), mpf(r)
    s = sqrt(1 - r * r)
    value = lambda x: exp(-x * x / 2) / sqrt(2 * pi) * erfc((k - r * x) / s / sqrt(mpf(2))) / 2
    # the logarithm is concave
    low, high = h, h + 200
    for _ in range(160):
        third = (high - low) / 3
        if value(low + third) < value(high - third):
            low += third
        else:
            high -= third
    top, most = (low + high) / 2, value((low + high) / 2)
    total = mpf(0)
    for sign in (-1, 1):
        at, step = top, mpf(2) ** -10 * s
        while value(at) > most * mpf(10) ** -25 and not (sign < 0 and at <= h):
            to = at + sign * step
            if sign < 0:
                to = max(to, h)
            total += sign * quad(value, [at, to])
            at, step = to, min(2 * step, s)
    return log(total)


if __name__ == "__main__":
    with open(os.path.join(here, "corner.csv"), "w") as out:
        out.write(f"# mpmath {mpmath.__version__}, 30 digits; corner.py beside this file; no random numbers\n")
        out.write("a,b,r,log_probability\n")
        means = ("-30", "-12", "-8", "-6.2", "-4.5", "-2", "0", "0.7", "3")
        pairs = [(a, b) for i, a in enumerate(means) for b in means[i:]]
        pairs += [("-20", "1"), ("-30", "-2"), ("3", "-12"), ("-8", "-9"), ("-7", "-5"), ("-6.5", "0")]
        for a, b in pairs:
            for r in ("-0.9999", "-0.97", "-0.8", "-0.4", "-0.05", "0", "0.01", "0.3", "0.7", "0.9", "0.99", "0.9999"):
                value = log_quadrant("%s" % -mpf(a), "%s" % -mpf(b), r)
                # beyond, no weight is left in a double
                if log(mpf("1e-7")) > value > -20000:
                    out.write(f"{a},{b},{r},{mpmath.nstr(value, 17)}\n")
