"""A tasting's debrief as plain dictionaries: the analysis, and what only a tasting has."""

from dataclasses import asdict
from typing import Any

from twobowls.debrief.attempts import Attempts
from twobowls.debrief.joined_picks import JoinedPicks, WithPicks
from twobowls.debrief.liked_words import FamilyLift, LikedWords
from twobowls.debrief.marking import TableMarking
from twobowls.debrief.tasting_debrief import TastingDebrief
from twobowls.interchange.analysis_json import LAYOUT, analysis_dict, checks_dict, repeats_dict


def debrief_dict(debrief: TastingDebrief) -> dict[str, Any]:
    """Return a debrief as dictionaries, lists, texts and numbers.

    The fields of the analysis are those of ``twobowls analyse --json``. Steadiness is told for
    the table alone: a single person's is that person's own. ``fits`` are of the marks alone;
    ``with_picks`` has the contrasts again where picks join them. ``failed`` names the parts that
    could not be worked out, and are empty.
    """
    night, tasting, tried = debrief.night, debrief.night.tasting, Attempts()
    get = tried.get
    whole = get("analysis", lambda: analysis_dict(debrief.analysis, debrief.findings), {})
    parts: dict[str, Any] = {
        "repeatability": get(
            "repeatability", lambda: [repeats_dict(each) for each in debrief.repeatability], []
        ),
        "checks": get("checks", lambda: [checks_dict(each) for each in debrief.checks], []),
        "marking": get("marking", lambda: _marking(debrief.marking), None),
        "words": get("words", lambda: [asdict(each) for each in debrief.words], []),
        "word_liking": get("liked_words", lambda: _word_liking(debrief.liked_words), None),
        "picks": get(
            "picks",
            lambda: [{**asdict(each), "evidence": each.evidence} for each in debrief.picks],
            [],
        ),
        "with_picks": get("joined", lambda: [_joined(each) for each in debrief.joined], []),
        "changes": get("changes", lambda: asdict(debrief.changes), None),
    }
    return {
        "layout": whole.pop("layout", LAYOUT),
        "tasting": {
            "name": tasting.setup.name,
            "state": tasting.state,
            "seats": len(tasting.seats),
            "bowls": [
                {"code": bowl.code, "flight": bowl.flight + 1, "coffee": night.labels[bowl.code]}
                for bowl in tasting.plan.bowls
            ],
            "rounds": [{"key": each.key, "name": each.name} for each in tasting.setup.rounds],
        },
        "rows": len(debrief.table),
        **whole,
        **parts,
        "failed": sorted({*debrief.failed, *tried.failed}),
    }


def _word_liking(found: LikedWords | None) -> dict[str, Any] | None:
    """Return which families of words go with liking."""
    if found is None:
        return None
    return {
        "tasters": found.tasters,
        "coffees": found.coffees,
        "families": [_family(each) for each in found.families],
        "too_few": list(found.too_few),
        "expected_false": found.expected_false,
    }


def _family(each: FamilyLift) -> dict[str, Any]:
    same = each.same_coffee
    return {
        "family": each.family,
        "name": each.name,
        "said": each.said,
        "of": each.of,
        "difference": each.lift.estimate,
        "interval": [each.lift.low, each.lift.high],
        "probability": each.probability,
        "evidence": each.evidence,
        "same_coffee": None
        if same is None
        else {"difference": same.estimate, "interval": [same.low, same.high]},
    }


def _joined(found: JoinedPicks) -> dict[str, Any]:
    return {
        "fit": found.id,
        "sensation": found.sensation,
        "scale": found.scale,
        "picks": found.picks,
        "seats": found.seats,
        "same": found.same,
        "slope": found.slope,
        "people": [_with_picks(each) for each in found.people],
        "table": [_with_picks(each) for each in found.table],
    }


def _with_picks(each: WithPicks) -> dict[str, Any]:
    before, after = each.words
    return {
        "contrast": each.id,
        "a": each.a,
        "b": each.b,
        "difference": each.difference,
        "se": each.se,
        "interval": list(each.interval),
        "probability": each.after,
        "evidence": after,
        "marks_alone": {"probability": each.before, "evidence": before},
        "moved": each.moved,
    }


def _marking(found: TableMarking | None) -> dict[str, Any] | None:
    """Return how the table marks; a single person's marking is that person's own."""
    if found is None:
        return None
    return {
        "spread": None if found.spread is None else asdict(found.spread),
        "sensations": [asdict(each) for each in found.sensations],
    }
