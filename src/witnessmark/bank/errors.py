"""What can be wrong with what goes to a bank or comes from one."""

from witnessmark.errors import WitnessError


class BankError(WitnessError):
    """A statement, an account or a reference that cannot be used."""
