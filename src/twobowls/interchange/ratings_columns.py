"""Which column of a ratings file is what: guessed from names and values, shown, overridden."""

import re
import unicodedata
from collections.abc import Mapping as ReadOnly
from collections.abc import Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Literal, Protocol

from twobowls.debrief.rating_table import SCALES, Scale
from twobowls.errors import InputError
from twobowls.interchange.ratings_wording import COMMAND, Wording

Role = Literal[
    "taster",
    "coffee",
    "sensation",
    "intensity",
    "liking",
    "round",
    "position",
    "bowl",
    "flight",
    "repeat",
    "counts",
    "kept",
]
NUMERIC: frozenset[Role] = frozenset({"intensity", "liking", "counts", "kept"})
FACTORS: tuple[Role, ...] = (
    "taster",
    "coffee",
    "sensation",
    "round",
    "position",
    "bowl",
    "flight",
    "repeat",
)
LEAVE_OUT = "none"

# Everyday names of the columns in several languages, in the order in which they are believed.
_NAMES: dict[Role, str] = {
    "taster": (
        "taster judge panelist panellist assessor consumer subject respondent participant rater "
        "evaluator juror tester person seat user verkoster pruefer prufer richter juez catador "
        "panelista evaluador provador avaliador degustateur juge sujet giudice assaggiatore"
    ),
    "coffee": (
        "coffee product sample treatment prod item variety bean brand lot kaffee produkt probe "
        "muestra producto cafe amostra produto echantillon produit campione prodotto caffe"
    ),
    "sensation": (
        "sensation attribute descriptor property characteristic trait dimension merkmal "
        "eigenschaft atributo caracteristica attribut propriete attributo"
    ),
    "intensity": (
        "intensity strength rating score value response mark y intensitaet intensitat "
        "intensidad intensidade intensite intensita wert valor note nota puntaje"
    ),
    "liking": (
        "liking hedonic acceptance acceptability preference pleasantness like gefallen agrado "
        "aceptacion aceitacao appreciation gradimento"
    ),
    "round": "round session visit time occasion stage day week runde ronda rodada sesion seance",
    "position": "position order pos place sequence reihenfolge orden ordem ordre ordine posizione",
    "bowl": "bowl cup code bottle glass vessel tasse schale taza xicara bol tazza",
    "flight": "flight block group",
    "repeat": (
        "repeat rep replicate replication repetition wiederholung repeticion repeticao ripetizione"
    ),
    "counts": "counts",
    "kept": "kept",
}
_MOST_LEVELS = {"round": 40, "flight": 40, "repeat": 40, "position": 60, "sensation": 200}
WHOLE_NAME = 3.0  # what `name_match` gives at least when the whole name says the role
_NEVER_A_SCALE = re.compile(
    r"(^|_)(id|rownames|row|index|nr|no|number|age|alter|year|date|column_1|at_ms)($|_)"
)
_NUMBER = re.compile(r"[-+]?(\d+[.,]?\d*|[.,]\d+|inf|infinity)(e[-+]?\d+)?", re.IGNORECASE)


class Header(Protocol):
    """What is known of a table before it is read: its columns, and a look into each."""

    @property
    def columns(self) -> tuple[str, ...]:
        """The names."""
        ...  # pragma: no cover

    def sample_of(self, column: str) -> list[str]:
        """Return the first values of a column as text, without the missing ones."""
        ...  # pragma: no cover


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """Which column plays which role, and how each was found.

    ``columns`` maps roles to column names. For a wide file ``sensations`` lists the columns
    that are sensations and ``wide_scale`` says what their values are. ``guessed`` has the
    roles ("sensations" too) that nobody stated; ``rivals`` the columns that could have played
    a guessed role as well. ``unfit`` has columns that are called after a role but hold
    something else, where the role is left without a column.
    """

    columns: dict[Role, str]
    sensations: tuple[str, ...] = ()
    wide_scale: Scale = "intensity"
    guessed: frozenset[str] = frozenset()
    rivals: dict[str, tuple[str, ...]] = field(default_factory=dict)
    unfit: dict[str, str] = field(default_factory=dict)

    @property
    def scales(self) -> tuple[Scale, ...]:
        """The scales that the file has values for."""
        if self.sensations:
            return (self.wide_scale,)
        return tuple(each for each in SCALES if each in self.columns)


