"""A UBL 2.1 document of a supplier's into its parts, every fault with its place in the document.

Documents come from strangers: one with a document type declaration is refused, since UBL has none and entities could
fill the memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from xml.etree import ElementTree

from optimiser.errors.problems import Problem, ProblemList, UnusableInput
from optimiser.model.money import MOST
from optimiser.model.ubl_names import CAC, CBC, document_namespace

LARGEST_BYTES = 16 * 1024 * 1024
_NAMES = {"cac": CAC, "cbc": CBC}


class _NoDeclarations(ElementTree.TreeBuilder):
    """Builds the tree, and refuses a document type declaration."""

    def doctype(self, name: str, pubid: str | None, system: str | None) -> None:
        raise ValueError("declares a document type")


class Part:
    """An element of a document and where it stands, for messages; what is wrong with it goes to `problems`."""

    def __init__(self, element: ElementTree.Element, place: str, problems: ProblemList) -> None:
        self.element, self.place, self.problems = element, place, problems

    def parts(self, path: str) -> Iterator[Part]:
        """The elements at a path such as 'cac:OrderLine', counted from 1 in their places."""
        name = path.rpartition(":")[2]
        for number, found in enumerate(self.element.findall(path, _NAMES), start=1):
            yield Part(found, f"{self.place}/{name}[{number}]", self.problems)

    def part(self, path: str) -> Part | None:
        """The first element at a path, or None."""
        return next(self.parts(path), None)

    def text(self, path: str) -> str:
        """The text at a path; '' where there is none."""
        return (self.element.findtext(path, "", _NAMES) or "").strip()

    def first_text(self, *paths: str) -> str:
        """The text at the first of the paths that has one."""
        return next((said for path in paths if (said := self.text(path))), "")

    def attribute(self, path: str, name: str) -> str:
        """An attribute of the element at a path; '' where there is none."""
        found = self.element.find(path, _NAMES)
        return "" if found is None else (found.get(name) or "").strip()

    def fault(self, path: str, value: object, message: str, mend: str) -> None:
        """Tells a fault of what stands at a path."""
        column = path.rpartition(":")[2] if path else None
        self.problems.add(Problem(self.place, None, column, value, message, mend))

    def number(self, path: str) -> Decimal | None:
        """The number at a path, from nothing to ten thousand million; None where there is none, or, told, no such
        number."""
        said = self.text(path)
        if not said:
            return None
        try:
            found = Decimal(said)
        except InvalidOperation:
            found = Decimal("NaN")
        if not found.is_finite() or found < 0:
            self.fault(path, said, "must be a number, not negative", "correct it, or ask the supplier")
            return None
        if found > MOST:
            self.fault(path, said, f"is above {MOST:,}", "correct it, or ask the supplier")
            return None
        return found

    def day(self, path: str) -> date | None:
        """The day at a path; None where there is none, or, told, no day."""
        said = self.text(path)
        if not said:
            return None
        try:
            return date.fromisoformat(said[:10])  # xsd:date may carry a zone: 2027-02-22Z
        except ValueError:
            self.fault(path, said, "must be a day", "write it as 2027-02-22")
            return None

    def moment(self) -> datetime | None:
        """When the document was issued."""
        day = self.day("cbc:IssueDate")
        if day is None:
            return None
        said = self.text("cbc:IssueTime")
        try:
            at = time.fromisoformat(said[:8]) if said else time()
        except ValueError:
            self.fault("cbc:IssueTime", said, "must be a time of day", "write it as 07:00:00")
            return None
        return datetime.combine(day, at)


def root_of(data: bytes, name: str, kinds: tuple[str, ...], problems: ProblemList) -> tuple[str, Part]:
    """The kind of a document, one of `kinds`, and its root. Raises UnusableInput for anything else."""
    wanted = " or ".join(kinds)
    try:
        element = ElementTree.fromstring(data, ElementTree.XMLParser(target=_NoDeclarations()))
    except ElementTree.ParseError as error:
        message = f"is no XML: {error}"
        raise UnusableInput([Problem(name, message=message, mend=f"give a UBL {wanted}")]) from None
    except (ValueError, LookupError):
        message = "declares a document type or an unknown encoding, which UBL does not"
        raise UnusableInput([Problem(name, message=message, mend="ask for it in plain UBL 2.1")]) from None
    for kind in kinds:
        if element.tag == f"{{{document_namespace(kind)}}}{kind}":
            return kind, Part(element, kind, problems)
    said = element.tag.rpartition("}")[2][:60]
    raise UnusableInput(
        [Problem(name, message=f"holds <{said}>, not a UBL {wanted}", mend=f"give a {wanted}")]
    )
