"""What tablets carry: whole, the same everywhere, under one hash, served for ever, within its size."""

from __future__ import annotations

import gzip
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import brotli
import pytest
from jinja2 import Environment, FileSystemLoader
from starlette.testclient import TestClient

from app.bootstrap import Wired, app_of, table_in, the_bundle
from app.bundle.bundle import (
    LIMIT,
    SCRIPT_LIMIT,
    Bundle,
    NotWhole,
    Part,
    Spoken,
    beyond_limits,
    build_bundle,
    not_there,
)
from app.language.catalogue import ENGLISH, LANGUAGES
from app.mail.folder import FolderPostman
from app.settings import ROOT, Settings
from app.texts import table
from app.web.rendering import environment
from tests.offices import an_office


@pytest.fixture(scope="module")
def client() -> TestClient:
    here = an_office()
    settings = Settings(_env_file=None)  # type: ignore[call-arg]
    app = app_of(Wired(settings, here.office, here.hub, FolderPostman(settings.mail_folder)))
    return TestClient(app, base_url="http://office.test")


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """What the bundle is made from, in a folder of its own."""
    for name in ("static", "shared", "templates"):
        shutil.copytree(ROOT / name, tmp_path / name)
    return tmp_path


def built(checkout: Path) -> Bundle:
    def reading(language: str) -> Environment:
        return environment(language).overlay(loader=FileSystemLoader(checkout / "templates"), cache_size=0)

    others = {language: Spoken(reading(language), table_in(language)) for language in LANGUAGES if language != ENGLISH}
    return build_bundle(checkout, reading(ENGLISH), table(), others)


# --- What is in it ------------------------------------------------------------------------------------------------


def test_the_bundle_carries_templates_tables_styles_scripts_fonts_and_the_icon():
    assert {
        "tablet/start.js", "tablet/page.js", "tables.json", "tables.es.json", "css/main.css", "icon.svg",
        "vendor/fonts/atkinson-hyperlegible-next-latin-400-normal.woff2",
    } <= set(the_bundle().parts)  # fmt: skip


def test_the_tables_are_those_the_office_reads():
    tables = json.loads(the_bundle().parts["tables.json"].body)

    assert tables["units"] == json.loads((ROOT / "shared" / "units.json").read_text("utf-8"))
    assert tables["entries"] == json.loads((ROOT / "shared" / "rules" / "entries.json").read_text("utf-8"))
    assert tables["texts"] == json.loads(json.dumps(table()))


def test_the_manifest_names_every_part_with_its_own_hash():
    manifest = json.loads(the_bundle().manifest)

    assert manifest["hash"] == the_bundle().hash
    assert {path: one["sha256"] for path, one in manifest["parts"].items()} == {
        path: hashlib.sha256(part.body).hexdigest() for path, part in the_bundle().parts.items()
    }


def test_the_manifest_says_what_only_one_language_needs():
    """A tablet fetches that when somebody of its shop reads it (worker.js, start.js)."""
    parts = json.loads(the_bundle().manifest)["parts"]

    told = {path: one["language"] for path, one in parts.items() if "language" in one}
    assert told == {f"tables.{language}.json": language for language in LANGUAGES if language != ENGLISH}


def test_the_bundle_keeps_its_limits():
    assert beyond_limits(the_bundle()) == []


