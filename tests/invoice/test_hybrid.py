"""The paper that carries itself as data: PDF/A-3 by what can be told of it without a full validator.

Typst validates the paper as it prints it. What is changed after that is checked here: the syntax by qpdf (`pikepdf`),
the attachment and its relationship (ISO 19005-3, 6.8), what the file says of itself (XMP; Factur-X 1.09, the extension
schema and its four values). No validator of PDF/A-3 is to be had as a package; veraPDF would be one.
"""

from io import BytesIO

import pikepdf
import pytest
from facturx import get_xml_from_pdf
from lxml import etree

from tests.invoice.cases import CASES
from tests.invoice.judges import faults
from tests.invoice.paper import document
from tests.invoice.printed import archive
from witnessmark.invoice import InvoiceError, MissingError, issue, totals
from witnessmark.invoice.einvoice import cii
from witnessmark.invoice.hybrid import hybrid
from witnessmark.invoice.issued import Issued

ISSUED = issue(CASES["everything said"])
NAMES = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "fx": "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#",
    "schema": "http://www.aiim.org/pdfa/ns/schema#",
    "property": "http://www.aiim.org/pdfa/ns/property#",
    "extension": "http://www.aiim.org/pdfa/ns/extension/",
}
ARCHIVES = pytest.mark.parametrize("standard", ["a-2a", "a-2b", "a-3a", "a-3b"])


def opened(data):
    return pikepdf.open(BytesIO(data))


@ARCHIVES
def test_the_paper_is_part_3_of_its_level_and_sound(standard):
    pdf = opened(hybrid(archive(standard), ISSUED))
    assert pdf.check_pdf_syntax() == []
    assert pdf.open_metadata().pdfa_status == f"3{standard[-1].upper()}"
    before = opened(archive(standard))
    assert pdf.pdf_version == before.pdf_version
    assert pdf.Root.keys() >= before.Root.keys()
    assert dict(pdf.docinfo.items()) == dict(before.docinfo.items())
    assert pdf.pages[0].Contents.read_bytes() == before.pages[0].Contents.read_bytes()


def test_the_data_is_attached_as_another_form_of_the_whole_paper():
    """ISO 19005-3, 6.8: named in both ways, related, of a type, and listed in the catalogue."""
    pdf = opened(hybrid(archive(), ISSUED))
    (spec,) = pdf.Root.AF
    assert (str(spec.F), str(spec.UF), spec.AFRelationship) == (
        "factur-x.xml", "factur-x.xml", "/Alternative",
    )  # fmt: skip
    assert spec.EF.F.Subtype == "/text/xml"
    assert str(spec.EF.F.Params.ModDate).startswith("D:20260504120000")
    assert list(pdf.attachments) == ["factur-x.xml"]
    assert spec.EF.F.read_bytes() == cii(ISSUED)


def test_the_file_says_of_itself_what_is_in_it():
    """Factur-X 1.09: the four values, and the schema that declares them, beside those that were there."""
    pdf = opened(hybrid(archive(), ISSUED))
    said = etree.fromstring(pdf.Root.Metadata.read_bytes())
    values = {
        name: said.findtext(f".//fx:{name}", namespaces=NAMES)
        for name in ("DocumentType", "DocumentFileName", "Version", "ConformanceLevel")
    }
    assert values == {
        "DocumentType": "INVOICE", "DocumentFileName": "factur-x.xml", "Version": "1.0",
        "ConformanceLevel": "EN 16931",
    }  # fmt: skip
    (bag,) = said.findall(".//extension:schemas/rdf:Bag", NAMES)
    schemas = [each.findtext("schema:prefix", namespaces=NAMES) for each in bag]
    assert schemas == ["xmpMM", "pdf", "fx"]
    declared = {each.text for each in bag[-1].findall(".//property:name", NAMES)}
    assert declared == values.keys()


def test_the_librarys_own_reader_takes_it_and_the_rules_pass():
    name, data = get_xml_from_pdf(hybrid(archive(), ISSUED), check_xsd=True)
    assert (name, faults(data)) == ("factur-x.xml", [])


def test_the_same_gives_the_same_bytes():
    assert hybrid(archive(), ISSUED) == hybrid(archive(), ISSUED)


@pytest.mark.parametrize("data", [b"", b"no PDF", b"%PDF-1.7 and nothing more"])
def test_what_is_no_paper_is_refused(data):
    with pytest.raises(InvoiceError, match="no PDF/A"):
        hybrid(data, ISSUED)


def test_a_paper_that_is_no_archive_is_refused():
    plain = BytesIO()
    pdf = pikepdf.new()
    pdf.add_blank_page()
    pdf.save(plain)
    with pytest.raises(InvoiceError, match=r"no PDF/A.*print the paper"):
        hybrid(plain.getvalue(), ISSUED)


def test_what_is_not_complete_is_not_attached():
    paper = document(buyer=None)
    with pytest.raises(MissingError, match="it names no buyer"):
        hybrid(archive(), Issued(document=paper, totals=totals(paper)))
