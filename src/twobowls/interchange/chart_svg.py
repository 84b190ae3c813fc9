"""Vega-Lite specifications to inline SVG. The renderer is loaded when the first chart is due."""

import re
from html import escape
from threading import Lock
from typing import Any

_LOCK = Lock()  # one renderer, one chart at a time
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
    """
    import vl_convert

    with _LOCK:
        drawn: str = vl_convert.vegalite_to_svg(spec)
    return _ours(drawn, name, description)


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
