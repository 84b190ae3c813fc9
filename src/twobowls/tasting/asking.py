"""What a tasting asks: which sensations in which rounds, and what that costs one person.

The choice is stored with the tasting. A sensation that is added to the program later is not
asked in tastings that were planned before.
"""

from dataclasses import dataclass, replace
from typing import Literal

from twobowls.tasting.cooling import Cooling
from twobowls.tasting.flights import bowls_of, largest_flight
from twobowls.tasting.sensations import SENSATIONS, Sensation
from twobowls.tasting.setup import Round, Setup, Walk
from twobowls.tasting.timeline import round_times

Choice = Literal["verdict", "short", "classic", "all"]
CHOICES: tuple[Choice, ...] = ("verdict", "short", "classic", "all")
Asked = tuple[tuple[str, ...], ...]  # a tuple of sensation keys for each round

# What every tasted round asked before the choice was stored: never to be added to.
_FORMER = ("aroma", "acidity", "bitterness", "sweetness", "body", "aftertaste", "verdict")
_SHORT = ("acidity", "sweetness", "body", "verdict")
_TASTE = ("acidity", "bitterness", "sweetness", "body", "aftertaste", "verdict")

# Our own estimates for a person who is used to it; a sip is small, from a spoon.
_PLACE_S, _SIP_S, _SNIFF_S, _ONWARD_S, _PICK_S = 3.0, 5.0, 3.0, 1.0, 4.0
_MOST_PICKS = 6  # picks asked in a round; at most one a pad
_SIP_ML = 5.0
_MOST_SIPS_A_ROUND = 24
_MOST_TAPS = 150  # our own: half an hour of attention at the phone
_MOST_CAFFEINE_MG = 200.0  # at once, for a healthy adult: EFSA 2015, as in the caution
_ARABICA = 0.012  # caffeine in roasted arabica by weight; robusta holds about twice that


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """What a plan asks of one person: seconds by round, and taps, sips and mg in all.

    ``caffeine_mg`` is what is drunk when every sip is swallowed and all coffees are arabica.
    """

    seconds: dict[str, float]
    taps: int
    sips: int
    caffeine_mg: float


def asked_in(setup: Setup) -> dict[str, tuple[Sensation, ...]]:
    """Return which sensations a tasting asks in each round.

    Parameters
    ----------
    setup : Setup
        The setup of the tasting. One from before the choice was stored asks the aroma in
        rounds that are smelled, and the seven sensations of that time in those tasted.

    Returns
    -------
    dict of str to tuple of Sensation
        By the key of the round, in the order of the pads.

    Examples
    --------
    >>> from twobowls.tasting.setup import DRY_AROMA, HOT
    >>> setup = Setup(name="x", coffee_ids=("a", "b"), rounds=(DRY_AROMA, HOT))
    >>> {key: len(pads) for key, pads in asked_in(setup).items()}
    {'dry': 1, 'hot': 7}
    >>> chosen = replace(setup, asked=(("aroma",), ("verdict", "body")))
    >>> [each.key for each in asked_in(chosen)["hot"]]
    ['body', 'verdict']
    """
    keys = setup.asked or asked_for("all", setup.rounds)
    return {
        round_.key: tuple(each for each in SENSATIONS if each.key in chosen)
        for round_, chosen in zip(setup.rounds, keys, strict=True)
    }


def asked_for(choice: Choice, rounds: tuple[Round, ...]) -> Asked:
    """Return what a ready choice asks in each round.

    Parameters
    ----------
    choice : {"verdict", "short", "classic", "all"}
        Classic asks the aroma in the first tasted round, the taste in those between, and the
        verdict in all; with a single tasted round it asks everything there.
    rounds : tuple of Round
        The rounds of the tasting. A round that is smelled asks for the aroma.

    Returns
    -------
    tuple of tuple of str

    Examples
    --------
    >>> from twobowls.tasting.setup import DEFAULT_ROUNDS
    >>> [len(keys) for keys in asked_for("classic", DEFAULT_ROUNDS)]
    [2, 6, 1]
    """
    tasted = [each.key for each in rounds if each.kind == "taste"]
    pads = _classic(tasted)
    if choice != "classic":
        one = {"verdict": ("verdict",), "short": _SHORT, "all": _FORMER}[choice]
        pads = dict.fromkeys(tasted, one)
    return tuple(pads[each.key] if each.kind == "taste" else ("aroma",) for each in rounds)


def _classic(tasted: list[str]) -> dict[str, tuple[str, ...]]:
    if not tasted:
        return {}
    if len(tasted) == 1:
        return {tasted[0]: _FORMER}
    first, *others = tasted
    between = others if len(others) == 1 else others[:-1]
    return {
        first: ("aroma", "verdict"),
        **{key: _TASTE if key in between else ("verdict",) for key in others},
    }


