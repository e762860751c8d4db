"""Every setting, typed, with its default and what it is for. Nothing else reads the environment.

Set them as `COTTERPIN_…` variables, or in a file named `.env` beside `pyproject.toml`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from pydantic import Field, SecretStr
from pydantic_settings import BaseSettings, SettingsConfigDict

ROOT = Path(__file__).resolve().parent.parent


class Settings(BaseSettings):
    model_config = SettingsConfigDict(env_prefix="COTTERPIN_", env_file=ROOT / ".env", extra="ignore")

    database_url: str = Field(
        default=f"sqlite:///{ROOT / 'data' / 'cotterpin.db'}",
        description="Where the records live: SQLite by default; a postgresql+psycopg:// address for a chain of shops.",
    )
    host: str = Field(default="127.0.0.1", description="Address the server listens on.")
    port: int = Field(default=8765, ge=1, le=65535, description="Port the server listens on.")
    base_url: str = Field(
        default="", description="Address people use, when it differs from host and port (https://office.shop.test)."
    )
    secure_cookies: bool = Field(default=False, description="Send the sign-in cookie over HTTPS only. On behind HTTPS.")
    certificate_folder: Path = Field(
        default=ROOT / "data" / "certificates",
        description="Where `certify` keeps the authority and the office's certificate; `serve` speaks HTTPS with them.",
    )
    hand_out_port: int = Field(
        default=8766, ge=1, le=65535, description="Port of the plain page that hands the authority to new tablets."
    )
    hsts_days: int = Field(
        default=0,
        ge=0,
        le=730,
        description="Days a browser insists on HTTPS for this name (Strict-Transport-Security); 0 for none.",
    )
    development: bool = Field(
        default=False, description="Serve /patterns, where every part of the interface is shown in every state."
    )
    sign_in_hours: int = Field(default=12, ge=1, le=72, description="A sign-in ends after this many hours unused.")

    papers_folder: Path = Field(
        default=ROOT / "data" / "papers",
        description="Folder for files that were kept, such as calibration certificates.",
    )
    photos_folder: Path = Field(
        default=ROOT / "data" / "photos", description="Folder for the photos taken at steps; it belongs to the backup."
    )

    mail_road: Literal["folder", "smtp"] = Field(
        default="folder", description="How letters leave: as .eml files in a folder, or by SMTP."
    )
    mail_folder: Path = Field(default=ROOT / "data" / "post", description="Folder for .eml files.")
    mail_sender: str = Field(default="workshop@cotterpin.invalid", description="Address letters come from.")
    smtp_host: str = Field(default="", description="SMTP server.")
    smtp_port: int = Field(default=587, ge=1, le=65535, description="SMTP port.")
    smtp_security: Literal["none", "starttls", "tls"] = Field(
        default="starttls", description="How the SMTP conversation is protected."
    )
    smtp_user: str = Field(default="", description="SMTP user; empty for no authentication.")
    smtp_password: SecretStr = Field(default=SecretStr(""), description="SMTP password.")
    smtp_timeout_s: int = Field(default=30, ge=1, le=600, description="Seconds to wait for the mail server's answer.")
    smtp_ca_file: Path | None = Field(default=None, description="Certificates to trust besides the system's.")
    mail_tries: int = Field(
        default=28, ge=1, le=100, description="Tries before a letter counts as undeliverable: 28 are about five days."
    )
    mail_every_s: int = Field(default=5, ge=1, le=3600, description="Seconds between looks into the outbox.")
