"""Every figure and day that a plan's pages show is found in its office workbook."""

from __future__ import annotations

import re
from datetime import datetime
from html.parser import HTMLParser

import httpx
import pytest

from tests.writing.office.test_workbook import DAY, Found, figures

SHEETS = ("", "/deliveries", "/levels", "/levels/2", "/runs/1", "/boards", "/boards/1")
WRITTEN_DAY = re.compile(r"\b\w{3} \d{1,2} \w{3} \d{4}\b")
NOT_OF_THE_PLAN = re.compile(
    r"\b0\d+\b|\d{1,2} \w{3} \d{4}, \d\d:\d\d UTC|in \d+ days|UBL 2\.1|, \d{4}$", re.MULTILINE
)
"""Numbers of pieces within their run (018), when the page was made, what is counted from today, the standard's version,
the year in a heading."""


class Text(HTMLParser):
    """The text of a page's content, a line an element; no drawings, forms or navigation."""

    OUTSIDE = ("script", "style", "svg", "nav", "footer", "header", "form")
    INLINE = ("a", "b", "em", "span", "strong", "sup")

    def __init__(self, page: str) -> None:
        super().__init__()
        self.parts: list[str] = []
        self.outside = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.outside += tag in self.OUTSIDE
        self.parts.append(" " if tag in self.INLINE else "\n")

    def handle_endtag(self, tag: str) -> None:
        self.outside -= tag in self.OUTSIDE
        self.parts.append("" if tag in self.INLINE else "\n")

    def handle_data(self, data: str) -> None:
        self.parts += [] if self.outside else [data]

    @property
    def text(self) -> str:
        return "".join(self.parts)


@pytest.mark.parametrize("sample", ["small", "tower"])
def test_every_figure_of_every_page_is_found_in_the_office_workbook(
    site: str, request: pytest.FixtureRequest, sample: str
) -> None:
    address = request.getfixturevalue(sample)
    with httpx.Client(base_url=site, timeout=60) as client:
        plan = address.replace("/schedules/", "/plans/")
        found = Found(client.get(f"{plan}/office.xlsx").raise_for_status().content)
        for sheet in SHEETS:
            text = NOT_OF_THE_PLAN.sub(" ", Text(client.get(address + sheet).raise_for_status().text).text)
            days = {f"{datetime.strptime(day, '%a %d %b %Y'):%Y-%m-%d}" for day in WRITTEN_DAY.findall(text)}
            days |= set(DAY.findall(text))
            shown = figures(WRITTEN_DAY.sub(" ", text))
            assert shown, "a page without a figure shows no plan"
            missing = sorted(figure for figure in shown if not found.has(figure))
            assert missing == [], f"{sample}{sheet}: {missing}"
            assert sorted(days - found.days) == [], f"{sample}{sheet}"