def map_columns(
    told: Header,
    stated: ReadOnly[Role, str],
    sensations: tuple[str, ...] = (),
    wide_scale: Scale = "intensity",
    one_taster: bool = False,
    wording: Wording = COMMAND,
) -> Mapping:
    r"""Give every role its column: the stated ones first, the rest by their names and values.

    Parameters
    ----------
    told : Header
        The file's (or frame's) columns and first rows.
    stated : mapping of role to column
        What the user said; the column ``"none"`` leaves a role out.
    sensations : tuple of str
        The columns of a wide file, one a sensation.
    wide_scale : {"intensity", "liking"}
        What the values of a wide file are.
    one_taster : bool
        True when one person made all the marks and no column says who.
    wording : Wording
        What options are called in messages.

    Raises
    ------
    InputError
        When a stated column is not in the file, is used twice, or an indispensable one is
        neither stated nor recognised.

    Examples
    --------
    >>> from twobowls.interchange.delimited import sniff
    >>> told = sniff(b"judge,sample,attribute,score\nA,x,sweet,3\nA,y,sweet,4\n")
    >>> sorted(map_columns(told, {}).columns.items())[:3]
    [('coffee', 'sample'), ('intensity', 'score'), ('sensation', 'attribute')]
    """
    _check_stated(told, stated, sensations, wording)
    columns: dict[Role, str] = {
        role: name for role, name in stated.items() if not _left_out(told, name)
    }
    guesses = _Guesses(told, stated, columns, sensations)
    if not one_taster:
        guesses.guess("taster")
    for role in ("coffee", "sensation", "liking", "bowl", "repeat", "position", "round", "flight"):
        guesses.guess(role)
    wide = sensations
    if not wide:
        guesses.guess("intensity")
        guesses.guess("counts")
        guesses.guess("kept")
        wide = guesses.values()
    _check_complete(columns, wide, one_taster, told, wording)
    return Mapping(
        columns=columns,
        sensations=wide,
        wide_scale=wide_scale,
        guessed=frozenset(guesses.made),
        rivals=guesses.rivals,
        unfit=guesses.unfit,
    )


class _Guesses:
    """The state of guessing: columns still free, and what has been guessed so far."""

    def __init__(
        self,
        told: Header,
        stated: ReadOnly[Role, str],
        columns: dict[Role, str],
        sensations: tuple[str, ...],
    ) -> None:
        self.told = told
        self.stated = stated
        self.columns = columns
        self.wide = bool(sensations)
        self.taken = {*columns.values(), *sensations}
        self.made: set[str] = set()
        self.rivals: dict[str, tuple[str, ...]] = {}
        self.unfit: dict[str, str] = {}

    def free(self) -> list[str]:
        return [each for each in self.told.columns if each not in self.taken]

    def guess(self, role: Role) -> None:
        """Give a role that nobody stated the best free column whose name says so."""
        if role in self.stated or (self.wide and role in ("sensation", "intensity", "liking")):
            return
        marks = {name: name_match(name, role) for name in self.free()}
        fitting = [
            name for name, mark in marks.items() if mark and _values_fit(self.told, name, role)
        ]
        if not fitting:
            named = [name for name, mark in marks.items() if mark >= WHOLE_NAME]
            if named:
                self.unfit[role] = named[0]
            return
        fitting.sort(key=lambda name: -marks[name])
        self.columns[role] = fitting[0]
        self.taken.add(fitting[0])
        self.made.add(role)
        if len(fitting) > 1 and role in ("taster", "coffee", "sensation", "intensity", "liking"):
            self.rivals[role] = tuple(fitting[1:])

    def values(self) -> tuple[str, ...]:
        """Take the numeric columns left over as values: one alone, several as a wide file."""
        stated = any(each in self.stated for each in ("intensity", "liking", "sensation"))
        if stated or any(each in self.columns for each in SCALES):
            return ()
        numeric = [
            each
            for each in self.free()
            if _numeric(self.told.sample_of(each)) and not _NEVER_A_SCALE.search(plain(each))
        ]
        if len(numeric) == 1:
            self.columns["intensity"] = numeric[0]
            self.made.add("intensity")
            return ()
        if numeric and "sensation" not in self.columns:
            self.made.add("sensations")
            return tuple(numeric)
        return ()


