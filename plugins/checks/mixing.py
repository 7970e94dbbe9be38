"""What can the channels do at all?

What it answers
    Where a product's colour is mixed from channels: how far from the Planckian locus a two-channel mix has to run
    between its ends, which whites its channels can reach, and how much light they give there.
Why it matters
    The locus is curved and the line between two whites is straight: two channels at 2,700 K and 6,500 K can't stay
    within Duv 0.003 in between, however well they are made, and tests of both ends don't show it.
Evidence needed
    Chromaticity at both ends of the range of settings and the number of channels, as a document states it; or the
    chromaticity and flux of every channel alone.
Method
    The straight line between the ends, its worst Duv and the uncertainty that the ends carry into it; the polygon
    about the channels in CIE 1976 u', v', the Planckian radiators inside it, the greatest flux by a linear programme. A
    line contradicts a claim only where a document states two channels; it never supports one.
What it can't know
    Whether a channel's spectrum changes with its drive, which breaks additivity, unless it was measured so.
Sources
    CIE 15:2018 (additivity, Planckian locus, Duv); JCGM 100:2008, 5.1.2 (uncertainty).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Tables, hookimpl, wording
from audit.model import POINT_FIELDS
from audit.tables import frame

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from audit.assess import Assessment, Candidate
    from audit.book import Rows
    from audit.case import Case
    from audit.claims import Claim
    from audit.outcome import Judged
    from audit.quantities.mixing import Chord
    from audit.select import Entities

NAME = "mixing"
TWO = "2"
NEAR = 1.01  # ends nearer than this ratio of CCT are one setting
WHITES_SHOWN = (2200.0, 2700.0, 3000.0, 4000.0, 5000.0, 6500.0)
NOT_ADDITIVE = 0.001  # distance in u', v' between the sum of channels and their light together that is told


@dataclass(frozen=True)
class Span:
    """One unit at both ends of its range of settings at full output: the chord, and the rows of x and y behind it."""

    serial: str
    chord: Chord
    rows: Rows
    assumed: bool


def assess_duv(case: Case, claim: Claim, scale: float) -> Assessment:
    """Assess a claim on Duv by its readings; two channels' chord adds a contradiction where the readings have none."""
    from audit.assess import assess

    assessment = assess(case, claim, scale)
    if "cct_setting_K" in claim.conditions and not _is_range(claim):
        return assessment
    spans = list(_spans(case, claim.product, scale)) if _channel_counts(case, claim.product) == {TWO} else []
    if not spans:
        return assessment
    candidates = [_with_chords(case, candidate, spans) for candidate in assessment.candidates]
    return replace(assessment, candidates=candidates)


def _with_chords(case: Case, candidate: Candidate, spans: list[Span]) -> Candidate:
    """Add the mixtures that can't keep the limits to what was measured."""
    worst = max(spans, key=lambda span: abs(span.chord.worst_duv)).chord
    told = (
        f"two channels, as a document states: the line between the ends reaches Duv {worst.worst_duv:+.4f} at "
        f"{worst.worst_cct_K:.0f} K; it can contradict, never support; spectra "
        "that change with their drive bend it (CIE 15:2018, additivity)"
    )
    candidate = replace(candidate, notes=(*candidate.notes, told))
    limits = (candidate.meaning.lower, candidate.meaning.upper)
    chords = _judged(case, [_entities(spans)], limits, np.zeros(len(spans), bool))
    failing = [span for span, verdict in zip(spans, chords.verdicts, strict=True) if verdict == "contradicted"]
    if not failing:
        return candidate
    parts: list[Entities] = [_entities(failing)]
    undefined = np.zeros(len(failing), bool)
    if candidate.judged is not None:
        measured = candidate.judged
        parts.insert(0, replace(measured.entities, u=measured.law.u))
        undefined = np.concatenate([measured.undefined, undefined])
    return replace(candidate, judged=_judged(case, parts, limits, undefined), reasons=())


def _entities(spans: Sequence[Span]) -> Entities:
    """Return the worst mixtures of these spans as what limits are put to."""
    from audit.select import Entities

    value = np.array([span.chord.worst_duv for span in spans])
    u = np.array([span.chord.u_worst_duv for span in spans])
    assumed = np.array([span.assumed for span in spans])
    nothing = np.full(len(spans), -1)
    return Entities(value, u, assumed, nothing, value * np.nan, [span.rows for span in spans])


