"""Marks and picks in one posterior, against a dense calculation that draws and weighs."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from twobowls.errors import InputError
from twobowls.statistics.marks_and_picks import join_marks_and_picks
from twobowls.statistics.mean_mixtures import fit_moments
from twobowls.statistics.picks_joint import joint_marks_and_picks
from twobowls.statistics.picks_table import count_picks
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_results import RatingFit
from twobowls.statistics.taster_places import taster_places

Array = NDArray[np.float64]
WHO = ("Ada", "Bo", "Cy", "Di")
WHAT = ("A", "B", "C")


def marked(seed: int = 3, rounds: int = 2) -> RatingColumns:
    """Return marks of four tasters on three coffees."""
    rng = np.random.default_rng(seed)
    places = {(t, c): 50 + 8 * "CBA".index(c) + rng.normal(0, 7) for t in WHO for c in WHAT}
    rows = [(t, c, f"r{r}") for r in range(rounds) for t in WHO for c in WHAT]
    return RatingColumns(
        y=[float(places[t, c] + rng.normal(0, 6)) for t, c, _ in rows],
        taster=[t for t, _, _ in rows],
        coffee=[c for _, c, _ in rows],
        round=[r for _, _, r in rows],
    )


def dense(columns: RatingColumns, fit: RatingFit) -> tuple[Array, Array]:
    """Return mean and covariance of (people's means, every taster's places) given the marks.

    Built cell by cell from the model, with one matrix for all marks: nothing is shared with
    the code that is tested.
    """
    v, rounds = fit.variance, sorted(set(map(str, columns.round or ())))
    marks = list(zip(columns.taster, columns.coffee, columns.round or (), strict=True))
    wanted = [(None, c, None) for c in WHAT] + [(t, c, None) for t in WHO for c in WHAT]

    def shared(one: tuple[object, ...], two: tuple[object, ...]) -> float:
        """Covariance of two cells; None as a round is the mean over rounds."""
        same_coffee = float(one[1] == two[1])
        if one[2] is None or two[2] is None:
            same_round = 1.0 / len(rounds)
        else:
            same_round = float(one[2] == two[2])
        total = 1e6 + v["coffee"] * same_coffee + v["round"] * same_round
        total += v["coffee:round"] * same_coffee * same_round
        if one[0] is not None and one[0] == two[0]:
            total += v["taster"] + v["taster:coffee"] * same_coffee
            if one[2] is not None and two[2] is not None:
                total += v["taster:round"] * same_round
        return total

    cells = [*wanted, *marks]
    whole = np.array([[shared(one, two) for two in cells] for one in cells])
    n = len(wanted)
    seen = whole[n:, n:] + v["residual"] * np.eye(len(marks))
    gain = np.linalg.solve(seen, whole[n:, :n]).T
    return gain @ np.asarray(columns.y), whole[:n, :n] - gain @ whole[n:, :n]


def as_fit(fit: RatingFit, mean: Array, covariance: Array) -> RatingFit:
    """Return the fit with the dense calculation's means, for people and for the table."""
    table = np.zeros((3, 15))
    table[:, 3:] = np.tile(np.eye(3), 4) / 4
    people = np.eye(3, 15)

    def means(old: object, lines: Array) -> object:
        m, c = lines @ mean, lines @ covariance @ lines.T
        coffees = tuple(
            replace(
                each, estimate=replace(each.estimate, mean=float(m[i]), se=float(c[i, i] ** 0.5))
            )
            for i, each in enumerate(old.coffees)  # type: ignore[attr-defined]
        )
        contrasts = []
        for each in old.contrasts:  # type: ignore[attr-defined]
            a, b = WHAT.index(each.a), WHAT.index(each.b)
            se = float((c[a, a] + c[b, b] - 2 * c[a, b]) ** 0.5)
            gap = float(m[a] - m[b])
            contrasts.append(replace(each, estimate=replace(each.estimate, mean=gap, se=se)))
        return replace(old, coffees=coffees, contrasts=tuple(contrasts))  # type: ignore[type-var]

    return replace(fit, table=means(fit.table, table), people=means(fit.people, people))  # type: ignore[arg-type]


PICKED = [
    ("A", "B", "A", "Ada"), ("A", "B", "A", "Bo"), ("B", "A", "same", "Cy"),
    ("B", "C", "B", "Ada"), ("A", "C", "C", "Di"), ("B", "C", "B", "Di"),
    ("A", "B", "A", "Di"),
]  # fmt: skip


