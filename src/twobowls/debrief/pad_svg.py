"""A pad as an SVG drawing: text in, text out, every label escaped, no style of its own.

Colours, fonts and line widths come from the page's style sheet by class, so that one drawing
serves light, dark and print. Coffees are told apart by their labels first, by the lightness of
the dot and the dashes of the ellipse second, never by hue alone.
"""

from collections.abc import Sequence
from html import escape
from math import degrees, hypot

from twobowls.debrief.label_layout import Box, place_labels
from twobowls.debrief.pads import Pad, PadCoffee, Point
from twobowls.tasting.typed_text import drawable

SIDE = 400.0
TONES = 8
_TEXT = 15.0
_WIDE = 0.63  # width of a letter, as a share of the text's height
_LONGEST = 18
_AXIS = 26.0
# Where "liked", "disliked" and "neutral" are written.
_WORDS = (
    Box(30, 15, 44, 20),
    Box(40, SIDE - 15, 64, 20),
    Box(SIDE - 36, SIDE / 2 - 12, 56, 20),
)


def pad_svg(pad: Pad, people: str = "the table") -> str:
    """Draw a pad.

    Parameters
    ----------
    pad : Pad
        What stands on it.
    people : str
        Whose means they are, for the description that screen readers tell.

    Returns
    -------
    str
        An ``svg`` element whose drawing area is 400 by 400 units, the axis words below.

    Examples
    --------
    >>> empty = Pad(id="body", sensation="body", title="Body", low="a", high="b", coffees=())
    >>> pad_svg(empty)[:26]
    '<svg class="pad-drawing" r'
    """
    dots = [_at(each.centre) for each in pad.coffees]
    names = [short(each.coffee) for each in pad.coffees]
    own = [_at(each.own) for each in pad.coffees if each.own is not None]
    boxes = place_labels(
        [*dots, *own],
        [*((_width(name), _TEXT + 7) for name in names), *((0.0, 0.0) for _ in own)],
        Box(SIDE / 2, SIDE / 2, SIDE - 8, SIDE - 8),
        taken=_WORDS,
    )[: len(dots)]
    clip = f"clip-{pad.id}"
    parts = [
        _start(pad, people),
        f'<clipPath id="{clip}"><rect width="{SIDE:g}" height="{SIDE:g}" rx="12"/></clipPath>',
        *_ground(),
        f'<g clip-path="url(#{clip})">',
        *(_ellipse(each) for each in pad.coffees),
        *(_trail(each) for each in pad.coffees),
        *(_own(each) for each in pad.coffees),
        "</g>",
        *(_leader(dot, box) for dot, box in zip(dots, boxes, strict=True)),
        *(_dot(each) for each in pad.coffees),
        *(_label(name, box) for name, box in zip(names, boxes, strict=True)),
        *_axis_words(pad),
        "</svg>",
    ]
    return "".join(parts)


def _text(words: str) -> str:
    """Return a text as a drawing may hold it."""
    return escape(drawable(words))


def pad_description(pad: Pad, people: str = "the table") -> str:
    """Say in words what the drawing of a pad shows.

    Examples
    --------
    >>> from twobowls.statistics.ratings_joint import Ellipse
    >>> one = PadCoffee(
    ...     coffee="Oro", tone=0, centre=(0.3, 0.7),
    ...     ellipse=Ellipse(centre=(0.3, 0.7), semi_axes=(0.1, 0.1), angle_rad=0.0),
    ... )
    >>> pad_description(Pad(id="x", sensation="x", title="X", low="a", high="b", coffees=(one,)))
    'X as the table sees it. Oro: strength 30, liking 70 of 100.'
    """
    said = [f"{pad.title} as {people} sees it."]
    for each in pad.coffees:
        strength, liking = map(_per_cent, each.centre)
        line = f"{each.coffee}: strength {strength}, liking {liking}"
        if each.own is not None:
            line += f"; you: {_per_cent(each.own[0])} and {_per_cent(each.own[1])}"
        said.append(f"{line} of 100.")
    return " ".join(said)


def short(name: str) -> str:
    """Cut a long name.

    Examples
    --------
    >>> short("Greywether"), short("A very long coffee name")
    ('Greywether', 'A very long coffe…')
    """
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1].rstrip()}…"


def _start(pad: Pad, people: str) -> str:
    return (
        f'<svg class="pad-drawing" role="img" viewBox="-2 -2 {SIDE + 4:g} {SIDE + _AXIS + 4:g}" '
        f'xmlns="http://www.w3.org/2000/svg" aria-labelledby="title-{pad.id}">'
        f'<title id="title-{pad.id}">{_text(pad_description(pad, people))}</title>'
    )


