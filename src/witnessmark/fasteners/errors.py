"""What cannot be used of a thread, a class or an engagement."""

from witnessmark.errors import WitnessError


class FastenerError(WitnessError):
    """A thread, property class, material or engagement that cannot be used; place is the field."""
