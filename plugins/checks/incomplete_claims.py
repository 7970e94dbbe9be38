"""Do the claims leave out what has to stand beside them?

What it answers
    A general colour rendering index claimed without R9 or TM-30; other quantities measured at one setting of a
    product that claims a range of settings.
Why it matters
    Ra says nothing of deep red, and a product that changes its light is seldom the same lamp at both ends.
Evidence needed
    The claims sheet; readings, to say what they show already.
Method
    Words of the claims sheet against each other; the readings only add what is known. Requirements are nobody's claims.
What it can't know
    What the maker would claim if asked; whether one setting is representative.
Sources
    CIE 13.3-1995 (R9 isn't part of Ra); ANSI/IES TM-30-20; common practice of submittal review.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Tables, hookimpl, wording
from audit.tables import frame

if TYPE_CHECKING:
    from audit.case import Case
    from audit.claims import Claim

NAME = "incomplete_claims"
BESIDE_RA = ("r9", "rf", "rg")
OF_A_TURN = ("hue_step_error", "hue_flux_ratio", "gamut_area")  # a reading of these is of every hue
RANGES = ("cct_setting_K", "level_percent", "hue_setting_deg", "saturation_setting_percent")
OF_COLOUR = ("hue_setting_deg", "saturation_setting_percent")


def judge(case: Case) -> Tables:
    """Return an observation per product that claims Ra alone, and per range that one setting stands for."""
    by_product: dict[str, list[Claim]] = {}
    for claim in case.claims:
        if claim.criterion is None:
            by_product.setdefault(claim.product, []).append(claim)
    rows = [
        (rule, "minor", product, claims[0].document, claims[0].place, message, ask, NAME)
        for product, claims in by_product.items()
        for rule, message, ask in (*_ra_alone(case, product, claims), *_one_setting(case, product, claims))
    ]
    return Tables({"observations": frame("observations", rows)})


def _ra_alone(case: Case, product: str, claims: Sequence[Claim]) -> Iterator[tuple[str, str, str]]:
    named = {claim.quantity.name for claim in claims}
    if "ra" not in named or named & set(BESIDE_RA):
        return
    shown = []
    for name in BESIDE_RA:
        own, _ = case.book.rows(product, name)
        own = own[case.book.bears[own]]
        if len(own):
            low, high = case.book.value[own].min(), case.book.value[own].max()
            known = [wording.measured(value, case.known[name]) for value in (low, high)]
            shown.append(f"{case.known[name].symbol} {' to '.join(dict.fromkeys(known))}")
    whose = f" of {product}" if product else ""
    yield (
        "ra_alone",
        f"the claims{whose} give the general colour rendering index without R9 or TM-30"
        + (f"; the papers show {wording.listing(shown)}" if shown else "; the papers give neither"),
        "which R9, and which Rf and Rg of TM-30, does the maker stand by?",
    )


def _one_setting(case: Case, product: str, claims: Sequence[Claim]) -> Iterator[tuple[str, str, str]]:
    """Quantities claimed without a setting and measured at one alone, though the product claims a range of it."""
    from audit.matching import match
    from audit.numbers import Span

    for name in RANGES:
        spans = [span for claim in claims if isinstance(span := claim.conditions.get(name), Span)]
        low, high = min((s.low for s in spans), default=0.0), max((s.high for s in spans), default=0.0)
        if not any(span.low < span.high for span in spans):
            continue
        alone = []
        for claim in claims:
            of_all = claim.quantity.name in OF_A_TURN
            if of_all or name in claim.conditions or (claim.quantity.conditions == "rated" and name == "level_percent"):
                continue
            rows = match(case.book, claim).rows
            hues = ~np.isnan(case.book.effective("hue_setting_deg", rows).astype(float))
            if name == "cct_setting_K":
                rows = rows[~hues]  # a colour has no setting of white,
            elif name in OF_COLOUR:
                rows = rows[hues]  # nor white a hue
            tested = np.unique(case.book.effective(name, rows).astype(float))
            if len(tested[~np.isnan(tested)]) == 1 or (len(tested) and np.isnan(tested).all()):
                alone.append(claim.quantity.title)
        if alone:
            ends = wording.condition(name, Span(low, high))
            middle = 2e6 / (1e6 / low + 1e6 / high) if name == "cct_setting_K" else (low + high) / 2
            settings = ", ".join(wording.plain(float(f"{value:.3g}")) for value in (low, middle, high))
            yield (
                "one_setting_for_a_range",
                f"{product or 'the product'} is claimed over {ends}, but these were measured at one "
                f"{wording.FIELD_WORDS[name]} only: {wording.listing(sorted(set(alone)))}",
                f"ask for them at the ends and the middle at least ({wording.FIELD_WORDS[name]}: {settings})",
            )


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "what claims leave out",
            judge=judge,
            sources=("CIE 13.3-1995", "ANSI/IES TM-30-20", "common practice"),
        )
    ]
