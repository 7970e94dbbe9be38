"""report.html: the audit as one page that needs no network, reads on a phone and prints well.

The page arranges what the report holds and computes nothing. Every text passes `visible` and autoescape
on its way into the page, whatever part of the template it stands in.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping, Sequence
from functools import partial
from importlib import resources
from typing import Any

from audit import Figure, Report, Writer, hookimpl, wording
from audit.habit import say
from audit.model import TIERS, Habit
from audit.wording import operating_point
from plugins.outputs import glossary, text
from plugins.outputs.page_cards import OURS, checkable, claim_card

MOST_READINGS = 500  # rows of readings on the page; findings.json and the documents hold what is left out
MOST_PRODUCTS = 100
MOST_ON_PAPER = 3  # rows of evidence under one claim, in print
MOST_NAMED = 6  # claims named in the conclusion
MOST_DECISIONS = 200
MOST_OPEN_NOTES = 8  # more of them are folded away
MOST_FIGURES = 36

Row = Mapping[str, Any]


def write(report: Report) -> bytes:
    """Return report.html as UTF-8: one file, nothing fetched; its one script is the only one that may run."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_file),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
        finalize=_shown,
    )
    # Figures and sentences of ours as the reader has them; `names` in them are others' words (audit.habit).
    environment.filters["said"] = lambda words, names=(): text.typeset(say(report.habit, words, names))
    return environment.get_template("page.html.j2").render(context(report)).encode("utf-8")


def _file(name: str) -> str:
    return resources.files(__package__).joinpath(name).read_text(encoding="utf-8")


def _shown(value: object) -> object:
    """Make hidden characters visible, except in what the template itself has put together."""
    return text.visible(value) if isinstance(value, str) and not hasattr(value, "__html__") else value


def context(report: Report) -> dict[str, Any]:
    """Return everything that the template shows, in the order in which it is shown."""
    from markupsafe import Markup

    script = Markup(_file("page.js").strip())
    findings = text.in_order(report.findings)
    anchors = anchor_names([finding["claim_id"] for finding in findings])
    anchor_of = dict(zip((finding["claim_id"] for finding in findings), anchors, strict=True))
    claims = {(each["product"], each["claim_id"]): each for each in report.claims}
    given = [each for each in report.readings if each["library_value"] is not None]
    values = {text.reading_key(each): each["library_value"] for each in given}
    cards = [
        claim_card(finding, anchor, claims.get((finding["product"], finding["claim_id"]), {}), values)
        for finding, anchor in zip(findings, anchors, strict=True)
    ]
    own = text.claims_of(cards)
    asked, called, library = questions(cards), keys(cards), report.second_opinion
    observations = text.by_tier(report.observations)
    return {
        "report": report,
        "conclusion": conclusion(report),
        "named": named(own),
        "tally": text.counts(own),
        "verdicts": glossary.VERDICTS,
        "groups": {verdict: [each for each in own if each["verdict"] == verdict] for verdict in text.counts(own)},
        "requirement_sets": requirement_sets(report.findings, cards),
        "tiers": {tier: [each for each in observations if each["tier"] == tier] for tier in TIERS},
        "tier_meanings": glossary.TIERS,
        "folded": {tier for tier in ("note",) if sum(each["tier"] == tier for each in observations) > MOST_OPEN_NOTES},
        "questions": asked,
        "question_of": {ask: number for number, ask in enumerate(asked, start=1)},
        "remedies": remedies(observations),
        "letter": letter(report, asked, remedies(observations)),
        "strongest": [card for card in cards if card["strongest"]],
        "bare": [card for card in own if not card["strongest"]],
        "opinion": [compared(each) for each in library["rows"]] if library else [],
        "keys": called,
        "filters": filters(cards, called),
        "ours": OURS,
        "script": script,
        "script_hash": f"sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}",
        "figures": figure_cards(
            report.figures[:MOST_FIGURES],
            dict(zip((f["claim_id"] for f in findings), anchors, strict=True)),
            report.habit,
        ),
        "readings": readings_by_product(report.readings),
        "decisions": sorted(report.decisions, key=lambda each: not each["stale"])[:MOST_DECISIONS],
        "anchors": anchor_of,
        "inputs": sorted(report.inputs, key=lambda each: text.natural(each["path"])),
        "confidence": text.number(100 * report.rule.confidence),
        "reasons": glossary.REASONS,
        "cautions": glossary.CAUTIONS,
        "on_paper": MOST_ON_PAPER,
        "counted": wording.counted,
        "decision_words": lambda each: text.decision_words({**each, "date": say(report.habit, each["date"])}),
        "report_words": text.report_words,
        "slug": slug,
    }


def slug(words: str) -> str:
    """Return `words` as a part of an identifier that is safe in HTML and in a link."""
    return re.sub(r"[^A-Za-z0-9]+", "-", words).strip("-") or "unnamed"


