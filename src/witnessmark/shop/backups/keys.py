"""The key of the backups, and what is done with it: age, X25519 (https://age-encryption.org/v1).

The public half lies in the store and encrypts; the secret half is printed once, and kept nowhere here.
"""

import os
from pathlib import Path

import pyrage
from pyrage.x25519 import Identity, Recipient

from witnessmark.shop.backups.errors import BackupError


def public_key_file(home: Path) -> Path:
    """Where the public half lies."""
    return home / "keys" / "backup.pub"


def make_key(home: Path, *, anew: bool = False) -> str:
    """Make a key, keep its public half, return the secret one: 74 characters to be written down.

    anew: in place of a key that is there. Raises BackupError where one is there, and not `anew`.
    """
    file = public_key_file(home)
    if file.exists() and not anew:
        raise BackupError(
            str(file),
            "there is a key already",
            "use it; or --anew, and keep the old one for the backups made with it",
        )
    identity = Identity.generate()
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    file.write_text(f"{identity.to_public()}\n", encoding="ascii")
    return str(identity)


def recipient(home: Path) -> str | None:
    """The public half; None before a key was made."""
    file = public_key_file(home)
    return file.read_text(encoding="utf-8").strip() if file.exists() else None


def identity(written_down: str) -> Identity:
    """The secret key as it was written down; blanks and small letters do not matter. Raises BackupError."""
    try:
        return Identity.from_str("".join(written_down.split()).upper())
    except pyrage.IdentityError:
        raise BackupError(
            "key",
            "this is not the secret key of a backup",
            "AGE-SECRET-KEY-1 and 58 characters, as `witnessmark backup-key` printed it",
        ) from None


def encrypt(source: Path, target: Path, public: str) -> None:
    """Encrypt a file into another, to the disk. Raises BackupError, and OSError."""
    with source.open("rb") as plain, target.open("wb") as sealed:
        try:
            pyrage.encrypt_io(plain, sealed, [Recipient.from_str(public)])
        except pyrage.RecipientError:
            place = "keys/backup.pub"
            raise BackupError(place, "holds no public key", "restore it, or make another") from None
        except pyrage.EncryptError as error:  # wraps what reading and writing raised
            raise BackupError(str(target), f"cannot be written: {error}", "make room") from error
        sealed.flush()
        os.fsync(sealed.fileno())


def decrypt(source: Path, target: Path, key: Identity) -> None:
    """Decrypt a file into another; damage of any byte is found. Raises BackupError, and OSError."""
    with source.open("rb") as sealed, target.open("wb") as plain:
        try:
            pyrage.decrypt_io(sealed, plain, [key])
        except (pyrage.DecryptError, OSError) as error:
            if isinstance(error, OSError) and error.errno:  # of the disk; damage has no number
                raise
            raise BackupError(
                str(source),
                f"cannot be read with this key: {error}",
                "give the key it was made with; if that is it, the file is damaged: take another backup",
            ) from error