def effort(setup: Setup) -> Effort:
    """Work out what a tasting asks of one person.

    Parameters
    ----------
    setup : Setup
        What the host chose.

    Returns
    -------
    Effort

    Notes
    -----
    One tap puts one bowl on one pad, one goes on to the next pad, and a round asks at most
    one pick a pad and six in all. Sensation by sensation takes a sip for each bowl on each pad
    but the aroma; bowl by bowl takes one for every two of them. Caffeine: dose times 1.2 %, as
    in the caution; the times are our own estimates.

    Examples
    --------
    >>> from twobowls.tasting.setup import HOT
    >>> effort(Setup(name="x", coffee_ids=tuple("abcdef"), rounds=(HOT,))).taps
    55
    """
    bowls = sum(bowls_of(setup).values())
    taps = sips = 0
    seconds: dict[str, float] = {}
    for key, pads in asked_in(setup).items():
        picks = min(len(pads), _MOST_PICKS)
        tasted = sum(each.key != "aroma" for each in pads)
        sniffs = bowls * (len(pads) - tasted)
        drunk = bowls * (-(-tasted // 2) if setup.walk == "bowls" else tasted)
        waits = bowls * sum(each.wait_s for each in pads)
        taps += bowls * len(pads) + len(pads) + picks
        sips += drunk
        seconds[key] = (
            bowls * len(pads) * _PLACE_S
            + drunk * _SIP_S
            + sniffs * _SNIFF_S
            + waits
            + len(pads) * _ONWARD_S
            + picks * _PICK_S
        )
    per_ml = setup.ratio_g_per_l * _ARABICA  # g/L times a share is mg/mL
    return Effort(seconds=seconds, taps=taps, sips=sips, caffeine_mg=sips * _SIP_ML * per_ml)


def fits(setup: Setup, cooling: Cooling) -> bool:
    """Return whether a choice is not too much for one person.

    Parameters
    ----------
    setup : Setup
        What the host chose.
    cooling : Cooling
        How its bowls cool.

    Returns
    -------
    bool
        True when each tasted round of the largest flight is done before the next is called,
        with at most 150 taps, and at most 200 mg of caffeine where all is swallowed.

    Examples
    --------
    >>> from twobowls.tasting.cooling import cooling_model
    >>> setup = Setup(name="x", coffee_ids=tuple("abcdef"))
    >>> fits(setup, cooling_model(setup.vessel, 93.0, 21.0))
    False
    """
    largest = largest_flight(setup)
    share = largest / sum(bowls_of(setup).values())
    needed = effort(setup)
    return (
        needed.taps <= _MOST_TAPS
        and needed.caffeine_mg <= _MOST_CAFFEINE_MG
        and all(
            needed.seconds[each.round] * share <= each.seconds
            for each in round_times(setup, cooling)
        )
    )


def proposed(setup: Setup, cooling: Cooling) -> Choice:
    """Return the fullest ready choice that `fits`.

    Parameters
    ----------
    setup : Setup
        What the host chose otherwise.
    cooling : Cooling
        How its bowls cool.

    Returns
    -------
    {"verdict", "short", "classic", "all"}
        The verdict alone where nothing more fits.

    Examples
    --------
    >>> from twobowls.tasting.cooling import cooling_model
    >>> setup = Setup(name="x", coffee_ids=("a", "b"))
    >>> proposed(setup, cooling_model(setup.vessel, 93.0, 21.0))
    'all'
    """
    for choice in reversed(CHOICES):
        if fits(with_choice(setup, choice), cooling):
            return choice
    return "verdict"


def with_choice(setup: Setup, choice: Choice) -> Setup:
    """Return the setup with a ready choice, walked as `proposed_walk` says.

    Parameters
    ----------
    setup : Setup
        What the host chose otherwise.
    choice : {"verdict", "short", "classic", "all"}
        What to ask.

    Returns
    -------
    Setup

    Examples
    --------
    >>> with_choice(Setup(name="x", coffee_ids=("a", "b")), "verdict").asked
    (('verdict',), ('verdict',), ('verdict',))
    """
    asked = replace(setup, asked=asked_for(choice, setup.rounds))
    return replace(asked, walk=proposed_walk(asked))


def proposed_walk(setup: Setup) -> Walk:
    """Return how to walk a table: sensation by sensation while that is not too many sips.

    Parameters
    ----------
    setup : Setup
        What the host chose otherwise.

    Returns
    -------
    {"sensations", "bowls"}
        Bowls side by side on one pad are compared best, but each pad takes a sip of each bowl.
        Beyond 24 sips in a round, a limit of our own, bowl by bowl.

    Examples
    --------
    >>> proposed_walk(Setup(name="x", coffee_ids=("a", "b")))
    'sensations'
    >>> proposed_walk(Setup(name="x", coffee_ids=tuple("abcdef")))
    'bowls'
    """
    largest = largest_flight(setup)
    most = max(
        largest * sum(each.key != "aroma" for each in pads) for pads in asked_in(setup).values()
    )
    return "sensations" if most <= _MOST_SIPS_A_ROUND else "bowls"
