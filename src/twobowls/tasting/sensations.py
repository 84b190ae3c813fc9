"""The six sensations and the verdict: what each is, how to notice it, what it is taken for.

The names follow the open sensory vocabularies (ISO 5492, and ISO 18794 for coffee, as far as
they were seen in secondary sources); the sentences are our own.
"""

from dataclasses import dataclass

from twobowls.errors import NotFoundError
from twobowls.tasting.setup import Round, RoundKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """A few plain sentences that a taster can read in ten seconds.

    ``like`` holds two everyday comparisons, ``mistaken_for`` what people often take the
    sensation for.
    """

    what: str
    notice: str
    like: tuple[str, str]
    mistaken_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensation:
    """One pad: a thing to judge for how strong it is and how much it is liked.

    ``low`` and ``high`` name the ends of the intensity line. ``wait_s`` is how long to wait
    after swallowing or spitting before judging; 0 for most. ``rounds_kind`` is the kind of
    round from which the pad appears: ``"aroma"`` in all rounds, ``"taste"`` in tasted ones.
    """

    key: str
    name: str
    low: str
    high: str
    wait_s: int
    rounds_kind: RoundKind
    guide: Guide


AROMA = Sensation(
    key="aroma",
    name="Aroma",
    low="hardly any smell",
    high="fills the nose",
    wait_s=0,
    rounds_kind="aroma",
    guide=Guide(
        what=(
            "Everything you smell: through the nose when you sniff, and from the mouth up "
            "to the nose when you breathe out after a sip."
        ),
        notice=(
            "Sniff twice, short and close. Then sip, and breathe out through the nose. "
            "Pinch the nose and let go: what comes back is aroma."
        ),
        like=("warm toast from the next room", "peel of an orange as you bend it"),
        mistaken_for=(
            "Taste. Fruit, cocoa and nuts are smelled, not tasted; the tongue knows only "
            "sour, sweet, bitter, salty and savoury."
        ),
    ),
)

ACIDITY = Sensation(
    key="acidity",
    name="Acidity",
    low="flat",
    high="very sour",
    wait_s=0,
    rounds_kind="taste",
    guide=Guide(
        what="The sour taste of acids, from a gentle sparkle to a sharp bite.",
        notice=(
            "It comes at once, within the first second, and makes the mouth water: wait a "
            "moment after the sip, and notice how much."
        ),
        like=("a squeeze of lemon in water", "plain yoghurt"),
        mistaken_for=(
            "Bitterness: many people call sour bitter. Does your mouth water? That is sour. "
            "Does it come late, and stay? That is bitter."
        ),
    ),
)

BITTERNESS = Sensation(
    key="bitterness",
    name="Bitterness",
    low="none",
    high="very bitter",
    wait_s=0,
    rounds_kind="taste",
    guide=Guide(
        what="The bitter taste, as of caffeine and of dark roasting.",
        notice=(
            "It builds up slowly, is clearest after you have swallowed or spat, and stays. It "
            "does not make the mouth water."
        ),
        like=("cocoa powder without sugar", "the white pith of a grapefruit"),
        mistaken_for=(
            "Sourness, which is quick and makes the mouth water; and dryness, which is a "
            "rough feeling, not a taste. Sour comes first, bitter comes last."
        ),
    ),
)

SWEETNESS = Sensation(
    key="sweetness",
    name="Sweetness",
    low="none",
    high="very sweet",
    wait_s=0,
    rounds_kind="taste",
    guide=Guide(
        what=(
            "A soft, sweet impression. Black coffee holds very little sugar, so look for a "
            "hint; much of it comes by way of the smell."
        ),
        notice="Wait until the bowl is warm, not hot, and look for what rounds off the edges.",
        like=("milk, next to water", "the crust of fresh bread after chewing"),
        mistaken_for=(
            "A weak cup. Little sour and little bitter is not yet sweet. A smell of caramel "
            "can also feel like sweetness, and may count."
        ),
    ),
)

BODY = Sensation(
    key="body",
    name="Body",
    low="thin as tea",
    high="thick as cream",
    wait_s=0,
    rounds_kind="taste",
    guide=Guide(
        what="How full and weighty the coffee feels in the mouth. A feeling, not a taste.",
        notice="Roll a sip slowly between tongue and palate before you swallow or spit.",
        like=("skimmed milk against whole milk", "broth against water"),
        mistaken_for=(
            "Strength. A thin coffee can taste strong and a weak one can feel thick. "
            "A rough, dry feeling is not body either."
        ),
    ),
)

AFTERTASTE = Sensation(
    key="aftertaste",
    name="Aftertaste",
    low="gone at once",
    high="strong and long",
    wait_s=15,
    rounds_kind="taste",
    guide=Guide(
        what="What stays in the mouth and nose once the coffee is gone.",
        notice=(
            "Swallow or spit, wait a quarter of a minute, breathe out through the nose, then judge."
        ),
        like=("a mint, minutes later", "the taste that dark chocolate leaves behind"),
        mistaken_for=(
            "The last moment of the sip. Wait: the first impression fades, and what is "
            "still there then is the aftertaste."
        ),
    ),
)

VERDICT = Sensation(
    key="verdict",
    name="Verdict",
    low="faint",
    high="powerful",
    wait_s=0,
    rounds_kind="taste",
    guide=Guide(
        what="The whole cup: how strongly it comes across, and how much you like it.",
        notice="Take one more sip, stop counting parts, and ask if you would like another cup.",
        like=("a song as a whole, not its instruments", "a dish you would order again"),
        mistaken_for=(
            "How good the coffee ought to be. There is no right answer: you may love a "
            "faint cup and dislike a powerful one."
        ),
    ),
)

SENSATIONS = (AROMA, ACIDITY, BITTERNESS, SWEETNESS, BODY, AFTERTASTE, VERDICT)
_BY_KEY = {each.key: each for each in SENSATIONS}


def sensation(key: str) -> Sensation:
    """Return the sensation with this key.

    Parameters
    ----------
    key : str
        For example ``"acidity"``.

    Returns
    -------
    Sensation

    Raises
    ------
    NotFoundError
        When there is none.

    Examples
    --------
    >>> sensation("body").high
    'thick as cream'
    """
    try:
        return _BY_KEY[key]
    except KeyError:
        known = ", ".join(_BY_KEY)
        raise NotFoundError(f"There is no sensation {key!r}. Use one of: {known}.") from None


def sensations_in(round_: Round) -> tuple[Sensation, ...]:
    """Return the sensations that are judged in a round: the aroma alone where none is tasted.

    Parameters
    ----------
    round_ : Round
        The round.

    Returns
    -------
    tuple of Sensation
        In the order of the pads.

    Examples
    --------
    >>> from twobowls.tasting.setup import DRY_AROMA, HOT
    >>> [each.key for each in sensations_in(DRY_AROMA)]
    ['aroma']
    >>> len(sensations_in(HOT))
    7
    """
    if round_.kind == "aroma":
        return (AROMA,)
    return SENSATIONS
