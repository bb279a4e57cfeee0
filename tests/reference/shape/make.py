"""Nine invented logs and what general-purpose libraries say of their fits and checks, with explicit design matrices.

Python 3, numpy 2.4.6, scipy 1.17.1, statsmodels 0.15.0. Run here: python3 make.py   (writes log.csv and expected.json)
Readings in log.csv are in cutting order, pass by pass. Seed fixed; diameters rounded to 0.1 um.
"""
import json
import numpy as np
import scipy.integrate, scipy.optimize, scipy.stats
import statsmodels.api as sm

UNCERTAINTY = {"": 0.002, "coarse": 0.004}
rng = np.random.default_rng(20261126)


def curve(x, taper, barrel, cubic):
    return 0.5 * taper * x + barrel * (1 - x * x) + cubic * (2.5 * x**3 - 1.5 * x)


def make(passes, stations, repeats, gauges, sigma, barrel, cubic, stray=None):
    """`passes`: (direction, taper); `sigma(x, pass)`; rows (pass, direction, station, gauge, diameter) in cutting order."""
    rows = []
    low, high = min(stations), max(stations)
    for number, (direction, taper) in enumerate(passes, 1):
        order = sorted(stations, reverse=direction == "to-headstock")
        for i, station in enumerate(order):
            x = (2 * station - low - high) / (high - low)
            for k in range(repeats(i)):
                gauge = gauges(number, i, k)
                scatter = sigma(x, number) * (2 if gauge == "coarse" else 1) * rng.standard_normal()
                value = 44 - 0.2 * number + curve(x, taper, barrel, cubic) + scatter
                if stray == (number, i):
                    value += 0.009
                rows.append((number, direction, station, gauge, round(value, 4)))
    return rows


H, T = "to-headstock", "to-tailstock"
UNEVEN = [10, 28, 55, 70, 96, 120, 141, 170, 186, 210]
once = lambda i: 1
plain = lambda number, i, k: ""
LOGS = {
    # both directions, two gauges, some repeats, a bend
    "ways": make([(H, 0.020), (T, 0.028), (H, 0.021), (T, 0.027)], UNEVEN, lambda i: 1 + i % 2,
                 lambda number, i, k: "coarse" if (number + i + k) % 4 == 0 else "", lambda x, n: 0.0015, 0.006, 0.0),
    # passes with unlike slopes, a cubic, one stray reading
    "unlike": make([(H, 0.010), (H, 0.024), (H, 0.032)], UNEVEN, once, plain, lambda x, n: 0.0010, -0.003, 0.004, stray=(2, 3)),
    # a straight bar, two passes, repeats
    "straight": make([(H, 0.012), (H, 0.012)], [5, 45, 95, 120, 165, 205], lambda i: 2, plain, lambda x, n: 0.0003 if n == 1 else 0.0021, 0.0, 0.0),
    # one pass, four stations with ten readings each that scatter more towards one end
    "ends": make([(T, -0.015)], [0, 60, 140, 200], lambda i: 10, plain, lambda x, n: 0.001 * (2.5 + 2.4 * x), 0.0, 0.0),
    # a wave along the bar, seen at many stations, in passes that scatter unlike
    "wave": [(n, d, z, g, round(v + 0.003 * np.sin(2 * np.pi * z / 31.0), 4)) for n, d, z, g, v in
             make([(H, 0.01), (H, 0.01)], [10 + 6 * i for i in range(28)], once, plain, lambda x, n: 0.0004 * (3 * n - 2), 0.0, 0.0)],
    # enough passes to estimate the spread between them, both directions, some repeats
    "many": [(n, d, z, g, round(v + 0.001 * (0, 4, 1, -2, 3, 5, -3)[n - 1] * (1 - (z / 100 - 1) ** 2), 4)) for n, d, z, g, v in
             make([(H, 0.015), (T, 0.026), (H, 0.021), (T, 0.030), (H, 0.012), (T, 0.022), (H, 0.019)], [0, 40, 75, 100, 160, 200],
                  lambda i: 1 + (i == 2), lambda number, i, k: "coarse" if i == 4 else "", lambda x, n: 0.0012, 0.004, 0.0)],
    # two stations, enough passes
    "collars": make([(H, v) for v in (0.011, 0.016, 0.008, 0.014, 0.019, 0.012)], [20, 180], lambda i: 2, plain, lambda x, n: 0.0014, 0.0, 0.0),
    # seven even stations, two of them at the ends of the middle third
    "thirds": make([(H, 0.012), (H, 0.012)], [10 * i for i in range(7)], once, plain, lambda x, n: 0.0012, 0.0, 0.0),
    # too few readings to know how they scatter: the data sheet helps
    "sheet": make([(H, 0.012), (H, 0.017)], [0, 60, 140, 200], once, plain, lambda x, n: 0.0025, 0.002, 0.0),
}


