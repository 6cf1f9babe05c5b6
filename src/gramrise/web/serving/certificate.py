"""A private certificate for a home without one: phones ask once, and its fingerprint says that it is this one."""

import ipaddress
import socket
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from gramrise.config.private_files import private_folder, write_whole

FOLDER: Final = "tls"
# Browsers take no certificate that holds longer than 398 days (CA/Browser Forum baseline requirements, 2020).
DAYS: Final = 397
# Renewed so many days before it ends: our choice, so that no phone meets an old one.
RENEWED_BEFORE_DAYS: Final = 30


@dataclass(frozen=True, slots=True)
class Certificate:
    """Where certificate and key lie, PEM. `fingerprint`: SHA-256, as browsers show it."""

    certificate: Path
    key: Path
    fingerprint: str


def private_certificate(home: Path, host: str, now_utc: datetime) -> Certificate:
    """The home's own certificate for a host, made where there is none, it ends soon, or it is for another host."""
    folder = home / FOLDER
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    known = _read(certificate) if key.exists() else None
    if known is None or not _serves(known, host, now_utc):
        private_folder(folder)
        made_key = ec.generate_private_key(ec.SECP256R1())
        known = _signed(made_key, host, now_utc)
        plain = serialization.NoEncryption()
        pem, form = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
        write_whole(key, made_key.private_bytes(pem, form, plain))
        write_whole(certificate, known.public_bytes(pem))
    print_of = known.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificate(certificate, key, print_of)


def _read(file: Path) -> x509.Certificate | None:
    try:
        return x509.load_pem_x509_certificate(file.read_bytes())
    except (OSError, ValueError):
        return None


def _serves(known: x509.Certificate, host: str, now_utc: datetime) -> bool:
    names = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    ends = known.not_valid_after_utc - timedelta(days=RENEWED_BEFORE_DAYS)
    return set(_names(host)) <= set(names) and known.not_valid_before_utc <= now_utc < ends


def _signed(key: ec.EllipticCurvePrivateKey, host: str, now_utc: datetime) -> x509.Certificate:
    whose = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "gramrise at home")])
    start = now_utc.replace(microsecond=0) - timedelta(days=1)  # a phone's clock may be behind
    names = _names(host)
    usage = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])
    return (
        x509.CertificateBuilder()
        .subject_name(whose)
        .issuer_name(whose)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=False)
        .sign(key, hashes.SHA256())
    )


def _names(host: str) -> list[x509.GeneralName]:
    """What the certificate is for: the host, else, where it listens everywhere, the machine's name; and the machine."""
    listens_everywhere = host in {"0.0.0.0", "::"}
    named = [socket.gethostname(), f"{socket.gethostname()}.local"] if listens_everywhere else [host]
    return list(dict.fromkeys(map(_name, [*named, "localhost", "127.0.0.1"])))


def _name(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)
