"""Charts: whatever a name holds, and whatever breaks the renderer, the server goes on."""

from typing import Any
from xml.etree import ElementTree

import pytest

from twobowls.interchange.chart_process import ChartError, ChartProcess
from twobowls.interchange.chart_svg import chart_svg


def bars(name: str) -> dict[str, Any]:
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "data": {"values": [{"coffee": name, "mark": 40}]},
        "mark": "bar",
        "encoding": {
            "x": {"field": "mark", "type": "quantitative"},
            "y": {"field": "coffee", "type": "nominal"},
        },
    }


@pytest.mark.parametrize("sign", ["\x00", "\x01", "\x0b", "\x1b", "\ufffe", "\ud800"])
def test_a_name_that_no_drawing_can_hold_is_drawn_with_a_sign_in_its_place(sign: str) -> None:
    name = f"Amber{sign}Gate"
    drawn = chart_svg(bars(name), "one", f"The mean of {name}.")
    ElementTree.fromstring(drawn)
    assert drawn.count("Amber\N{REPLACEMENT CHARACTER}Gate") >= 2


def test_what_breaks_the_renderer_leaves_the_next_chart_standing() -> None:
    charts = ChartProcess()
    try:
        with pytest.raises(ChartError, match="broke off"):
            charts.draw(bars("Amber\x0bGate"))  # the renderer aborts its process
        assert "Amber Gate" in charts.draw(bars("Amber Gate"))
    finally:
        charts.close()


def test_what_the_renderer_refuses_is_told() -> None:
    charts = ChartProcess()
    try:
        with pytest.raises(ChartError):
            charts.draw({"mark": {"type": 5}, "data": {"values": "no"}, "encoding": []})
        assert "Oro" in charts.draw(bars("Oro"))
    finally:
        charts.close()


def test_a_chart_that_takes_too_long_is_given_up() -> None:
    charts = ChartProcess(longest_s=0.01)
    try:
        with pytest.raises(ChartError):
            charts.draw(bars("Oro"))
    finally:
        charts.close()