def test_places_are_those_of_the_dense_calculation() -> None:
    columns = marked()
    fit = fit_ratings(columns)
    mean, covariance = dense(columns, fit)
    places = taster_places(columns, fit)
    own = places.lift @ places.shared + places.own
    # differences only: both hold the common level to be all but unknown, not equally so
    apart = np.array([[1, -1, 0], [0, 1, -1.0]])
    assert own @ apart.T == pytest.approx(mean[3:].reshape(4, 3) @ apart.T, abs=2e-3)
    people, spread = places.moments("people")
    assert apart @ people == pytest.approx(apart @ mean[:3], abs=2e-3)
    wanted = apart @ covariance[:3, :3] @ apart.T
    assert apart @ spread @ apart.T == pytest.approx(wanted, rel=1e-3)
    lines = np.concatenate([np.zeros((3, 3)), np.tile(np.eye(3), 4) / 4], axis=1)
    table, spread = places.moments("table")
    assert apart @ table == pytest.approx(apart @ lines @ mean, abs=2e-3)
    wanted = apart @ lines @ covariance @ lines.T @ apart.T
    assert apart @ spread @ apart.T == pytest.approx(wanted, rel=1e-3)


def test_careless_marks_count_as_little_as_in_the_fit() -> None:
    rng = np.random.default_rng(1)
    taster, coffee, _ = (each.ravel() for each in np.indices((8, 4, 3)))
    y = 50 + np.linspace(-15, 15, 4)[coffee] + rng.normal(0, 7, 96)
    y = np.where(taster == 3, rng.uniform(0, 100, 96), y)
    columns = RatingColumns(y=np.clip(y, 0, 100), taster=taster, coffee=coffee)
    fit = fit_ratings(columns)
    assert fit.weights["3"] < 0.4
    for population in ("people", "table"):
        means = getattr(fit, population).coffees
        places = taster_places(columns, fit)
        mean, covariance = places.moments(population)
        order = [places.coffees.index(each.level) for each in means]
        theirs = np.array([each.estimate.mean for each in means])
        ours = mean[order]
        assert ours - ours.mean() == pytest.approx(theirs - theirs.mean(), abs=0.8)
        pair = np.array([1.0, 0.0, 0.0, -1.0])
        contrast = next(
            each for each in getattr(fit, population).contrasts if {each.a, each.b} == {"0", "3"}
        )
        error = float(pair @ covariance @ pair) ** 0.5
        assert error == pytest.approx(contrast.estimate.se, rel=0.15)


def test_the_posterior_is_that_of_drawing_and_weighing() -> None:
    columns = marked()
    fit = fit_ratings(columns)
    mean, covariance = dense(columns, fit)
    a, b, answer, who = zip(*PICKED, strict=True)
    found = join_marks_and_picks(
        columns, as_fit(fit, mean, covariance), count_picks(a, b, answer, who)
    )
    rng = np.random.default_rng(11)
    draws = 400_000
    state = rng.multivariate_normal(mean, covariance, draws, method="eigh")
    noise = fit.variance["residual"] ** 0.5
    slope = np.pi / 6**0.5 / noise * np.exp(rng.normal(size=draws))
    tie = rng.normal(0, 1.5, draws)
    logs = np.zeros(draws)
    for one, two, picked, name in PICKED:
        place = 3 + 3 * WHO.index(name)
        odds = slope * (state[:, place + WHAT.index(one)] - state[:, place + WHAT.index(two)])
        shares = {one: 0.5 * odds, two: -0.5 * odds, "same": tie}
        logs += shares[picked] - np.logaddexp.reduce(list(shares.values()))
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    assert 1 / (weights @ weights) > 10_000
    lines = {
        "people": np.eye(3, 15),
        "table": np.concatenate([np.zeros((3, 3)), np.tile(np.eye(3), 4) / 4], axis=1),
    }
    for joined in (found.people, found.table):
        means = state @ lines[joined.population].T
        for each in joined.contrasts:
            gap = means[:, WHAT.index(each.a)] - means[:, WHAT.index(each.b)]
            centre = float(weights @ gap)
            sd = float(weights @ (gap - centre) ** 2) ** 0.5
            # Monte Carlo error is about sd / 100; Laplace's own is no larger here
            assert each.estimate.mean == pytest.approx(centre, abs=0.04 * sd)
            assert each.estimate.se == pytest.approx(sd, rel=0.04)
            assert each.probability == pytest.approx(float(weights @ (gap > 0)), abs=0.02)
    assert found.slope.mean == pytest.approx(float(weights @ slope), rel=0.1)
    assert found.tie is not None
    # one "same": the weight of ties is left wide and lopsided, where Laplace is rough
    assert found.tie.mean == pytest.approx(float(weights @ tie), abs=0.2)


def test_before_the_picks_the_means_are_those_of_the_fit() -> None:
    columns = marked()
    fit = fit_ratings(columns)
    a, b, answer, who = zip(*PICKED, strict=True)
    found = join_marks_and_picks(columns, fit, count_picks(a, b, answer, who))
    for joined, means in ((found.people, fit.people), (found.table, fit.table)):
        for one, two in zip(joined.before, means.contrasts, strict=True):
            assert (one.a, one.b) == (two.a, two.b)
            assert one.estimate.mean == pytest.approx(two.estimate.mean, abs=1e-9)
            assert one.estimate.se == pytest.approx(two.estimate.se, rel=1e-6)