def _judged(case: Case, parts: Sequence[Entities], limits: tuple[float, float], undefined: NDArray[np.bool_]) -> Judged:
    """Put what was measured and what was reckoned to the limits together."""
    from audit.assess import judge_entities
    from audit.decide import normal_cdf
    from audit.outcome import Law
    from audit.select import Entities

    entities = Entities(
        value=np.concatenate([part.value for part in parts]),
        u=np.concatenate([part.u for part in parts]),
        assumed=np.concatenate([part.assumed for part in parts]),
        rival=np.concatenate([part.rival for part in parts]),
        rival_value=np.concatenate([part.rival_value for part in parts]),
        rows=[rows for part in parts for rows in part.rows],
    )
    law = Law(entities.u, lambda limit: normal_cdf(entities.value, entities.u, limit), True)
    return judge_entities(case, entities, law, limits, undefined)


def judge(case: Case) -> Tables:
    """Return what the ends and the channels of every product that claims a range of colour let expect."""
    products = sorted({claim.product for claim in case.claims})
    rows = [row for product in products for row in (*_of_ends(case, product), *_of_channels(case, product))]
    return Tables({"observations": frame("observations", rows)})


def _of_ends(case: Case, product: str) -> Iterator[tuple[str, ...]]:
    """Ask how many channels a product has whose claims a two-channel mix couldn't keep."""
    claims = [claim for claim in case.claims if claim.product == product and claim.quantity.name == "duv"]
    if not any(_is_range(claim) for claim in case.claims if claim.product == product):
        return
    counts = _channel_counts(case, product)
    if counts and counts != {TWO}:
        return
    spans = list(_spans(case, product, 1.0))
    if not spans or counts:
        return
    worst = max(spans, key=lambda span: abs(span.chord.worst_duv))
    touched = [claim for claim in claims if not claim.lower <= worst.chord.worst_duv <= claim.upper]
    document, place, _ = case.book.where(int(worst.rows[0]))
    yield (
        "channels_not_stated",
        "minor" if touched else "note",
        product,
        document,
        place,
        f"if the white of {product or 'the product'} is mixed from two channels, the line between its ends (unit "
        f"{worst.serial or 'without serial'}) reaches Duv {worst.chord.worst_duv:+.4f} ± "
        f"{wording.COVERAGE_FACTOR * worst.chord.u_worst_duv:.4f} at {worst.chord.worst_cct_K:.0f} K"
        + (f", outside the limits of {wording.listing([claim.claim_id for claim in touched])}" if touched else "")
        + "; the papers don't say how many channels there are",
        "how many channels is the white mixed from? Can it be measured at "
        f"{float(f'{worst.chord.worst_cct_K:.2g}'):.0f} K?",
        NAME,
    )


def _of_channels(case: Case, product: str) -> Iterator[tuple[str, ...]]:
    """Tell what channels measured alone can reach, and whether their light adds up."""
    from audit.quantities import mixing
    from audit.quantities.chromaticity import xy_to_uv_prime

    lights = _with_flux(case, _lights(case, product))
    lights = lights[(lights["test_object"].isin(["", "luminaire", "light engine", "lamp"])) & _full(lights)]
    for (document_id, serial), own in lights.groupby(["document_id", "serial"], sort=True):
        alone = own[own["channel"] != ""].drop_duplicates("channel")
        if len(alone) < 3:
            continue
        x, y, flux = (alone[name].to_numpy(float) for name in ("x", "y", "luminous_flux"))
        corners, area = mixing.gamut(*xy_to_uv_prime(x, y))
        ranges = [f"{low:.0f} to {high:.0f} K" for low, high in mixing.whites(corners)]
        xyz = np.stack([x / y, np.ones(len(x)), (1 - x - y) / y], axis=-1) * flux[:, None]
        text = (
            f"{len(alone)} channels ({wording.listing(alone['channel'].tolist())}; unit {serial or 'without serial'}) "
            f"span {area:.4f} in u'v'; "
            + (f"whites on the Planckian locus: {wording.listing(ranges)}" if ranges else "no white on the locus")
        )
        most = [
            f"{best:.0f} lm at {cct:.0f} K"
            for cct in WHITES_SHOWN
            if ranges and (best := mixing.greatest_flux(xyz, *_planckian_xy(cct))) == best
        ]
        text += f"; greatest flux there: {wording.listing(most)}" if most else ""
        text += _adds_up(own, xyz)
        path = case.evidence.documents.set_index("document_id")["path"][document_id]
        place = case.book.where(int(alone["x row"].iloc[0]))[1]
        yield ("channels_reach", "note", product, str(path), place, text, "", NAME)


