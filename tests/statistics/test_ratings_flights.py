"""Coffees of different flights, compared through the coffees that flights have in common."""

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_columns import gather_columns
from twobowls.statistics.ratings_priors import DeviationPrior
from twobowls.statistics.ratings_weak import fit_weak

FLIGHTS = ("1", "1", "1", "2", "2", "2", "3", "3", "3")
COFFEES = ("A", "B", "C", "A", "D", "E", "A", "F", "G")
# made-up marks of six tasters; A is the anchor of all flights
MARKS = (
    (37, 25, 40, 40, 49, 34, 28, 36, 21),
    (57, 41, 66, 64, 65, 59, 60, 50, 50),
    (53, 50, 57, 63, 68, 48, 42, 45, 24),
    (60, 34, 70, 57, 75, 55, 57, 50, 24),
    (36, 30, 50, 48, 65, 46, 37, 56, 28),
    (47, 43, 71, 48, 79, 53, 46, 60, 37),
)
# lme4 1.1-31, R 4.2.2: y ~ coffee + flight + (1|taster) + (1|taster:coffee), REML, xtol_abs =
# ftol_abs = 1e-12. Differences of fixed effects and their standard errors from vcov.
LME4_VARIANCE = {"taster": 61.35254620, "taster:coffee": 23.30407803, "residual": 20.15937933}
LME4_DEVIANCE = 321.745022324
LME4_CONTRASTS = {
    ("B", "D"): (-24.666666667, 4.605172334),
    ("B", "G"): (3.166666667, 4.605172334),
    ("C", "E"): (14.833333333, 4.605172334),
    ("D", "F"): (9.000000000, 4.605172334),
}


def anchored() -> RatingColumns:
    return RatingColumns(
        y=[float(y) for row in MARKS for y in row],
        taster=[f"t{t}" for t in range(6) for _ in COFFEES],
        coffee=COFFEES * 6,
        flight=FLIGHTS * 6,
    )


@pytest.mark.reference
def test_coffees_never_in_one_flight_are_compared_as_lme4_does() -> None:
    fit = fit_ratings(
        anchored(),
        prior="flat",
        fixed=("coffee", "flight"),
        random=("taster", "taster:coffee"),
    )
    assert fit.reml_deviance == pytest.approx(LME4_DEVIANCE, abs=1e-6)
    for name, variance in LME4_VARIANCE.items():
        assert fit.variance[name] == pytest.approx(variance, rel=1e-5)
    found = {(each.a, each.b): each.estimate for each in fit.people.contrasts}
    for pair, (mean, error) in LME4_CONTRASTS.items():
        assert found[pair].mean == pytest.approx(mean, abs=1e-6)
        assert found[pair].se == pytest.approx(error, rel=1e-5)


def test_the_weak_prior_comes_near_and_needs_no_caution() -> None:
    fit = fit_ratings(anchored())
    assert not any("in common" in each for each in fit.cautions)
    found = {(each.a, each.b): each.estimate for each in fit.people.contrasts}
    for pair, (mean, error) in LME4_CONTRASTS.items():
        assert found[pair].mean == pytest.approx(mean, abs=0.5 * error)
        assert 0.7 * error < found[pair].se < 1.4 * error


TABLES = 80
# Four standard errors of a share of 90 % over 80 tables, as if all contrasts of a table were
# one and the same: any seed passes, but for one in ten thousand.
BOUND = 4 * (0.9 * 0.1 / TABLES) ** 0.5
TERMS = ("taster", "coffee", "taster:coffee", "flight")


def test_intervals_across_flights_hold_what_they_promise() -> None:
    rng = np.random.default_rng(6)
    prior = DeviationPrior.for_terms(TERMS, 100.0)
    t, k = (each.ravel() for each in np.indices((6, len(COFFEES))))
    coffee, flight = np.array(COFFEES)[k], np.array(FLIGHTS)[k]
    c, f = np.searchsorted(sorted(set(COFFEES)), coffee), flight.astype(int) - 1
    inside = []
    for _ in range(TABLES):
        sd = prior.deviations(rng.standard_normal((1, 5))).values[0]
        level = rng.normal(0, sd[1], 7)
        y = 50 + rng.normal(0, sd[0], 6)[t] + level[c] + rng.normal(0, sd[2], (6, 7))[t, c]
        y = y + rng.normal(0, sd[3], 3)[f] + rng.normal(0, sd[4], len(t))
        columns = RatingColumns(y=y, taster=t, coffee=coffee, flight=flight)
        cells = gather_columns(columns, y, {"taster", "coffee", "flight"})
        fit = fit_weak(cells, None, None, 100.0, 0.90)
        assert set(fit.random) == set(TERMS)
        for each in fit.people.contrasts:
            if (each.a, each.b) in LME4_CONTRASTS:
                low, high = each.estimate.interval
                truth = level[ord(each.a) - ord("A")] - level[ord(each.b) - ord("A")]
                inside.append(low <= truth <= high)
    assert np.mean(inside) == pytest.approx(0.90, abs=BOUND)


def without_anchor() -> RatingColumns:
    columns = anchored()
    keep = [k for k, coffee in enumerate(columns.coffee) if coffee != "A"]
    return RatingColumns(
        y=np.asarray(columns.y)[keep],
        **{name: [labels[k] for k in keep] for name, labels in columns.factors().items()},
    )


def test_flights_without_a_coffee_in_common_are_refused_by_a_flat_prior() -> None:
    with pytest.raises(InputError) as caught:
        fit_ratings(without_anchor(), prior="flat")
    assert str(caught.value) == (
        "flight: flight 1, flight 2 and flight 3 have no coffee in common, so their coffees cannot "
        "be compared. Serve one coffee in both, leave the flight out, or use the weak prior."
    )


def test_flights_without_a_coffee_in_common_bring_a_caution() -> None:
    fit = fit_ratings(without_anchor())
    assert fit.cautions[0] == (
        "Flight 1, flight 2 and flight 3 have no coffee in common, so their coffees cannot be "
        "compared by these marks: such differences rest on the belief that flights are marked "
        "much alike."
    )
    # and what is not known shows in the intervals
    errors = {(each.a, each.b): each.estimate.se for each in fit.people.contrasts}
    assert errors["B", "D"] > 1.2 * errors["B", "C"]


def test_a_chain_of_flights_hangs_together() -> None:
    columns = anchored()
    coffee = list(COFFEES * 6)
    for row in range(6):
        coffee[9 * row + 3] = "C"  # the second flight shares C with the first,
        coffee[9 * row + 6] = "E"  # the third E with the second
    linked = RatingColumns(y=columns.y, taster=columns.taster, coffee=coffee, flight=columns.flight)
    assert not any("in common" in each for each in fit_ratings(linked).cautions)
    fit = fit_ratings(linked, prior="flat")
    errors = {(each.a, each.b): each.estimate.se for each in fit.people.contrasts}
    # two links are longer than one
    assert errors["B", "F"] > errors["B", "D"] > errors["A", "B"]
