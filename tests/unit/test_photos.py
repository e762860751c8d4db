"""What of a photo is kept: its pixels, its colours and which way up it is; and what is no photo at all."""

from __future__ import annotations

import io
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from app.domain.photos import LARGEST_PIXELS, NoPhoto, PhotoKind, cleaned, kind_of
from tests.pictures import HTML, SECRETS, SVG, a_picture, an_image, from_a_camera, pixels, way_up

KINDS = ("JPEG", "PNG", "WEBP")


def test_the_camera_of_these_tests_does_write_what_is_to_be_gone():
    """Looking for what was never there would find nothing."""
    assert all(secret in from_a_camera("JPEG") for secret in SECRETS)
    with Image.open(io.BytesIO(from_a_camera("JPEG"))) as image:
        assert image.getexif().get_ifd(0x8825)[1] == "S"


@pytest.mark.parametrize("kind", KINDS)
def test_place_maker_and_words_are_gone_and_every_pixel_is_there(kind: str):
    data = from_a_camera(kind)

    kept = cleaned(data)

    assert [secret for secret in SECRETS if secret in kept] == []
    assert pixels(kept) == pixels(data)
    with Image.open(io.BytesIO(kept)) as image:
        assert dict(image.getexif().get_ifd(0x8825)) == {}
        assert 0x010F not in image.getexif()


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_clean_stays_as_it_is(kind: str):
    once = cleaned(from_a_camera(kind, turned=6))

    assert cleaned(once) == once


@pytest.mark.parametrize("turned", range(1, 9))
def test_a_photo_taken_upright_still_stands(turned: int):
    assert way_up(cleaned(from_a_camera("JPEG", turned))) == turned


@pytest.mark.parametrize(
    "data",
    [
        a_picture("JPEG", progressive=True),
        a_picture("JPEG", subsampling=2, optimize=True),
        a_picture("JPEG", restart_marker_blocks=1),
        a_picture("JPEG", icc_profile=b"\0" * 128),
        a_picture("PNG"),
        a_picture("WEBP", lossless=True),
        a_picture("WEBP", quality=50),
        a_picture("WEBP", icc_profile=b"\0" * 131),
    ],
    ids=lambda data: f"{data[:4]!r} {len(data)}",
)
def test_every_way_of_writing_a_picture_keeps_its_pixels(data: bytes):
    assert pixels(cleaned(data)) == pixels(data)


def test_a_photo_of_four_inks_keeps_how_it_is_coded():
    """Adobe's segment says whether the inks are turned round: without it the picture is its own negative."""
    out = io.BytesIO()
    an_image().convert("CMYK").save(out, "JPEG")

    assert pixels(cleaned(out.getvalue())) == pixels(out.getvalue())


@pytest.mark.parametrize(
    "data", [SVG, HTML, b"", b"GIF89a" + b"\0" * 40, b"%PDF-1.7", b"RIFF\x04\0\0\0WAVEfmt ", b"\xff\xd8"]
)
def test_what_is_no_photo_is_none_whatever_it_is_called(data: bytes):
    assert kind_of(data) is None
    with pytest.raises(NoPhoto) as refused:
        cleaned(data)
    assert refused.value.code == "photo_kind"


def test_a_page_behind_a_picture_is_left_behind():
    """A file that is a picture to one reader and a page to another."""
    kept = cleaned(a_picture("JPEG") + HTML)

    assert kind_of(kept) is PhotoKind.JPEG
    assert b"<script" not in kept


@pytest.mark.parametrize("kind", KINDS)
def test_a_photo_cut_off_anywhere_is_told(kind: str):
    data = a_picture(kind)
    for end in {*range(12, min(len(data), 700)), *range(700, len(data), 97), len(data) - 1}:
        with pytest.raises(NoPhoto) as refused:
            cleaned(data[:end])
        assert refused.value.code in ("photo_not_whole", "photo_kind")


@settings(max_examples=300, deadline=None)
@given(data=st.data(), kind=st.sampled_from(KINDS))
def test_damage_is_told_or_changes_nothing_about_being_clean(data: st.DataObject, kind: str):
    """Whatever stands in a file: one answer or the other, never a crash; and what is given stays clean."""
    spoilt = bytearray(from_a_camera(kind))
    for _ in range(data.draw(st.integers(1, 6))):
        spoilt[data.draw(st.integers(0, len(spoilt) - 1))] = data.draw(st.integers(0, 255))
    try:
        kept = cleaned(bytes(spoilt))
    except NoPhoto:
        return
    assert cleaned(kept) == kept


@settings(max_examples=200, deadline=None)
@given(head=st.sampled_from((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF")), rest=st.binary(max_size=200))
def test_nonsense_behind_a_good_beginning_is_told(head: bytes, rest: bytes):
    try:
        kept = cleaned(head + rest)
    except NoPhoto:
        return
    assert cleaned(kept) == kept


def test_a_small_file_that_says_a_vast_picture_is_not_taken():
    wide = LARGEST_PIXELS // 1_000
    png = bytearray(a_picture("PNG"))
    png[16:24] = struct.pack(">II", wide + 1, 1_000)
    jpeg = bytearray(a_picture("JPEG"))
    at = jpeg.index(b"\xff\xc0") + 5
    jpeg[at : at + 4] = struct.pack(">HH", 65_535, 65_535)

    for data in (bytes(png), bytes(jpeg)):
        with pytest.raises(NoPhoto) as refused:
            cleaned(data)
        assert refused.value.code == "photo_too_many_pixels"
    png[16:24] = struct.pack(">II", wide, 1_000)
    assert kind_of(cleaned(bytes(png))) is PhotoKind.PNG
