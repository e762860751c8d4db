"""The folder of letters: whole files, one per Message-ID, never written over."""

from __future__ import annotations

import email
import os
import threading
from email.message import EmailMessage
from email.policy import default
from pathlib import Path

import pytest

from app.mail.folder import FolderPostman, file_name
from app.ports import Sender
from tests.unit.mail_cast import SENDER, a_message


def test_a_letter_is_one_file_named_for_its_message_id(tmp_path: Path) -> None:
    folder = tmp_path / "data" / "post"

    delivery = FolderPostman(folder).deliver(a_message(), SENDER)

    assert (delivery.kept, delivery.for_good) == (True, False)
    (file,) = folder.iterdir()
    assert file.name == "m1@axle-arm.example.eml"
    letter = email.message_from_bytes(file.read_bytes(), policy=default)
    assert isinstance(letter, EmailMessage)
    assert letter["Message-ID"] == "<m1@axle-arm.example>"
    assert letter["To"].addresses[0].addr_spec == "mira@okonjo.example"


def test_the_same_letter_again_is_kept_and_writes_over_nothing(tmp_path: Path) -> None:
    postman = FolderPostman(tmp_path)
    postman.deliver(a_message(), SENDER)
    (file,) = tmp_path.iterdir()
    file.write_bytes(b"as it was first")

    again = postman.deliver(a_message(text="changed"), SENDER)

    assert again.kept
    assert file.read_bytes() == b"as it was first"
    assert list(tmp_path.iterdir()) == [file]


def test_two_hands_at_once_leave_one_whole_file(tmp_path: Path) -> None:
    start = threading.Barrier(8)
    kept: list[bool] = []

    def hand_over() -> None:
        start.wait()
        kept.append(FolderPostman(tmp_path).deliver(a_message(text="line\n" * 20_000), SENDER).kept)

    hands = [threading.Thread(target=hand_over) for _ in range(8)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()

    (file,) = tmp_path.iterdir()
    assert kept == [True] * 8
    assert file.read_bytes().count(b"line\r\n") == 20_000


@pytest.mark.parametrize("broken", ["fsync", "link"])
def test_a_disk_that_fails_leaves_no_half_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str) -> None:
    def fails(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, broken, fails)
    if broken == "link":  # a file system without links falls back to a rename, so that has to fail as well
        monkeypatch.setattr(Path, "replace", fails)

    delivery = FolderPostman(tmp_path).deliver(a_message(), SENDER)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert "No space left on device" in delivery.answer
    assert list(tmp_path.iterdir()) == []


def test_a_file_system_without_links_gets_its_file_by_a_rename(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", no_links)
    postman = FolderPostman(tmp_path)

    assert postman.deliver(a_message(), SENDER).kept
    assert [file.name for file in tmp_path.iterdir()] == ["m1@axle-arm.example.eml"]


def test_a_folder_that_cannot_be_made_means_try_again(tmp_path: Path) -> None:
    (tmp_path / "post").write_text("a file where the folder should be")

    delivery = FolderPostman(tmp_path / "post").deliver(a_message(), SENDER)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert "Could not write" in delivery.answer


def test_a_wrong_recipient_is_for_good_and_a_wrong_sender_is_the_settings_fault(tmp_path: Path) -> None:
    postman = FolderPostman(tmp_path)

    to_nobody = postman.deliver(a_message(to="nobody"), SENDER)
    from_nobody = postman.deliver(a_message(), Sender("Shop", "nobody", ""))

    assert (to_nobody.for_good, to_nobody.answer) == (True, "address_no_at")
    assert (from_nobody.for_good, from_nobody.answer) == (False, "address_no_at")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "message_id",
    ["<../../etc@x.example>", "<a/b@x.example>", "<a\\b@x.example>", "<con:1@x.example>", f"<{'a' * 300}@x.example>"],
)  # fmt: skip
def test_a_file_name_never_leaves_the_folder(message_id: str) -> None:
    name = file_name(message_id)

    assert Path(name).name == name
    assert len(name) < 120
    assert not set(name) & set('/\\:*?"<>|')
    assert not name.startswith(".")


def test_ids_that_differ_in_what_a_file_name_cannot_hold_get_different_files() -> None:
    assert len({file_name("<a/b@x.example>"), file_name("<a:b@x.example>"), file_name("<a_b@x.example>")}) == 3