def plain(text: str) -> str:
    """Reduce a name to what its spelling variants share.

    Examples
    --------
    >>> plain("  Échantillon Nº-7 "), plain("tasterName")
    ('echantillon_n_7', 'taster_name')
    """
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    bare = unicodedata.normalize("NFKD", spaced.replace("º", " ")).casefold()
    ascii_only = "".join(each for each in bare if not unicodedata.combining(each))
    return "_".join(re.findall(r"[^\W_]+", ascii_only))


def _left_out(told: Header, name: str) -> bool:
    return name == LEAVE_OUT and name not in told.columns


def name_match(name: str, role: Role) -> float:
    """Return how well a column's name says the role: 0 not at all, more for the whole name."""
    bare = plain(name)
    words = bare.split("_")
    known = _NAMES[role].split()
    singular = {bare, bare.removesuffix("s")}
    for rank, word in enumerate(known):
        bonus = 1 - rank / len(known)
        if word in singular:
            return WHOLE_NAME + bonus
        if len(words) > 1 and word in words and role not in ("counts", "flight"):
            return (0.5 if "id" in words or "at" in words else 1) + bonus
    return 0.0


def _values_fit(told: Header, name: str, role: Role) -> bool:
    values = told.sample_of(name)
    if role == "counts":
        return set(values) <= {"0", "1"}
    if role in NUMERIC:
        return _numeric(values, share=0.5)  # the name speaks for it; bad cells are told later
    most = _MOST_LEVELS.get(role)
    return most is None or len(set(values)) <= most


def _numeric(values: list[str], share: float = 0.9) -> bool:
    if not values:
        return False
    return sum(1 for each in values if _NUMBER.fullmatch(each)) >= share * len(values)


def near(name: str, known: Sequence[str]) -> str:
    """Offer what was probably meant and list what there is, as a cure.

    Examples
    --------
    >>> near("tastr", ["taster", "coffee"])
    "Did you mean 'taster'? There are: taster, coffee"
    """
    listed = ", ".join(known[:30]) + (", ..." if len(known) > 30 else "")
    plain_names = {plain(each): each for each in known}
    close = get_close_matches(plain(name), plain_names, n=1)
    if close:
        return f"Did you mean {plain_names[close[0]]!r}? There are: {listed}"
    return f"Use one of: {listed}"


def _check_stated(
    told: Header, stated: ReadOnly[Role, str], sensations: tuple[str, ...], wording: Wording
) -> None:
    used: dict[str, str] = {}
    pairs = [*stated.items(), *(("sensations", each) for each in sensations)]
    for role, name in pairs:
        if _left_out(told, name):
            continue
        if name not in told.columns:
            raise InputError(
                role,
                f"the {wording.thing} has no column {name!r}",
                near(name, told.columns),
            )
        if name in used:
            raise InputError(
                role,
                f"the column {name!r} is already the {used[name]}",
                "Give each role its own column",
            )
        used[name] = role
    if sensations:
        for role in ("sensation", "intensity", "liking"):
            if role in stated:
                raise InputError(
                    role,
                    f"a {wording.thing} is either long or wide",
                    f"Leave out {wording.option(role)}, or leave out "
                    f"{wording.option('sensations')}",
                )


def _check_complete(
    columns: dict[Role, str],
    wide: tuple[str, ...],
    one_taster: bool,
    told: Header,
    wording: Wording,
) -> None:
    names = ", ".join(told.columns)
    option = wording.option
    if "taster" not in columns and not one_taster:
        raise InputError(
            "taster",
            f"no column looks like it among {names}",
            f"Name it with {option('taster')}, or say {wording.flag('one-taster')} if one person "
            "made all the marks",
        )
    if "coffee" not in columns:
        raise InputError(
            "coffee", f"no column looks like it among {names}", f"Name it with {option('coffee')}"
        )
    if not wide and not any(each in columns for each in SCALES):
        raise InputError(
            "intensity",
            f"no column of numbers looks like the marks among {names}",
            f"Name it with {option('intensity')} or {option('liking')}, or the columns of a wide "
            f"{wording.thing} with {option('sensations')}",
        )
