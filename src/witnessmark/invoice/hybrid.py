"""A printed document that carries itself as data: PDF/A-3 with CII attached, as Factur-X has it (profile EN 16931)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, time
from io import BytesIO
from typing import Any

from facturx import generate_xmp_object
from lxml import etree
from pypdf import PdfReader, PdfWriter
from pypdf.errors import PyPdfError
from pypdf.generic import ArrayObject, NameObject, TextStringObject

from witnessmark.invoice.document import InvoiceError
from witnessmark.invoice.einvoice import cii
from witnessmark.invoice.issued import Issued
from witnessmark.invoice.safe_xml import parse

NAME = "factur-x.xml"
_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
_EXTENSION = "{http://www.aiim.org/pdfa/ns/extension/}schemas"
_PART = "{http://www.aiim.org/pdfa/ns/id/}part"
# What the library wants to know of a document; all but the last four are thrown away again, the paper has its own.
_ABOUT = {
    "pdfa3_flavor": "A", "title": "", "author": "", "subject": "", "producer": "", "creator_tool": "", "timestamp": "",
    "urn": "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#", "documenttype": "INVOICE", "xml_filename": NAME,
    "version": "1.0", "xmp_level": "EN 16931",
}  # fmt: skip


def hybrid(pdf: bytes, issued: Issued, say: Callable[[str], str] = str) -> bytes:
    """The paper, printed as PDF/A-2 or PDF/A-3, with the document as data in it. The same in gives the same out.

    Part 3 allows what part 2 does, and files of any kind in it: what the paper was, it stays. Raises MissingError as
    `cii`, InvoiceError for a paper that is no PDF/A of these parts.
    """
    data = cii(issued, say)
    try:
        read = PdfReader(BytesIO(pdf))
        writer = PdfWriter(clone_from=read)
        writer.pdf_header = read.pdf_header
        root = writer.root_object
        metadata: Any = root["/Metadata"].get_object()
        metadata.set_data(_described(metadata.get_data()))
    except (PyPdfError, KeyError, AttributeError) as problem:
        raise _no_archive() from problem
    attached = writer.add_attachment(NAME, data)
    attached.subtype = NameObject("/text/xml")
    attached.alternative_name = TextStringObject(NAME)
    attached.description = TextStringObject("Invoice as data, EN 16931")
    attached.associated_file_relationship = NameObject("/Alternative")  # both say the same
    attached.modification_date = datetime.combine(issued.document.issued_on, time(12), tzinfo=UTC)
    root[NameObject("/AF")] = ArrayObject([attached.pdf_object.indirect_reference])
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


def _no_archive() -> InvoiceError:
    return InvoiceError("pdf", "this is no PDF/A", "print the paper as PDF/A-2a or PDF/A-3a")


def _described(xmp: bytes) -> bytes:
    """What a PDF says of itself (XMP), with part 3 of PDF/A and what Factur-X adds."""
    said = parse(xmp, place="pdf")
    part = said.find(f".//{_PART}")
    if part is None or part.text not in {"2", "3"}:
        raise _no_archive()
    part.text = "3"
    added: Any = generate_xmp_object(_ABOUT).find(f"{_RDF}RDF")
    *_, extension, values = added.iterchildren()
    known = said.find(f".//{_EXTENSION}/{_RDF}Bag")
    (rdf,) = said.iter(f"{_RDF}RDF")
    if known is None:
        rdf.append(extension)
    else:
        known.extend(extension.find(f".//{_RDF}Bag").iterchildren())
    rdf.append(values)
    for each in rdf.iterchildren(f"{_RDF}Description"):
        each.set(f"{_RDF}about", "")
    head = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'  # fixed by XMP, ISO 16684-1
    written: bytes = etree.tostring(said)
    return head.encode() + written + b'\n<?xpacket end="r"?>'