def test_a_bundle_too_large_is_told():
    noise = b"".join(hashlib.sha256(bytes([one % 256, one // 256])).digest() for one in range(LIMIT // 16))

    said = beyond_limits(Bundle({"js/noise.js": Part("js/noise.js", noise)}))

    assert [f"{LIMIT:,}" in said[0], f"{SCRIPT_LIMIT:,}" in said[1]] == [True, True]


# --- The same everywhere ------------------------------------------------------------------------------------------


def test_two_processes_with_other_hash_seeds_make_the_same_bytes():
    """Sets and dictionaries of texts fall in another order in each; nothing of that may show."""
    program = (
        "import hashlib; from app.bootstrap import the_bundle; made = the_bundle(); "
        "print(made.hash, hashlib.sha256(made.manifest + b''.join(p.body for p in made.parts.values())).hexdigest())"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", program], cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "271828")
    }  # fmt: skip

    assert len(said) == 1
    assert said.pop().split()[0] == the_bundle().hash


def test_a_copy_elsewhere_has_the_same_hash(checkout: Path):
    assert built(checkout).hash == the_bundle().hash


@pytest.mark.parametrize(
    "path", ["templates/tablet/_told.html", "shared/rules/entries.json", "static/css/sheet.css", "static/icon.svg"]
)
def test_any_change_makes_another_hash(checkout: Path, path: str):
    text = (checkout / path).read_text("utf-8")
    (checkout / path).write_text(re.sub("\\.sheet|Not recorded|technician|32", "x", text, count=1), "utf-8")

    assert built(checkout).hash != the_bundle().hash


# --- Breaches -----------------------------------------------------------------------------------------------------


def test_every_breach_is_told_with_file_and_line(checkout: Path):
    (checkout / "templates" / "tablet" / "_aside.html").write_text("{# Reads: a. #}\n{{ a|upper }}", "utf-8")
    (checkout / "static" / "js" / "page.js").write_text('\nimport { gone } from "./behaviours/gone.js";', "utf-8")

    with pytest.raises(NotWhole) as told:
        built(checkout)

    assert [line.split(" ")[0] for line in told.value.lines] == [
        "templates/tablet/_aside.html:2:",
        "static/js/page.js:2:",
    ]


def test_a_file_in_the_place_of_one_that_is_made_is_told(checkout: Path):
    (checkout / "static" / "tablet" / "templates.js").write_text("export const render = 0;", "utf-8")

    with pytest.raises(NotWhole, match=r"tablet/templates\.js:1: the bundle makes a file of this name"):
        built(checkout)


@pytest.mark.parametrize(
    ("path", "body", "line"),
    [
        ("css/a.css", '@import url("b.css");', 1),
        ("css/a.css", "p {}\nq { src: url(../fonts/b.woff2) }", 2),
    ],
)
def test_what_a_part_asks_for_and_is_not_there_is_told_with_its_line(path: str, body: str, line: int):
    (said,) = not_there(Part(path, body.encode()), {})

    assert said.startswith(f"static/{path}:{line}: asks for ")


# --- Served -------------------------------------------------------------------------------------------------------


def test_every_part_is_served_under_the_hash_and_may_be_kept_for_ever(client: TestClient):
    manifest = client.get("/bundle/manifest.json").json()

    for path, part in the_bundle().parts.items():
        answer = client.get(f"/bundle/{manifest['hash']}/{path}", headers={"accept-encoding": "identity"})
        assert (answer.status_code, answer.content) == (200, part.body), path
        assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
        assert answer.headers["content-type"] == part.kind
        assert answer.headers["x-content-type-options"] == "nosniff"


def test_what_can_be_is_sent_compressed(client: TestClient):
    address = f"/bundle/{the_bundle().hash}/tablet/start.js"

    for accepted, coding, unpack in (("br, gzip", "br", brotli.decompress), ("gzip", "gzip", gzip.decompress)):
        with client.stream("GET", address, headers={"accept-encoding": accepted}) as answer:
            sent = b"".join(answer.iter_raw())

        assert answer.headers["content-encoding"] == coding
        assert answer.headers["vary"] == "Accept-Encoding"
        assert unpack(sent) == the_bundle().parts["tablet/start.js"].body


@pytest.mark.parametrize(
    ("asked", "kept"), [("?HASH", "public, max-age=86400"), ("", "no-cache"), ("?0000000000000000", "no-cache")]
)
def test_the_worker_names_its_bundle_and_may_be_kept_by_that_name_alone(client: TestClient, asked: str, kept: str):
    answer = client.get(f"/worker.js{asked.replace('HASH', the_bundle().hash)}")

    assert f'"/bundle/{the_bundle().hash}/tablet/start.js"' in answer.text
    assert answer.headers["cache-control"] == kept
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["content-type"].startswith("text/javascript")
    kept = client.get(f"/bundle/{the_bundle().hash}/manifest.json")
    assert (kept.content, "immutable" in kept.headers["cache-control"]) == (the_bundle().manifest, True)


def test_the_manifest_is_asked_for_again_each_time(client: TestClient):
    answer = client.get("/bundle/manifest.json")

    assert answer.headers["cache-control"] == "no-cache"
    assert answer.content == the_bundle().manifest


@pytest.mark.parametrize(
    "address",
    ["/bundle/0000000000000000/css/main.css", "/bundle/{hash}/css/gone.css", "/bundle/{hash}/../../app/settings.py"],
)
def test_what_is_not_there_is_not_kept(client: TestClient, address: str):
    answer = client.get(address.replace("{hash}", the_bundle().hash))

    assert answer.status_code == 404
    assert answer.headers["cache-control"] == "no-store"


# --- What the office's own pages load -----------------------------------------------------------------------------


def test_pages_of_the_office_load_nothing_but_what_may_be_kept_for_ever(client: TestClient):
    for page in ("/sign-in", "/enrol", "/readiness"):
        text = client.get(page).text
        loaded = [
            *re.findall(r'<script[^>]* src="([^"]+)"', text),
            *re.findall(r'<link rel="stylesheet" href="([^"]+)"', text),
        ]

        assert len(loaded) >= 2
        for address in loaded:
            answer = client.get(address)
            assert (answer.status_code, answer.headers["cache-control"]) == (200, "public, max-age=31536000, immutable")
            assert answer.headers["x-content-type-options"] == "nosniff"
            # Joined: it leads to nothing more.
            assert not re.search(r"^\s*import\b(?!\s*\()|@import", answer.text, re.M), address


def test_styles_and_the_pocket_are_the_tablets_own(client: TestClient):
    ours = f"/bundle/{the_bundle().hash}/"

    assert f'href="{ours}css/main.css"' in client.get("/sign-in").text
    for page in ("/enrol", "/readiness"):
        assert f'data-pocket="{ours}tablet/start.js"' in client.get(page).text


def test_what_only_the_office_loads_lies_under_its_own_hash_and_is_not_carried(checkout: Path):
    before = the_bundle()
    path = checkout / "static" / "css" / "sheet.css"
    path.write_text(path.read_text("utf-8") + ".other { margin: 0 }", "utf-8")
    after = built(checkout)

    assert set(before.beside) == {
        "js/main.js", "tablet/enrol.js", "tablet/readiness.js", "vendor/htmx-4.0.1.min.js",
    }  # fmt: skip
    assert not set(before.beside) & set(json.loads(before.manifest)["parts"])
    assert after.address("css/main.css") != before.address("css/main.css")
    assert {name: after.address(name) for name in after.beside} == {
        name: before.address(name) for name in before.beside
    }
    assert before.part_at(before.hash, "js/main.js") is None
    assert before.part_at("0" * 16, "js/main.js") is None


def test_while_somebody_works_on_them_pages_load_the_files_as_they_are():
    here = an_office()
    settings = Settings(_env_file=None, development=True)  # type: ignore[call-arg]
    wired = Wired(settings, here.office, here.hub, FolderPostman(settings.mail_folder))

    text = TestClient(app_of(wired), base_url="http://office.test").get("/sign-in").text

    assert 'href="/static/css/main.css?' in text
    assert "/bundle/" not in text


# --- The command --------------------------------------------------------------------------------------------------


def test_the_command_prints_sizes_and_the_hash():
    said = subprocess.run(
        [sys.executable, "-m", "app", "bundle", "--check"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.splitlines()

    assert said[-1] == the_bundle().hash
    assert f"{LIMIT:,}" in said[-3]
    assert f"{SCRIPT_LIMIT:,}" in said[-2]
    assert len(said) == len(the_bundle().parts) + 3
