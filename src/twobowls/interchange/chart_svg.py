"""Vega-Lite specifications to inline SVG. The renderer is started when the first chart is due."""

import re
from html import escape
from typing import Any

from twobowls.interchange.chart_process import ChartProcess
from twobowls.tasting.typed_text import drawable

_PROCESS = ChartProcess()
_SIZE = re.compile(r' width="([\d.]+)" height="([\d.]+)"')
_IDS = re.compile(r'(id="|url\(#)(?!chart-)')


def chart_svg(spec: dict[str, Any], name: str, description: str) -> str:
    """Render a specification.

    Parameters
    ----------
    spec : dict
        Vega-Lite.
    name : str
        Distinguishes the ids of several charts on a page; letters, digits and hyphens.
    description : str
        What the chart shows, for those who do not see it.

    Returns
    -------
    str
        An ``svg`` element that takes the width it is given, without style attributes; its
        colours are the page's custom properties.

    Raises
    ------
    ChartError
        The renderer could not draw it.
    """
    return _ours(_PROCESS.draw(_drawable(spec)), name, drawable(description))


def _drawable(part: Any) -> Any:
    """Return a part of a specification whose texts the renderer can hold."""
    if isinstance(part, str):
        return drawable(part)
    if isinstance(part, dict):
        return {key: _drawable(value) for key, value in part.items()}
    return [_drawable(each) for each in part] if isinstance(part, list | tuple) else part


def _ours(drawn: str, name: str, description: str) -> str:
    """Make the drawing fit its place, keep its ids apart, and tell what it shows once."""
    inside = drawn[drawn.index(">") + 1 :]
    head = drawn[: drawn.index(">")]
    size = _SIZE.search(head)
    width, height = (size.group(1), size.group(2)) if size else ("400", "200")
    inside = re.sub(r' (role|aria-[a-z]+)="[^"]*"', "", inside)
    inside = _IDS.sub(rf"\1chart-{name}-", inside)
    inside = inside.replace('font-family="sans-serif"', 'class="chart-text"')
    title = f'<title id="title-chart-{name}">{escape(description)}</title>'
    return (
        f'<svg class="chart" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'aria-labelledby="title-chart-{name}" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}">{title}{inside}'
    )
