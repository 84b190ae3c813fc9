"""Can these tasters tell two coffees apart: tests of difference, preference and similarity.

One taster's answer counts once; answers are right or wrong. Knows no tasting and no drill.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from scipy.special import betaincc, betaln, expit, xlog1py, xlogy

from twobowls.statistics.binomial import at_least, at_most
from twobowls.statistics.inputs import between, whole
from twobowls.statistics.intervals import Interval, chi_square_quantile, exact_share, exact_upper
from twobowls.statistics.minimum_correct import maximum_correct, minimum_agreeing, minimum_correct
from twobowls.statistics.psychometric import d_prime, discriminators, method, signed_d_prime

_ALL_RIGHT = "Every answer was right: the difference may be of any size above the lower limit."
_TOO_FEW = "With so few answers not even a perfect score would show a difference: taste more."
_BELOW_GUESSING = (
    "Fewer answers were right than guessing explains: see first whether the answers were noted "
    "and the question was understood rightly. No share of discriminators fits them, and 0 stands "
    "for the one that comes nearest."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DifferenceTest:
    """The result of a discrimination test.

    ``p_value`` is the exact one-sided chance of so many right answers by guessing;
    ``minimum_correct`` the count needed at ``alpha`` (None: impossible with so few answers).
    ``proportion`` (right answers), ``discriminators`` (tasters who truly tell the coffees
    apart) and ``d_prime`` carry exact intervals; ``d_prime_likelihood`` the interval from the
    likelihood, narrower and right on average. ``probability`` is the posterior probability
    that the coffees can be told apart at all, from even odds. ``cautions`` are sentences to
    show beside the numbers.
    """

    method: str
    correct: int
    trials: int
    alpha: float
    p_value: float
    minimum_correct: int | None
    different: bool
    proportion: Interval
    discriminators: Interval
    d_prime: Interval
    d_prime_likelihood: Interval
    probability: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PreferenceTest:
    """The result of a two-sided paired comparison.

    ``share`` is that of answers for the first coffee, with an exact interval; ``d_prime`` is
    positive where the first has more (or is liked better). ``probability`` is the posterior
    probability that most people like these would choose the first, from a flat prior.
    """

    for_a: int
    trials: int
    alpha: float
    p_value: float
    minimum_agreeing: int | None
    different: bool
    share: Interval
    d_prime: Interval
    probability: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SimilarityTest:
    """The result of a test for similarity.

    ``similar`` says that a share of discriminators of ``limit`` or more can be ruled out at
    risk ``beta``. ``p_value`` is the chance of so few right answers at that share,
    ``maximum_correct`` the count allowed (None: impossible with so few answers), and
    ``largest_share`` the exact upper confidence limit of the discriminators at 1 - beta.
    """

    method: str
    correct: int
    trials: int
    limit: float
    beta: float
    p_value: float
    maximum_correct: int | None
    similar: bool
    largest_share: float
    cautions: tuple[str, ...] = ()


def difference_test(
    key: str, correct: int, trials: int, *, alpha: float = 0.05, level: float = 0.90
) -> DifferenceTest:
    """Test whether tasters tell two coffees apart, and say how well.

    Parameters
    ----------
    key : str
        The method: ``triangle``, ``duo-trio``, ``2-afc`` (paired comparison with a side known
        beforehand), ``3-afc`` or ``tetrad``.
    correct, trials : int
        Right answers of all answers; each answer from another taster, or all from one.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Coverage of the intervals.

    Returns
    -------
    DifferenceTest

    Raises
    ------
    InputError
        When the method is not known, or a count or a level is out of range.

    Notes
    -----
    Exact binomial test. Exact intervals are Clopper-Pearson limits of the share of right
    answers, carried over to discriminators and d′ (both grow with it) and cut at guessing: where
    even the upper limit lies there, both ends are 0 and a caution says so.
    The likelihood interval holds every d′ whose deviance is within the chi-squared quantile of
    the best. The probability weighs "all guess" against "a share of discriminators anywhere
    from 0 to 1, all equally likely", each with prior one half.

    References
    ----------
    ISO 4120, ISO 10399, ISO 5495; ASTM E2262 (d′).

    Examples
    --------
    >>> result = difference_test("triangle", 12, 20)
    >>> result.minimum_correct, round(result.p_value, 4)
    (11, 0.013)
    >>> d = result.d_prime
    >>> print(f"{d.estimate:.2f} ({d.low:.2f} to {d.high:.2f})")
    1.98 (0.83 to 3.01)
    """
    kind = method(key)
    n = whole("trials", trials, 1)
    k = whole("correct", correct, 0, n)
    needed = minimum_correct(key, n, alpha)
    share = exact_share(k, n, level)
    cautions = (_TOO_FEW,) * (needed is None) + (_ALL_RIGHT,) * (k == n)
    cautions += (_BELOW_GUESSING,) * (share.high <= kind.guess)
    return DifferenceTest(
        method=kind.key,
        correct=k,
        trials=n,
        alpha=alpha,
        p_value=float(at_least(k, n, kind.guess)),
        minimum_correct=needed,
        different=needed is not None and k >= needed,
        proportion=share,
        discriminators=_carried(share, lambda p: float(discriminators(key, p))),
        d_prime=_carried(share, lambda p: float(d_prime(key, p))),
        d_prime_likelihood=_carried(
            _likelihood_share(k, n, kind.guess, level), lambda p: float(d_prime(key, p))
        ),
        probability=_probability_above_guessing(k, n, kind.guess),
        cautions=cautions,
    )


def preference_test(
    for_a: int, trials: int, *, alpha: float = 0.05, level: float = 0.90
) -> PreferenceTest:
    """Test which of two coffees has more, or is liked better, with no side known beforehand.

    Parameters
    ----------
    for_a, trials : int
        Answers for the first coffee, of all answers ("the same" is not an answer here).
    alpha : float
        Two-sided risk of finding a preference where there is none.
    level : float
        Coverage of the intervals.

    Returns
    -------
    PreferenceTest

    Raises
    ------
    InputError
        When a count or a level is out of range.

    Notes
    -----
    Exact two-sided binomial test at one half; the interval of the share is Clopper-Pearson's.
    The probability is that of a share above one half under a uniform prior.

    References
    ----------
    ISO 5495, two-sided test.

    Examples
    --------
    >>> result = preference_test(15, 20)
    >>> result.minimum_agreeing, round(result.p_value, 4), round(result.probability, 3)
    (15, 0.0414, 0.987)
    """
    n = whole("trials", trials, 1)
    k = whole("for_a", for_a, 0, n)
    needed = minimum_agreeing(n, alpha)
    share = exact_share(k, n, level)
    majority = max(k, n - k)
    unanimous = "All answers agree: the difference may be of any size above its lower limit."
    return PreferenceTest(
        for_a=k,
        trials=n,
        alpha=alpha,
        p_value=min(1.0, 2 * float(at_least(majority, n, 0.5))),
        minimum_agreeing=needed,
        different=needed is not None and majority >= needed,
        share=share,
        d_prime=_carried(share, lambda p: float(signed_d_prime(p))),
        probability=float(betaincc(k + 1, n - k + 1, 0.5)),
        cautions=(_TOO_FEW,) * (needed is None) + (unanimous,) * (majority == n),
    )


def similarity_test(
    key: str, correct: int, trials: int, *, limit: float = 0.30, beta: float = 0.05
) -> SimilarityTest:
    """Test whether two coffees are similar enough that few could tell them apart.

    Parameters
    ----------
    key : str
        The method.
    correct, trials : int
        Right answers of all answers; one answer a taster (repeats must not be pooled here).
    limit : float
        The share of discriminators one is not willing to miss.
    beta : float
        Risk of calling the coffees similar when that share can tell them apart.

    Returns
    -------
    SimilarityTest

    Raises
    ------
    InputError
        When the method is not known, or a number is out of range.

    Notes
    -----
    The hypothesis to be ruled out is a share of discriminators of ``limit`` or more; the count
    is exact. A test that is not significant for a difference shows no similarity by itself.

    References
    ----------
    ISO 4120 and ISO 10399, testing for similarity.

    Examples
    --------
    >>> result = similarity_test("triangle", 22, 60)
    >>> result.similar, result.maximum_correct, round(result.largest_share, 2)
    (True, 25, 0.22)
    """
    kind = method(key)
    n = whole("trials", trials, 1)
    k = whole("correct", correct, 0, n)
    most = maximum_correct(key, n, limit, beta)
    share = kind.guess + limit * (1 - kind.guess)
    risk = between("beta", beta, 0, 1)
    upper = exact_upper(k, n, risk)
    few = "With so few answers no count would show similarity: taste more, or allow a wider limit."
    return SimilarityTest(
        method=kind.key,
        correct=k,
        trials=n,
        limit=limit,
        beta=risk,
        p_value=float(at_most(k, n, share)),
        maximum_correct=most,
        similar=most is not None and k <= most,
        largest_share=float(discriminators(key, upper)),
        cautions=(few,) * (most is None) + (_BELOW_GUESSING,) * (upper <= kind.guess),
    )


def _carried(share: Interval, curve: Callable[[float], float]) -> Interval:
    """Carry an interval over to another scale that grows with the share."""
    return Interval(curve(share.estimate), curve(share.low), curve(share.high), share.level)


def _likelihood_share(correct: int, trials: int, guess: float, level: float) -> Interval:
    """Return the shares, not below guessing, whose deviance is within the quantile."""
    best = max(correct / trials, guess)
    allowed = chi_square_quantile(level, 1) / 2
    top = _log_likelihood(best, correct, trials)

    def kept(share: float) -> bool:
        return top - _log_likelihood(share, correct, trials) <= allowed

    low = guess if kept(guess) else _edge(best, guess, kept)
    high = 1.0 if kept(1.0) else _edge(best, 1.0, kept)
    return Interval(best, low, high, level)


def _log_likelihood(share: float, correct: int, trials: int) -> float:
    return float(xlogy(correct, share) + xlog1py(trials - correct, -share))


def _edge(inside: float, outside: float, kept: Callable[[float], bool]) -> float:
    for _ in range(60):
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if kept(middle) else (inside, middle)
    return inside


def _probability_above_guessing(correct: int, trials: int, guess: float) -> float:
    wrong = trials - correct
    above = betaincc(correct + 1, wrong + 1, guess)
    if above <= 0:  # so few right that the tail underflows: guessing it is
        return 0.0
    log_odds = (
        betaln(correct + 1, wrong + 1)
        + math.log(above)
        - math.log1p(-guess)
        - _log_likelihood(guess, correct, trials)
    )
    return float(expit(log_odds))