def test_the_covariance_of_people_is_found_again_from_the_errors_of_pairs() -> None:
    fit = fit_ratings(marked())
    mean, covariance = fit_moments(fit, "people", WHAT)
    assert covariance == pytest.approx(np.array(fit.covariance), abs=1e-9)
    assert mean.tolist() == [each.estimate.mean for each in fit.people.coffees]


def selected(seed: int) -> tuple[RatingColumns, list[str], list[str]]:
    """Return marks of 24 tasters on two coffees 20 apart, and picks where marks came close."""
    rng = np.random.default_rng(seed)
    place = 50 + np.array([10.0, -10.0]) + rng.normal(0, 12, (24, 2))
    marks = place + rng.normal(0, 5, (2, 24, 2))
    close = np.abs(marks[:, :, 0] - marks[:, :, 1]).min(axis=0) < 12
    felt = place + rng.normal(0, 5, (24, 2))
    names = [f"t{number}" for number in range(24)]
    columns = RatingColumns(
        y=marks.ravel(),
        taster=[name for _ in range(2) for name in names for _ in "AB"],
        coffee=list("AB") * 48,
        round=[f"r{number // 48}" for number in range(96)],
    )
    who = [name for name, asked in zip(names, close, strict=True) if asked]
    answers = ["A" if one > two else "B" for one, two in felt[close]]
    return columns, answers, who


def test_picks_that_close_marks_led_to_do_not_draw_coffees_together() -> None:
    """Those who are asked are those who see little difference: that is no news of the table."""
    moved, unaware = [], []
    for seed in range(6):
        columns, answers, who = selected(seed)
        fit = fit_ratings(columns)
        picks = count_picks(["A"] * len(who), ["B"] * len(who), answers, who)
        gap = fit.people.contrasts[0].estimate.mean
        found = join_marks_and_picks(columns, fit, picks).people.contrasts[0]
        moved.append(found.estimate.mean - gap)
        other = joint_marks_and_picks(
            ["A", "B"],
            [each.estimate.mean for each in fit.people.coffees],
            np.array(fit.covariance),
            picks,
            noise_sd=fit.variance["residual"] ** 0.5,
            disagreement_sd=fit.variance["taster:coffee"] ** 0.5,
            tasters=24,
        )
        unaware.append(other.contrasts[0].estimate.mean - gap)
    assert abs(float(np.mean(moved))) < 0.1
    assert float(np.mean(unaware)) < -0.1


def test_picks_that_agree_make_the_table_surer() -> None:
    columns = marked(rounds=1)
    fit = fit_ratings(columns)
    picks = count_picks(["A"] * 4, ["B"] * 4, ["A"] * 4, WHO)
    found = join_marks_and_picks(columns, fit, picks)
    after, before = found.table.contrasts[0], found.table.before[0]
    assert (after.a, after.b) == ("A", "B")
    assert after.probability > before.probability
    assert after.estimate.mean > before.estimate.mean
    assert found.tie is None
    assert (found.picks, found.tasters) == (4, 4)


def test_picks_nobody_made_are_refused() -> None:
    columns = marked()
    fit = fit_ratings(columns)
    with pytest.raises(InputError, match=r"picks: it is not known who picked\. Name the tasters"):
        join_marks_and_picks(columns, fit, count_picks(["A"], ["B"], ["A"]))
    stranger = count_picks(["A"], ["B"], ["A"], ["Zoe"])
    with pytest.raises(InputError, match="picks: the taster “Zoe” has picks but no marks"):
        join_marks_and_picks(columns, fit, stranger)
    unknown = count_picks(["A"], ["Q"], ["A"], ["Ada"])
    with pytest.raises(InputError, match="picks: the coffee “Q” has picks but no marks"):
        join_marks_and_picks(columns, fit, unknown)


def test_marks_at_the_ends_and_picks_against_them_stay_finite() -> None:
    rows = [(t, c, r) for r in ("r0", "r1") for t in WHO for c in "AB"]
    columns = RatingColumns(
        y=[100.0 if c == "A" else 0.0 for _, c, _ in rows],
        taster=[t for t, _, _ in rows],
        coffee=[c for _, c, _ in rows],
        round=[r for _, _, r in rows],
    )
    picks = count_picks(["A"] * 4, ["B"] * 4, ["B", "B", "same", "A"], WHO)
    found = join_marks_and_picks(columns, fit_ratings(columns), picks)
    for joined in (found.table, found.people):
        assert 0.9 < joined.contrasts[0].probability <= 1.0
        assert np.isfinite(joined.contrasts[0].estimate.interval).all()
