"""``twobowls.words``: which words go with which coffee, where the table agrees, what is liked."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from twobowls.counting import count_of
from twobowls.debrief.evidence import evidence
from twobowls.debrief.rating_table import Factor, Values
from twobowls.errors import InputError
from twobowls.interchange.ratings_scale import guess_limits
from twobowls.notebook.asked import Asked, Rows
from twobowls.notebook.chance import Rng, generator
from twobowls.notebook.estimates import interval_cells, interval_words
from twobowls.notebook.marks import limits_of
from twobowls.notebook.pictures import map_picture
from twobowls.notebook.result import Picture, Result, Section
from twobowls.notebook.tables import Places, Table, rows_table
from twobowls.statistics.intervals import Interval
from twobowls.statistics.map_regions import WordMapRegions, word_map_regions
from twobowls.statistics.shared_lift import SharedLift, shared_lift
from twobowls.statistics.word_shares import mention_shares


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What the words show.

    ``said[c, w]`` counts the tasters who said word w of coffee c, of ``tasted[c]``;
    ``shares`` is what they make probable. ``map`` is None for a table too small to map, ``lift``
    empty without liking; each word's is held down by all the others.
    """

    coffees: tuple[str, ...]
    words: tuple[str, ...]
    said: Values
    tasted: Values
    shares: tuple[tuple[Interval, ...], ...]
    map: WordMapRegions | None
    lift: tuple[SharedLift, ...]


def words(
    frame: object,
    *,
    word: str | None = None,
    coffee: str | None = None,
    taster: str | None = None,
    liking: str | None = None,
    scale: tuple[float, float] | None = None,
    merge: Mapping[str, str] | None = None,
    rng: Rng = None,
    resamples: int = 300,
    level: float = 0.90,
) -> Result[Words]:
    """Say which words a table uses for which coffee, and which go with liking.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a taster, coffee and word. A row without a word stands for somebody who tasted
        and said nothing.
    word, coffee, taster : str, optional
        Columns of labels; found by their names when left out.
    liking : str, optional
        Column of liking, the same in all rows of a taster and coffee.
    scale : (low, high), optional
        Ends of the scale of liking; guessed from the marks when left out. Only the width
        matters, for how large a lift is thought likely.
    merge : dict, optional
        Spellings to read as others: ``{"nuty": "nutty"}``.
    rng : numpy.random.Generator or int, optional
        For the regions of the map; the same every time when left out.
    resamples : int
        How many maps are drawn anew for the regions.
    level : float
        Coverage of the intervals.

    Returns
    -------
    Result
        Tables ``shares`` (of people who would say the word), ``map``, ``lift`` (in points of
        liking; ``alone`` is the same for one word without regard to the others), ``columns``.

    Raises
    ------
    InputError
        When a column is missing, nobody said a word, a taster's liking differs between the
        rows of one coffee, or is off a stated scale.

    Notes
    -----
    Smoothed shares, correspondence analysis with bootstrap regions, lift of liking: sources in
    `twobowls.statistics.word_shares`, ``correspondence``, ``word_lift`` and
    ``shared_lift``.

    Examples
    --------
    >>> found = words({
    ...     "taster": ["Ada", "Bo", "Cy", "Ada", "Bo", "Cy"],
    ...     "coffee": ["Brisa"] * 3 + ["Oro"] * 3,
    ...     "word": ["citrus", "citrus", "floral", "nutty", "nutty", None],
    ... })
    >>> table = found.to_frame("shares")
    >>> table["word"][0], table["said"][0], table["of"][0]
    ('citrus', 2, 3)
    """
    asked = Asked(frame, merge)
    kinds = asked.labels("word", word)
    coffees, tasters = asked.labels("coffee", coffee), asked.labels("taster", taster)
    liked = asked.maybe_numbers("liking", liking)
    rows = asked.keep({}, {"coffee": coffees, "taster": tasters}, once=True)
    if not (kinds.codes[rows] >= 0).any():
        raise InputError(asked.used["word"], "nobody said a word", "Fill in the words")
    asked.spellings("word", kinds)
    kinds, coffees, tasters = kinds.take(rows), coffees.take(rows), tasters.take(rows)
    asked.spellings("taster", tasters)
    asked.spellings("coffee", coffees)
    said, tasted = _cells(kinds, coffees, tasters)
    found = Words(
        coffees=coffees.labels,
        words=kinds.labels,
        said=said.sum(axis=0),
        tasted=tasted.sum(axis=0),
        shares=mention_shares(said.sum(axis=0), tasted.sum(axis=0), level=level),
        map=_map(said, generator(rng), resamples, level, asked),
        lift=_lift(said, tasted, kinds, coffees, tasters, liked, rows, scale, level, asked),
    )
    return _told(found, asked, level)


