"""How do colours look in this light: the colour rendering and fidelity indices?

What it answers
    Ra and R1 to R15, Rf, Rg and the sixteen hue-angle bins (fidelity, chroma and hue shift) of every spectrum.
Why it matters
    Ra averages eight pastels; a claim on red or on all hues needs R9, Rf and the bins.
Evidence needed
    Spectra from 380 to 780 nm in steps of 5 nm or finer, or with ends that have fallen to nothing.
Method
    CIE 13.3 test colour method; CIE 224 colour fidelity with the TM-30 gamut and bin measures; sums at 1 nm.
    R15 never enters Ra. Ra is remarked on where the source lies more than 5.4e-3 in u, v from its reference.
    The figures show the spectrum with the lowest index, and the range of all.
What it can't know
    Whether people like the colours, and how any one pigment looks: the samples are few and fixed. A spectrum
    whose narrow peaks were lost in measuring gives indices that are wrong without a sign of it.
Sources
    CIE 13.3-1995; CIE 224:2017; ANSI/IES TM-30-20; CIE 159:2004 (hues of the vectors). The tolerance 5.4e-3 is MEMORY.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit import Axis, Check, Computed, Evidence, Figure, Mark, Tables, hookimpl, quantity_register, wording

if TYPE_CHECKING:
    import pandas as pd

    from audit.case import Case

NAME = "rendition"
TOLERANCE = 5.4e-3  # CIE 13.3-1995, 5.3 (MEMORY)
BINS = range(1, 17)
GIVES = (
    "ra",
    *(f"r{i}" for i in range(1, 16)),
    "rf",
    "rg",
    *(f"{kind}_h{j}" for kind in ("rf", "rcs", "rhs") for j in BINS),
)
# Unique hues of CIECAM02, in degrees of its hue angle (CIE 159:2004).
HUES = {"red": 20.14, "yellow": 90.0, "green": 164.25, "blue": 237.53}


def derive(evidence: Evidence) -> Tables:
    """Return the computed readings of all spectra, and why some are missing."""
    from audit.quantities.rendition import rendition

    computed = Computed(evidence, NAME)
    for rows, grid in computed.spectra():
        result = rendition(grid.power, grid.wavelength_nm)
        values = {"ra": result.ra, "rf": result.rf, "rg": result.rg}
        values |= {f"r{i}": result.ri[:, i - 1] for i in range(1, 16)}
        for kind in ("rf", "rcs", "rhs"):
            values |= {f"{kind}_h{j}": getattr(result, f"{kind}_h")[:, j - 1] for j in BINS}
        computed.add(rows, {name: values[name] for name in GIVES})
        nothing = np.full(len(rows), "", dtype=object)
        computed.remark(
            rows,
            result.refused.get("rf", nothing),
            "rendition_refused",
            "minor",
            "colour rendition",
            "ask for the spectrum from 380 to 780 nm in steps of 5 nm or finer",
        )
        computed.remark(rows, _far_from_reference(result.delta_c), "rendition_noted", "note", "Ra and Ri", "")
    return computed.tables()


def _far_from_reference(delta_c: np.ndarray) -> np.ndarray:
    """One text for all spectra (n,) that lie further from their reference than CIE 13.3 allows, with the range."""
    far = delta_c > TOLERANCE
    if not far.any():
        return np.full(len(delta_c), "", dtype=object)
    least, most = delta_c[far].min(), delta_c[far].max()
    spread = f"{least:.4f}" if least == most else f"{least:.4f} to {most:.4f}"
    text = f"the source lies {spread} from its reference in u, v, more than {TOLERANCE:g} (MEMORY): they mean less"
    return np.where(far, text, "").astype(object)


def judge(case: Case) -> Tables:
    """Return the figures of each product's colour rendition; claims are judged like all others."""
    from audit.shown import bearing, names, products

    figures: list[Figure] = []
    readings = case.evidence.readings
    number = readings["spectrum_id"].to_numpy()
    for product in products(case):
        rows = bearing(case, product, "ra")
        rows = rows[number[rows] >= 0]
        if len(rows):
            own = readings[np.isin(number, number[rows]) & case.book.computed]
            table = own.pivot(index="spectrum_id", columns="quantity", values="value")
            table = table.reindex(index=number[rows], columns=list(GIVES))
            figures += _figures(_Spectra(case, product, table, names(case.book, rows)))
    return Tables(figures=figures)


@dataclass(frozen=True)
class _Spectra:
    """The spectra of one product: their computed quantities, a row each, and what tells them apart in words."""

    case: Case
    product: str
    table: pd.DataFrame
    words: list[str]

    def __len__(self) -> int:
        return len(self.table)

    def with_bins(self) -> _Spectra:
        """Those of which every hue bin is known."""
        whole = self.table.notna().all(axis=1).to_numpy()
        return replace(self, table=self.table[whole], words=[self.words[i] for i in np.flatnonzero(whole)])

    def told(self, name: str, row: int) -> str:
        """A quantity of one spectrum in words, with its symbol."""
        entry = self.case.known[name]
        return f"{entry.symbol} {wording.measured(self.table[name].iloc[row], entry)}"


