"""TLS for a home without a certificate: an authority of its own, which a phone trusts once, and what it signs.

A phone that only clicks a warning away opens the page, but keeps nothing for when there is no network: browsers run no
service worker behind a certificate they do not trust. The authority can sign for this home's names alone.
"""

import ipaddress
import socket
from contextlib import suppress
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
AUTHORITY: Final = "authority.pem"
# Browsers take no certificate that holds longer than 398 days (CA/Browser Forum baseline requirements, 2020).
DAYS: Final = 397
# The authority holds for ten years: our choice, longer than any phone.
AUTHORITY_DAYS: Final = 3650
# Made anew so many days before the end: our choice, so that no phone meets an old one.
RENEWED_BEFORE_DAYS: Final = 30


@dataclass(frozen=True, slots=True)
class Certificate:
    """Where certificate and key lie, PEM. Fingerprints are SHA-256, as browsers and phones show them."""

    certificate: Path
    key: Path
    authority: Path
    fingerprint: str
    authority_fingerprint: str


@dataclass(frozen=True, slots=True)
class _Kept:
    """A certificate with its key, as two files of the home."""

    known: x509.Certificate
    key: ec.EllipticCurvePrivateKey


def private_certificate(home: Path, host: str, now_utc: datetime) -> Certificate:
    """The home's own certificate for a host; made where there is none, it ends soon, or it is for other names."""
    folder, names = home / FOLDER, _names(host)
    private_folder(folder)
    authority = _read(folder, "authority")
    bound = {str(each.value) for each in _networks(names)}
    if authority is None or not _holds(authority, now_utc, DAYS) or _permitted(authority) != bound:
        authority = _authority(names, now_utc)
        _keep(folder, "authority", authority)
    served = _read(folder, "certificate")
    if served is None or not _holds(served, now_utc, RENEWED_BEFORE_DAYS) or not _signed_by(served, authority):
        served = _signed(authority, names, now_utc)
        _keep(folder, "certificate", served)
    return Certificate(
        folder / "certificate.pem", folder / "certificate-key.pem", folder / AUTHORITY,
        _fingerprint(served), _fingerprint(authority),
    )  # fmt: skip


def _fingerprint(kept: _Kept) -> str:
    return kept.known.fingerprint(hashes.SHA256()).hex(":").upper()


def _read(folder: Path, name: str) -> _Kept | None:
    """What is kept under a name; None where it is not there, damaged, or the two do not belong together."""
    try:
        known = x509.load_pem_x509_certificate((folder / f"{name}.pem").read_bytes())
        key = serialization.load_pem_private_key((folder / f"{name}-key.pem").read_bytes(), None)
    except (OSError, ValueError):
        return None
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != known.public_key():
        return None
    return _Kept(known, key)


def _keep(folder: Path, name: str, made: _Kept) -> None:
    pem, form = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
    write_whole(folder / f"{name}-key.pem", made.key.private_bytes(pem, form, serialization.NoEncryption()))
    write_whole(folder / f"{name}.pem", made.known.public_bytes(pem))


def _holds(kept: _Kept, now_utc: datetime, days_left: int) -> bool:
    ends = kept.known.not_valid_after_utc - timedelta(days=days_left)
    return kept.known.not_valid_before_utc <= now_utc < ends


def _permitted(authority: _Kept) -> set[str]:
    found = authority.known.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
    return {str(name.value) for name in found or ()}


def _signed_by(served: _Kept, authority: _Kept) -> bool:
    try:
        served.known.verify_directly_issued_by(authority.known)
    except Exception:  # noqa: BLE001 - whatever does not agree, it is made anew
        return False
    return True


def _authority(names: list[x509.GeneralName], now_utc: datetime) -> _Kept:
    key, whose = ec.generate_private_key(ec.SECP256R1()), _called("gramrise at home, authority")
    made = (
        _begun(whose, whose, key, now_utc, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints(permitted_subtrees=_networks(names), excluded_subtrees=None), critical=True)
        .add_extension(_usage(signs=True), critical=True)
    )
    return _Kept(made.sign(key, hashes.SHA256()), key)


def _signed(authority: _Kept, names: list[x509.GeneralName], now_utc: datetime) -> _Kept:
    key = ec.generate_private_key(ec.SECP256R1())
    made = (
        _begun(_called("gramrise at home"), authority.known.subject, key, now_utc, DAYS)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()), critical=False)
    )
    return _Kept(made.sign(authority.key, hashes.SHA256()), key)


def _begun(
    whose: x509.Name, signer: x509.Name, key: ec.EllipticCurvePrivateKey, now_utc: datetime, days: int
) -> x509.CertificateBuilder:
    start = now_utc.replace(microsecond=0) - timedelta(days=1)  # a phone's clock may be behind
    return (
        x509.CertificateBuilder()
        .subject_name(whose)
        .issuer_name(signer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    never = dict.fromkeys(
        ("content_commitment", "key_encipherment", "data_encipherment", "key_agreement", "encipher_only",
         "decipher_only"), False,
    )  # fmt: skip
    return x509.KeyUsage(digital_signature=not signs, key_cert_sign=signs, crl_sign=signs, **never)


def _called(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _names(host: str) -> list[x509.GeneralName]:
    """What the certificate is for: the host, else, where it listens everywhere, the machine's names and addresses."""
    listens_everywhere = host in {"0.0.0.0", "::"}
    named = [*_own_names()] if listens_everywhere else [host]
    return list(dict.fromkeys(map(_name, [*named, "localhost", "127.0.0.1"])))


def _own_names() -> list[str]:
    """Names and addresses under which phones of the network reach this machine, as far as it knows them itself."""
    name = socket.gethostname()
    return [name, f"{name.split('.')[0]}.local", *_addresses(name)]


def _addresses(name: str) -> list[str]:
    found = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        asked.connect(("192.0.2.1", 9))  # sends nothing: the system only says from which address it would
        found.append(asked.getsockname()[0])
    with suppress(OSError):
        found += [str(each[4][0]) for each in socket.getaddrinfo(name, None, socket.AF_INET)]
    return list(dict.fromkeys(found))


def _networks(names: list[x509.GeneralName]) -> list[x509.GeneralName]:
    """Names as an authority is bound to them: an address is a network of one."""
    return [
        x509.IPAddress(ipaddress.ip_network(str(name.value))) if isinstance(name, x509.IPAddress) else name
        for name in names
    ]


def _name(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)
