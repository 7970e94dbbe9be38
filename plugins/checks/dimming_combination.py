"""Which driver and which dimmer was the dimming tested with?

What it answers
    Whether the documents behind claims on dimming name the driver and the dimmer or control that were tested, and
    whether they name the same ones.
Why it matters
    How low and how smoothly light dims, whether it flickers there and where it cuts out is the work of driver and
    dimmer together: with another pair the same luminaire dims otherwise.
Evidence needed
    Documents that state their driver, and their dimmer or control.
Method
    Looked for in every document that bears on a claim below full output, on a control signal or on the dimming range;
    of one test, what any of its documents says. Names are compared after folding case, blanks and dashes.
What it can't know
    Whether the driver and dimmer tested are those that will be supplied, nor what another pair would do.
Sources
    Common practice of specifications.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from audit import Check, Tables, hookimpl, wording
from audit.tables import frame

if TYPE_CHECKING:
    import numpy as np

    from audit.case import Case
    from audit.claims import Claim

NAME = "dimming_combination"
OF_DIMMING = ("relative_light_output", "dimmed_light_minimum")
PARTS = ("driver", "dimmer")


def judge(case: Case) -> Tables:
    """Return, per product with claims on dimming, the parts that its tests don't name, or name differently."""
    by_product: dict[str, list[Claim]] = {}
    for claim in case.claims:
        if _of_dimming(claim):
            by_product.setdefault(claim.product, []).append(claim)
    rows = [row for product, claims in sorted(by_product.items()) for row in _parts(case, product, claims)]
    return Tables({"observations": frame("observations", rows)})


def _of_dimming(claim: Claim) -> bool:
    from audit.lights import FULL_PERCENT
    from audit.numbers import Span

    level = claim.conditions.get("level_percent")
    below = isinstance(level, Span) and level.low < FULL_PERCENT
    return below or "control_value" in claim.conditions or claim.quantity.name in OF_DIMMING


def _parts(case: Case, product: str, claims: list[Claim]) -> Iterator[tuple[str, ...]]:
    """What the tests behind these claims say of driver and dimmer."""
    from audit.claims import product_key
    from audit.matching import match

    documents = case.evidence.documents.set_index("document_id")
    bearing: dict[int, list[str]] = {}  # number of a test -> claims
    for claim in claims:
        for test in {documents["test"][number] for number in _documents(case, match(case.book, claim).rows)}:
            bearing.setdefault(test, []).append(claim.claim_id)
    told = case.evidence.metadata.assign(test=case.evidence.metadata["document_id"].map(documents["test"]))
    named = {
        part: told[(told["key"] == part) & told["test"].isin(list(bearing)) & (told["value"].str.strip() != "")]
        for part in PARTS
    }
    silent: dict[tuple[int, ...], list[str]] = {}  # numbers of tests -> what they don't name
    for part, found in named.items():
        silent.setdefault(tuple(sorted(set(bearing) - set(found["test"]))), []).append(part)
    for tests, parts in silent.items():
        if tests:
            papers = sorted(documents[documents["test"].isin(tests)]["path"])
            ids = sorted({claim_id for test in tests for claim_id in bearing[test]})
            yield (
                "combination_not_stated",
                "minor",
                product,
                papers[0],
                "",
                f"{wording.listing(ids)} {'is' if len(ids) == 1 else 'are'} about dimming, but "
                f"{wording.listing(papers)} {'names' if len(papers) == 1 else 'name'} no {' and no '.join(parts)}",
                f"which {' and '.join(parts)} was it tested with, and will the same be supplied?",
                NAME,
            )
    for part, found in named.items():
        names = {product_key(value): value for value in sorted(found["value"], reverse=True)}
        if len(names) > 1:
            where = [
                f"{name} ({wording.listing(sorted(set(documents['path'][own['document_id']])), 3)})"
                for key, name in sorted(names.items())
                for own in (found[found["value"].map(product_key) == key],)
            ]
            yield (
                f"{part}s_differ",
                "minor",
                product,
                str(documents["path"][found["document_id"].iloc[0]]),
                "",
                f"dimming was tested with different {part}s: {wording.listing(where)}; what one of them does says "
                "nothing of another",
                f"which {part} will be supplied?",
                NAME,
            )


def _documents(case: Case, rows: np.ndarray) -> set[int]:
    return {int(number) for number in case.book.document[rows]}


@hookimpl
def register_checks() -> list[Check]:
    return [Check(NAME, "the driver and dimmer that were tested", judge=judge, sources=("common practice",))]
