"""Addresses of rows and entries."""

from uuid import UUID

from witnessmark.ledger.system import new_entry_id


def new_id() -> UUID:
    """A new UUIDv7 (RFC 9562): later ids sort later."""
    return UUID(new_entry_id())
