"""Answers of general statistics libraries to made-up questions, for the checks in statistics.rs.

Run by hand when a question is added:  pip install scipy statsmodels && python oracle.py > oracle.json
The answers are kept beside it, so that the checks need no Python and say the same everywhere.
All data are invented, from a fixed seed.
"""

import json

import numpy
import scipy
import statsmodels
import statsmodels.api as sm
from scipy.optimize import linprog, minimize_scalar
from statsmodels.robust.norms import TukeyBiweight
from statsmodels.stats.proportion import proportion_confint

rng = numpy.random.default_rng(88)


def wilson(out, read):
    low, high = proportion_confint(out, read, alpha=0.05, method="wilson")
    return {"out": out, "read": read, "low": low, "high": high}


def through_origin(count, ratio):
    """Key and hammer travel in hundredths of a millimetre, with the line through the origin."""
    key = rng.integers(820, 920, count)
    hammer = numpy.rint(ratio * key + rng.normal(0, 20, count)).astype(int)
    fit = sm.OLS(hammer.astype(float), key.astype(float)).fit()
    return {
        "key": key.tolist(),
        "hammer": hammer.tolist(),
        "slope": float(fit.params[0]),
        "standard_error": float(fit.bse[0]),
    }


def turns(count, response, slips):
    """64ths of a turn and change in micrometres; the last `slips` went wrong."""
    turned = rng.choice([-16, -12, -8, -6, -4, 4, 6, 8, 12, 16], count)
    change = response * turned / 64 * 1000 + rng.normal(0, 50, count)
    change[count - slips :] *= -1.0
    return turned, numpy.rint(change).astype(int)


def median_slope(count, response, slips):
    """The line through the origin with the least sum of absolute residuals, as a linear program."""
    turned, change = turns(count, response, slips)
    x, y = turned / 64, change / 1000
    n = len(x)
    identity = numpy.eye(n)
    limits = numpy.vstack([numpy.column_stack([-x, -identity]), numpy.column_stack([x, -identity])])
    answer = linprog(
        numpy.r_[0.0, numpy.ones(n)],
        A_ub=limits,
        b_ub=numpy.r_[-y, y],
        bounds=[(None, None)] + [(0, None)] * n,
        method="highs",
    )
    return {
        "turned": turned.tolist(),
        "change": change.tolist(),
        "least_sum": float(answer.fun),
    }


def bisquare(count, response, slips):
    """The least Tukey bisquare loss near the invented response, readings of 0.1 mm."""
    turned, change = turns(count, response, slips)
    x, y = turned / 64, change / 1000
    scale = 0.1 * 2**0.5
    loss = lambda b: TukeyBiweight(c=4.685).rho((y - b * x) / scale).sum()
    answer = minimize_scalar(loss, bounds=(response - 1, response + 1), method="bounded", options={"xatol": 1e-11})
    return {"turned": turned.tolist(), "change": change.tolist(), "slope": float(answer.x)}


print(
    json.dumps(
        {
            "made_with": f"numpy {numpy.__version__}, scipy {scipy.__version__}, statsmodels {statsmodels.__version__}",
            "wilson": [wilson(x, n) for n in (5, 16, 24, 88) for x in (0, 1, n // 3, n // 2, n)],
            "through_origin": [through_origin(*q) for q in ((3, 5.0), (8, 5.4), (30, 6.1))],
            "median_slope": [median_slope(*q) for q in ((5, 8.0, 1), (12, 5.0, 3), (41, 9.5, 12))],
            "bisquare": [bisquare(*q) for q in ((6, 8.0, 1), (15, 5.0, 3), (60, 9.5, 15))],
        },
        indent=1,
    )
)
