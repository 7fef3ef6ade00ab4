"""A certificate made on this machine, so that another device's browser takes the pages for secure.

Nobody vouches for it: it hides what is sent and lets a browser give its camera, and each device
warns once. Its fingerprint is told, to be compared there.
"""

import socket
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
)
from cryptography.x509.oid import NameOID

from sitwell.store.places import make_privately

FILE = "certificate.pem"
# A device is asked to trust it anew after that; browsers take none of over 398 days. Our choice.
VALID_FOR = timedelta(days=180)
STILL_GOOD = timedelta(days=1)


def certificate_for(folder: Path, address: str) -> Path:
    """A file with key and certificate for an address of this machine; made where none serves yet.

    It is readable by its owner only.
    """
    path = folder / FILE
    if not _serves(path, address):
        content = _made(address)
        make_privately(path, lambda part: part.write_bytes(content))
    return path


def fingerprint(path: Path) -> str:
    """The certificate's SHA-256, as browsers show it."""
    return x509.load_pem_x509_certificate(path.read_bytes()).fingerprint(hashes.SHA256()).hex(":")


def _serves(path: Path, address: str) -> bool:
    try:
        known = x509.load_pem_x509_certificate(path.read_bytes())
        names = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound):
        return False
    good = known.not_valid_after_utc > datetime.now(UTC) + STILL_GOOD
    return good and ip_address(address) in names.get_values_for_type(x509.IPAddress)


def _made(address: str) -> bytes:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Sitwell on this network")])
    host = socket.gethostname()
    names = [
        x509.IPAddress(ip_address(address)),
        *(x509.DNSName(name) for name in (host, f"{host}.local") if name.isascii()),
    ]
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))  # a phone's clock may be behind
        .not_valid_after(now + VALID_FOR)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    secret = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return secret + made.public_bytes(Encoding.PEM)
