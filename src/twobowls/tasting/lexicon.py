"""Words for flavour: thirteen broad families in the order of the alphabet, with finer terms.

Plain vocabulary, arranged our own way; a list, on purpose, and no picture.
"""

from dataclasses import dataclass

from twobowls.errors import NotFoundError


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A finer word within a family. ``synonyms`` are what people may type instead."""

    key: str
    name: str
    synonyms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A broad family of flavours: ``hint`` says in a few words what belongs to it."""

    key: str
    name: str
    hint: str
    terms: tuple[Term, ...]


def _family(key: str, name: str, hint: str, *terms: tuple[str, ...]) -> Family:
    """Each term is its name, then its synonyms; its key is the name with hyphens."""
    made = (
        Term(key=words[0].replace(" ", "-"), name=words[0], synonyms=tuple(words[1:]))
        for words in terms
    )
    return Family(key=key, name=name, hint=hint, terms=tuple(made))


FAMILIES = (
    _family(
        "cereal",
        "Cereal",
        "bread, grain, malt",
        ("biscuit", "cookie", "digestive"),
        ("bread crust", "crust", "fresh bread"),
        ("malt", "malty"),
        ("oats", "porridge", "oatmeal"),
        ("popcorn",),
        ("rice", "rice cake"),
        ("straw", "hay"),
    ),
    _family(
        "chemical",
        "Chemical",
        "medicine, rubber, salt",
        ("iodine", "seaweed"),
        ("medicine", "medicinal", "cough syrup"),
        ("metal", "metallic", "iron"),
        ("petrol", "fuel", "solvent"),
        ("plastic",),
        ("rubber", "tyre"),
        ("salt", "salty", "brine"),
    ),
    _family(
        "cocoa",
        "Cocoa",
        "chocolate, from milk to dark",
        ("cocoa powder", "cacao"),
        ("dark chocolate", "bittersweet chocolate"),
        ("hot chocolate", "drinking chocolate"),
        ("milk chocolate",),
        ("white chocolate",),
    ),
    _family(
        "earthy",
        "Earthy",
        "soil, mushroom, cellar",
        ("cellar", "musty", "damp cloth"),
        ("cork", "mould"),
        ("leather",),
        ("mushroom",),
        ("soil", "earth", "beetroot"),
        ("wood", "cedar", "sawdust"),
    ),
    _family(
        "fermented",
        "Fermented",
        "wine, vinegar, cheese",
        ("beer", "yeast"),
        ("cheese", "sour milk"),
        ("overripe fruit", "rotting fruit"),
        ("pickle", "sauerkraut"),
        ("rum", "whisky", "spirits", "liqueur"),
        ("vinegar",),
        ("wine", "winey", "cider"),
    ),
    _family(
        "floral",
        "Floral",
        "blossom, herb flowers, tea",
        ("black tea", "tea"),
        ("chamomile", "camomile"),
        ("elderflower",),
        ("honeysuckle",),
        ("jasmine",),
        ("lavender",),
        ("orange blossom", "neroli"),
        ("rose",),
    ),
    _family(
        "fruity",
        "Fruity",
        "any fruit, fresh or dried",
        ("apple or pear", "apple", "pear"),
        ("berries", "blackberry", "blueberry", "raspberry", "strawberry"),
        ("blackcurrant", "currant"),
        ("cherry or plum", "cherry", "plum"),
        ("citrus", "lemon", "lime", "orange", "grapefruit", "mandarin"),
        ("dried fruit", "raisin", "date", "fig", "prune"),
        ("peach or apricot", "peach", "apricot", "nectarine"),
        ("tropical fruit", "mango", "pineapple", "banana", "passion fruit", "papaya"),
    ),
    _family(
        "nutty",
        "Nutty",
        "nuts and seeds",
        ("almond", "marzipan"),
        ("chestnut",),
        ("hazelnut",),
        ("peanut", "peanut butter"),
        ("sesame", "tahini"),
        ("walnut", "pecan"),
    ),
    _family(
        "papery",
        "Papery",
        "cardboard, old, stale",
        ("cardboard",),
        ("dust", "dusty"),
        ("filter paper", "wet paper"),
        ("old nuts", "rancid"),
        ("stale bread", "stale"),
    ),
    _family(
        "roasted",
        "Roasted",
        "toast, smoke, ash",
        ("ash", "ashtray"),
        ("burnt", "charcoal", "charred"),
        ("grilled meat", "meaty", "broth"),
        ("smoke", "smoky", "campfire"),
        ("tar",),
        ("toast", "toasted"),
        ("tobacco", "pipe tobacco"),
    ),
    _family(
        "spice",
        "Spice",
        "warm and sharp spices",
        ("aniseed", "anise", "liquorice", "fennel"),
        ("cardamom",),
        ("cinnamon",),
        ("clove",),
        ("ginger",),
        ("nutmeg",),
        ("pepper", "black pepper"),
    ),
    _family(
        "sugary",
        "Sugary",
        "caramel, honey, vanilla",
        ("brown sugar", "muscovado", "panela"),
        ("butterscotch", "toffee", "butter"),
        ("caramel", "burnt sugar"),
        ("honey",),
        ("maple syrup", "maple"),
        ("molasses", "treacle"),
        ("vanilla",),
    ),
    _family(
        "vegetal",
        "Vegetal",
        "green, raw, garden",
        ("cut grass", "grass", "green"),
        ("garden herbs", "herbs", "mint", "thyme", "sage"),
        ("olive oil", "olive"),
        ("peas", "raw peas", "bean sprouts", "raw bean"),
        ("potato", "raw potato"),
        ("tomato", "tomato leaf"),
    ),
)
_BY_KEY = {each.key: each for each in FAMILIES}


def family(key: str) -> Family:
    """Return the family with this key.

    Parameters
    ----------
    key : str
        For example ``"nutty"``.

    Returns
    -------
    Family

    Raises
    ------
    NotFoundError
        When there is none.

    Examples
    --------
    >>> family("nutty").terms[0].name
    'almond'
    """
    try:
        return _BY_KEY[key]
    except KeyError:
        known = ", ".join(_BY_KEY)
        raise NotFoundError(f"There is no family {key!r}. Use one of: {known}.") from None


def word_name(family_key: str, term_key: str) -> str:
    """Return the text of a word: its finer term, or the family's name when there is none.

    Parameters
    ----------
    family_key : str
        A family.
    term_key : str
        A term of that family, or empty.

    Returns
    -------
    str

    Raises
    ------
    NotFoundError
        When there is no such family or term.

    Examples
    --------
    >>> word_name("cocoa", "dark-chocolate"), word_name("cocoa", "")
    ('dark chocolate', 'Cocoa')
    """
    within = family(family_key)
    if not term_key:
        return within.name
    for term in within.terms:
        if term.key == term_key:
            return term.name
    raise NotFoundError(f"There is no term {term_key!r} in the family {family_key!r}.")
