"""How much light for how much power, and do the printed electrical figures belong together?

What it answers
    Luminous efficacy of every unit whose flux and power are printed; whether a printed efficacy follows from them,
    a printed power from voltage, current and power factor, and a power factor from its displacement and distortion.
Why it matters
    An efficacy that its own flux and power don't give was measured on something else: the bare board, the lamp
    without its optics, or the power without the driver.
Evidence needed
    Flux and power, or the electrical figures, of one unit at one operating point of one document.
Method
    Luminous efficacy = flux / power. Printed figures agree if intervals of half a last digit about each overlap;
    power = voltage x current x power factor; power factor at most cos(phi 1) / sqrt(1 + THD^2), within rounding
    (equal for a sinusoidal supply).
What it can't know
    Which of the figures is wrong; whether all of them are of the whole product.
Sources
    CIE S 025; ANSI/IES LM-79 (efficacy = flux / power); IEEE Std 1459-2010 (power factor, displacement, distortion).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from audit import Check, Computed, Evidence, Tables, beside, hookimpl, quantity_register, wording

if TYPE_CHECKING:
    pass

NAME = "output"
EFFICACY = "luminous_efficacy"
Printed = Callable[[str, int], np.ndarray]  # quantity and side (-1, 0, 1) -> its printed interval's end or middle


def derive(evidence: Evidence) -> Tables:
    """Return the luminous efficacies that follow from flux and power, and what printed figures don't follow."""
    computed = Computed(evidence, NAME)
    rows = beside(evidence, ("luminous_flux", "input_power"))
    flux, power = (rows[name].to_numpy(float) for name in ("luminous_flux", "input_power"))
    efficacy = _over(flux, power)
    relative = np.hypot(rows["luminous_flux U"].to_numpy(float) / flux, rows["input_power U"].to_numpy(float) / power)
    computed.add(rows, {EFFICACY: efficacy}, {EFFICACY: efficacy * relative})
    _compare(
        computed,
        (EFFICACY, "luminous_flux", "input_power"),
        lambda end, side: _over(end("luminous_flux", side), end("input_power", -side)),
        "luminous_flux / input_power",
        "efficacy_doesnt_follow",
        "ask whether flux and power are those of the whole product, and which of the three figures is right",
    )
    _compare(
        computed,
        ("input_power", "voltage", "current", "power_factor"),
        lambda end, side: end("voltage", side) * end("current", side) * end("power_factor", side),
        "voltage x current x power_factor",
        "power_doesnt_follow",
        "ask which of the electrical figures is right; direct current has no power factor",
    )
    _compare(
        computed,
        ("power_factor", "displacement_factor", "thd_current"),
        lambda end, side: end("displacement_factor", side) / np.hypot(1, end("thd_current", -side) / 100),
        "displacement_factor / sqrt(1 + thd_current^2)",
        "power_factor_doesnt_follow",
        "ask which of the three figures is right; a power factor can't exceed what its distortion leaves",
        at_most=True,
    )
    return computed.tables()


def _over(numerator: np.ndarray, denominator: np.ndarray) -> np.ndarray:
    return np.asarray(np.divide(numerator, denominator, out=np.full(len(numerator), np.nan), where=denominator > 0))


def _compare(
    computed: Computed,
    names: tuple[str, ...],
    formula: Callable[[Printed, int], np.ndarray],
    words: str,
    rule: str,
    ask: str,
    at_most: bool = False,
) -> None:
    """Observe printed values of names[0] that the formula of the others doesn't give, whatever their last digits hide.

    `at_most`: only a printed value above the formula's is wrong.
    """
    rows = beside(computed.evidence, names)
    rows = rows[(rows["spectrum_id"] < 0) & (rows["origin"] == "reported")].reset_index(drop=True)
    if not len(rows):
        return

    def end(name: str, side: int) -> np.ndarray:
        half = rows[f"{name} digit"].fillna(0.0).to_numpy(float) / 2
        return np.asarray(rows[name].to_numpy(float) + side * half)

    low, high = (np.minimum(formula(end, -1), formula(end, 1)), np.maximum(formula(end, -1), formula(end, 1)))
    slack = 1e-9 * np.abs(high)
    wrong = end(names[0], -1) > high + slack
    if not at_most:
        wrong |= end(names[0], 1) < low - slack
    quantity = quantity_register()[names[0]]
    texts = [
        _told(quantity.title, row, names, float(middle), words) if bad else ""
        for bad, middle, row in zip(wrong, formula(end, 0), rows.to_dict("records"), strict=True)
    ]
    computed.remark(
        rows, np.array(texts, dtype=object), rule, "major", quantity.title, ask, of=("printed value", "printed values")
    )


def _told(title: str, row: dict[str, float], names: tuple[str, ...], given: float, words: str) -> str:
    """The printed figures in words: printed 110 lm/W, while 1000 lm / 10 W gives 100 lm/W."""
    known = quantity_register()
    printed = [wording.with_unit(wording.plain(row[name]), known[name].unit) for name in names]
    others = ", ".join(f"{known[name].title} {text}" for name, text in zip(names[1:], printed[1:], strict=True))
    digits = wording.decimals_for(0.0, abs(row[names[0]] - given), known[names[0]].decimals)
    gives = wording.with_unit(wording.fixed(given, digits), known[names[0]].unit)
    return f"printed {printed[0]}; {others} give {gives} ({words})"


@hookimpl
def register_checks() -> list[Check]:
    return [
        Check(
            NAME,
            "light, power, efficacy; whether printed figures agree",
            needs=("luminous_flux", "input_power", EFFICACY, "power_factor"),
            gives=tuple(
                quantity_register()[name]
                for name in (
                    "luminous_flux",
                    "input_power",
                    EFFICACY,
                    "power_factor",
                    "displacement_factor",
                    "thd_current",
                    "standby_power",
                    "networked_standby_power",
                )
            ),
            derive=derive,
            sources=("CIE S 025", "ANSI/IES LM-79", "IEEE Std 1459-2010"),
        )
    ]
