"""`python -m tests.pages.pictures`: takes the README's pictures of the invented tower again.

They are written to sample_orders/pictures/: the order's page and a run, as Chromium shows them at 1280 pixels.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.ensure_browser import WHAT_TO_DO, browser
from tests.pages.conftest import SAMPLES, SWITCHES, plan_of, served

PICTURES = SAMPLES / "pictures"
SHOWN = {"order.png": ("", 800), "run.png": ("/runs/9", 800)}  # the sheet, and how much of it in pixels


def main() -> int:
    """0 when both pictures are written."""
    path = browser()
    if path is None:
        print(WHAT_TO_DO, file=sys.stderr)
        return 1
    PICTURES.mkdir(exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        served(Path(folder)) as site,
        sync_playwright() as playwright,
    ):
        order = plan_of(site, "tower")
        chromium = playwright.chromium.launch(executable_path=path, args=SWITCHES)
        for name, (sheet, height) in SHOWN.items():
            page = chromium.new_page(base_url=site, viewport={"width": 1280, "height": height})
            page.goto(order + sheet)
            page.screenshot(path=PICTURES / name)
        chromium.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
