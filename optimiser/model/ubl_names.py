"""Names of OASIS UBL 2.1 (Universal Business Language, OASIS Standard, 4 November 2013): its namespaces and the units
of UN/ECE Recommendation 20, with packages from Recommendation 21 (an X before its code)."""

from __future__ import annotations

CAC = "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2"
CBC = "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"

PACKAGE = "XPK"
UNIT_CODES = {
    "piece": "H87",
    "each": "H87",
    "metre": "MTR",
    "meter": "MTR",
    "m": "MTR",
    "roll": "XRO",
    "box": "XBX",
    "pallet": "XPX",
    "package": PACKAGE,
    "pack": PACKAGE,
}
"""Pack names to UN/ECE codes; any other pack is a package."""


def document_namespace(name: str) -> str:
    """The namespace of a kind of document: 'Order' -> 'urn:...:xsd:Order-2'."""
    return f"urn:oasis:names:specification:ubl:schema:xsd:{name}-2"


def unit_code(pack_name: str) -> str:
    """The UN/ECE unit code of a pack: 'Boxes' or 'box of 50' -> 'XBX'; a package where the name tells nothing."""
    name = pack_name.partition(" of ")[0].strip().lower()
    for singular in (name, name.removesuffix("s"), name.removesuffix("es")):
        if singular in UNIT_CODES:
            return UNIT_CODES[singular]
    return PACKAGE