def anchor_names(words: Sequence[str], kind: str = "claim") -> list[str]:
    """Return one identifier for each of these, such as `claim-` and its id; a number tells equal ones apart."""
    names: list[str] = []
    taken: set[str] = set()
    for word in words:
        stem = name = f"{kind}-{slug(word)}"
        count = 1
        while name.casefold() in taken:
            count += 1
            name = f"{stem}-{count}"
        taken.add(name.casefold())
        names.append(name)
    return names


def requirement_sets(findings: Sequence[Row], cards: Sequence[Row]) -> list[dict[str, Any]]:
    """Return each requirement set on each product: its publication and cautions, its counts, groups and cards."""
    card_of = {each["claim_id"]: each for each in cards}
    return [
        {
            **rows[0]["criterion"],
            "product": product,
            "counts": text.requirement_counts(rows),
            "groups": text.group_outcomes(rows),
            "cards": [card_of[each["claim_id"]] for each in rows],
        }
        for (_, product), rows in text.requirements_of(findings).items()
    ]


def conclusion(report: Report) -> list[str]:
    """Return the outcome in two sentences, what fails first, and a line for each requirement set."""
    tally = text.counts(text.claims_of(report.findings))
    unread = text.claims_not_judged(report.observations)
    by_set: dict[str, list[Row]] = {}
    for (name, _), rows in text.requirements_of(report.findings).items():
        by_set.setdefault(name, []).extend(rows)
    sets = [f"{name}, {text.requirement_counts(rows)}." for name, rows in by_set.items()]
    if not tally and not unread:
        read = sum(each["role"] == "evidence" for each in report.inputs)
        return [
            "There was no claim to judge.",
            f"{wording.counted(len(report.readings), 'value was', 'values were')} read or computed "
            f"from {wording.counted(read, 'document')}.",
            *sets,
        ]
    total = sum(tally.values()) + unread
    if list(tally) == ["supported"] and not unread:
        first = "The claim is supported." if total == 1 else f"All {total} claims are supported."
    else:
        words = _tally_words(tally) if tally else []
        words += [f"{unread} could not be judged"] if unread else []
        first = f"Of {wording.counted(total, 'claim')}, {text.joined(words)}."
    return [first, *sets, _urgent_sentence(report.observations)]


def _tally_words(tally: Mapping[str, int]) -> list[str]:
    """Return `2 are contradicted`, `1 inconclusive` ...: the verb once, the rest follows it."""
    parts = [f"{count} {verdict}" for verdict, count in tally.items()]
    return [parts[0].replace(" ", " is " if parts[0].startswith("1 ") else " are ", 1), *parts[1:]]


def _urgent_sentence(observations: Sequence[Row]) -> str:
    found = [each["tier"] for each in observations]
    parts = [
        wording.counted(count, noun, plural)
        for count, noun, plural in (
            (
                found.count("refer"),
                "matter is for a competent person to decide",
                "matters are for a competent person to decide",
            ),
            (found.count("major"), "major observation needs an answer", "major observations need an answer"),
            (found.count("minor"), "minor question is open", "minor questions are open"),
        )
        if count
    ]
    return f"Beside the claims, {text.joined(parts)}." if parts else "Nothing else in the documents needs an answer."


def named(cards: Sequence[Row]) -> dict[str, Any]:
    """Return the claims to look at first: the contradicted or, where there are none, the overreaching."""
    for verdict in ("contradicted", "overreaching"):
        found = [each for each in cards if each["verdict"] == verdict]
        if found:
            return {"verdict": verdict, "cards": found[:MOST_NAMED], "more": max(len(found) - MOST_NAMED, 0)}
    return {}


def questions(cards: Sequence[Row]) -> dict[str, list[Row]]:
    """Return question -> the claims that it would settle, worst first."""
    return _gathered(sorted(cards, key=lambda each: list(glossary.VERDICTS).index(each["verdict"])))


def remedies(observations: Sequence[Row]) -> dict[str, list[Row]]:
    """Return what to do -> the observations that ask for it; notes ask for nothing."""
    return _gathered([each for each in observations if each["tier"] != "note"])


def letter(report: Report, asked: Mapping[str, list[Row]], mend: Mapping[str, list[Row]]) -> list[str]:
    """Return the lines of a plain text with everything that is asked, numbered, to be sent; [] if there is nothing."""
    if not asked and not mend:
        return []
    products = dict.fromkeys(each["product"] for rows in asked.values() for each in rows)
    about = text.joined([name for name in products if name]) or report.folder
    items = []
    for ask, rows in asked.items():
        subject = ", ".join(f"{each['claim_id']}, {each['title']}" for each in rows)
        items.append((say(report.habit, ask, [name for each in rows for name in each["names"]]), subject))
    for ask, rows in mend.items():
        first = rows[0]
        items.append((ask, "; ".join(filter(None, (first["message"], first["document"], first["place"])))))
    lines = [f"Questions on {about}"]
    for number, (ask, subject) in enumerate(items, start=1):
        first_line, *others = ask.split("\n")
        lines += ["", f"{number}. {first_line}", *(f"   {line}" for line in others), f"   ({subject})"]
    return lines


