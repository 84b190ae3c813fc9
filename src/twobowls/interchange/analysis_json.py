"""An analysis as plain dictionaries for JSON. The layout is documented in docs/analyse.md."""

from collections.abc import Sequence
from typing import Any

from twobowls.debrief.analysis import Analysis, SensationFit
from twobowls.debrief.evidence import evidence
from twobowls.debrief.findings import Finding, Findings, find
from twobowls.debrief.model_checks import FitCheck
from twobowls.debrief.repeatability import Repeatability
from twobowls.interchange.ratings_file import RatingsFile
from twobowls.statistics.ratings_results import Contrast, LevelMean, Means

LAYOUT = 1


def analysis_dict(analysis: Analysis, findings: Findings | None = None) -> dict[str, Any]:
    """Return an analysis as dictionaries, lists, texts and numbers.

    Parameters
    ----------
    analysis : Analysis
        The fits.
    findings : Findings, optional
        Computed here when left out.
    """
    findings = findings or find(analysis)
    model = analysis.model
    return {
        "layout": LAYOUT,
        "prior": model.prior,
        "random": None if model.random is None else list(model.random),
        "fixed": None if model.fixed is None else list(model.fixed),
        "level": model.level,
        "fits": [_fit(each) for each in analysis.fits],
        "skipped": [
            {"sensation": each.sensation, "scale": each.scale, "reason": each.reason}
            for each in analysis.skipped
        ],
        "findings": [_finding(each) for each in findings.all],
        "headlines": [_finding(each) for each in findings.headlines],
        "open_questions": [_finding(each) for each in findings.open_questions],
        "expected_false": [
            {
                "scale": each.scale,
                "table": {"claims": each.table, "false": each.table_false},
                "people": {"claims": each.people, "false": each.people_false},
            }
            for each in findings.tallies
        ],
        "little": list(findings.little),
        "cautions": list(analysis.cautions),
    }


def file_dict(
    file: RatingsFile,
    analysis: Analysis,
    findings: Findings,
    repeats: Sequence[Repeatability] = (),
    checks: Sequence[FitCheck] = (),
) -> dict[str, Any]:
    """Return the analysis of a file: what was read and how, then the fits."""
    told, mapping = file.told, file.mapping
    read: dict[str, Any] = {
        "mapping": {
            "columns": dict(mapping.columns),
            "sensations": list(mapping.sensations),
            "guessed": sorted(mapping.guessed),
            "encoding": told.encoding,
            "delimiter": told.delimiter,
            "decimal": told.decimal,
            "scales": {
                scale: {"limits": list(limits), "guessed": scale in file.guessed_limits}
                for scale, limits in file.table.limits.items()
            },
        },
        "rows": file.rows,
        "used": file.used,
        "errors": [
            {"row": each.row, "column": each.field, "problem": each.problem, "cure": each.cure}
            for each in file.errors
        ],
        "error_count": file.error_count,
    }
    whole = analysis_dict(analysis, findings)
    whole["cautions"] = [*file.cautions, *whole["cautions"]]
    whole["repeatability"] = [repeats_dict(each) for each in repeats]
    whole["checks"] = [checks_dict(each) for each in checks]
    return {"layout": whole.pop("layout"), **read, **whole}


def checks_dict(found: FitCheck) -> dict[str, Any]:
    """Return how far the marks of one fit follow it; nobody is named."""
    return {
        "fit": found.id,
        "sensation": found.sensation,
        "scale": found.scale,
        "marks": found.marks,
        "slip": found.slip,
        "beyond": found.beyond,
        "at_ends": found.at_ends,
        "scattered": found.scattered,
        "odd": [
            {
                "coffee": each.coffee,
                "round": each.round,
                "mark": each.mark,
                "expected": each.expected,
            }
            for each in found.odd
        ],
    }


def repeats_dict(found: Repeatability) -> dict[str, Any]:
    """Return what the repeats say of all tasters together; a single one's is their own."""
    return {
        "scale": found.scale,
        "coffees": list(found.coffees),
        "typical": found.table.typical,
        "interval": list(found.table.interval),
        "repeats": found.table.repeats,
    }


def _fit(each: SensationFit) -> dict[str, Any]:
    fit = each.fit
    return {
        "id": each.id,
        "sensation": each.sensation,
        "scale": each.scale,
        "limits": list(each.limits),
        "rows": fit.rows,
        "tasters": fit.tasters,
        "prior": fit.prior,
        "level": fit.level,
        "fixed": list(fit.fixed),
        "random": list(fit.random),
        "variance": dict(fit.variance),
        "variance_interval": {name: list(pair) for name, pair in fit.variance_interval.items()},
        "reml_deviance": fit.reml_deviance,
        **_means(each, fit.people),
        "table": _means(each, fit.table),
        "covariance": [list(row) for row in fit.covariance],
        "share_above": [
            {"a": a, "b": b, "share": share} for (a, b), share in fit.share_above.items()
        ],
        "cautions": list(fit.cautions),
    }


def _means(each: SensationFit, means: Means) -> dict[str, Any]:
    return {
        "coffees": [_coffee(mean) for mean in means.coffees],
        "contrasts": [_contrast(each, contrast) for contrast in means.contrasts],
        "rounds": [
            {
                "coffee": cell.coffee,
                "round": cell.round,
                "mean": cell.estimate.mean,
                "se": cell.estimate.se,
                "interval": list(cell.estimate.interval),
            }
            for cell in means.rounds
        ],
    }


def _coffee(mean: LevelMean) -> dict[str, Any]:
    estimate = mean.estimate
    return {
        "coffee": mean.level,
        "mean": estimate.mean,
        "se": estimate.se,
        "interval": list(estimate.interval),
    }


def _contrast(each: SensationFit, contrast: Contrast) -> dict[str, Any]:
    estimate = contrast.estimate
    return {
        "id": each.contrast_id(contrast.a, contrast.b),
        "a": contrast.a,
        "b": contrast.b,
        "difference": estimate.mean,
        "se": estimate.se,
        "interval": list(estimate.interval),
        "probability": contrast.probability,
        "evidence": evidence(contrast.probability),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "id": finding.id,
        "text": finding.text,
        "sensation": finding.sensation,
        "scale": finding.scale,
        "table": finding.table,
        "people": finding.people,
        "claims": [
            {
                "contrast": claim.id,
                "above": claim.a,
                "below": claim.b,
                "table": claim.table.probability,
                "people": claim.people.probability,
            }
            for claim in finding.claims
        ],
    }
