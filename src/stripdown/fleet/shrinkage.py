"""Small groups pulled towards the fleet, by as much as the groups are seen to differ."""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from stripdown.fleet.ages import Numbers

_Z = NormalDist().inv_cdf(0.95)
_ALIKE = 1e6
"""Prior weight that stands for groups which do not differ beyond chance."""


@dataclass(frozen=True, slots=True)
class GammaPoisson:
    """Rates spread over the groups as gamma(alpha, beta); `rates` are the groups' own, shrunk."""

    alpha: float
    beta: float
    loglik: float
    rates: Numbers


def gamma_poisson(events: ArrayLike, exposure: ArrayLike) -> GammaPoisson:
    """Empirical Bayes: alpha and beta by marginal likelihood, rates (alpha + events) / (beta + exposure)."""
    from scipy.optimize import minimize
    from scipy.special import gammaln, psi

    s, t = np.asarray(events, dtype=float), np.asarray(exposure, dtype=float)
    s, t = s[t > 0], t[t > 0]
    if not s.sum() > 0:  # nobody failed: nothing to pull towards
        return GammaPoisson(0.0, float(t.sum()), 0.0, np.zeros(np.shape(events)))
    mean = s.sum() / t.sum()

    def loss(at: Numbers) -> tuple[float, Numbers]:
        a, b = np.exp(at[0]), np.exp(at[0] - at[1])  # at: log of alpha, log of the mean rate
        value = gammaln(a + s) - gammaln(a) - gammaln(s + 1) + a * np.log(b) - (a + s) * np.log(b + t) + s * np.log(t)
        by_a = (psi(a + s) - psi(a) + np.log(b) - np.log(b + t)).sum()
        by_b = (a / b - (a + s) / (b + t)).sum()
        return -value.sum(), -np.array([a * by_a + b * by_b, -b * by_b])

    start, bounds = np.array([0.0, np.log(mean)]), [(-7, np.log(_ALIKE)), (np.log(mean) - 7, np.log(mean) + 7)]
    best = minimize(loss, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-15, "gtol": 1e-10})
    alpha, beta = float(np.exp(best.x[0])), float(np.exp(best.x[0] - best.x[1]))
    rates = (alpha + np.asarray(events, dtype=float)) / (beta + np.asarray(exposure, dtype=float))
    return GammaPoisson(alpha, beta, -float(best.fun), rates)


def prior_weight(shares: Numbers, sizes: Numbers, records: Numbers) -> float:
    """How many records of the fleet each group's shares are mixed with: (size·own + weight·fleet) / (size + weight).

    `shares`: group by mechanism; `records`: record by mechanism. By moments: the groups' spread beyond what records of
    one fleet would show by chance; that of groups which do not differ by more than chance (5 %) is taken as none.
    """
    total, fleet = sizes.sum(), records.mean(axis=0)
    around = records - fleet
    own = around.T @ around / len(records)
    spread, between = float(np.trace(own)), len(sizes) - 1
    if not spread > 0:
        return _ALIKE
    excess = (sizes * ((shares - fleet) ** 2).sum(axis=1)).sum() / spread - between
    # a sum of chi-squares of `between` degrees, weighted by the eigenvalues of `own` over their sum
    if excess <= _Z * np.sqrt(2 * between * (own**2).sum()) / spread:
        return _ALIKE
    room = ((sizes - 1) * (1 - sizes / total)).sum()
    likeness = excess / room if room > 0 else 0.0
    return min(1 / likeness - 1, _ALIKE) if likeness > 1 / _ALIKE else _ALIKE
