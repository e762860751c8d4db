"""`python tests/browser/approve.py [WORD …]`: take pictures and approve them, all or those with a word in their name.

Parts of /patterns are taken without words, or with one that begins with `part`; they take the longest.
Look at them afterwards (`git diff --stat`, and the files): approving says that this is what it should look like.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from playwright.sync_api import sync_playwright

from tests.browser import pictures
from tests.browser.conftest import SWITCHES, browser_path


def main(words: list[str]) -> int:
    def wanted(name: str) -> bool:
        return not words or any(word in name for word in words)

    names, size = set(), 0
    with pictures.the_workshop() as base, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=browser_path(), args=list(SWITCHES))
        takes = [pictures.screens]
        if not words or any(word.startswith("part") for word in words):
            takes.append(pictures.parts)
        for take in takes:
            for picture in take(browser, base, wanted):
                names.add(picture.name)
                size += pictures.keep(picture)
        browser.close()
    if not words:
        for path in pictures.APPROVED.glob("*.png"):
            if path.stem not in names:
                path.unlink()
    print(f"{len(names)} pictures approved, {size / 1e6:.1f} MB")
    return 0 if names else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
