"""Every exception a caller may meet.

SternlogError
├── LogError        a log cannot be read at all
├── WriteError      a result cannot be written
└── SettingError    a setting has no meaning
"""


class SternlogError(Exception):
    """A clear sentence for the user: what was given, what was expected, what to do."""


class LogError(SternlogError):
    """A log that cannot be read at all: missing, empty, without a sentence, not permitted."""


class WriteError(SternlogError):
    """A result that cannot be written; whatever stood at the target before stands there still."""


class SettingError(SternlogError):
    """A setting whose value has no meaning; the message lists the allowed ones."""
