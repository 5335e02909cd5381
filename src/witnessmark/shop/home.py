"""The home folder of one installation: database, photos and the secret key."""

import os
import secrets
from pathlib import Path

UNFINISHED = "restore-unfinished"  # stands in the folder while a restore fills it


def home() -> Path:
    """The folder named by WITNESSMARK_HOME, else ``var`` where the command runs."""
    return Path(os.environ.get("WITNESSMARK_HOME") or "var").resolve()


def secret_key(folder: Path) -> str:
    """WITNESSMARK_SECRET_KEY, else the key kept in the home folder, made on first use.

    The file belongs to its owner alone (0600). Two processes that start at once get the same key.
    """
    given = os.environ.get("WITNESSMARK_SECRET_KEY")
    if given:
        return given
    kept = folder / "secret-key"
    if not kept.exists():
        folder.mkdir(parents=True, exist_ok=True)
        draft = folder / f"secret-key.{secrets.token_hex(8)}"
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(64))
        try:
            os.link(draft, kept)  # fails, rather than replaces, where another was faster
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    return kept.read_text().strip()
