"""What two revisions of a service book say differently, as people read it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from witnessmark.book.differences import Difference


def in_words(one: Difference) -> str:
    """What is said otherwise of a thing. Example: ``minutes: 4; then: 6``."""
    if one.was is None:
        return _("{what}: new").format(what=one.what)
    if one.now is None:
        return _("{what}: left out").format(what=one.what)
    old, new = one.was or _("nothing"), one.now or _("nothing")
    return _("{what}: {old}; then: {new}").format(what=one.what, old=old, new=new)


def of_block(one: Difference) -> str:
    """The same against the block: what this book says, and what the block says."""
    if one.was is None:
        return _("{what}: of this book alone").format(what=one.what)
    if one.now is None:
        return _("{what}: left out here").format(what=one.what)
    old, new = one.was or _("nothing"), one.now or _("nothing")
    return _("{what}: {new}; the block says: {old}").format(what=one.what, old=old, new=new)
