"""Pads and charts: geometry, labels that stay apart, text that stays text."""

from itertools import pairwise
from math import pi
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.debrief.nights import bowls_of, mark, marks, night, tasting

from twobowls.debrief.analysis import analyse
from twobowls.debrief.charts import ranking_spec, spread_out, trend_spec
from twobowls.debrief.label_layout import Box, place_labels
from twobowls.debrief.pad_svg import pad_svg
from twobowls.debrief.pads import Pad, PadCoffee, coffee_order, own_places, pads, with_own
from twobowls.debrief.rating_table import Factor, RatingTable
from twobowls.debrief.tables import rating_table
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.interchange.chart_svg import chart_svg
from twobowls.statistics.ratings_joint import Ellipse

SVG = "{http://www.w3.org/2000/svg}"


def drawn(*coffees: PadCoffee) -> Pad:
    return Pad(id="body", sensation="body", title="Body", low="thin", high="thick", coffees=coffees)


def at(name: str, x: float, y: float, tone: int = 0) -> PadCoffee:
    ellipse = Ellipse(centre=(x, y), semi_axes=(0.1, 0.05), angle_rad=pi / 6)
    return PadCoffee(coffee=name, tone=tone, centre=(x, y), ellipse=ellipse)


def test_every_sensation_with_both_scales_gets_a_pad() -> None:
    of = tasting()
    table = rating_table(night(of, marks(of)))
    found = pads(analyse(table), table)
    assert [pad.sensation for pad in found] == ["acidity", "verdict"]
    brisa = found[0].coffees[0]
    assert brisa.coffee == "Brisa"
    assert brisa.centre == pytest.approx((0.70, 0.75), abs=0.06)
    assert found[0].rounds == ("hot", "warm", "cool")
    assert len(brisa.trail) == 3
    assert 0.005 < brisa.ellipse.semi_axes[1] <= brisa.ellipse.semi_axes[0] < 0.3


def test_a_mark_of_strength_alone_leaves_the_pads_standing() -> None:
    of = tasting(repeats=())
    umbra = bowls_of(of, "umbra")[0]
    rest = [each for each in marks(of, sensations=("body",)) if each.bowl != umbra]
    alone = mark("s1", umbra, 999, sensation="body", liking=None)
    table = rating_table(night(of, [*rest, alone]))
    (found,) = pads(analyse(table), table)
    assert {each.coffee: len(each.trail) for each in found.coffees} == {"Brisa": 3, "Oro": 3}


def test_a_bowl_keeps_its_tone_from_the_seat_to_the_debrief_and_after_the_reveal() -> None:
    of = tasting(state="closed")
    codes = sorted(bowl.code for bowl in of.plan.bowls)
    closed = debrief_of(night(of, marks(of)))
    for pad in closed.pads:
        assert {each.coffee: each.tone for each in pad.coffees} == {
            code: place for place, code in enumerate(codes)
        }
    shown = debrief_of(night(tasting(), marks(of)))
    bowl_of = {each: shown.night.codes_of(each) for each in shown.night.labels.values()}
    for pad in shown.pads:
        for each in pad.coffees:  # a hidden repeat has the tone of its first code
            assert each.tone == codes.index(min(bowl_of[each.coffee]))
    assert {len(found) for found in bowl_of.values()} == {1, 2}


def test_shares_keep_the_reach_of_an_ellipse_along_both_scales() -> None:
    rng = np.random.default_rng(4)
    who = [str(t) for t in range(8) for _ in range(4)]
    what = ["A", "B", "A", "B"] * 8
    error = rng.normal(0, 1, 32)
    table = RatingTable(
        taster=Factor.of(who),
        coffee=Factor.of(what),
        sensation=Factor.of(["body"] * 32),
        intensity=np.clip(50 + 10 * error + rng.normal(0, 3, 32), 0, 100),
        liking=np.clip(5 + error + rng.normal(0, 0.3, 32), 1, 9),
        limits={"intensity": (0, 100), "liking": (1, 9)},
    )
    analysis = analyse(table)
    (pad,) = pads(analysis, table)
    strong, liked = analysis.get("body", "intensity"), analysis.get("body", "liking")
    assert strong is not None
    assert liked is not None
    normal = (-2 * np.log(0.1)) ** 0.5
    for each, x, y in zip(
        pad.coffees, strong.fit.table.coffees, liked.fit.table.coffees, strict=True
    ):
        a, b = each.ellipse.semi_axes
        cos, sin = np.cos(each.ellipse.angle_rad), np.sin(each.ellipse.angle_rad)
        reach = np.hypot(a * cos, b * sin) / (x.estimate.se / 100)
        # at 90 % long tails make little difference
        assert reach == pytest.approx(normal, rel=0.1)
        assert np.hypot(a * sin, b * cos) == pytest.approx(reach * y.estimate.se / 8, rel=1e-6)
        assert each.centre == pytest.approx(
            (x.estimate.mean / 100, (y.estimate.mean - 1) / 8), rel=1e-9
        )