def _ground() -> Sequence[str]:
    half, end = SIDE / 2, SIDE - 10
    return (
        f'<rect class="pad-up" width="{SIDE:g}" height="{SIDE:g}" rx="12"/>',
        f'<path class="pad-down" d="M0 {half:g}H{SIDE:g}V{SIDE - 12:g}a12 12 0 0 1-12 12'
        f'H12a12 12 0 0 1-12-12Z"/>',
        f'<rect class="pad-frame" width="{SIDE:g}" height="{SIDE:g}" rx="12"/>',
        f'<line class="pad-neutral" x1="0" x2="{SIDE:g}" y1="{half:g}" y2="{half:g}"/>',
        '<text class="pad-word" x="10" y="20">liked</text>',
        f'<text class="pad-word" x="10" y="{end:g}">disliked</text>',
        f'<text class="pad-word" x="{end:g}" y="{half - 7:g}" text-anchor="end">neutral</text>',
    )


def _axis_words(pad: Pad) -> Sequence[str]:
    y = SIDE + 20
    return (
        f'<text class="pad-word" x="2" y="{y:g}">{_text(pad.low)}</text>',
        f'<text class="pad-word" x="{SIDE - 2:g}" y="{y:g}" text-anchor="end">'
        f"{_text(pad.high)}</text>",
    )


def _ellipse(each: PadCoffee) -> str:
    x, y = _at(each.ellipse.centre)
    wide, high = (SIDE * axis for axis in each.ellipse.semi_axes)
    turn = -degrees(each.ellipse.angle_rad)  # the page's y axis points down
    return (
        f'<ellipse class="pad-ellipse {_tone(each)} dash-{each.tone % 4 + 1}" '
        f'rx="{wide:.1f}" ry="{high:.1f}" '
        f'transform="translate({x:.1f} {y:.1f}) rotate({turn:.1f})"/>'
    )


def _trail(each: PadCoffee) -> str:
    points = [_at(point) for point in each.trail]
    if len(points) < 2:
        return ""
    line = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    dots = "".join(
        f'<circle class="pad-step" cx="{x:.1f}" cy="{y:.1f}" r="{2 + number:g}"/>'
        for number, (x, y) in enumerate(points)
    )
    return f'<g class="pad-trail {_tone(each)}"><path d="M{line}"/>{dots}</g>'


def _own(each: PadCoffee) -> str:
    """Draw a thread from one taster's own place to where the table has the coffee."""
    if each.own is None:
        return ""
    (x, y), (to_x, to_y) = _at(each.own), _at(each.centre)
    return (
        f'<g class="pad-own {_tone(each)}"><line x1="{x:.1f}" y1="{y:.1f}" x2="{to_x:.1f}" '
        f'y2="{to_y:.1f}"/><rect x="{x - 6:.1f}" y="{y - 6:.1f}" width="12" height="12" '
        f'transform="rotate(45 {x:.1f} {y:.1f})"/></g>'
    )


def _dot(each: PadCoffee) -> str:
    x, y = _at(each.centre)
    return f'<circle class="pad-mean {_tone(each)}" cx="{x:.1f}" cy="{y:.1f}" r="7.5"/>'


def _leader(dot: Point, box: Box) -> str:
    """Draw a thin line to a label that had to go far from its dot."""
    near_x = min(max(dot[0], box.x - box.width / 2), box.x + box.width / 2)
    near_y = min(max(dot[1], box.y - box.height / 2), box.y + box.height / 2)
    if hypot(near_x - dot[0], near_y - dot[1]) < 14:
        return ""
    return (
        f'<line class="pad-leader" x1="{dot[0]:.1f}" y1="{dot[1]:.1f}" '
        f'x2="{near_x:.1f}" y2="{near_y:.1f}"/>'
    )


def _label(name: str, box: Box) -> str:
    left, top = box.x - box.width / 2, box.y - box.height / 2
    return (
        f'<g class="pad-name"><rect x="{left:.1f}" y="{top:.1f}" width="{box.width:.1f}" '
        f'height="{box.height:.1f}" rx="6"/><text x="{box.x:.1f}" y="{box.y + _TEXT * 0.35:.1f}" '
        f'text-anchor="middle">{_text(name)}</text></g>'
    )


def _at(share: Point) -> Point:
    """Return where a point of the pad lies in the drawing, kept on the pad."""
    x, y = (min(max(each, 0.0), 1.0) for each in share)
    return (SIDE * x, SIDE * (1 - y))


def _width(name: str) -> float:
    return len(name) * _TEXT * _WIDE + 12


def _tone(each: PadCoffee) -> str:
    return f"tone-{each.tone % TONES + 1}"


def _per_cent(share: float) -> str:
    return f"{100 * share:.0f}"
