"""Spectra in XML as ANSI/IES TM-27-14 lays them down: a header about the test, and a value per wavelength.

Source of the elements: ANSI/IES TM-27-14 as colour-science 0.4.7 implements it (colour/io/tm2714.py). The
wavelengths may be irregular and stay as they are. Files are untrusted: document types, entities and outside
references are refused, sizes and depth bounded, and every refusal names its line.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple
from xml.sax.handler import ContentHandler
from xml.sax.xmlreader import AttributesImpl

import numpy as np

from audit.answers import USED, answer_line, question
from audit.hooks import hookimpl
from audit.model import Document, Reader, Refusal
from audit.tables import Tables
from plugins.ingest.cells import as_numbers, first_bad
from plugins.ingest.labels import label_of, title_fields
from plugins.ingest.metadata import FILLERS
from plugins.ingest.notebook import Notebook
from plugins.ingest.spectra import FEWEST, LONGEST_NM, SHORTEST_NM, SORT, misorder

ROOT, SPECTRUM, VALUE = "iestm2714", "spectraldistribution", "spectraldata"
MAX_BYTES = 5_000_000  # some 90,000 wavelengths
MAX_DEPTH = 20
MAX_TEXT = 10_000  # characters of one element
MAX_ELEMENTS = 100_000
MAX_HEADER = 200  # elements
MOST_NAMED = 20  # unknown elements named in the report

# Header element -> key of the metadata. FileCreator is met where the schema says DocumentCreator.
HEADER: Mapping[str, str] = {
    "manufacturer": "manufacturer",
    "catalognumber": "model",
    "description": "title",
    "documentcreator": "operator",
    "filecreator": "operator",
    "uniqueidentifier": "unique_identifier",
    "measurementequipment": "instrument",
    "laboratory": "laboratory",
    "reportnumber": "report_number",
    "reportdate": "date_issued",
    "documentcreationdate": "date_created",
    "comments": "remark",
}
DETAILS: Mapping[str, str] = {
    "bandwidthfwhm": "bandwidth_fwhm_nm",
    "bandwidthcorrected": "bandwidth_corrected",
    "reflectiongeometry": "reflection_geometry",
    "transmissiongeometry": "transmission_geometry",
}
LIGHT = ("exitance", "flux", "intensity", "irradiance", "radiance", "relative")
NO_LIGHT = ("absorptance", "reflectance", "transmittance", "r-factor", "t-factor")
SPECTRAL_UNIT = re.compile(r"[mµμun]?W\b.*(?:/\s*nm|nm-1|nm⁻¹)", re.IGNORECASE)
CONVERT = "export it as TM-27-14 XML, or as a table with one column of wavelengths in nm and one of values"
DECLARATION = re.compile(rb"(<\?xml\s+version\s*=\s*)([\"'])1[\"']")  # met in a real file; every parser wants 1.0


class Text(NamedTuple):
    """The text of an element and the line on which it begins, counted from 1."""

    text: str
    line: int


@dataclass
class Distribution:
    """One SpectralDistribution: its details, and wavelengths and values as printed."""

    line: int
    details: dict[str, Text] = field(default_factory=dict)
    wavelengths: list[Text] = field(default_factory=list)
    values: list[Text] = field(default_factory=list)


@dataclass
class Content:
    """What a file of spectral XML holds: the names of its elements are compared without case and namespace."""

    root: str = ""
    header: list[tuple[str, Text]] = field(default_factory=list)
    distributions: list[Distribution] = field(default_factory=list)
    strangers: dict[str, Text] = field(default_factory=dict)


def recognise(document: Document, head: bytes) -> float:
    """Return how sure this reader is: of its own root element, of the file's ending, and of XML at all."""
    text = _beginning(head)
    if re.search(r"<(?:\w+:)?IESTM2714\b", text, re.IGNORECASE):
        return 0.95
    if document.path.casefold().endswith(".spdx"):
        return 0.9
    return 0.6 if text.startswith("<?xml") or document.path.casefold().endswith(".xml") else 0.0


def _beginning(head: bytes) -> str:
    encoding = "utf-16" if head.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    return head[:4096].decode(encoding, errors="replace").lstrip()


def read(document: Document) -> Tables:
    """Read header and spectra. Raises Refusal, with its line, where the file is unsafe, broken or of another kind."""
    content = parse(document)
    notebook = Notebook(document, by="spectral_xml")
    for name, said in content.header:
        if name == "comments":
            notebook.text(said.text, row=said.line)
        notebook.pair(HEADER[name], said.text, row=said.line)
    _name_strangers(notebook, content.strangers)
    point = notebook.recorder.point(product=_product(content), **_described(notebook, content))
    for distribution in content.distributions:
        _keep(notebook, distribution, point)
    notebook.close()
    return notebook.recorder.tables()


def _name_strangers(notebook: Notebook, strangers: Mapping[str, Text]) -> None:
    for name, said in list(strangers.items())[:MOST_NAMED]:
        notebook.unknown(name, said.text, f"line {said.line}")
    if (more := len(strangers) - MOST_NAMED) > 0:
        ask = "nothing, unless a claim rests on one of them"
        notebook.remark("elements_unknown", "minor", f"{more} more kinds of elements aren't read", ask)


