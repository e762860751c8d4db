"""Letters as PDF and drawings as PNG, by typst, which is one wheel and asks nothing of the machine.

A PDF is tagged, has the workshop's own typeface within, and keeps to PDF/UA-1 (ISO 14289-1:2014) where all it says can
be set in a typeface there is; a name in a script that this machine has no typeface for costs the standard, never the
letter. Photos that cannot be read are left out and named. The same paper gives the same bytes.
"""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import typst

from app.domain.photos import ENDINGS, kind_of
from app.domain.problems import OursToMend
from app.ports import Paper, Printed
from app.print.blocks import Block, blocks_of
from app.settings import ROOT

FONTS = ROOT / "static" / "vendor" / "fonts"
FAMILY = "Atkinson Hyperlegible Next"
UA = "ua-1"
PNG_PPI = 144
_VIEW_BOX = re.compile(r'viewBox="0 0 ([0-9]+) ([0-9]+)"')
_TEMPLATE = Path(__file__).with_name("letter.typ")
_PICTURE = '#set page(width: auto, height: auto, margin: 8pt, fill: white)\n#image("drawing.svg", width: {width}pt)\n'
_ONE_PHOTO = '#set page(width: 40pt, height: 40pt, margin: 0pt)\n#image("{name}", width: 40pt, height: 40pt)\n'


class TypstPrinter:
    """system_fonts: also use what typefaces this machine has, for scripts that ours does not have."""

    def __init__(self, *, system_fonts: bool = True) -> None:
        self._system_fonts = system_fonts

    def pdf(self, paper: Paper) -> Printed:
        with tempfile.TemporaryDirectory(prefix="cotterpin-print-") as folder:
            return self._printed(paper, Path(folder))

    def png(self, svg: str) -> bytes:
        width, _ = _size(svg)
        with tempfile.TemporaryDirectory(prefix="cotterpin-print-") as folder:
            root = Path(folder)
            (root / "drawing.svg").write_text(svg, encoding="utf-8")
            (root / "main.typ").write_text(_PICTURE.format(width=width), encoding="utf-8")
            pages = self._compile(root, format="png", ppi=PNG_PPI)
        return pages if isinstance(pages, bytes) else pages[0]

    def _printed(self, paper: Paper, root: Path) -> Printed:
        blocks = blocks_of(paper.html)
        files = _put(root, paper)
        try:
            return self._set(root, paper, blocks, files)
        except typst.TypstError as error:
            # One photo that cannot be read would cost the whole letter: it is looked for only now, since that takes
            # as long as the letter itself.
            bad = self._unreadable(root, [name for name in paper.photos if name in files])
            if not bad:
                raise OursToMend(f"typst: {error.message}") from error
        return self._set(root, paper, blocks, {name: file for name, file in files.items() if name not in bad})

    def _set(self, root: Path, paper: Paper, blocks: Sequence[Block], files: Mapping[str, str]) -> Printed:
        letter = {
            "title": paper.title,
            "author": paper.author,
            "language": paper.language,
            "blocks": _with_files(blocks, files, {one.name: _size(one.svg)[0] for one in paper.drawings}),
        }
        (root / "letter.json").write_text(json.dumps(letter, ensure_ascii=False), encoding="utf-8")
        (root / "main.typ").write_text(_TEMPLATE.read_text(encoding="utf-8"), encoding="utf-8")
        at = int(paper.made_at.timestamp())
        left_out = tuple(dict.fromkeys(name for name in _named(blocks) if name not in files))
        try:
            return Printed(self._compile(root, format="pdf", timestamp=at, pdf_standards=[UA]), UA, left_out)
        except typst.TypstError as error:
            if "could not be displayed" not in error.diagnostic:
                raise
        return Printed(self._compile(root, format="pdf", timestamp=at), "", left_out)

    def _unreadable(self, root: Path, photos: Sequence[str]) -> frozenset[str]:
        """Photos that typst cannot read, found one by one: one of them would cost the whole letter."""
        bad = set()
        for name in photos:
            (root / "main.typ").write_text(_ONE_PHOTO.format(name=_photo_file(root, name)), encoding="utf-8")
            try:
                self._compile(root, format="pdf", timestamp=0)
            except typst.TypstError:
                bad.add(name)
        return frozenset(bad)

    def _compile(self, root: Path, **how: Any) -> Any:
        return typst.compile(root / "main.typ", root=root, font_paths=_fonts(self._system_fonts), **how)


@lru_cache(maxsize=2)
def _fonts(system: bool) -> typst.Fonts:
    return typst.Fonts(include_system_fonts=system, include_embedded_fonts=True, font_paths=[FONTS])


def _put(root: Path, paper: Paper) -> dict[str, str]:
    """Lay drawings and photos into the folder; gives their files by name. What is no picture is not laid."""
    files = {}
    for number, one in enumerate(paper.drawings):
        files[one.name] = f"drawing-{number}.svg"
        (root / files[one.name]).write_text(one.svg, encoding="utf-8")
    for name, data in paper.photos.items():
        kind = kind_of(data)
        if kind is not None:
            files[name] = f"photo-{name}.{ENDINGS[kind]}"
            (root / files[name]).write_bytes(data)
    return files


def _photo_file(root: Path, name: str) -> str:
    return next(root.glob(f"photo-{name}.*")).name


def _named(blocks: Sequence[Block]) -> list[str]:
    return [photo["name"] for one in blocks if one["kind"] == "photos" for photo in one["items"]]


def _with_files(blocks: Sequence[Block], files: Mapping[str, str], widths: Mapping[str, int]) -> list[Block]:
    """The blocks with their pictures' files. Photos that are not there leave no hole: the letter says which."""
    found: list[Block] = []
    for one in blocks:
        if one["kind"] == "picture":
            if one["name"] not in files:
                raise OursToMend(f"the letter shows a drawing {one['name']!r} that it does not have")
            found.append({**one, "file": files[one["name"]], "width": widths[one["name"]]})
        elif one["kind"] == "photos":
            here = [{**photo, "file": files[photo["name"]]} for photo in one["items"] if photo["name"] in files]
            gone = [photo["instead"] for photo in one["items"] if photo["name"] not in files]
            found += [{"kind": "photos", "items": here}] if here else []
            found += [{"kind": "list", "items": [[{"text": words, "bold": False}] for words in gone]}] if gone else []
        else:
            found.append(one)
    return found


def _size(svg: str) -> tuple[int, int]:
    found = _VIEW_BOX.search(svg)
    if found is None:
        raise OursToMend("a drawing of a letter has no viewBox that begins at 0 0")
    return int(found[1]), int(found[2])
