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
            "Small sips, from about 60 °C: a careful start, though a spill still burns within "
            "seconds, children sooner. Trade practice begins near 71 °C; that is above the 65 °C "
            "that health agencies warn of, and scalds in about a second. A bowl's warmth is an "
            "estimate until somebody reads a thermometer. Most people like coffee best near "
            "58–60 °C."
        ),
        source=(
            "Very hot drinks, above 65 °C: IARC group 2A, 2016. Scald times: US Consumer "
            "Product Safety Commission (66 °C 2 s, 60 °C 6 s; secondary). Liked "
            "temperatures: Lee and O'Mahony 2002, Brown and Diller 2008. 71 °C: SCAA "
            "protocol 2009 (secondary)."
        ),
    ),
    Caution(
        key="scald",
        text=(
            "While water is poured nobody reaches across; kettle and cord are out of children's "
            "reach, wide sleeves are rolled up. A scald goes under cool running tap water for 20 "
            "minutes, at once. Get medical help for a child, a blister or the face."
        ),
        source=(
            "Cooling for 20 minutes: first-aid guidelines for burns (European Resuscitation "
            "Council 2021; from memory). Pouring: common practice."
        ),
    ),
    Caution(
        key="spoon",
        text=(
            "A clean spoon takes each sip from the bowl into your own cup. A spoon that has been "
            "in a mouth never goes back into a bowl. If you are ill, have bowls of your own. The "
            "thermometer's probe is washed before and after each bowl."
        ),
        source="Common practice of hygiene at a shared table; no single source.",
    ),
    Caution(
        key="caffeine",
        text=(
            "All that is drunk that day counts: a healthy adult can have 400 mg of caffeine, and "
            "200 mg at once; pregnant or breast-feeding, 200 mg a day; children at most 3 mg a "
            "kg. A swallowed 200 mL bowl can hold well over 100 mg, of robusta about twice that. "
            "Late in the day even 100 mg may delay sleep. With heart trouble, or medicines that "
            "clash with caffeine: ask a doctor."
        ),
        source=(
            "EFSA, Scientific opinion on the safety of caffeine, 2015 (secondary). Bowl: "
            "11 g of arabica at 1.2 % caffeine holds 132 mg; our arithmetic. Robusta at about "
            "twice that: common figures."
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
            "Plain black coffee is free of the common allergens; bread holds gluten, and snacks, "
            "milk, infused or barrel-aged coffees, and a grinder that has ground such coffee may "
            "bring others. Read the labels and tell the table. The word nutty describes a smell, "
            "not an ingredient."
        ),
        source=(
            "Common practice; EU Regulation 1169/2011, Annex II, lists the allergens (from memory)."
        ),
    ),
)
