"""What stands in the way of a backup or a restore."""

from witnessmark.errors import WitnessError


class BackupError(WitnessError):
    """A folder, key or backup that cannot be used as it is."""


class NotNowError(BackupError):
    """Nothing is wrong with what was asked; it cannot be done at this moment. Try again."""
