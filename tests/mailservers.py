"""A local mail server for tests: in plain text or with STARTTLS and log-in, taking what it is told to take."""

from __future__ import annotations

import ssl
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any, cast

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from tests.waiting import PATIENCE_SECONDS, free_port


@dataclass
class MailServer:
    """Refuses the recipients in `refused` with their answer; what it took is in `letters`."""

    port: int
    refused: dict[str, str] = field(default_factory=dict)
    letters: list[tuple[list[str], EmailMessage]] = field(default_factory=list)
    logins: list[tuple[str, str]] = field(default_factory=list)
    after_data: str = "250 taken"

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:
        if address in self.refused:
            return self.refused[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        letter = cast("EmailMessage", message_from_bytes(envelope.content, policy=policy.default))
        self.letters.append((list(envelope.rcpt_tos), letter))
        return self.after_data

    def recipients(self) -> list[list[str]]:
        return [to for to, _ in self.letters]


@contextmanager
def mail_server(*, password: str | None = None, certificate: Path | None = None) -> Iterator[MailServer]:
    """A server on a local port; with a password it wants STARTTLS and user "runa" with it."""
    mail = MailServer(free_port())

    def known(server: Any, session: Any, envelope: Any, mechanism: str, data: Any) -> AuthResult:
        assert isinstance(data, LoginPassword)
        mail.logins.append((data.login.decode(), data.password.decode()))
        return AuthResult(success=mail.logins[-1] == ("runa", password), handled=False)

    more: dict[str, Any] = {}
    if certificate is not None:
        context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        context.load_cert_chain(certificate)
        more = {"tls_context": context, "require_starttls": True}
    if password is not None:
        more |= {"authenticator": known, "auth_required": True}
    controller = Controller(mail, hostname="127.0.0.1", port=mail.port, ready_timeout=PATIENCE_SECONDS, **more)
    controller.start()
    try:
        yield mail
    finally:
        controller.stop()


def self_signed(folder: Path) -> Path:
    """A certificate with its key for 127.0.0.1 and localhost that nobody has signed but itself."""
    made = folder / "self.pem"
    subprocess.run(
        [
            "openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
            "-days", "2",
            "-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1,DNS:localhost",
            "-keyout", str(made), "-out", str(folder / "only.pem"),
        ],
        check=True, capture_output=True,
    )  # fmt: skip
    made.write_text(made.read_text() + (folder / "only.pem").read_text())
    return made
