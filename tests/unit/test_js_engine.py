"""The loader of the tablet's scripts: what it hands on, and what it refuses to guess at."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.bundle.join import NotJoined
from tests.js_engine import Engine, Refused


def engine(folder: Path, **modules: str) -> Engine:
    for name, text in modules.items():
        (folder / f"{name}.js").write_text(text, encoding="utf-8")
    return Engine(*(f"{name}.js" for name in modules), folder=folder)


def test_a_module_gets_what_it_imports_and_gives_what_it_exports(tmp_path: Path):
    """Loaded in any order, each once, names kept apart."""
    loaded = engine(
        tmp_path,
        a='import { two as zwei } from "./b.js";\nimport * as b from "./b.js";\nconst own = 1;\n'
        "export function sum(more) {\n  return own + zwei + b.two + more;\n}\n",
        b="const own = 2;\nexport { own as two };\n",
    )

    assert loaded.call("a.js", "sum", 10) == 15


def test_arguments_and_results_keep_keys_and_text_as_they_are(tmp_path: Path):
    given = {"__proto__": {"constructor": 1}, "µ": ["漢", "\ud800", "a\u2028\n"]}

    assert engine(tmp_path, a="export const same = (value) => value;\n").call("a.js", "same", given) == given


def test_what_a_script_throws_is_raised(tmp_path: Path):
    with pytest.raises(Refused, match="too long"):
        engine(tmp_path, a='export function f() {\n  throw new RangeError("too long");\n}\n').call("a.js", "f")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("export default 1;\n", "form"),
        ('import x from "./a.js";\n', "form"),
        ('import { x } from "somewhere";\n', "only relative"),
        ('import { x } from "./a.js";\n', "circle"),
    ],
)
def test_a_form_of_import_it_does_not_know_is_refused(tmp_path: Path, text: str, why: str):
    with pytest.raises((ValueError, NotJoined), match=why):
        engine(tmp_path, a=text)
