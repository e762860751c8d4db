"""PINs as argon2id hashes, with the library's current parameters."""

from __future__ import annotations

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError


class ArgonPins:
    def __init__(self) -> None:
        self._hasher = PasswordHasher()

    def hash(self, pin: str) -> str:
        return self._hasher.hash(pin)

    def matches(self, pin: str, pin_hash: str) -> bool:
        try:
            return self._hasher.verify(pin_hash, pin)
        except (VerificationError, InvalidHashError):
            return False
