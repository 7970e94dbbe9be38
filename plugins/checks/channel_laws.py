"""How the output of each channel of a product falls over hours: the law, how it was had, and the readings behind it.

A law comes from the channel's own readings where they were taken as warm as it is in the product; else from TM-21
between the case temperatures that a part was tested at, or from the constants that a TM-21 sheet prints. No check.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from audit import wording
from audit.quantities import tm21_rules as rules
from audit.quantities.channel_output import Exponential, Logarithmic, Output, Table, fit_logarithmic
from audit.quantities.in_situ import InSitu, interpolate, same_current
from audit.quantities.maintenance import Tm21, tm21
from audit.quantities.projection import Projection
from plugins.checks.maintenance_sets import PRINTED, Tested, at_current, printed_sets, sources, tested_sets

if TYPE_CHECKING:
    from audit.book import Book
    from audit.case import Case
    from audit.channels import Mix, Series
    from audit.claims import Claim

ALINGAP = re.compile(r"al(in)?ga(in)?p")


class Followed(NamedTuple):
    """A channel over hours: its law, how that was had, the rows behind it, and why it may not be so in the product."""

    law: Output
    words: str
    rows: np.ndarray
    doubt: str = ""


def laws(case: Case, claim: Claim, settings: Sequence[Mix]) -> tuple[dict[str, Followed], list[str]]:
    """Return each channel's law, and what is lacking, in words. Raises ValueError where readings can't be aged."""
    if not settings:
        return {}, [
            "its x, y and luminous flux when new, its share of full drive in the setting, and its flux over hours"
        ]
    outputs = {}
    lacking = sorted({text for mix in settings for text in mix.lacking})
    for name in sorted({name for mix in settings for name in mix.names}):
        followed = _followed(case.book, claim, name)
        if followed is None:
            lacking.append(f"flux maintenance of channel {name}")
        else:
            outputs[name] = followed
    return outputs, lacking


def _followed(book: Book, claim: Claim, name: str) -> Followed | None:
    """The law of one channel: its own readings first, then TM-21 between temperatures or by printed constants."""
    from audit.channels import series

    readings = series(book, claim, name)
    own = Followed(*_law(name, readings), readings.rows, readings.doubt) if readings else None
    if own and not own.doubt:
        return own
    return _projected(book, claim, name) or own


def _law(name: str, readings: Series) -> tuple[Output, str]:
    """The law of a channel's output, and its words: logarithmic, TM-21, or its readings."""
    later = readings.hours > 0
    hours, mean = readings.hours[later], np.nanmean(readings.ratio[:, later], axis=0)
    if ALINGAP.search(name.casefold()):
        try:
            law: Output = fit_logarithmic(hours, mean)
        except ValueError:
            return Table(hours, mean), "by its readings (no logarithmic loss in them)"
        assert isinstance(law, Logarithmic)
        return law, f"logarithmic loss, k = {law.k:.4f}, t0 = {law.t0_h:.0f} h"
    fit = tm21(readings.hours, readings.ratio)
    if fit.refused[()] == "" and fit.alpha > 0:
        return _exponential(fit, float(fit.window_h[0])), _constants("TM-21 fit", fit)
    why = "its output rises" if fit.refused[()] == "" else str(fit.refused[()])
    return Table(hours, mean), f"by its readings ({why})"


def _projected(book: Book, claim: Claim, name: str) -> Followed | None:
    """TM-21 for the temperature inside the product, from sets of a part at others; or the constants that a sheet of
    the product itself, or of a part at one temperature that is hot enough, prints. None where neither is there."""
    from audit.book import TOLERANCES
    from audit.channels import hottest_C, of_channel

    printed, is_part = of_channel(book, claim.product, PRINTED, name)
    ratio, of_part = of_channel(book, claim.product, ("flux_ratio",), name)
    if len(printed) and not is_part:
        own = [each for each in printed_sets(book, printed, book.quantity) if not str(each.projection.refused)]
        return _standing(own[0]) if len(own) == 1 else None
    sets = [*(tested_sets(book, ratio) if of_part else []), *printed_sets(book, printed, book.quantity)]
    inside_C, inside_mA = hottest_C(book, claim.product)
    groups = at_current(sources([each for each in sets if not str(each.projection.refused)]), inside_mA)
    if len(groups) != 1 or math.isnan(inside_C):
        return None
    source = groups[0]
    case_C = [each.case_C for each in source.sets]
    found = interpolate(inside_C, case_C, [each.projection for each in source.sets], [source.drive_mA] * len(case_C))
    if str(found.refused) or not found.alpha > 0:
        return None
    used = [source.sets[i] for i in sorted({int(found.lower), int(found.upper)})]
    doubt = "" if math.isnan(inside_mA) else str(same_current(inside_mA, source.drive_mA).texts)
    if int(found.alone) >= 0 and abs(used[0].case_C - inside_C) > TOLERANCES["case_C"](inside_C):
        doubt = doubt or "it was tested on a part, warmer than in the product alone"
    rows = np.concatenate([each.behind for each in used])
    words = f"{_constants(_between(found, used), found)}; {found.notes}".rstrip("; ")
    return Followed(_exponential(found, max(map(_from_h, used))), words, rows, doubt)


def _standing(tested: Tested) -> Followed | None:
    """The constants that a sheet of the product itself prints, as they are."""
    found = tested.projection
    if not found.alpha > 0:
        return None
    return Followed(_exponential(found, _from_h(tested)), _constants("TM-21 as printed", found), tested.behind)


def _between(found: InSitu, used: Sequence[Tested]) -> str:
    printed = "" if all(isinstance(each.projection, Tm21) for each in used) else " as printed"
    at = " and ".join(f"{each.case_C:g} °C" for each in used)
    if int(found.alone) >= 0:
        return f"TM-21{printed} at {at} for {float(found.case_C):g} °C in the product"
    return f"TM-21{printed} between {at} at {float(found.case_C):g} °C in the product"


def _constants(said: str, found: Projection) -> str:
    return f"{said}, α = {float(found.alpha):.3e}/h, B = {float(found.B):.4f}"


def _exponential(found: Projection, from_h: float) -> Exponential:
    return Exponential(float(found.alpha), float(found.limit_h), float(found.B), from_h)


def _from_h(tested: Tested) -> float:
    """First hour of the fit: as fitted; of a printed sheet, by the rule for the window (R04 and R05)."""
    if isinstance(tested.projection, Tm21):
        return float(tested.projection.window_h[0])
    duration_h = float(tested.projection.duration_h)
    return max(duration_h - rules.WINDOW_H, rules.FIRST_H) if duration_h <= rules.LONG_H else duration_h / 2


def grouped(outputs: dict[str, Followed]) -> str:
    """Return the laws in words, channels with the same one together."""
    alike: dict[str, list[str]] = {}
    for name, each in outputs.items():
        alike.setdefault(f"{each.words}, to {in_hours(each.law.limit_h)}", []).append(name)
    return "; ".join(f"{wording.listing(names)} {words}" for words, names in alike.items())


def in_hours(hours: float) -> str:
    """Return hours as they are told: 25,000 h."""
    return f"{hours:,.0f} h"