def _cells(kinds: Factor, coffees: Factor, tasters: Factor) -> tuple[Values, Values]:
    """Return who said what of which coffee (tasters, coffees, words), and who tasted which."""
    shape = (len(tasters.labels), len(coffees.labels), len(kinds.labels))
    said, tasted = np.zeros(shape), np.zeros(shape[:2])
    tasted[tasters.codes, coffees.codes] = 1.0
    spoken = kinds.codes >= 0
    said[tasters.codes[spoken], coffees.codes[spoken], kinds.codes[spoken]] = 1.0
    return said, tasted


def _map(
    said: Values, rng: np.random.Generator, resamples: int, level: float, asked: Asked
) -> WordMapRegions | None:
    if len(said) < 2 or said.shape[1] < 3 or said.shape[2] < 3:
        asked.cautions.append("No map: it takes two tasters, three coffees and three words.")
        return None
    if (said.sum(axis=(0, 2)) == 0).any():
        asked.cautions.append("No map: of one coffee nobody said a word.")
        return None
    try:
        return word_map_regions(said, rng, resamples=resamples, level=level)
    except InputError as error:
        if error.field in ("resamples", "level"):
            raise
        asked.cautions.append(f"No map: {error.problem}.")
        return None


def _lift(
    said: Values,
    tasted: Values,
    kinds: Factor,
    coffees: Factor,
    tasters: Factor,
    liked: Values | None,
    rows: Rows,
    scale: tuple[float, float] | None,
    level: float,
    asked: Asked,
) -> tuple[SharedLift, ...]:
    limits = limits_of(scale, None).get("liking")
    if liked is None:
        return ()
    low, high = limits or guess_limits(liked[rows])
    for row in np.flatnonzero(rows & ((liked < low) | (liked > high)))[:1].tolist():
        raise InputError(
            asked.used["liking"],
            f"{liked[row]:g} is off the scale from {low:g} to {high:g}",
            "Correct it, or state the scale with scale=(low, high)",
            row,
        )
    liking = _liking(coffees, tasters, liked[rows], np.flatnonzero(rows), tasted.shape, asked)
    who, what = np.nonzero((tasted > 0) & ~np.isnan(liking))
    if not len(who):
        return ()
    return shared_lift(
        [tasters.labels[each] for each in who],
        [coffees.labels[each] for each in what],
        liking[who, what],
        said[who, what],
        kinds.labels,
        width=high - low,
        level=level,
    )


def _liking(
    coffees: Factor,
    tasters: Factor,
    liked: Values,
    places: np.ndarray,
    shape: tuple[int, ...],
    asked: Asked,
) -> Values:
    """Return one liking a taster and coffee; refuse two that differ."""
    table = np.full(shape, np.nan)
    table[tasters.codes, coffees.codes] = liked
    back = table[tasters.codes, coffees.codes]
    for at in np.flatnonzero(~np.isnan(liked) & (back != liked))[:1].tolist():
        raise InputError(
            asked.used["liking"],
            f"{tasters.labels[tasters.codes[at]]!r} likes {coffees.labels[coffees.codes[at]]!r} "
            "differently in two rows",
            "Give one liking for each taster and coffee, the same in all their rows",
            int(places[at]),
        )
    return table


