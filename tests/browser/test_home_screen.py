"""A browser takes the manifest as one, and the icons are the one drawing there is."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser

from app.web.home_screen import ICON_SIZES
from tests.offices import an_app, an_office

pytestmark = pytest.mark.browser
# The largest difference of any colour of any point, the drawing put out at the picture's own size.
DIFFERENCE = """async (size) => {
  const shown = async (address) => {
    const image = new Image(size, size);
    image.src = address;
    await image.decode();
    const canvas = new OffscreenCanvas(size, size);
    const at = canvas.getContext("2d");
    at.drawImage(image, 0, 0, size, size);
    return at.getImageData(0, 0, size, size).data;
  };
  const [drawn, kept] = await Promise.all([shown("/static/icon.svg"), shown(`/static/icons/${size}.png`)]);
  const off = drawn.reduce((sum, one, place) => sum + (Math.abs(one - kept[place]) > 48 ? 1 : 0), 0);
  return off / drawn.length;
}"""


def test_chromium_reads_the_manifest_without_a_complaint_and_the_icons_are_the_drawing(
    browser: Browser, serve: Callable[[FastAPI], str]
) -> None:
    page = browser.new_page()
    page.goto(f"{serve(an_app(an_office()))}/sign-in")

    told = page.context.new_cdp_session(page).send("Page.getAppManifest")

    assert told["url"].endswith("/manifest.webmanifest")
    assert told["errors"] == []
    for size in ICON_SIZES:
        assert page.evaluate(DIFFERENCE, size) < 0.01
    page.close()
