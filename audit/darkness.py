"""Dim readings that are too uncertain for what a claim leaves: they decide nothing, whichever side they lie on.

Below a tenth of the light the noise of an instrument may be as wide as a limit. A reading there is left open where its
stated standard uncertainty is more than a third of the width that the claim leaves. Both numbers are our settings
(common practice); an uncertainty that is assumed says nothing of noise.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from audit.assess import Assessment, Candidate
from audit.book import Rows
from audit.case import Case
from audit.claims import Claim
from audit.outcome import Judged

DIM_PERCENT = 10.0  # of the light at full output
LARGEST_SHARE = 1 / 3  # of the width of a limit that a standard uncertainty may take
LIGHT = "relative_light_output"


def where_light_suffices(case: Case, claim: Claim, assessment: Assessment) -> Assessment:
    """Return the assessment with those dim readings undecided whose stated uncertainty is too large for the limit."""
    candidates = [_undecided(case, claim, candidate) for candidate in assessment.candidates]
    return replace(assessment, candidates=candidates)


def _undecided(case: Case, claim: Claim, candidate: Candidate) -> Candidate:
    judged = candidate.judged
    if judged is None:
        return candidate
    noisy = ~judged.entities.assumed & (_shares(candidate, judged) > LARGEST_SHARE)
    if not noisy.any():
        return candidate
    dark = noisy & _dim(case, claim, judged.entities.rows)
    reasons = {**judged.reasons, **{int(i): ("too dark to judge",) for i in np.flatnonzero(dark)}}
    verdicts = np.where(dark, "inconclusive", judged.verdicts)
    return replace(candidate, judged=replace(judged, verdicts=verdicts, reasons=reasons))


def _shares(candidate: Candidate, judged: Judged) -> NDArray[np.float64]:
    """The standard uncertainty of each entity (n,) as a share of the width of the limit: of a distance, the diameter;
    of a class, as its assessor has it."""
    if judged.shares is not None:
        return judged.shares
    lower, upper = candidate.meaning.lower, candidate.meaning.upper
    width = upper - lower if judged.law.normal else 2 * upper
    return np.asarray(judged.u / width) if np.isfinite(width) and width > 0 else np.zeros(len(judged.u))


def _dim(case: Case, claim: Claim, members: list[Rows]) -> NDArray[np.bool_]:
    """Whether the readings behind each entity were taken below a tenth of the light, as measured, else as set."""
    book = case.book
    light, _ = book.rows(claim.product, LIGHT)
    measured = dict(zip(book.state[light].tolist(), book.value[light].tolist(), strict=True))
    level = [float(np.min(book.field("level_percent", rows).astype(float))) for rows in members]
    found = [measured.get(int(book.state[rows[0]]), level[i]) for i, rows in enumerate(members)]
    return np.array(found, float) < DIM_PERCENT