def _figures(spectra: _Spectra) -> Iterator[Figure]:
    """Yield the figures of one product."""
    yield _bars(
        spectra, "ra", [f"r{i}" for i in range(1, 16)], "Special colour rendering indices", "test colour sample"
    )
    spectra = spectra.with_bins()
    if len(spectra):
        yield _vectors(spectra)
        for kind, title in (("rf", "Colour fidelity by hue"), ("rcs", "Chroma shift by hue")):
            yield _bars(spectra, "rf", [f"{kind}_h{j}" for j in BINS], title, "hue-angle bin")


def _bars(spectra: _Spectra, ranked: str, columns: list[str], title: str, places: str) -> Figure:
    """Bars of quantities for the spectrum where `ranked` is lowest, the range of all, and the limits claimed."""
    from audit.shown import claims_on

    values, at = spectra.table[columns].to_numpy(), np.arange(1, len(columns) + 1)
    least = int(spectra.table[ranked].argmin())
    labels = [spectra.told(name, least) for name in columns]
    chosen = f"{spectra.words[least]}: lowest {spectra.told(ranked, least)}"
    marks = [Mark("bars", chosen, at, values[least], "measured", labels=labels)]
    if len(spectra) > 1:
        words = f"lowest to highest of {len(spectra)} spectra"
        marks.append(Mark("whiskers", words, at, values.min(axis=0), "reference", to_y=values.max(axis=0)))
    claims = claims_on(spectra.case, spectra.product, columns)
    for claim in (each for each in spectra.case.claims if each.claim_id in claims):
        place = 1 + columns.index(claim.quantity.name)
        words = f"{claim.claim_id}: {wording.limits(claim, claim.lower, claim.upper)}"
        ends = filter(np.isfinite, (claim.lower, claim.upper))
        marks += [Mark("line", words, (place - 0.5, place + 0.5), (end, end), "limit") for end in ends]
    entry = spectra.case.known[columns[0]]
    lowest, highest = (int(index) for index in (values[least].argmin(), values[least].argmax()))
    return Figure(
        f"bars-{columns[0]}",
        title,
        Axis(places, ticks=[(place, str(place)) for place in at.tolist()]),
        Axis(entry.title.partition(",")[0].removesuffix(" R1"), entry.unit),
        marks,
        f"Bars: {chosen}, of {wording.counted(len(spectra), 'spectrum', 'spectra')}; the lowest is {labels[lowest]}, "
        f"the highest {labels[highest]}. Over all spectra they reach from {wording.fixed(values.min(), 1)} to "
        f"{wording.with_unit(wording.fixed(values.max(), 1), entry.unit)}.",
        spectra.product,
        claims,
    )


def _vectors(spectra: _Spectra) -> Figure:
    """The colour vectors of the spectrum with the lowest Rf: where each hue bin goes from the reference at chroma 1."""
    from audit.shown import claims_on

    least = int(spectra.table["rf"].argmin())
    light, words = spectra.table.iloc[least], spectra.words[least]
    angle = np.deg2rad(22.5 * np.arange(16) + 11.25)
    x, y = np.cos(angle), np.sin(angle)
    chroma, hue = (light[[f"{kind}_h{j}" for j in BINS]].to_numpy(float) for kind in ("rcs", "rhs"))
    # the shifts are along and across the middle of the bin (ANSI/IES TM-30-20), and so drawn from there
    to_x, to_y = x * (1 + chroma / 100) - y * hue, y * (1 + chroma / 100) + x * hue
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    circle = np.cos(turn), np.sin(turn)
    outer, inner = ([1.2 * side for side in circle], [0.8 * side for side in circle])
    labels = [f"bin {j}: chroma {c:+.1f} %, hue {h:+.3f}" for j, c, h in zip(BINS, chroma, hue, strict=True)]
    tags = [(1.3 * a, 1.3 * b, str(j)) for j, a, b in zip(BINS, x, y, strict=True)]
    tags += [(1.47 * np.cos(np.deg2rad(h)), 1.47 * np.sin(np.deg2rad(h)), name) for name, h in HUES.items()]
    axis = Axis("", low=-1.52, high=1.52)
    return Figure(
        "colour-vectors",
        "Colour vectors",
        axis,
        axis,
        [
            Mark(
                "polygon",
                "20 % more and less chroma",
                np.concatenate([outer[0], inner[0]]),
                np.concatenate([outer[1], inner[1]]),
                "projection",
                rings=(72, 72),
            ),
            Mark("polygon", "reference illuminant", *circle, "reference"),
            Mark("polygon", f"{words}: lowest {spectra.told('rf', least)}", to_x, to_y, "measured"),
            Mark("vectors", "shift by hue-angle bin", x, y, "fit", to_x, to_y, labels, tags),
        ],
        f"{words}, with {spectra.told('rf', least)} the lowest of "
        f"{wording.counted(len(spectra), 'spectrum', 'spectra')}, and {spectra.told('rg', least)}: an arrow for each "
        f"of sixteen hue bins, from the reference to this light. Chroma is lowest against it in "
        f"{labels[int(chroma.argmin())]}, and highest in {labels[int(chroma.argmax())]}; the hue turns most in "
        f"{labels[int(np.abs(hue).argmax())]}.",
        spectra.product,
        claims_on(spectra.case, spectra.product, GIVES),
        equal=True,
    )


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "colour rendition from the spectrum",
            needs=("spectra",),
            gives=tuple(quantity_register()[name] for name in GIVES),
            derive=derive,
            judge=judge,
            sources=("CIE 13.3-1995", "CIE 224:2017", "ANSI/IES TM-30-20"),
        )
    ]
