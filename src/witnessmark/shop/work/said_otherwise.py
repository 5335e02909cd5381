"""What two revisions of a service book say differently, as people read it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from witnessmark.book.differences import Difference


def in_words(one: Difference) -> str:
    """What is said otherwise of a thing. Example: ``minutes: 4; then: 6``."""
    return _told(one, _("{what}: new"), _("{what}: left out"), _("{what}: {old}; then: {new}"))


def of_block(one: Difference) -> str:
    """The same against the block: what this book says, and what the block says."""
    alone, otherwise = (
        _("{what}: of this book alone"),
        _("{what}: {new}; the block says: {old}"),
    )
    return _told(one, alone, _("{what}: left out here"), otherwise)


def _told(one: Difference, new: str, left_out: str, otherwise: str) -> str:
    words = new if one.was is None else left_out if one.now is None else otherwise
    nothing = _("nothing")
    return words.format(what=one.what, old=one.was or nothing, new=one.now or nothing)
