"""Durbin-Watson's test and the count of sign changes on blocks of repeated, weighted readings, by full matrices.

M = I - Q Q' of the weighted design, A the differencing form within blocks. Up to 100 degrees of freedom the tail is Imhof's integral over the eigenvalues of M A M by
scipy's quad, above that scipy's beta distribution with the exact mean and variance (traces of MA and (MA)^2). Sign changes: arccos(rho)/pi of each pair, the sum by
convolution up to 2000 pairs, normal with a correction for continuity above. Layouts and values are those of tests/all/statistics/serial.rs. Run: python3 serial.py > serial.csv
"""
import numpy as np
from scipy import integrate, stats

def small(b):
    return [((k - 3) / 3, 1 + (k * 3 + b) % 2, 1.0) for k in range(7) if (k + b) % 4 != 3]

def large(b):
    if b >= 14:
        return [(0.25, b - 13, 1.0)]
    return [((k - 4) / 4, 1 + (k + b) % 3, [1.0, 2.0, 0.5][(k + 2 * b) % 3]) for k in range(9) if (k * b) % 5 != 4]

def long(b):
    return [((k - 40) / 40, 1, 1.0) for k in range(80)]

print("test,key,value")
for name, layout, blocks, own_slope in [("small", small, 3, False), ("large", large, 16, True), ("plain", large, 16, False), ("long", long, 26, False)]:
    rows = [(b, x, w) for b in range(blocks) for x, count, w in layout(b) for _ in range(count)]
    n = len(rows)
    block = np.array([r[0] for r in rows]); x = np.array([r[1] for r in rows]); root = np.sqrt([r[2] for r in rows])
    y = np.array([((i * i * 37 + i * 7919 + 13) % 101) / 101 + 0.3 * x[i] for i in range(n)])
    level = (block[:, None] == np.arange(blocks)).astype(float)
    X = np.column_stack([level, level * x[:, None] if own_slope else x, x * x])
    U, s, _ = np.linalg.svd(root[:, None] * X, full_matrices=False)
    Q = U[:, s > 1e-10 * s[0]]
    M = np.eye(n) - Q @ Q.T
    e = M @ (root * y)
    m = n - Q.shape[1]
    unit = np.eye(n)
    D = np.array([unit[i] - unit[i - 1] for i in range(1, n) if block[i] == block[i - 1]])
    statistic = ((D @ e) ** 2).sum() / (e @ e)
    print(f"{name},dof,{m}"); print(f"{name},statistic,{statistic:.17g}")
    DM = D @ M
    if m <= 100:
        eigen = np.sort(np.linalg.eigvalsh(M @ D.T @ D @ M))
        # n - m zeros belong to the columns themselves
        free = np.concatenate([eigen[eigen > 1e-10], np.zeros(max(0, m - (eigen > 1e-10).sum()))]) - statistic
        f = lambda u: np.sin(0.5 * np.arctan(free * u).sum()) / (u * np.prod((1 + (free * u) ** 2) ** 0.25))
        below = 0.5 - integrate.quad(f, 0, np.inf, epsabs=1e-13, epsrel=1e-13, limit=2000)[0] / np.pi
        print(f"{name},alike,{below:.17g}"); print(f"{name},alternating,{1 - below:.17g}")
    else:
        S = DM @ DM.T
        p, q = np.trace(S), (S * S).sum()
        mean, variance = p / m, 2 * (m * q - p * p) / (m * m * (m + 2))
        mu, v = mean / 4, variance / 16
        size = mu * (1 - mu) / v - 1
        law = stats.beta(mu * size, (1 - mu) * size)
        print(f"{name},alike,{law.cdf(statistic / 4):.17g}"); print(f"{name},alternating,{law.sf(statistic / 4):.17g}")
    H = Q @ Q.T
    chances, changes = [], 0
    for i in range(1, n):
        room = (1 - H[i, i]) * (1 - H[i - 1, i - 1])
        if block[i] == block[i - 1] and room > 1e-12:
            chances.append(np.arccos(np.clip(-M[i, i - 1] * -1 / np.sqrt(room), -1, 1)) / np.pi)
            changes += (e[i] > 0) != (e[i - 1] > 0)
    chances = np.array(chances)
    z = (changes - chances.sum()) / np.sqrt((chances * (1 - chances)).sum())
    if len(chances) <= 2000:
        law = np.array([1.0])
        for c in chances:
            law = np.convolve(law, [1 - c, c])
        tail = min(1.0, 2 * min(law[: changes + 1].sum(), law[changes:].sum()))
    else:
        away = max(abs(changes - chances.sum()) - 0.5, 0.0)
        tail = 2 * stats.norm.sf(away / np.sqrt((chances * (1 - chances)).sum()))
    for key, value in [("pairs", len(chances)), ("changes", changes), ("expected", chances.sum()), ("z", z), ("p", tail)]:
        print(f"{name},{key},{value:.17g}" if isinstance(value, float) else f"{name},{key},{int(value) if key in ('pairs', 'changes') else float(value):.17g}")