def design(rows, order, slopes, bend_by_direction=False):
    number, station = np.array([r[0] for r in rows]), np.array([r[2] for r in rows], float)
    direction = np.array([r[1] for r in rows])
    x = (2 * station - station.min() - station.max()) / (station.max() - station.min())
    legendre = [x, 1.5 * x**2 - 0.5, 2.5 * x**3 - 1.5 * x]
    columns = [(number == n).astype(float) for n in sorted(set(number))]
    ways = [direction == d for d in (H, T) if (direction == d).any()]
    groups = ways if slopes == "direction" else [number == n for n in sorted(set(number))]
    if order >= 1:
        columns += [x * g for g in groups]
    for degree in range(2, order + 1):
        columns += [legendre[degree - 1] * g for g in ways] if bend_by_direction else [legendre[degree - 1]]
    return np.column_stack(columns), x, len(groups)


def fit(rows, order, slopes):
    X, _, _ = design(rows, order, slopes)
    return sm.OLS(root(rows) * diameters(rows), root(rows)[:, None] * X).fit()


def diameters(rows):
    # less a constant, as a level a pass is in every model: keeps digits
    return np.array([r[4] for r in rows]) - 44.0


def root(rows):
    return np.array([UNCERTAINTY[""] / UNCERTAINTY[r[3]] for r in rows])


def aicc(f):
    n, k = f.nobs, len(f.params) + 1
    return n * np.log(f.ssr / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1)


def durbin_watson(rows, f):
    """Statistic without differences between passes, and its two-sided p by Imhof's inversion."""
    n = len(rows)
    pairs = [i for i in range(1, n) if rows[i][0] == rows[i - 1][0]]
    D = np.zeros((len(pairs), n))
    for k, i in enumerate(pairs):
        D[k, i], D[k, i - 1] = 1.0, -1.0
    d = ((D @ f.resid) ** 2).sum() / f.ssr
    M = np.eye(n) - f.model.exog @ np.linalg.pinv(f.model.exog)
    weights = np.linalg.eigvalsh(M @ D.T @ D @ M)[n - int(f.df_resid):] - d
    theta = lambda u: 0.5 * np.arctan(weights * u).sum()
    rho = lambda u: np.prod((1 + (weights * u) ** 2) ** 0.25)
    integral, _ = scipy.integrate.quad(lambda u: np.sin(theta(u)) / (u * rho(u)), 0, 30 / np.abs(weights).max() + 5, limit=2000, epsabs=1e-12)
    above = 0.5 + integral / np.pi
    return d, 2 * min(above, 1 - above)


def sign_changes(rows, f):
    influence = f.get_influence()
    hat = f.model.exog @ np.linalg.pinv(f.model.exog)
    chances, changes = [], 0
    for i in range(1, len(rows)):
        if rows[i][0] == rows[i - 1][0]:
            rho = -hat[i, i - 1] / np.sqrt((1 - hat[i, i]) * (1 - hat[i - 1, i - 1]))
            chances.append(np.arccos(rho) / np.pi)
            changes += f.resid[i] * f.resid[i - 1] < 0
    chances = np.array(chances)
    z = (changes - chances.sum()) / np.sqrt((chances * (1 - chances)).sum())
    distribution = np.array([1.0])
    for p in chances:
        distribution = np.convolve(distribution, [1 - p, p])
    return z, min(1.0, 2 * min(distribution[:changes + 1].sum(), distribution[changes:].sum()))


def period(rows, f, x, station):
    """F of the strongest sine between twice the widest gap and the whole length."""
    places = np.unique(station)
    length, shortest = places[-1] - places[0], 2 * np.diff(places).max()
    y = diameters(rows)
    def f_at(frequency):
        angle = 2 * np.pi * frequency * station
        g = sm.OLS(y, np.column_stack([f.model.exog, np.cos(angle), np.sin(angle)])).fit()
        return (f.ssr - g.ssr) / 2 / (g.ssr / g.df_resid)
    grid = np.linspace(1 / length, 1 / shortest, 4001)
    best = max(grid, key=f_at)
    step = grid[1] - grid[0]
    found = scipy.optimize.minimize_scalar(lambda v: -f_at(v), bounds=(max(best - step, grid[0]), min(best + step, grid[-1])), method="bounded",
                                           options={"xatol": 1e-12})
    return max(-found.fun, f_at(best)), 1 / (found.x if -found.fun > f_at(best) else best)


