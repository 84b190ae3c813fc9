"""What the host decides before a tasting: who, what, how much, how warm."""

from dataclasses import dataclass
from typing import Literal

RoundKind = Literal["aroma", "taste"]
Walk = Literal["sensations", "bowls"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One visit to all bowls.

    ``target_c`` is the temperature at which a tasted round is called; None for a round that
    is not tied to one (dry aroma is smelled before any water is poured).
    """

    key: str
    name: str
    kind: RoundKind
    target_c: float | None = None


DRY_AROMA = Round(key="dry", name="Dry aroma", kind="aroma")
WET_AROMA = Round(key="wet", name="Wet aroma", kind="aroma")
HOT = Round(key="hot", name="Hot", kind="taste", target_c=60.0)
WARM = Round(key="warm", name="Warm", kind="taste", target_c=50.0)
COOL = Round(key="cool", name="Cool", kind="taste", target_c=40.0)
ALL_ROUNDS = (DRY_AROMA, WET_AROMA, HOT, WARM, COOL)
DEFAULT_ROUNDS = (HOT, WARM, COOL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """A bowl's geometry: what it holds and how wide its mouth is, for doses and cooling.

    The defaults are a common 200 mL bowl: 207-266 mL and a rim of 76-89 mm is the range of a
    trade protocol (SCA 2018, seen in secondary sources).
    """

    volume_ml: float = 200.0
    rim_mm: float = 82.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Everything the host chose for one tasting.

    ``repeats`` names the coffees that are poured into one further bowl each (name a coffee
    twice for two further bowls). ``most_per_flight`` is how many bowls are tasted as one group
    at the most. ``kettle_w`` is the power of the kettle, which says how long another filling
    takes (2 kW is a common household kettle, common practice). With ``host_tastes`` the reveal
    is late: nobody types which coffee is in which bowl until the tasting has closed. ``asked``
    holds the keys of the sensations that each round asks, in the order of ``rounds``; empty in
    tastings from before it was stored (see `twobowls.tasting.asking.asked_in`). ``walk`` is how
    a seat is led: sensation by sensation or bowl by bowl. Files with the marks carry seat
    numbers; with ``names_in_files`` the host may ask for names in them, and the seats are told
    so.
    """

    name: str
    coffee_ids: tuple[str, ...]
    seats: int = 4
    rounds: tuple[Round, ...] = DEFAULT_ROUNDS
    repeats: tuple[str, ...] = ()
    most_per_flight: int = 8
    vessel: Vessel = Vessel()
    ratio_g_per_l: float = 55.0
    water_c: float = 93.0
    room_c: float = 21.0
    kettle_ml: float = 1000.0
    kettle_w: float = 2000.0
    purge_g: float = 5.0
    pour_gap_s: float = 20.0
    first_sip_c: float = 60.0
    host_tastes: bool = False
    asked: tuple[tuple[str, ...], ...] = ()
    walk: Walk = "sensations"
    names_in_files: bool = False
