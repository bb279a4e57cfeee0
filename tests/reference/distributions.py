"""Reference values for tail probabilities and quantiles, to 30 digits by quadrature of the densities.

Made with Python 3, mpmath 1.3.0, scipy 1.17.1 (start values only). No random numbers. Run: python3 distributions.py > distributions.csv
Columns: distribution, dof1, dof2, x, lower tail, upper tail at that x exactly as printed.
x = a quantile from scipy rounded to a double, so that every tail level from 1e-12 to 1 - 1e-12 is visited.
"""
import sys
import numpy as np
import scipy.stats as st
from mpmath import mp, mpf

mp.dps = 30
LEVELS = [1e-12, 1e-9, 1e-6, 1e-3, 0.005, 0.025, 0.05, 0.25, 0.4]
SIDES = [(p, "lower") for p in LEVELS] + [(0.5, "lower")] + [(p, "upper") for p in reversed(LEVELS)]


def integrate(ln_density, a, b, spread):
    """Integral of exp(ln_density) from a to b, walking in steps of the spread until nothing is added."""
    f = lambda u: mp.exp(ln_density(u))
    return mp.quad(f, [a + (b - a) * k / 16 for k in range(17)])


def tails_from(ln_density, x, low, high):
    """Lower and upper tail in the log of the variable; low and high bound where the density matters."""
    u = mp.log(x)
    lower = integrate(ln_density, low, u, None) if u > low else mpf(0)
    upper = integrate(ln_density, u, high, None) if u < high else mpf(0)
    return lower, upper


def extent(ln_density, middle, step):
    """Ends beyond which the density in the log of the variable is below 1e-60 of what it is in the middle."""
    peak = ln_density(middle)
    ends = []
    for sign in (-1, 1):
        distance = step
        while ln_density(middle + sign * distance) > peak - 140 and distance < 1e5:
            distance *= mpf("1.5")
        ends.append(middle + sign * distance)
    return ends


def emit(name, d1, d2, x, lower, upper):
    assert abs(lower + upper - 1) < mpf(10) ** -18, (name, d1, d2, x, lower + upper - 1)
    print(f"{name},{d1!r},{d2!r},{x!r},{mp.nstr(lower, 20)},{mp.nstr(upper, 20)}")
    sys.stdout.flush()


print("distribution,dof1,dof2,x,lower,upper")
for level, side in SIDES:
    z = float(st.norm.ppf(level) if side == "lower" else st.norm.isf(level))
    emit("normal", 0.0, 0.0, z, mp.erfc(-mpf(z) / mp.sqrt(2)) / 2, mp.erfc(mpf(z) / mp.sqrt(2)) / 2)

for dof in [0.5, 1.0, 2.0, 3.7, 9.0, 30.0, 120.0, 999.0, 1001.0, 1e5, 1e6, 1e7, 1e8]:
    n = mpf(dof)
    constant = mp.loggamma((n + 1) / 2) - mp.loggamma(n / 2) - mp.log(n * mp.pi) / 2
    ln_density = lambda u: constant - (n + 1) / 2 * mp.log1p(mp.exp(2 * u) / n) + u
    low, high = extent(ln_density, mpf(0), mpf(1))
    for level, side in SIDES:
        if side == "lower" or level == 0.5:
            continue
        x = float(st.t.isf(level, dof)) if dof < 1e5 else float(st.norm.isf(level))
        inner, outer = tails_from(ln_density, mpf(x), low, high)
        emit("t", dof, 0.0, x, mpf(1) / 2 + inner, outer)

for dof in [0.5, 1.0, 2.0, 3.7, 9.0, 30.0, 120.0, 1000.0, 1e5, 1e8]:
    a = mpf(dof) / 2
    constant = -a * mp.log(2) - mp.loggamma(a)
    ln_density = lambda u: constant + a * u - mp.exp(u) / 2
    low, high = extent(ln_density, mp.log(dof), 1 / mp.sqrt(a))
    for level, side in SIDES:
        x = float(st.chi2.ppf(level, dof) if side == "lower" else st.chi2.isf(level, dof))
        if not np.isfinite(x) or x < 1e-280:
            continue
        lower, upper = tails_from(ln_density, mpf(x), low, high)
        emit("chi-square", dof, 0.0, x, lower, upper)

for d1 in [0.5, 1.0, 3.7, 18.0, 1e3, 1e6]:
    for d2 in [0.5, 2.0, 9.0, 120.0, 1e4, 1e7]:
        a, b = mpf(d1) / 2, mpf(d2) / 2
        ratio = mpf(d1) / mpf(d2)
        constant = a * mp.log(ratio) + mp.loggamma(a + b) - mp.loggamma(a) - mp.loggamma(b)
        ln_density = lambda u: constant + a * u - (a + b) * mp.log1p(ratio * mp.exp(u))
        low, high = extent(ln_density, mpf(0), mp.sqrt(1 / a + 1 / b))
        for level, side in [(1e-12, "lower"), (1e-4, "lower"), (0.05, "lower"), (0.5, "lower"), (0.25, "upper"), (0.05, "upper"), (0.01, "upper"), (1e-6, "upper"), (1e-12, "upper")]:
            x = float(st.f.ppf(level, d1, d2) if side == "lower" else st.f.isf(level, d1, d2))
            if not np.isfinite(x) or not 1e-250 < x < 1e250:
                continue
            lower, upper = tails_from(ln_density, mpf(x), low, high)
            emit("f", d1, d2, x, lower, upper)
