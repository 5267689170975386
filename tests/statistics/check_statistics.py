"""Values of the statistics from general-purpose libraries, for tests/statistics.rs.

    python3 -m venv /tmp/statistics && /tmp/statistics/bin/pip install scipy==1.17.1 statsmodels==0.15.0
    /tmp/statistics/bin/python tests/statistics/check_statistics.py > tests/statistics/values.tsv

Each kind of row says what made it. Where no library has the thing, it is counted through: every table, every assignment,
or whole numbers of assignments. The test reads the table, so that it needs no Python.
"""

import itertools
import math
from importlib.metadata import version

import numpy as np
from scipy import integrate, optimize, stats
from scipy.special import betaln, logsumexp
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_linear_model import GLM
from statsmodels.stats.rates import confint_poisson, test_poisson_2indep

rng = np.random.default_rng(20260514)


def row(kind, *values):
    def text(value):
        if isinstance(value, (list, tuple, np.ndarray)):
            return ",".join(text(v) for v in value)
        return f"{value:.12g}" if isinstance(value, (float, np.floating)) else str(value)

    print("\t".join([kind, *(text(value) for value in values)]))


def garwood():
    print("# garwood: events, rod-hours, level, lower, upper; statsmodels confint_poisson exact-c (chi-square quantiles)")
    for events in (0, 1, 2, 3, 4, 7, 11, 23, 50, 137, 1000, 25_000, 1_000_000):
        for level in (0.5, 0.8, 0.95, 0.999):
            exposure = float(rng.choice([0.25, 1.0, 12.5, 48.0, 900.0]))
            lower, upper = confint_poisson(events, exposure, method="exact-c", alpha=1 - level)
            row("garwood", events, exposure, level, 0.0 if events == 0 else lower, upper)


PAIRS = [(0, 5), (5, 0), (1, 0), (3, 2), (9, 1), (14, 14), (2, 40), (60, 30), (150, 120), (1200, 1100), (40_000, 39_000)]
EXPOSURES = [(20.0, 20.0), (6.0, 7.5), (51477.5, 54308.7), (1.0, 30.0), (240.0, 17.25)]


def ratios():
    print("# test: x1, t1, x2, t2, ratio of the null, p at least, p at most; statsmodels test_poisson_2indep exact-cond")
    print("# limits: x1, t1, x2, t2, level, lower, upper; scipy binomtest proportion_ci exact, as odds over the exposures' odds")
    for (x1, x2), (t1, t2) in itertools.product(PAIRS, EXPOSURES):
        for value in (1.0, 0.4, 2.5):
            tails = [
                test_poisson_2indep(x1, t1, x2, t2, value=value, method="exact-cond", compare="ratio", alternative=which).pvalue
                for which in ("larger", "smaller")
            ]
            row("test", x1, t1, x2, t2, value, *tails)
        for level in (0.8, 0.95):
            ci = stats.binomtest(x1, x1 + x2).proportion_ci(level, "exact")
            lower = ci.low / (1 - ci.low) * t2 / t1
            upper = "unbounded" if x2 == 0 else ci.high / (1 - ci.high) * t2 / t1
            row("limits", x1, t1, x2, t2, level, float(lower), upper)


def made_strata(many, mean, ratios):
    strata = []
    for at in range(many):
        t1, t2 = (float(t) for t in rng.choice([2.0, 3.5, 6.0, 8.0, 12.0], 2))
        x1 = int(rng.poisson(mean * t1 / 6 * ratios[at % len(ratios)]))
        x2 = int(rng.poisson(mean * t2 / 6))
        strata.append((x1, t1, x2, t2))
    return strata


def likeliest(strata):
    """The binomial regression with one intercept and the exposures as offset: ratio, Pearson's chi-square."""
    told = [s for s in strata if s[0] + s[2] > 0]
    counts = np.array([[s[0], s[2]] for s in told], float)
    offset = np.array([math.log(s[1] / s[3]) for s in told])
    fit = GLM(counts, np.ones((len(told), 1)), family=Binomial(), offset=offset).fit(tol=1e-14, maxiter=200)
    return told, math.exp(fit.params[0]), float(fit.pearson_chi2), int(fit.df_resid)


def counted_through(told, ratio, chi_square):
    """P(statistic >= what was seen, and >= 1 % less), over all tables with these events and this total of the first."""
    p = [ratio * s[1] / (ratio * s[1] + s[3]) for s in told]
    n = [s[0] + s[2] for s in told]
    total = sum(s[0] for s in told)
    seen = below = whole = 0.0
    for table in itertools.product(*(range(m + 1) for m in n)):
        if sum(table) != total:
            continue
        mass = math.prod(math.comb(m, x) * q**x * (1 - q) ** (m - x) for x, m, q in zip(table, n, p))
        statistic = sum((x - m * q) ** 2 / (m * q * (1 - q)) for x, m, q in zip(table, n, p))
        whole += mass
        seen += mass * (statistic >= chi_square * (1 - 1e-9))
        below += mass * (statistic >= chi_square * 0.99)
    return seen / whole, below / whole