def pair(statistic, p):
    return {"statistic": float(statistic), "p": float(p)}


def curve_of(f, levels, slopes, order):
    """Mean slope, then the higher terms, and the standard error of the last."""
    terms = [float(f.params[levels:levels + slopes].mean())] + [float(v) for v in f.params[levels + slopes:]]
    return {"terms": terms, "last_standard_error": float(f.bse[-1])}


def expected(rows):
    station = np.array([r[2] for r in rows], float)
    number = np.array([r[0] for r in rows])
    stations = len(set(station))
    own = 2 if stations > 3 else 1
    few, many = fit(rows, own, "direction"), fit(rows, own, "pass")
    unlike = many.model.exog.shape[1] > few.model.exog.shape[1] and many.compare_f_test(few)[1] < 0.05
    slopes = "pass" if unlike else "direction"
    most = min(max(stations - 2, 1), 3)
    fits = [fit(rows, order, slopes) for order in range(0, most + 1)]
    orders, chosen = [], 1
    for order in range(1, most + 1):
        test = fits[order].compare_f_test(fits[order - 1])
        orders.append({"f": float(test[0]), "p": float(test[1]), "dof2": float(fits[order].df_resid), "aicc": float(aicc(fits[order]))})
        if order > chosen and aicc(fits[order]) < aicc(fits[chosen]) and fits[order].compare_f_test(fits[chosen])[1] < 0.05:
            chosen = order
    f = fits[chosen]
    influence = f.get_influence()
    hat, cook = influence.hat_matrix_diag, influence.cooks_distance[0]
    scaled = f.resid / np.sqrt(1 - hat)
    tests = {"durbin-watson": pair(*durbin_watson(rows, f)), "runs": pair(*sign_changes(rows, f))}
    tests["normality"] = pair(*scipy.stats.shapiro(scaled))
    groups = [scaled[number == n] for n in sorted(set(number))]
    groups = [g for g in groups if len(g) >= 6]
    if len(groups) > 1:
        tests["equal-spread-passes"] = pair(*scipy.stats.levene(*groups, center="median"))
    x = design(rows, 1, slopes)[1]
    groups = [scaled[station == z] for z in sorted(set(station))]
    groups = [g for g in groups if len(g) >= 6]
    if len(groups) < 2:
        groups = [g for g in (scaled[x < -1 / 3], scaled[abs(x) <= 1 / 3], scaled[x > 1 / 3]) if len(g) >= 6]
    if len(groups) > 1:
        tests["equal-spread-stations"] = pair(*scipy.stats.levene(*groups, center="median"))
    weight = root(rows) ** 2
    cells = {}
    for i, r in enumerate(rows):
        cells.setdefault((r[0], r[2]), []).append(i)
    pure, pure_dof = 0.0, 0
    for at in cells.values():
        mean = np.average(diameters(rows)[at], weights=weight[at])
        pure += (weight[at] * (diameters(rows)[at] - mean) ** 2).sum()
        pure_dof += len(at) - 1
    if pure_dof >= 1 and f.df_resid - pure_dof >= 1:
        dof1 = f.df_resid - pure_dof
        ratio = (f.ssr - pure) / dof1 / (pure / pure_dof)
        tests["lack-of-fit"] = {**pair(ratio, scipy.stats.f.sf(ratio, dof1, pure_dof)), "dof1": float(dof1), "dof2": float(pure_dof)}
    found = {"slope_by_pass": bool(unlike), "order": chosen, "orders": orders, "tests": tests, "most_cook": float(cook.max()),
             "curve": curve_of(f, len(set(number)), len(f.params) - len(set(number)) - (chosen - 1), chosen),
             "leverage": hat.tolist(), "cook": cook.tolist(), "studentised": influence.resid_studentized_external.tolist(),
             "residual": (f.resid / root(rows)).tolist(), "levels": (44.0 + f.params[:len(set(number))]).tolist()}
    if stations >= 8 and len({r[3] for r in rows}) == 1:
        value, at = period(rows, f, x, station)
        found["period"] = {"f": float(value), "period": float(at)}
    return found


