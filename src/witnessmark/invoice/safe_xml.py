"""XML from somebody else: nothing is fetched, expanded or endless."""

from __future__ import annotations

import re

from lxml import etree

from witnessmark.invoice.document import InvoiceError

MOST_BYTES = 5_000_000  # judged by us; a page of an invoice is some 10 000
MOST_ELEMENTS = 50_000  # judged by us
MOST_DEPTH = 60  # judged by us: an invoice is some 12 deep
_DECLARED = re.compile(rb"""^\s*<\?xml[^>]*encoding=["']([A-Za-z0-9._-]+)["']""")
_ENCODINGS = {"utf-8", "us-ascii", "ascii", "iso-8859-1", "iso-8859-15", "windows-1252"}
_MARK = b"\xef\xbb\xbf"


def parse(data: bytes, *, place: str) -> etree._Element:
    """The root of the XML. Raises InvoiceError at ``place`` for what is none, is hostile, or is too large."""
    if len(data) > MOST_BYTES:
        raise InvoiceError(place, "it is too large for an invoice", _ask())
    text = _text(data, place)
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise InvoiceError(place, "it declares a document type, which no invoice needs", _ask())
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False,
        remove_comments=True, remove_pis=True, encoding="utf-8",
    )  # fmt: skip
    try:
        root = etree.fromstring(text.encode(), parser)
    except etree.XMLSyntaxError as problem:
        raise InvoiceError(place, f"it is no XML: {problem.msg}", _ask()) from problem
    _measured(root, place)
    return root


def _text(data: bytes, place: str) -> str:
    data = data.removeprefix(_MARK)
    found = _DECLARED.match(data)
    encoding = found[1].decode().lower() if found else "utf-8"
    try:
        if encoding in _ENCODINGS:
            return data.decode(encoding)
    except UnicodeDecodeError:
        pass
    raise InvoiceError(place, "its letters cannot be read", "ask for it in UTF-8")


def _measured(root: etree._Element, place: str) -> None:
    depth = count = 0
    for event, _ in etree.iterwalk(root, events=("start", "end")):
        count += event == "start"
        depth += 1 if event == "start" else -1
        if depth > MOST_DEPTH or count > MOST_ELEMENTS:
            raise InvoiceError(place, "it is built larger than an invoice", _ask())


def _ask() -> str:
    return "ask the supplier for an invoice by EN 16931"