def strata():
    print("# pooled: strata as x1,t1,x2,t2,..., ratio, lower, upper, variance of the logarithm at 95 %; the published formulas in numpy")
    print("# homogeneous: strata, ratio, chi-square, df, p by chi-square; statsmodels GLM, binomial with offset, and scipy chi2")
    print("# exactly: strata, p, p of a statistic 1 % smaller; all tables counted through")
    cases = [made_strata(m, mean, r) for m in (2, 3, 5) for mean in (1.2, 4.0) for r in ([1.0], [1.8], [0.5, 2.5])]
    large = [made_strata(m, mean, r) for m, mean in ((4, 300.0), (30, 40.0)) for r in ([1.0], [0.9, 1.2])]
    for case in cases + large:
        x1, t1, x2, t2 = np.array(case, float).T
        t = t1 + t2
        over, under = (x1 * t2 / t).sum(), (x2 * t1 / t).sum()
        if over == 0 or under == 0:
            continue
        variance = ((x1 + x2) * t1 * t2 / t**2).sum() / (over * under)
        reach = math.exp(stats.norm.ppf(0.975) * math.sqrt(variance))
        row("pooled", [v for s in case for v in s], over / under, over / under / reach, over / under * reach, variance)
        told, ratio, chi_square, df = likeliest(case)
        if df < 1:
            continue
        row("homogeneous", [v for s in case for v in s], ratio, chi_square, df, float(stats.chi2.sf(chi_square, df)))
        if case in cases and math.prod(s[0] + s[2] + 1 for s in told) < 400_000:
            row("exactly", [v for s in case for v in s], *counted_through(told, ratio, chi_square))


def dispersions():
    print("# dispersion: counts, variance by mean, chi-square, p; numpy and scipy chi2")
    for many, mean, clump in ((2, 3.0, 0), (5, 1.0, 0), (12, 2.0, 0), (12, 2.0, 1.5), (40, 8.0, 0), (101, 5.0, 0.6), (300, 900.0, 0)):
        counts = rng.poisson(mean * (rng.gamma(1 / clump, clump, many) if clump else np.ones(many)))
        if counts.sum() == 0:
            continue
        index = float(counts.var(ddof=1) / counts.mean())
        row("dispersion", counts, index, index * (many - 1), float(stats.chi2.sf(index * (many - 1), many - 1)))


def exact_power(total, rate1, rate2, share):
    mean, p0 = total * (rate1 * share + rate2 * (1 - share)), share
    p = rate1 * share / (rate1 * share + rate2 * (1 - share))
    sd = math.sqrt(mean)
    power = 0.0
    for n in range(max(0, int(mean - 10 * sd - 20)), int(mean + 10 * sd + 30)):
        x = np.arange(n + 1)
        doubled = 2 * np.minimum(stats.binom.sf(x - 1, n, p0), stats.binom.cdf(x, n, p0))
        power += stats.poisson.pmf(n, mean) * stats.binom.pmf(x, n, p)[doubled <= 0.05].sum()
    return float(power)


def powers():
    print("# power: x1, t1, x2, t2, rod-hours, power there; the doubled p of every outcome by scipy binom and poisson")
    for x1, t1, x2, t2 in ((7, 20.0, 2, 20.0), (12, 30.0, 4, 28.0), (5, 8.0, 0, 9.5), (2, 6.0, 8, 7.5), (30, 40.0, 15, 60.0), (9, 50.0, 4, 4.0)):
        rate1, rate2, share = x1 / t1, x2 / t2, t1 / (t1 + t2)
        for times in (0.5, 1.0, 3.0, 8.0):
            total = times * (t1 + t2)
            row("power", x1, t1, x2, t2, total, exact_power(total, rate1, rate2, share))
        # The first that reaches 80 %, looked for from below.
        total = 0.2 * (t1 + t2)
        while exact_power(total, rate1, rate2, share) < 0.8:
            total *= 1.02
        reach = optimize.brentq(lambda t: exact_power(t, rate1, rate2, share) - 0.8, total / 1.02, total, rtol=1e-10)
        row("needed", x1, t1, x2, t2, float(reach))


def assignments(design):
    """How many assignments give each sum of the first arm, in whole numbers."""
    ways = {0: 1}
    for first, second in design:
        counts = {(0, 0): 1}
        for value in first + second:
            after = dict(counts)
            for (drawn, total), number in counts.items():
                key = (drawn + 1, total + value)
                after[key] = after.get(key, 0) + number
            counts = {key: number for key, number in after.items() if key[0] <= len(first)}
        stratum = {total: number for (drawn, total), number in counts.items() if drawn == len(first)}
        together = {}
        for (a, m), (b, n) in itertools.product(ways.items(), stratum.items()):
            together[a + b] = together.get(a + b, 0) + m * n
        ways = together
    return ways