def _told(found: Words, asked: Asked, level: float) -> Result[Words]:
    shares, lift, points = _shares(found), _lifts(found), _points(found)
    section = Section(
        sentences=_sentences(found),
        notes=(f"Share: of people like these who would say it; {interval_words(level)}.",),
        picture=_drawn(found, points),
        tables=(shares, lift) if found.lift else (shares,),
        folded=(*((points,) if found.map else ()), asked.columns_table()),
    )
    return Result(
        title=(
            f"Words: {count_of(len(found.words), 'word')}, {count_of(len(found.coffees), 'coffee')}"
        ),
        result=found,
        sections=(section,),
        tables=(shares, points, lift, asked.columns_table()),
        cautions=(*asked.cautions, *(found.map.cautions if found.map else ())),
        backend=asked.frame.backend,
    )


def _shares(found: Words) -> Table:
    rows: list[tuple[object, ...]] = []
    for c, coffee in enumerate(found.coffees):
        shares = found.shares[c]
        for w in np.argsort([-each.estimate for each in shares], kind="stable").tolist():
            counts = (int(found.said[c, w]), int(found.tasted[c]))
            rows.append((coffee, found.words[w], *counts, *interval_cells(shares[w])))
    header = ("coffee", "word", "said", "of", "share", "low", "high")
    places = dict.fromkeys(("share", "low", "high"), "share")
    return rows_table("shares", "Words of each coffee", header, rows, places)


def _points(found: Words) -> Table:
    rows: list[tuple[object, ...]] = []
    if found.map is not None:
        chart = found.map.map
        for kind, names, places, quality in (
            ("coffee", found.coffees, chart.coffees, chart.coffee_quality),
            ("word", found.words, chart.words, chart.word_quality),
        ):
            for name, place, shown in zip(names, places, quality, strict=True):
                rows.append((kind, name, *map(float, place[:2]), float(shown[:2].sum())))
    return rows_table("map", "Map", ("kind", "name", "x", "y", "quality"), rows)


def _lifts(found: Words) -> Table:
    rows = [
        (
            each.word,
            each.alone.said,
            each.alone.marks,
            *interval_cells(each.lift),
            each.probability,
            None if each.probability is None else evidence(each.probability),
            *interval_cells(each.alone.lift),
        )
        for each in sorted(found.lift, key=lambda one: -(one.lift.estimate if one.lift else -1e9))
    ]
    ends = ("lift", "low", "high"), ("alone", "alone_low", "alone_high")
    header = ("word", "said", "of", *ends[0], "probability", "evidence", *ends[1])
    places: dict[str, Places] = {**dict.fromkeys((*ends[0], *ends[1]), 1), "probability": 3}
    return rows_table(
        "lift", "How much better bowls are liked where the word was said", header, rows, places
    )


def _drawn(found: Words, points: Table) -> Picture | None:
    if found.map is None or len(found.map.map.inertias) < 2:
        return None
    outlines = {
        name: [(float(x), float(y)) for x, y in region.outline()]
        for name, region in zip(found.coffees, found.map.coffees, strict=True)
        if region is not None
    }
    shown = 100 * sum(found.map.map.inertia_shares[:2])
    said = (
        f"Map of coffees (dots) and words (italics); {shown:.0f} % of the differences. Coffees "
        "near each other were described alike."
    )
    return map_picture([row[:4] for row in points.rows()], outlines, said)


def _sentences(found: Words) -> tuple[str, ...]:
    said = []
    for c, coffee in enumerate(found.coffees):
        best = int(np.argmax(found.said[c]))
        if found.said[c, best] >= 2:
            many, everybody = int(found.said[c, best]), int(found.tasted[c])
            said.append(f"{coffee}: {found.words[best]} ({many} of {everybody}).")
    told = tuple(said) or ("No word was said by two tasters of the same coffee.",)
    return (*told, *_liked(found))


def _liked(found: Words) -> tuple[str, ...]:
    """Say which words go with liking, and that the others cannot be told."""
    known = [(each.word, each.lift, each.probability) for each in found.lift]
    said = []
    for word, lift, chance in known:
        if lift is None or chance is None or evidence(chance) == "cannot tell":
            continue
        way = "better" if chance >= 0.5 else "less"
        said.append(
            f"Where “{word}” was said, the coffee is liked {way}. {evidence(chance).capitalize()}."
        )
    if not said and any(lift is not None for _, lift, _ in known):
        said.append("Whether any word goes with liking cannot be told.")
    return tuple(said)
