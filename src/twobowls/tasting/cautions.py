"""What to take care of at the table: short, said once, each with its source.

The sources were read in secondary copies where a line below says so.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution for the people at the table."""

    key: str
    text: str
    source: str


CAUTIONS = (
    Caution(
        key="heat",
        text=(
            "Wait with the first sip until the bowl is at 60–62 °C. Trade practice begins "
            "near 71 °C; that is above the 65 °C that health agencies warn of, and hot "
            "enough to scald in about a second. Most people like coffee best near 58–60 °C."
        ),
        source=(
            "Very hot drinks, above 65 °C: IARC group 2A, 2016. Scald times: US Consumer "
            "Product Safety Commission (66 °C 2 s, 60 °C 6 s; secondary). Liked "
            "temperatures: Lee and O'Mahony 2002, Brown and Diller 2008. 71 °C: SCAA "
            "protocol 2009 (secondary)."
        ),
    ),
    Caution(
        key="spoon",
        text=(
            "A spoon that has been in your mouth stays out of the bowls. Rinse it between "
            "bowls and dry it, or ladle each sip into your own cup with a second spoon."
        ),
        source="Common practice of hygiene at a shared table; no single source.",
    ),
    Caution(
        key="caffeine",
        text=(
            "A healthy adult can have 400 mg of caffeine a day and 200 mg at once without "
            "concern; pregnant or breast-feeding, 200 mg a day. A swallowed 200 mL bowl can "
            "hold well over 100 mg. Late in the day even 100 mg may delay sleep. Children, "
            "and people with heart trouble or medicines that clash with caffeine: sniff "
            "only, or ask a doctor."
        ),
        source=(
            "EFSA, Scientific opinion on the safety of caffeine, 2015 (secondary). Bowl: "
            "11 g of arabica at 1.2 % caffeine holds 132 mg; our arithmetic."
        ),
    ),
    Caution(
        key="spitting",
        text=(
            "Spitting is fine and polite. Take a cup for it: you will taste the last bowl "
            "better, and sleep better too."
        ),
        source="Common practice.",
    ),
    Caution(
        key="allergens",
        text=(
            "Black coffee is free of the common allergens, but snacks, milk and flavoured or "
            "infused coffees may not be: read the labels and tell the table. Words such as "
            "nutty are a smell, not an ingredient."
        ),
        source=(
            "Common practice; EU Regulation 1169/2011, Annex II, lists the allergens (from memory)."
        ),
    ),
)