def randomisations():
    print("# drawn: strata as first/second;..., p at least, p at most, smallest two-sided p; whole numbers of assignments")
    print("# permuted: first, second, p at least, p at most; scipy permutation_test, every assignment")
    for first, second in (([3, 1, 2], [0, 0, 1]), ([4, 4, 2, 5], [0, 1, 2, 0]), ([0, 0, 1], [2, 0, 1, 0, 3]), ([1, 1], [1, 1, 1])):
        tails = [
            stats.permutation_test(
                (first, second), lambda a, b, axis: np.sum(a, axis=axis), vectorized=True, n_resamples=np.inf, alternative=which
            ).pvalue
            for which in ("greater", "less")
        ]
        row("permuted", first, second, *(float(p) for p in tails))
    designs = []
    for many, units, mean in ((1, 4, 1.0), (1, 8, 1.5), (3, 4, 0.8), (6, 3, 2.0), (12, 8, 0.6), (40, 6, 1.0), (1, 60, 1.3), (2, 90, 0.5)):
        design = []
        for _ in range(many):
            counts = [int(c) for c in rng.poisson(mean * rng.gamma(1.5, 1 / 1.5, units))]
            drawn = units // 2
            design.append((counts[:drawn], counts[drawn:]))
        designs.append(design)
    # One whose tail is far out.
    designs.append([([5] * 20, [0] * 20)])
    for design in designs:
        ways = assignments(design)
        whole, seen = sum(ways.values()), sum(sum(first) for first, _ in design)
        at_least = sum(n for total, n in ways.items() if total >= seen) / whole
        at_most = sum(n for total, n in ways.items() if total <= seen) / whole
        smallest = min(1.0, 2 * min(ways[max(ways)], ways[min(ways)]) / whole)
        text = ";".join("/".join(",".join(map(str, arm)) for arm in stratum) for stratum in design)
        row("drawn", text, at_least, at_most, smallest)


POINTS = (np.arange(513) - 256) / 16
WEIGHTS = stats.logistic.logpdf(POINTS) - logsumexp(stats.logistic.logpdf(POINTS))


def log_likelihood(blocks, log_ratio):
    return sum(
        x1 * stats.logistic.logcdf(math.log(t1 / t2) + log_ratio) + x2 * stats.logistic.logsf(math.log(t1 / t2) + log_ratio)
        for x1, t1, x2, t2 in blocks
    )


def sequences():
    print("# beta: x1, x2, share, alpha, beta, logarithm of the e-value; scipy betaln")
    for x1, x2, share, a, b in itertools.product((0, 3, 40), (0, 5, 61), (0.5, 0.31), (1.0, 0.5), (1.0, 4.0)):
        equal = x1 * math.log(share) + x2 * math.log(1 - share)
        row("beta", x1, x2, share, a, b, float(betaln(a + x1, b + x2) - betaln(a, b) - equal))
    print("# looks: blocks as x1,t1,x2,t2,..., log e by the integral over all ratios (scipy quad), by the grid (scipy logistic),")
    print("# always-valid p, and the ratios left at 95 % (scipy brentq), after all blocks")
    for many, mean, ratio in ((1, 6.0, 1.0), (4, 3.0, 1.0), (10, 2.0, 3.0), (25, 1.0, 0.4), (60, 2.0, 1.6), (40, 0.4, 8.0)):
        blocks = made_strata(many, mean, [ratio])
        largest, lower, upper = 0.0, -math.inf, math.inf
        for upto in range(1, many + 1):
            now = blocks[:upto]
            grid = float(logsumexp(WEIGHTS + log_likelihood(now, POINTS)))
            largest = max(largest, grid - log_likelihood(now, 0.0))
            stands = lambda t: log_likelihood(now, t) - grid - math.log(0.05)
            best = optimize.minimize_scalar(lambda t: -log_likelihood(now, t), bounds=(-30, 30), method="bounded").x
            if stands(-30) < 0:
                lower = max(lower, optimize.brentq(stands, -30, best, xtol=1e-13))
            if stands(30) < 0:
                upper = min(upper, optimize.brentq(stands, best, 30, xtol=1e-13))
        e = lambda t: math.exp(stats.logistic.logpdf(t) + log_likelihood(blocks, t) - log_likelihood(blocks, 0.0))
        integral = integrate.quad(e, -40, 40, points=[best - 1, best, best + 1], epsabs=0, epsrel=1e-11, limit=400)[0]
        left = (math.exp(lower), math.exp(upper) if upper < 30 else "unbounded")
        row("looks", [v for b in blocks for v in b], math.log(integral), grid - log_likelihood(blocks, 0.0), math.exp(-largest), *left)


print("# " + ", ".join(f"{name} {version(name)}" for name in ("scipy", "statsmodels", "numpy")))
garwood()
ratios()
strata()
dispersions()
powers()
randomisations()
sequences()