def parse(document: Document) -> Content:
    """Return the content of a file of spectral XML. Raises Refusal for anything else."""
    if document.size > MAX_BYTES:
        message = f"the file has {document.size:,} bytes, more than the {MAX_BYTES:,} of XML that are read"
        raise Refusal(message, ask="keep one spectrum per file, or hand the spectra in as a table")
    handler = _Handler()
    _feed(DECLARATION.sub(rb"\g<1>\g<2>1.0\g<2>", document.read_bytes(), count=1), handler)
    content = handler.content
    if not content.distributions:
        message = "the XML has no SpectralDistribution, so it holds no spectrum"
        raise Refusal(message, ask=CONVERT)
    return content


def _feed(raw: bytes, handler: _Handler) -> None:
    """Parse bytes with a handler; whatever the parser stumbles over is a Refusal with its line."""
    from xml.sax import SAXException

    from defusedxml.common import DefusedXmlException
    from defusedxml.sax import make_parser

    parser: Any = make_parser()
    parser.forbid_dtd = True
    parser.setContentHandler(handler)
    try:
        parser.parse(io.BytesIO(raw))
    except DefusedXmlException as error:
        message = "the XML declares a document type, entities or outside references, which a spectrum never needs"
        ask = "ask the sender for the file without its DOCTYPE"
        raise Refusal(message, f"line {parser.getLineNumber()}", ask) from error
    except (SAXException, LookupError, ValueError) as error:  # an unknown encoding is a LookupError
        reason = error.getMessage() if isinstance(error, SAXException) else str(error)
        ask = "ask the sender for a whole copy, saved as UTF-8"
        raise Refusal(f"the XML can't be parsed ({reason})", f"line {parser.getLineNumber()}", ask) from error


class _Handler(ContentHandler):
    """Gathers the elements of TM-27-14, and stops at what no such file holds."""

    def __init__(self) -> None:
        super().__init__()
        self.content = Content()
        self._open: list[str] = []
        self._text: list[str] = []
        self._began = self._length = self._count = 0
        self._wavelength = ""
        self._locator: Any = None

    def setDocumentLocator(self, locator: Any) -> None:
        self._locator = locator

    def _line(self) -> int:
        return int(self._locator.getLineNumber() or 1)

    def _stop(self, message: str) -> Refusal:
        return Refusal(message, f"line {self._line()}", CONVERT)

    def startElement(self, name: str, attrs: AttributesImpl[str]) -> None:
        local = name.rpartition(":")[2].casefold()
        self._count += 1
        if not self._open:
            self._enter(name, local)
        if len(self._open) >= MAX_DEPTH:
            raise self._stop(f"the XML is nested more than {MAX_DEPTH} deep: refused as unsafe")
        if self._count > MAX_ELEMENTS:
            raise self._stop(f"the XML has more than {MAX_ELEMENTS:,} elements: refused as unsafe")
        self._open.append(local)
        self._text, self._length, self._began = [], 0, self._line()
        if local == SPECTRUM:
            self.content.distributions.append(Distribution(self._began))
        elif local == VALUE:
            self._wavelength = attrs.get("wavelength") or attrs.get("Wavelength") or ""

    def _enter(self, name: str, local: str) -> None:
        if local != ROOT:
            raise self._stop(f"it is XML of an unknown kind: it begins with <{name[:60]}> and not with <IESTM2714>")

    def characters(self, content: str) -> None:
        self._length += len(content)
        if self._length > MAX_TEXT:
            raise self._stop(f"an element holds more than {MAX_TEXT:,} characters: refused as unsafe")
        self._text.append(content)

    def endElement(self, name: str) -> None:
        local = self._open.pop()
        said = Text("".join(self._text).strip(), self._began)
        inside = self._open[-1] if self._open else ""
        self._text, self._length = [], 0
        distribution = self.content.distributions[-1] if self.content.distributions else None
        if inside == SPECTRUM and distribution and local == VALUE:
            distribution.wavelengths.append(Text(self._wavelength.strip(), said.line))
            distribution.values.append(said)
        elif inside == SPECTRUM and distribution and (local in DETAILS or local == "spectralquantity"):
            distribution.details[local] = said
        elif inside == "header" and local in HEADER:
            self.content.header.append((local, said))
            if len(self.content.header) > MAX_HEADER:
                raise self._stop(f"the header has more than {MAX_HEADER} elements: refused as unsafe")
        elif said.text and local not in ("header", SPECTRUM, ROOT):
            self.content.strangers.setdefault(name[:60], said)


def _product(content: Content) -> str:
    """Return the catalogue number, which names what was measured; "" for a filler."""
    said = next((said.text for name, said in content.header if name == "catalognumber"), "")
    return "" if said.casefold() in FILLERS else said