def _adds_up(own: pd.DataFrame, xyz: np.ndarray) -> str:
    """Whether the channels' sum is the light that they give together, where that was measured."""
    from audit.quantities.mixing import additivity

    whole = own[(own["channel"] == "") & own[["cct_setting_K", "hue_setting_deg"]].isna().all(axis=1)]
    if len(whole) != 1:
        return ""
    x, y, flux = (float(whole[name].iloc[0]) for name in ("x", "y", "luminous_flux"))
    far, share = additivity(xyz, np.array([x / y, 1.0, (1 - x - y) / y]) * flux)
    if far <= NOT_ADDITIVE:
        return f"; measured together they are {far:.4f} from their sum in u'v', which is {100 * share:.1f} % of it"
    return (
        f"; together they give a light {far:.4f} from their sum in u'v' ({100 * share:.1f} % of its flux): their "
        "spectra change when they burn together, so what is reckoned from channels alone is uncertain by as much"
    )


def _planckian_xy(cct_K: float) -> tuple[float, float]:
    from audit.quantities.chromaticity import uv_prime_to_xy
    from audit.quantities.mixing import locus

    x, y = uv_prime_to_xy(*locus([cct_K]))
    return float(x[0]), float(y[0])


def _spans(case: Case, product: str, scale: float) -> Iterator[Span]:
    """Every unit that was measured at two settings of CCT or more, at full output and new: the chord of its ends."""
    from audit.quantities.mixing import chord

    book = case.book
    lights = _lights(case, product)
    lights = lights[(lights["channel"] == "") & lights["cct_setting_K"].notna() & _full(lights)]
    lights = lights[lights["hours"].fillna(0.0) == 0]
    for (_, serial), own in lights.groupby(["document_id", "serial"], sort=True):
        own = own.sort_values(["cct_setting_K", "place_id"])
        ends = own.iloc[[0, -1]]
        low, high = ends["cct_setting_K"]
        if not low * NEAR < high:
            continue
        rows = ends[["x row", "y row"]].to_numpy(np.int64)
        assumed = bool(book.u.assumed[rows].any())
        u = book.u.total[rows].max(axis=0) * (scale if assumed else 1.0)
        line = chord(ends["x"].to_numpy(float), ends["y"].to_numpy(float), u)
        if not np.isnan(line.worst_duv + line.u_worst_duv):
            yield Span(str(serial), line, rows.ravel(), assumed)


def _lights(case: Case, product: str) -> pd.DataFrame:
    """Return the chromaticities of a product and their operating points, a row per light."""
    from audit.book import WHOLE

    own, _ = case.book.rows(product, "x")
    lights = case.book.beside("x", "y").merge(case.evidence.points, on="point_id")
    lights = lights[lights["x row"].isin(own[case.book.bears[own]])].copy()
    lights["channel"] = lights["channel"].where(~lights["channel"].str.casefold().isin(WHOLE), "")
    # A spectrum's own chromaticity before a printed one of the same point.
    lights = lights.sort_values(["spectrum_id", "place_id"], ascending=[False, True])
    return lights.drop_duplicates(["document_id", *POINT_FIELDS]).sort_values("place_id")


def _with_flux(case: Case, lights: pd.DataFrame) -> pd.DataFrame:
    """Return the lights whose flux the same test gives at the same operating point, printed beside them or not."""
    from audit.book import WHOLE

    evidence = case.evidence
    flux = evidence.readings[evidence.readings["quantity"] == "luminous_flux"][["point_id", "value", "place_id"]]
    flux = flux.merge(evidence.places[["place_id", "document_id"]], on="place_id").merge(evidence.points, on="point_id")
    test = evidence.documents.set_index("document_id")["test"]
    lights, flux = (part.assign(test=part["document_id"].map(test)) for part in (lights, flux))
    flux["channel"] = flux["channel"].where(~flux["channel"].str.casefold().isin(WHOLE), "")
    flux = flux.drop_duplicates(["test", *POINT_FIELDS]).rename(columns={"value": "luminous_flux"})
    return lights.merge(flux[["test", *POINT_FIELDS, "luminous_flux"]], on=["test", *POINT_FIELDS])


def _full(lights: pd.DataFrame) -> pd.Series:
    return lights["level_percent"].isna() | (lights["level_percent"] >= 99)


def _channel_counts(case: Case, product: str) -> set[str]:
    """Return the numbers of channels that documents about a product state."""
    own, _ = case.book.rows(product, "x")
    told = case.evidence.metadata[case.evidence.metadata["key"] == "channel_count"]
    told = told[told["document_id"].isin(case.book.document[own])]
    return {text.split()[0].casefold().replace("two", TWO) for text in told["value"] if text.split()}


def _is_range(claim: Claim) -> bool:
    from audit.numbers import Span as Numbers

    wanted = claim.conditions.get("cct_setting_K")
    return isinstance(wanted, Numbers) and wanted.low < wanted.high


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "what the channels can do",
            needs=("x", "y", "luminous_flux"),
            judge=judge,
            sources=("CIE 15:2018", "JCGM 100:2008"),
        )
    ]