def mixture(rows):
    """Taper and barrel with the spread between passes integrated over half-t(3) priors, by brute force.

    y = level of its pass + (slope of its direction + b)P1 + (bend of its direction + c)P2 + e, b and c normal with standard deviations r1 u1 sigma and r2 u2 sigma,
    r half-t(3) times 2, u the standard errors of one average pass's own terms at sigma = 1. Noise: density 1/sigma (then a contrast is a t given r), or log-normal
    about 0.002 mm with factor 1.5 ("sheet"). The midpoint rule in r = 2 sqrt(3) tan(phi), where phi has the density (4/pi) cos(phi)**2 on (0, pi/2).
    """
    number, weight = np.array([r[0] for r in rows]), root(rows) ** 2
    X, x, ways = design(rows, 2, "direction", bend_by_direction=True)
    passes = len(set(number))
    Z = [x, 1.5 * x**2 - 0.5]
    centre = lambda z: z - sum((number == n) * np.average(z[number == n], weights=weight[number == n]) for n in set(number))
    C = np.column_stack([centre(z) for z in Z])
    u = np.sqrt(np.diag(np.linalg.inv(C.T @ (weight[:, None] * C) / passes)))
    same = np.equal.outer(number, number)
    y, n, p = diameters(rows), len(rows), X.shape[1]
    taper = np.array([0.0] * passes + [2 / ways] * ways + [0.0] * ways)
    barrel = np.array([0.0] * (passes + ways) + [-1.5 / ways] * ways)
    steps = 80
    angles = (np.arange(steps) + 0.5) / steps * np.pi / 2
    sheet = len(rows) - 3 * passes < 8
    sigmas = np.exp(np.linspace(np.log(0.0003), np.log(0.012), 161)) if sheet else [None]
    parts, spreads = {"taper": [], "barrel": []}, []
    for one in angles:
        for two in angles:
            spread = [2 * np.sqrt(3) * np.tan(a) * v for a, v in ((one, u[0]), (two, u[1]))]
            V = np.diag(1 / weight) + same * sum(s * s * np.outer(z, z) for s, z in zip(spread, Z))
            L = np.linalg.cholesky(V)
            A, b = np.linalg.solve(L, X), np.linalg.solve(L, y)
            Q, R = np.linalg.qr(A)
            beta = np.linalg.solve(R, Q.T @ b)
            square = ((b - A @ beta) ** 2).sum()
            spreads += [spread[0]] * len(sigmas)
            common = -np.log(np.diag(L)).sum() - np.log(abs(np.diag(R))).sum() + 2 * np.log(np.cos(one)) + 2 * np.log(np.cos(two))
            for name, c in (("taper", taper), ("barrel", barrel)):
                size = np.linalg.norm(np.linalg.solve(R.T, c))
                for sigma in sigmas:
                    if sigma is None:
                        parts[name].append((common - 0.5 * (n - p) * np.log(square), c @ beta, size * np.sqrt(square / (n - p))))
                    else:
                        noise = -(n - p) * np.log(sigma) - 0.5 * square / sigma**2 - 0.5 * (np.log(sigma / 0.002) / np.log(1.5)) ** 2
                        parts[name].append((common + noise, c @ beta, size * sigma))
    found = {}
    for name, list_of in parts.items():
        log, value, scale = np.array(list_of).T
        w = np.exp(log - log.max())
        w /= w.sum()
        if name == "taper":
            rising = np.argsort(spreads)
            median = np.array(spreads)[rising][np.searchsorted(np.cumsum(w[rising]), 0.5)]
            found["between_taper_by_sigma"] = float(2 * median)
        mean = w @ value
        cdf = (lambda q: scipy.stats.norm.cdf(q)) if sheet else (lambda q: scipy.stats.t.cdf(q, n - p))
        inside = lambda h: w @ (cdf((mean + h - value) / scale) - cdf((mean - h - value) / scale))
        half = [scipy.optimize.brentq(lambda h: inside(h) - share, 1e-7, 1.0) for share in (0.95, 0.6826894921370859)]
        found[name] = {"value": float(mean), "half_width95": float(half[0]), "half_width68": float(half[1])}
    return found


with open("log.csv", "w") as file:
    print("log,pass,direction,station,gauge,diameter", file=file)
    for name, rows in LOGS.items():
        for r in rows:
            print(name, *r, sep=",", file=file)
with open("expected.json", "w") as file:
    checked = ["ways", "unlike", "straight", "ends", "wave", "thirds"]
    all_of = {name: expected(LOGS[name]) for name in checked}
    for name in ["ways", "unlike", "straight", "ends", "sheet"]:
        all_of.setdefault(name, {})["mixture"] = mixture(LOGS[name])
    json.dump(all_of, file, indent=1)
