"""What is in a file the user names, or why it cannot be had, in the same words everywhere."""

from __future__ import annotations

from pathlib import Path

SHOWN = 8
"""Files that are named where one is missing."""


class UnreadableError(Exception):
    """A file that cannot be read.

    Attributes
    ----------
    reason : to be put behind the name of the file
    absent : whether there is none of that name
    """

    def __init__(self, reason: str, *, absent: bool = False) -> None:
        super().__init__(reason)
        self.reason = reason
        self.absent = absent


def file_bytes(path: Path, largest: int, expected: str) -> bytes:
    """Content of a file.

    Parameters
    ----------
    largest : size accepted [bytes]
    expected : what the file should be, such as ``a case file``

    Raises
    ------
    UnreadableError : no such file, none at all, or a larger one
    """
    try:
        size = path.stat().st_size
        if not path.is_file():
            reason = f"is a folder or a device, not {expected}"
            raise UnreadableError(reason)
        if size > largest:
            reason = f"is {size / 1e6:.1f} MB; at most {largest / 1e6:.0f} MB are read"
            raise UnreadableError(reason)
        return path.read_bytes()
    except FileNotFoundError:
        reason = "no such file"
        raise UnreadableError(reason, absent=True) from None
    except (OSError, ValueError) as error:
        told = getattr(error, "strerror", None) or "not a path"
        reason = f"cannot be read: {told.lower()}"
        raise UnreadableError(reason) from None


def files_beside(path: Path, *endings: str) -> str:
    """Files with one of the endings in the folder of a file that is not there, in words.

    Empty where there are none.
    """
    folder = path.parent
    if not folder.is_dir():
        return ""
    names = sorted(one.name for one in folder.iterdir() if one.suffix.lower() in endings)
    return f"in {folder} there is {', '.join(names[:SHOWN])}" if names else ""
