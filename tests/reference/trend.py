"""Posterior of the slope of y = a + b t + wandering + error by adaptive quadrature, for comparison with statistics::trend.

wandering ~ N(0, tau^2), tau ~ half-t(3) with the median stated uncertainty as its scale, flat priors on a and b. The likelihood of tau is written as the
marginal density of the residual contrasts, not by the program's formula. Run: python3 trend.py
"""
import sys
import numpy as np
import scipy
from scipy import integrate, optimize, stats
from scipy.linalg import null_space

print("# Python", sys.version.split()[0], "numpy", np.__version__, "scipy", scipy.__version__)
CASES = {
    "steady": ([2023.3, 2024.3, 2025.3, 2026.3], [11.5, 19.2, 26.0, 33.9], [1.7, 1.6, 1.6, 1.8]),
    "wandering": ([0.0, 0.4, 1.1, 2.0, 3.5], [4.0, -3.0, 5.0, -1.0, 9.0], [1.0, 1.5, 0.8, 1.2, 2.0]),
    "two": ([0.0, 2.0], [3.0, 10.0], [1.0, 1.4]),
}
for name, (t, y, u) in CASES.items():
    t, y, u = map(np.array, (t, y, u))
    X = np.column_stack([np.ones_like(t), t - t.mean()])
    K = null_space(X.T)
    scale = np.median(u)

    def density(tau):
        V = np.diag(u**2 + tau**2)
        like = stats.multivariate_normal(np.zeros(K.shape[1]), K.T @ V @ K).pdf(K.T @ y) if K.shape[1] else 1.0
        return like * stats.t(3).pdf(tau / scale)

    def slope(tau):
        W = np.diag(1 / (u**2 + tau**2))
        C = np.linalg.inv(X.T @ W @ X)
        return (C @ X.T @ W @ y)[1], C[1, 1]

    def mean(f):
        # tau = scale * x / (1 - x)
        g = lambda x: f(scale * x / (1 - x)) * density(scale * x / (1 - x)) / (1 - x) ** 2
        return integrate.quad(g, 0, 1, epsabs=0, epsrel=1e-10, limit=400)[0]

    total = mean(lambda tau: 1.0)
    b = mean(lambda tau: slope(tau)[0]) / total
    var = mean(lambda tau: slope(tau)[1] + (slope(tau)[0] - b) ** 2) / total
    cdf = lambda x: mean(lambda tau: stats.norm.cdf((x - slope(tau)[0]) / np.sqrt(slope(tau)[1]))) / total
    ends = [optimize.brentq(lambda x: cdf(x) - p, b - 40 * var**0.5, b + 40 * var**0.5, xtol=1e-9) for p in (0.025, 0.975)]
    print(name, *(f"{x:.9g}" for x in (b, var**0.5, *ends)))