def keys(cards: Sequence[Row]) -> dict[str, dict[str, str]]:
    """Return what products and quantities are called by the filter: their number, since names may hold anything."""
    return {
        name: {each: f"{name}-{number}" for number, each in enumerate(dict.fromkeys(card[name] for card in cards))}
        for name in ("product", "quantity")
    }


def filters(cards: Sequence[Row], called: Mapping[str, Mapping[str, str]]) -> dict[str, list[tuple[str, str, int]]]:
    """Return what claims can be narrowed down by -> its choices: key, words, count; only where there is a choice."""
    verdicts = [card["verdict"] for card in cards]
    products = [card["product"] for card in cards]
    title_of = {card["quantity"]: card["title"] for card in cards}
    quantities = [card["quantity"] for card in cards]
    choices = {
        "verdict": [(each, each, verdicts.count(each)) for each in glossary.VERDICTS if each in verdicts],
        "product": [(key, each or "not named", products.count(each)) for each, key in called["product"].items()],
        "quantity": sorted(
            ((key, title_of[each], quantities.count(each)) for each, key in called["quantity"].items()),
            key=lambda choice: text.natural(choice[1]),
        ),
    }
    return {name: options for name, options in choices.items() if len(options) > 1}


def compared(row: Row) -> dict[str, Any]:
    """Return a comparison with another library as the page shows it: two digits more than the trade prints."""
    unit = row["unit"]
    decimals = text.decimals_for(row["value"], None, row["quantity"]) + 2
    value, other = (text.number(row[name], decimals) for name in ("value", "library_value"))
    given = row["difference"] is not None
    return {
        **row,
        "title": text.quantity_title(row["quantity"]),
        "symbol": text.quantity_symbol(row["quantity"]),
        "value_words": wording.with_unit(value, unit),
        "library_words": wording.with_unit(other, unit) if given else "",
        "difference_words": wording.with_unit(_signed(row["difference"], decimals + 1), unit) if given else "",
        "point_words": operating_point(row["operating_point"]),
        "names": [value for value in row["operating_point"].values() if isinstance(value, str)],
    }


def _signed(value: float, decimals: int) -> str:
    words = text.number(value, decimals)
    return words if words.startswith("-") or not float(words) else f"+{words}"


def _gathered(rows: Sequence[Row]) -> dict[str, list[Row]]:
    asks = dict.fromkeys(each["ask"] for each in rows if each["ask"])
    return {ask: [each for each in rows if each["ask"] == ask] for ask in asks}


def readings_by_product(readings: Sequence[Row]) -> dict[str, Any]:
    """Return the readings of each product in words, an equal share of the rows each, and what is left out."""
    products = list(dict.fromkeys(each["product"] for each in readings))
    shown = products[:MOST_PRODUCTS]
    share = MOST_READINGS // max(len(shown), 1)
    groups = []
    for product in shown:
        rows = [each for each in readings if each["product"] == product]
        groups.append({"product": product, "count": len(rows), "rows": [reading_row(each) for each in rows[:share]]})
    return {"groups": groups, "more_products": len(products) - len(shown), "count": len(readings)}


def reading_row(reading: Row) -> dict[str, Any]:
    """Return a reading as the page shows it."""
    return {
        **reading,
        "title": text.quantity_title(reading["quantity"]),
        "symbol": text.quantity_symbol(reading["quantity"]),
        "value_words": text.value_words(reading),
        "library_words": "" if reading["library_value"] is None else checkable(reading["library_value"]),
        "point_words": operating_point(reading["operating_point"]),
        "names": [value for value in reading["operating_point"].values() if isinstance(value, str)],
    }


def figure_cards(figures: Sequence[Figure], anchors: Mapping[str, str], habit: Habit) -> list[dict[str, Any]]:
    """Return figures as they are shown, product by product: drawn, or why not. `anchors`: of claims by id."""
    from markupsafe import Markup

    from plugins.outputs import drawing

    cards: list[dict[str, Any]] = []
    products = list(dict.fromkeys(figure.product for figure in figures))
    figures = sorted(figures, key=lambda figure: products.index(figure.product))[:MOST_FIGURES]
    names = anchor_names([figure.name for figure in figures], "figure")
    for figure, name in zip(figures, names, strict=True):
        drawn, fault = "", ""
        try:
            drawn = Markup(
                drawing.svg(figure, name, partial(say, habit, names=[figure.product]))
            )  # its words are escaped where it is put together
        except Exception as error:  # a figure that can't be drawn costs nothing but itself
            fault = f"{type(error).__name__}: {error}"
        claims = {each: anchors[each] for each in figure.claims if each in anchors}
        cards.append({"figure": figure, "anchor": name, "svg": drawn, "fault": fault, "claims": claims})
    return cards


@hookimpl
def register_writers() -> Sequence[Writer]:
    return [Writer("page", "report page", "report.html", write)]
