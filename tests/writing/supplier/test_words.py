"""What is said of the supplier's order in whole sentences."""

from __future__ import annotations

from datetime import date

from optimiser.ordering.purchase_order import Issue, purchase_order
from optimiser.writing.supplier.words import document_in_words
from tests.builders.small_plan import small_plan


def test_a_supplementary_order_says_that_it_comes_on_top_of_others() -> None:
    on_top = Issue(issued_on=date(2027, 3, 1), besides={"B-120": {"L01": 4}})
    said = document_in_words(purchase_order(small_plan(), on_top))
    assert said == "Issued 2027-03-01; supplementary: on top of what is ordered already"
    first = purchase_order(small_plan(), Issue(issued_on=date(2027, 3, 1)))
    assert document_in_words(first) == "Issued 2027-03-01"
