"""Records under a passphrase: unreadable on a stolen disk, and without the passphrase for ever.

A random data key seals each record (AES-256-GCM, bound to its table and row); the passphrase,
stretched by scrypt, seals only that key, so it can be changed without touching the records. All
of it is the ``cryptography`` library's; nothing here is our own cipher.
"""

import base64
import hashlib
import json
import os
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from sitwell.base import words
from sitwell.base.errors import SealError
from sitwell.base.words import tr

# The words, or a function that asks for them.
Passphrase = str | Callable[[], str] | None
SHORTEST_PASSPHRASE = 10
LOST_PASSPHRASE = words.mark(
    "If the passphrase is lost, nobody can read these records again: not you, not us. "
    "Write it down and keep it away from this machine."
)
# scrypt's N; 2**17 with r 8, p 1 takes 128 MiB and about half a second (common advice for
# passwords on a server, from memory). The upper bound keeps an altered file from eating the memory.
COST = 2**17
_HIGHEST_COST = 2**20
_FIRST_BYTE = b"\x01"  # no JSON text begins with it
_NONCE_BYTES = 12
_KEY_PLACE = "data key"


@dataclass(frozen=True, slots=True)
class Seal:
    """An open seal: closes and opens bodies while the records are open."""

    data_key: bytes = field(repr=False)

    def close(self, plain: bytes, where: str) -> bytes:
        """Seal ``plain`` for the one place it may be read at."""
        nonce = os.urandom(_NONCE_BYTES)
        return _FIRST_BYTE + nonce + AESGCM(self.data_key).encrypt(nonce, plain, where.encode())

    def open(self, body: bytes, where: str) -> bytes:
        """The plain bytes; a body that was altered or moved is refused."""
        nonce, sealed = body[1 : 1 + _NONCE_BYTES], body[1 + _NONCE_BYTES :]
        try:
            return AESGCM(self.data_key).decrypt(nonce, sealed, where.encode())
        except (InvalidTag, ValueError) as error:
            raise SealError(
                tr("The record {where} was altered; use a backup.", where=where)
            ) from error


def is_sealed(body: bytes) -> bool:
    """Whether a body is sealed rather than plain JSON."""
    return body[:1] == _FIRST_BYTE


def new_seal(passphrase: str, *, cost: int = COST) -> tuple[Seal, str]:
    """A new seal, and the text that a later opening needs beside the passphrase."""
    seal = Seal(AESGCM.generate_key(bit_length=256))
    return seal, lock(seal, passphrase, cost=cost)


def lock(seal: Seal, passphrase: str, *, cost: int = COST) -> str:
    """The data key under a passphrase, as text to keep; the old text stops mattering."""
    if len(passphrase.strip()) < SHORTEST_PASSPHRASE:
        raise SealError(
            tr(
                "The passphrase has fewer than {shortest_passphrase} characters; use four or "
                "five words.",
                shortest_passphrase=SHORTEST_PASSPHRASE,
            )
        )
    salt = os.urandom(16)
    key = Seal(_stretch(passphrase, salt, cost)).close(seal.data_key, _KEY_PLACE)
    kept = {"cost": cost, "salt": _text(salt), "key": _text(key), "key_id": _key_id(seal)}
    return json.dumps(kept, sort_keys=True)


def unlock(locked: str, passphrase: Passphrase) -> Seal:
    """The seal again; a missing or wrong passphrase is one sentence."""
    passphrase = passphrase() if callable(passphrase) else passphrase
    if not passphrase:
        raise SealError(tr("These records are sealed; give the passphrase."))
    try:
        kept = json.loads(locked)
        cost = int(kept["cost"])
        salt, key = base64.b64decode(kept["salt"]), base64.b64decode(kept["key"])
        if not 2 <= cost <= _HIGHEST_COST or cost & (cost - 1):
            raise ValueError(cost)
    except (ValueError, KeyError, TypeError) as error:
        raise SealError(tr("The lock of these records is damaged; use a backup.")) from error
    try:
        return Seal(Seal(_stretch(passphrase, salt, cost)).open(key, _KEY_PLACE))
    except SealError:
        raise SealError(
            tr(
                "The passphrase does not open these records; check for capitals and try again.",
            )
        ) from None


def key_id(locked: str) -> str:
    """Which data key a lock holds, told without opening it."""
    return str(json.loads(locked)["key_id"])


def mark(label: str, seal: Seal | None) -> str:
    """A fixed sign for a label, alike for alike labels, that tells nothing without the seal."""
    folded = " ".join(unicodedata.normalize("NFKC", label).casefold().split())
    key = b"" if seal is None else _subkey(seal, b"sitwell label")
    return hashlib.blake2b(
        folded.encode("utf-8", "surrogatepass"), key=key, digest_size=16
    ).hexdigest()


def _key_id(seal: Seal) -> str:
    return _subkey(seal, b"sitwell key id")[:8].hex()


def _subkey(seal: Seal, info: bytes) -> bytes:
    # A key serves one purpose: what marks labels must not be what seals records.
    return HKDF(algorithm=SHA256(), length=32, salt=None, info=info).derive(seal.data_key)


def _stretch(passphrase: str, salt: bytes, cost: int) -> bytes:
    # The same letters may be typed composed or not, by system; NFKC makes them one.
    typed = unicodedata.normalize("NFKC", passphrase.strip()).encode("utf-8")
    return Scrypt(salt=salt, length=32, n=cost, r=8, p=1).derive(typed)


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