def _described(notebook: Notebook, content: Content) -> dict[str, Any]:
    """Return the setting that the description states as a table's title would ("at 3000 K, 50 %").

    A temperature without "at" beside other words may be the nominal one, and states nothing.
    """
    said = next((said for name, said in content.header if name == "description"), Text("", 0))
    fields, label, place = title_fields(said.text), label_of(said.text), f"line {said.line}"
    if not fields or not (label.marked or label.whole):
        if fields:
            message = f"no setting is taken from its description '{said.text[:60]}': it may name a nominal value"
            ask = "say 'at 3000 K' in the description, if that was set"
            notebook.remark("state_not_taken", "note", message, ask, subject="description", place=place)
        return {}
    for name, value in fields.items():
        message = f"{name} {value:g}" if isinstance(value, float) else f"{name} {value}"
        message = f"{message} of its spectra is taken from the description '{said.text[:60]}'"
        ask = "nothing, if that is right; otherwise take it out of the description"
        notebook.remark("state_from_title", "note", message, ask, subject=name, place=place)
    return fields


def _keep(notebook: Notebook, distribution: Distribution, point: int) -> None:
    """Keep one spectrum with its kind and bandwidth, or say why it isn't used."""
    for name, key in DETAILS.items():
        if said := distribution.details.get(name):
            notebook.pair(key, said.text, row=said.line)
    stated = _kind(notebook, distribution)
    if stated is None:
        return
    axis = distribution.wavelengths
    if len(axis) < FEWEST:
        _refuse(notebook, f"it has {len(axis)} value(s), fewer than a spectrum needs", CONVERT, distribution.line)
        return
    wavelengths = _numbers(notebook, axis, "wavelength")
    power = _numbers(notebook, distribution.values, "value")
    if wavelengths is None or power is None:
        return
    if wrong := misorder(wavelengths):
        before, at = axis[wrong - 1].text, axis[wrong].text
        why = f"the wavelength '{at}' follows '{before}', so the wavelengths are out of order or doubled"
        _refuse(notebook, why, SORT, axis[wrong].line)
    elif wavelengths[0] < SHORTEST_NM or wavelengths[-1] > LONGEST_NM:
        why = f"its wavelengths run from {axis[0].text} to {axis[-1].text}, which can't be nm"
        _refuse(notebook, why, "give the wavelengths in nm, as TM-27-14 has them", axis[0].line)
    elif not power.any():
        _refuse(notebook, "all its values are zero: no light was measured", "send its values again", axis[0].line)
    else:
        shown = [f"{each.text} nm: {value.text}" for each, value in zip(axis[:2], distribution.values, strict=False)]
        place = notebook.recorder.place(row=axis[0].line, raw=", ".join([*shown, "..."]))
        kind, unit = stated
        notebook.recorder.spectra(wavelengths, power[np.newaxis], [point], [place], kind=kind, unit=unit)


def _kind(notebook: Notebook, distribution: Distribution) -> tuple[str, str] | None:
    """Return kind and unit of a light source's spectrum; None, and why, for one of a surface or of unknown kind."""
    said = distribution.details.get("spectralquantity", Text("", distribution.line))
    quantity = said.text.casefold()
    if quantity in LIGHT:
        return quantity, ""
    if SPECTRAL_UNIT.fullmatch(said.text):  # a unit where the schema wants the quantity: it is light all the same
        return "", said.text
    if quantity in NO_LIGHT:
        why = f"its SpectralQuantity is '{said.text}', which belongs to a surface or a filter and is no light source's"
        _refuse(notebook, why, "hand in the spectrum of the light source, if one was measured", said.line)
        return None
    answer = notebook.recorder.document.answers.get("SpectralQuantity", "")
    if answer in LIGHT:
        place = notebook.recorder.place(row=said.line, raw=said.text)
        notebook.recorder.metadata(USED, answer_line("SpectralQuantity", answer), place)
        return answer, ""
    shown = f"'{said.text[:60]}'" if said.text else "not stated"
    lines = [answer_line("SpectralQuantity", "relative", f"or one of: {', '.join(LIGHT[:-1])}")]
    why = f"its SpectralQuantity is {shown}, so it may be light or the reflectance of a surface"
    _refuse(notebook, why, question(notebook.recorder.document, lines), said.line)
    return None


def _numbers(notebook: Notebook, texts: Sequence[Text], what: str) -> np.ndarray | None:
    """Return printed numbers as floats; None, and the first that is none, where one can't be read."""
    cells = [each.text for each in texts]
    values = as_numbers(cells)
    if values is not None:
        return values
    bad = texts[first_bad(cells)]
    why = f"'{bad.text[:40]}' stands where a {what} should"
    _refuse(notebook, why, "send its values again, one number per wavelength, with a point as decimal mark", bad.line)
    return None


def _refuse(notebook: Notebook, why: str, ask: str, line: int) -> None:
    message, place = f"a spectrum isn't used: {why}", f"line {line}"
    notebook.remark("spectrum_not_read", "major", message, ask, subject="spectrum", place=place)


@hookimpl
def register_readers() -> list[Reader]:
    """XML of any other kind is claimed too, to be refused with a sentence."""
    return [Reader("spectral_xml", "spectra in XML (TM-27-14)", recognise, read)]
