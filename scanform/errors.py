"""Every failure a user can cause, each with one sentence for a person and an exit code."""

from __future__ import annotations

from enum import IntEnum

__all__ = [
    "BinderError",
    "ExitCode",
    "FieldTaken",
    "FileUnreadable",
    "JournalBroken",
    "LayoutError",
    "ScanformError",
    "Stopped",
    "StorageFailed",
    "TemplateError",
    "UsageError",
]


class ExitCode(IntEnum):
    """What the process returns to the shell."""

    DONE = 0
    SOME_FILES_FAILED = 1
    BAD_INPUT = 2
    RECORD_BROKEN = 3
    STOPPED = 4


class ScanformError(Exception):
    """Base class: the message is one sentence that says what, where and what to do."""

    exit_code: ExitCode = ExitCode.BAD_INPUT


class UsageError(ScanformError):
    """A command was asked for something that makes no sense (a unit without a pad, a date that is none)."""


class FieldTaken(ScanformError):
    """Somebody else has decided a field since the person looked at it; nothing was written."""


class TemplateError(ScanformError):
    """A template file is wrong; the message names file, line and key."""


class LayoutError(TemplateError):
    """A template is well formed but does not fit on the paper."""


class FileUnreadable(ScanformError):
    """A file cannot be opened as pages (encrypted, truncated, empty, not a picture)."""

    exit_code = ExitCode.SOME_FILES_FAILED


class StorageFailed(ScanformError):
    """A disk, a network share or the memory failed while a file was read; the file itself may be sound."""


class Stopped(ScanformError):
    """Somebody asked for an end before all was done; the message says what is left and how to go on."""

    exit_code = ExitCode.STOPPED


class BinderError(ScanformError):
    """The binder folder cannot be used (not a binder, newer version, locked, not writable)."""


class JournalBroken(ScanformError):
    """The record does not match its journal; somebody or something changed it from outside."""

    exit_code = ExitCode.RECORD_BROKEN
