"""Posterior of a common slope where groups have slopes (and bends) of their own, by brute force, for comparison with statistics::mixed::integrate_spread.

y = level of the group + Z (B beta + u) + e, u_i ~ N(0, (rho_i unit_i sigma)^2), e ~ N(0, sigma^2 / weight), rho_i ~ multiple * half-t(dof), ln sigma normal about
a data sheet or flat, beta and levels flat. The likelihood is that of orthonormal contrasts of the readings with full matrices, and the prior is summed by the midpoint rule
on rho = multiple * tan(phi): neither is the program's formula. The t distribution with the same 68.27 % and 95 % half-widths is solved for by brentq.
Run: python3 spread.py > spread.csv      Columns: case, value, standard error, degrees of freedom, half-width 95 %, part of noise over the median of sigma, median of sigma,
mean variance of the contrast over sigma squared, median of the first spread.
"""
import numpy as np
from scipy import linalg, optimize, special, stats

def z(x, columns):
    x = np.asarray(x, float)
    return np.column_stack([x, 1.5 * x * x - 0.5])[:, :columns]

# groups: stations, values, weights; follows: which fixed coefficients the columns of a group follow
CASES = {
    "three-passes": dict(columns=1, fixed=1, unit=[0.5], dof=3.0, multiple=2.0, noise=(0.002, np.log(1.5)), contrast=[2.0],
        groups=[([-1, -0.2, 0.4, 1], [0.001, 0.004, 0.006, 0.012], [1, 1, 2, 1]), ([-1, 0.1, 1], [-0.002, 0.003, 0.011], [1, 1, 1]),
                ([-0.8, 0, 0.9], [0.003, 0.002, 0.013], [1, 3, 1])], follows=[[0], [0], [0]]),
    "two-bends": dict(columns=2, fixed=2, unit=[0.6, 0.9], dof=3.0, multiple=2.0, noise=None, contrast=[2.0, -1.5],
        groups=[([-1, -0.5, 0.1, 0.6, 1], [0.1, 0.15, 0.32, 0.5, 0.51], [1] * 5), ([-0.9, -0.4, 0, 0.5, 0.9, 1], [0.4, 0.3, 0.55, 0.5, 0.8, 0.7], [1] * 6)],
        follows=[[0, 1], [0, 1]]),
    "one-pass": dict(columns=1, fixed=1, unit=[0.5**0.5], dof=3.0, multiple=2.0, noise=(0.7, np.log(1.5)), contrast=[2.0],
        groups=[([-1, 1], [0.0, 2.0], [1, 1])], follows=[[0]]),
    "each-way": dict(columns=1, fixed=2, unit=[0.45], dof=1.0, multiple=0.7, noise=None, contrast=[0.5, 0.5],
        groups=[([-1, 0, 0.5, 1], [1.0, 1.4, 1.9, 2.2], [1] * 4), ([-1, -0.5, 0, 1], [3.0, 3.1, 3.6, 4.0], [1] * 4), ([-1, 0, 1], [0.0, 0.9, 1.1], [1] * 3)],
        follows=[[0], [1], [0]]),
    "many-and-quiet": dict(columns=1, fixed=1, unit=[0.4], dof=3.0, multiple=2.0, noise=(0.01, 0.02), contrast=[1.0],
        groups=[([-1, -0.3, 0.3, 1], [0.01 * k * (-1) ** k / 7 + 0.004, 0.003, 0.009, 0.013 + 0.001 * (k % 3)], [1] * 4) for k in range(7)], follows=[[0]] * 7),
}

