"""findings.xlsx: the audit as a workbook, to filter, to answer the questions in, and to check by hand.

Findings come first, then what to ask, then what they rest on. A finding leads to the reading that decides it and to
the document that it stands in; a reading leads to its cell there. cells.py says how text stays text.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from audit import Report, Writer, hookimpl, wording
from audit.habit import say
from plugins.outputs import glossary, page, text
from plugins.outputs.cells import (
    MOST_ROWS,
    Book,
    Cell,
    Column,
    Figure,
    Link,
    Marked,
    Sheet,
    decimal,
    file_link,
    sheet_link,
    shortest,
)
from plugins.outputs.workbook_evidence import (
    Row,
    decimals_of,
    documents_sheet,
    in_other_units,
    readings_sheet,
    spectra_sheet,
    titled,
)

MOST_NAMED = 6
PROBABILITY = '[>0.999]"above 99.9 %";[<0.001]"below 0.1 %";0.0 %'  # never rounded to a certainty
# Fill and ink; the verdict is a word beside them.
VERDICT_COLOURS = {
    "contradicted": ("#F6DED9", "#7E261C"),
    "overreaching": ("#E9DFF1", "#533070"),
    "inconclusive": ("#F4E8C6", "#5E4405"),
    "unevidenced": ("#E4E6E1", "#41473F"),
    "supported": ("#D8E8EF", "#12445A"),
}
TIER_COLOURS = {"refer": VERDICT_COLOURS["contradicted"], "major": VERDICT_COLOURS["inconclusive"]}
SHEETS = {
    "findings": "a row per claim: the verdict, the value against the limit, and where it rests; on paper without what "
    "stands right of the documents",
    "questions": "what to ask, once each, and who raised it; the last column is for the answers",
    "observations": "what was seen in the documents beside the claims",
    "readings": "every value read or computed, with its operating point, its place and the claims it bears on",
    "spectra": "every spectrum, its values by wavelength; on paper without them",
    "documents": "every file of the folder, with its SHA-256",
}


def write(report: Report) -> bytes:
    """Return findings.xlsx. The same audit gives the same bytes; see audit.clock for the date in it."""
    book = Book(report, f"{report.folder}: claims and evidence")
    where = _reading_rows(report)
    findings = _findings(book, report, where)
    others = (_questions, _observations, readings_sheet, spectra_sheet, documents_sheet)
    sheets = [findings, *(fill(book, report) for fill in others)]
    _about(book, report, dict(zip(SHEETS, sheets, strict=True)))
    return book.close()


def _reading_rows(report: Report) -> dict[tuple[Any, ...], int]:
    """Return what tells a reading -> its row on the sheet of readings; rows beyond its end are in no workbook."""
    rows: dict[tuple[Any, ...], int] = {}
    for row, each in enumerate(report.readings[: MOST_ROWS - 2], start=2):
        rows.setdefault(text.reading_key(each), row)
    return rows


def _findings(book: Book, report: Report, where: Mapping[tuple[Any, ...], int]) -> Sheet:
    columns = [
        Column("claim", 10, True),
        Column("product", 14, True),
        Column("verdict", 15),
        Column("side", 11, True),
        Column("quantity", 17, True),
        Column("value", 10),
        Column("± (k = 2)", 9),
        Column("unit", 8, True),
        Column("at least", 9),
        Column("at most", 9),
        Column("margin", 10),
        Column("reasons", 14, True),
        Column("finding", 42, True),
        Column("question", 38, True),
        Column("rests on", 26, True),
        Column("document", 24, True),
    ]
    printed = len(columns)
    columns += [
        Column("operating point", 40),
        Column("in other units", 18, True),
        Column("conformance probability", 14),
        Column("margin in u", 9),
        Column("margin to", 14),
        Column("statistic", 16),
        Column("definition", 16, True),
        Column("units", 8),
        Column("points", 8),
        Column("readings behind it", 9),
        Column("claim in words", 44),
        Column("claim made in", 30),
        Column("note on the claim", 30),
        Column("method", 60),
        Column("decisions", 40, True),
        Column("if corrected", 40, True),
        Column("identity", 36),
    ]
    sheet = book.sheet("findings", columns, frozen=1, printed=printed)
    claims = {(each["product"], each["claim_id"]): each for each in report.claims}
    for finding in text.in_order(report.findings):
        claim = claims.get((finding["product"], finding["claim_id"]), {})
        sheet.add([_finding(report, finding, claim, where)])
    sheet.finish()
    return sheet


def _finding(report: Report, finding: Row, claim: Row, where: Mapping[tuple[Any, ...], int]) -> list[Cell]:
    habit, names = report.habit, text.names_in(finding)
    limits = text.limits_of(finding)
    expanded = finding["expanded_uncertainty"]
    decimals = decimals_of(finding, limits)
    margin = decimals_of({**finding, "value": finding["margin"]}, [0.0])
    at_least = limits[0] if limits and finding["relation"] != "at_most" else None
    at_most = limits[-1] if limits and finding["relation"] != "at_least" else None
    evidence = sorted(finding["evidence"], key=lambda each: each["role"] != "deciding")
    first = evidence[0] if evidence else None
    row = where.get(text.reading_key(first)) if first else None
    changed = finding["if_corrected"]
    return [
        finding["claim_id"],
        finding["product"],
        Marked(finding["verdict"], *VERDICT_COLOURS[finding["verdict"]]),
        finding["side"],
        titled(finding["quantity"]),
        decimal(finding["value"], decimals),
        decimal(expanded, decimals),
        wording.with_unit("", finding["unit"]).strip(),
        shortest(at_least),
        shortest(at_most),
        decimal(finding["margin"], margin, signed=True),
        ", ".join(finding["reasons"]),
        say(habit, finding["message"], names),
        say(habit, finding["ask"], names),
        Link(first["place"] or first["document"], sheet_link("readings", row) if row else "") if first else "",
        Link(first["document"], file_link(report.way, first["document"])) if first else "",
        say(habit, wording.operating_point(finding["operating_point"]), names),
        in_other_units(report, finding),
        Figure(finding["probability"], PROBABILITY),
        decimal(finding["margin_u"], 1, signed=True),
        finding["margin_to"],
        finding["statistic"],
        finding["definition"],
        finding["units"],
        finding["points"],
        len(evidence),
        say(habit, finding["claim"], names),
        claim.get("source", ""),
        claim.get("note", ""),
        finding["method"],
        _decided(report, finding),
        say(habit, changed["message"], names) if changed else "",
        finding["identity"],
    ]


def _decided(report: Report, row: Row) -> str:
    decisions = [{**each, "date": say(report.habit, each["date"])} for each in row["decisions"]]
    return "\n".join(f"{text.decision_words(each)}: {each['reason']}" for each in decisions)


def _questions(book: Book, report: Report) -> Sheet:
    columns = [
        Column("no.", 6),
        Column("question", 70, True),
        Column("about", 44, True),
        Column("raised by", 16),
        Column("product", 18, True),
        Column("document", 26, True),
        Column("answer", 40, True, blank=True),
    ]
    sheet = book.sheet("questions", columns)
    for number, cells in enumerate(_asked(report), start=1):
        sheet.add([[number, *cells, None]])
    sheet.finish()
    return sheet


def _asked(report: Report) -> Iterator[list[Cell]]:
    """Yield what to ask, once each: about the claims, then what to mend in the documents, then what is missing."""
    row_of = {finding["identity"]: row for row, finding in enumerate(text.in_order(report.findings), start=2)}
    for ask, rows in page.questions(text.in_order(report.findings)).items():
        words = wording.listing([f"{each['claim_id']}, {text.quantity_title(each['quantity'])}" for each in rows])
        first = rows[0]
        documents = [each["evidence"][0]["document"] for each in rows if each["evidence"]]
        yield [
            say(report.habit, ask, [name for each in rows for name in text.names_in(each)]),
            Link(words, sheet_link("findings", row_of[first["identity"]])),
            Marked(first["verdict"], *VERDICT_COLOURS[first["verdict"]]),
            wording.listing(list(dict.fromkeys(each["product"] for each in rows))),
            wording.listing(list(dict.fromkeys(documents)), MOST_NAMED),
        ]
    for ask, rows in page.remedies(text.by_tier(report.observations)).items():
        more = f"; and {len(rows) - 1} more" if len(rows) > 1 else ""
        documents = [each["document"] for each in rows if each["document"]]
        about = rows[0]["message"] + more
        yield [ask, about, _tier(rows[0]["tier"]), "", wording.listing(list(dict.fromkeys(documents)), MOST_NAMED)]
    for each in report.missing:
        yield [f"Please add {each}.", "what the audit lacks", "", "", ""]


def _tier(tier: str) -> Cell:
    return Marked(tier, *TIER_COLOURS[tier]) if tier in TIER_COLOURS else tier


def _observations(book: Book, report: Report) -> Sheet:
    columns = [
        Column("tier", 9),
        Column("rule", 26),
        Column("subject", 22, True),
        Column("observation", 64, True),
        Column("to do", 52, True),
        Column("document", 26, True),
        Column("place", 26, True),
        Column("made by", 16),
        Column("decisions", 40, True),
        Column("identity", 36),
    ]
    sheet = book.sheet("observations", columns, printed=7)
    sheet.add(
        [
            _tier(each["tier"]),
            each["rule"],
            each["subject"],
            each["message"],
            each["ask"],
            Link(each["document"], file_link(report.way, each["document"]) if each["document"] else ""),
            each["place"],
            each["made_by"],
            _decided(report, each),
            each["identity"],
        ]
        for each in text.by_tier(report.observations)
    )
    sheet.finish()
    return sheet


def _about(book: Book, report: Report, sheets: Mapping[str, Sheet]) -> None:
    """Add what a person needs who gets the workbook alone: what it is, its words, and how far it may be relied on."""
    sheet = book.sheet("about", [Column("word", 28, True), Column("meaning", 110, True)], printed=2)
    percent = text.number(100 * report.rule.confidence)
    confident = f"one-sided confidence {percent} %" if report.rule.name == "guarded" else "the measured side alone"
    rows: list[tuple[Cell, Cell]] = [
        ("audit of", report.folder),
        ("made by", f"{report.tool['name']} {report.tool['version']}; the same documents give the same workbook"),
        ("decision rule", say(report.habit, f"{report.rule.name}, {confident} (JCGM 106:2012)")),
        ("± (k = 2)", "the expanded uncertainty: about 95 of 100 such intervals contain the true value"),
        ("margin", "how far the value would have to move to change the verdict, with its sign"),
    ]
    for name, words in SHEETS.items():
        remark = f"; {sheets[name].remark}" if sheets[name].remark else ""
        rows.append((Link(name, sheet_link(name, 1)), f"{wording.counted(sheets[name].rows, 'row')}: {words}{remark}"))
    rows += [(Marked(word, *VERDICT_COLOURS[word]), meaning) for word, meaning in glossary.VERDICTS.items()]
    rows += [*glossary.REASONS.items(), *((_tier(tier), words) for tier, words in glossary.TIERS.items())]
    rows += [("method", each) for each in report.methods]
    rows += glossary.CAUTIONS
    sheet.add(rows)
    sheet.finish()


@hookimpl
def register_writers() -> Sequence[Writer]:
    return [Writer("workbook", "workbook", "findings.xlsx", write)]
