"""A certificate made here, for this computer: so that a phone may keep its screen awake.

Browsers give a page the wake lock only in a secure context (W3C Screen Wake Lock, section 3). The
certificate is signed by itself, so the phone warns once; what it then has is encryption to the
holder of this key, whose fingerprint the server prints.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from plumbstar.errors import UserError, how_to_add
from plumbstar.web.door.secrets_dir import data_dir, write_private

if TYPE_CHECKING:
    from cryptography import x509

#: Phones refuse server certificates that are valid for longer (CA/Browser Forum: 398 days).
VALID_DAYS = 397
RENEW_DAYS = 30


@dataclass(frozen=True)
class Certificate:
    """Where it lies, and its SHA-256 fingerprint as browsers show it."""

    key: Path
    certificate: Path
    fingerprint: str


def certificate_for(
    names: Iterable[str], now: dt.datetime, directory: Path | None = None
) -> Certificate:
    """The certificate for these names and addresses: the one kept, or a new one.

    Kept while it covers all of them and has a month to run. Raises :class:`UserError` when the
    optional package is missing.
    """
    try:
        from cryptography import x509
        from cryptography.hazmat.primitives import hashes, serialization
        from cryptography.hazmat.primitives.asymmetric import ec
        from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
    except ImportError:
        raise UserError(
            "--https needs the package 'cryptography', which is not installed",
            "",
            f"Install it: {how_to_add('https')}",
        ) from None
    directory = directory or data_dir()
    key_path, cert_path = directory / "https-key.pem", directory / "https-certificate.pem"
    wanted: set[str] = {n.lower() for n in names}
    try:
        old = x509.load_pem_x509_certificate(cert_path.read_bytes())
        serialization.load_pem_private_key(key_path.read_bytes(), None)
        san = old.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        has = {str(a) for a in san.get_values_for_type(x509.IPAddress)}
        has |= set(san.get_values_for_type(x509.DNSName))
        young = old.not_valid_after_utc - now > dt.timedelta(days=RENEW_DAYS)
        if wanted <= has and young and old.not_valid_before_utc <= now:
            key_path.chmod(0o600)
            return Certificate(key_path, cert_path, _fingerprint(old.fingerprint(hashes.SHA256())))
    except (OSError, ValueError, x509.ExtensionNotFound):
        pass  # none yet, or unreadable: make one
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Plumbstar on this computer")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=VALID_DAYS - 1))
        .add_extension(x509.SubjectAlternativeName([_san(n) for n in sorted(wanted)]), False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .sign(key, hashes.SHA256())
    )
    pem = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    try:
        write_private(key_path, pem)
        write_private(cert_path, made.public_bytes(serialization.Encoding.PEM))
    except OSError as e:
        raise UserError(
            f"The certificate cannot be written in {directory} ({e})",
            "",
            "Make room on the disk, or make that folder writable",
        ) from None
    return Certificate(key_path, cert_path, _fingerprint(made.fingerprint(hashes.SHA256())))


def _san(name: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _fingerprint(raw: bytes) -> str:
    return ":".join(f"{b:02X}" for b in raw)