for name, case in CASES.items():
    columns, fixed = case["columns"], case["fixed"]
    blocks = []
    for (x, y, w), follows in zip(case["groups"], case["follows"]):
        root = np.sqrt(np.asarray(w, float))
        contrasts = linalg.null_space(root[None, :]).T
        Z = contrasts @ (root[:, None] * z(x, columns))
        B = np.zeros((columns, fixed))
        for row, coefficient in enumerate(follows):
            B[row, coefficient] = 1
        blocks.append((contrasts @ (root * np.asarray(y, float)), Z, Z @ B))
    y = np.concatenate([b[0] for b in blocks]); X = np.vstack([b[2] for b in blocks])
    n = len(y)
    steps = 3001 if columns == 1 else 140
    phi = (np.arange(steps) + 0.5) / steps * np.pi / 2
    rho = case["multiple"] * np.tan(phi)
    prior = stats.t(case["dof"]).pdf(np.tan(phi)) / np.cos(phi) ** 2
    grid = [(r, p) for r, p in zip(rho, prior)] if columns == 1 else [((a, b), p * q) for a, p in zip(rho, prior) for b, q in zip(rho, prior)]
    c = np.asarray(case["contrast"])
    rows = []
    for r, p in grid:
        d = np.diag((np.atleast_1d(r) * case["unit"]) ** 2)
        V = linalg.block_diag(*[np.eye(len(b[0])) + b[1] @ d @ b[1].T for b in blocks])
        Vi = np.linalg.inv(V)
        info = X.T @ Vi @ X
        C = np.linalg.inv(info)
        A = C @ X.T @ Vi
        beta = A @ y
        square = (y - X @ beta) @ Vi @ (y - X @ beta)
        rows.append((np.log(p) - 0.5 * np.linalg.slogdet(V)[1] - 0.5 * np.linalg.slogdet(info)[1], square, c @ beta, c @ C @ c, c @ A @ A.T @ c))
    log, square, centre, variance, own = np.array(rows).T
    middle = np.log(case["noise"][0]) if case["noise"] else 0.5 * np.log(square.min() / (n - fixed))
    log_sigma = middle + np.linspace(-6, 6, 401) * (case["noise"][1] if case["noise"] else 0.5)
    # in slices, so that memory stays small
    def weights(s):
        out = log[s, None] - (n - fixed) * log_sigma - 0.5 * square[s, None] * np.exp(-2 * log_sigma)
        if case["noise"]:
            out = out - 0.5 * ((log_sigma - np.log(case["noise"][0])) / case["noise"][1]) ** 2
        return out
    slices = [slice(k, k + 500) for k in range(0, len(log), 500)]
    top = max(weights(s).max() for s in slices)
    W = [np.exp(weights(s) - top) for s in slices]
    norm = sum(w.sum() for w in W)
    value = sum((w.sum(1) * centre[s]).sum() for w, s in zip(W, slices)) / norm
    noise_part = sum((w.sum(1) * own[s]).sum() for w, s in zip(W, slices)) / norm
    by_rho = np.array([r[0] if columns > 1 else r for r, _ in grid]); mass = np.concatenate([w.sum(1) for w in W]) / norm
    order = np.argsort(by_rho, kind="stable"); upto = np.cumsum(mass[order])
    spread = by_rho[order][np.searchsorted(upto, 0.5)]
    mean_variance = (mass * variance).sum()
    by_sigma = np.cumsum(sum(w.sum(0) for w in W)) / norm
    median = np.exp(np.interp(0.5, by_sigma - 0.5 * np.diff(by_sigma, prepend=0), log_sigma))
    sigma = np.exp(log_sigma)
    def inside(h):
        total = 0.0
        for w, s in zip(W, slices):
            width = np.sqrt(variance[s, None]) * sigma
            off = (centre[s] - value)[:, None]
            total += (w * (special.ndtr((h - off) / width) - special.ndtr((-h - off) / width))).sum()
        return total / norm
    scale = np.sqrt(variance.min()) * median
    h95 = optimize.brentq(lambda h: inside(h) - 0.95, scale * 0.1, scale * 1e3, xtol=scale * 1e-9)
    p68 = special.erf(0.5**0.5)
    h68 = optimize.brentq(lambda h: inside(h) - p68, scale * 0.01, scale * 1e3, xtol=scale * 1e-9)
    ratio = lambda dof: stats.t(dof).ppf(0.975) / stats.t(dof).ppf(0.5 + 0.5 * p68) - h95 / h68
    dof = optimize.brentq(ratio, 0.5, 1e6, xtol=1e-10)
    print(name, *(f"{v:.9g}" for v in (value, h95 / stats.t(dof).ppf(0.975), dof, h95, np.sqrt(noise_part), median, mean_variance, spread)), sep=",", flush=True)