def test_own_marks_are_the_means_of_ones_own_bowls_and_rounds() -> None:
    of = tasting()
    made = marks(of)
    table = rating_table(night(of, made))
    places = own_places(table, "2")
    oro = [bowl.code for bowl in of.plan.bowls if bowl.coffee_id == "oro"]
    mine = [
        each
        for each in made
        if each.seat == "s2" and each.bowl in oro and each.sensation == "acidity"
    ]
    assert len(mine) == 6
    strong = np.mean([each.intensity or 0 for each in mine]) / 100
    assert places["acidity"]["Oro"][0] == pytest.approx(strong)
    assert own_places(table, "99") == {}
    pad = with_own(pads(analyse(table), table)[0], places["acidity"])
    assert all(each.own is not None for each in pad.coffees)


def test_a_pad_is_well_formed_and_writes_names_as_text() -> None:
    pad = drawn(at("<b>Oro & Co</b>", 0.2, 0.8), at("Brisa", 0.21, 0.79, 1))
    root = ElementTree.fromstring(pad_svg(pad))
    texts = [each.text for each in root.iter(f"{SVG}text")]
    assert "<b>Oro & Co</b>" in texts
    assert not list(root.iter(f"{SVG}b"))
    assert root.find(f"{SVG}title") is not None
    assert "strength 20, liking 80 of 100" in (root.findtext(f"{SVG}title") or "")
    assert " style=" not in pad_svg(pad)


def test_an_ellipse_is_turned_the_way_the_page_counts_angles() -> None:
    root = ElementTree.fromstring(pad_svg(drawn(at("Oro", 0.25, 0.75))))
    (ellipse,) = root.iter(f"{SVG}ellipse")
    assert ellipse.get("transform") == "translate(100.0 100.0) rotate(-30.0)"
    assert (ellipse.get("rx"), ellipse.get("ry")) == ("40.0", "20.0")


@given(
    st.lists(st.tuples(st.floats(0, 400), st.floats(0, 400)), min_size=1, max_size=12, unique=True)
)
@settings(max_examples=60, deadline=None)
def test_labels_stay_on_the_pad(dots: list[tuple[float, float]]) -> None:
    bounds = Box(200, 200, 392, 392)
    for box in place_labels(dots, [(90.0, 22.0)] * len(dots), bounds):
        assert abs(box.x - 200) + 45 <= 196 + 1e-6
        assert abs(box.y - 200) + 11 <= 196 + 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_eight_close_labels_do_not_hide_each_other(seed: int) -> None:
    rng = np.random.default_rng(seed)
    dots = [(float(x), float(y)) for x, y in rng.normal(200, 45, (8, 2))]
    boxes = place_labels(dots, [(95.0, 22.0)] * 8, Box(200, 200, 392, 392))
    hidden = sum(a.overlap(b) for i, a in enumerate(boxes) for b in boxes[:i])
    assert hidden <= 0.02 * 8 * 95 * 22


@given(st.lists(st.floats(0, 100), min_size=1, max_size=9))
def test_spread_values_keep_order_gap_and_limits(values: list[float]) -> None:
    ascending = sorted(values)
    moved = spread_out(ascending, 8.5, (0, 100))
    assert all(b - a >= 8.5 - 1e-6 for a, b in pairwise(moved))
    assert moved[0] >= -1e-6
    assert moved[-1] <= 100 + 1e-6


def test_charts_are_rendered_in_the_pages_own_colours_without_styles() -> None:
    of = tasting()
    table = rating_table(night(of, marks(of)))
    analysis = analyse(table)
    fit = analysis.get("verdict", "liking")
    assert fit is not None
    tones = {name: number for number, name in enumerate(coffee_order(analysis))}
    rounds = [(each.key, each.name) for each in of.setup.rounds]
    trend = trend_spec(fit, tones, rounds)
    assert trend is not None
    assert trend_spec(fit, tones, rounds[:1]) is None
    for spec in (ranking_spec(fit, tones), trend):
        drawing = chart_svg(spec, "one", 'Says "what" it <shows>')
        root = ElementTree.fromstring(drawing)
        assert root.findtext(f"{SVG}title") == 'Says "what" it <shows>'
        assert "var(--ink)" in drawing
        assert "var(--tone-1)" in drawing
        assert " style=" not in drawing
        texts = {each.text for each in root.iter(f"{SVG}text")}
        assert {"Brisa", "Oro", "Umbra"} <= texts


def test_two_charts_on_a_page_share_no_ids() -> None:
    of = tasting()
    table = rating_table(night(of, marks(of)))
    analysis = analyse(table)
    tones = {name: number for number, name in enumerate(coffee_order(analysis))}
    found = []
    for name in ("one", "two"):
        root = ElementTree.fromstring(chart_svg(ranking_spec(analysis.fits[0], tones), name, "x"))
        found.append({each.get("id") for each in root.iter() if each.get("id")})
    assert found[0]
    assert not found[0] & found[1]
