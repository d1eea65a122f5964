"""Files outside, read and written safely: a plain file of a size that is meant, and a new one whole or not at all.

What blocks or never ends (a pipe, a device) is not read, and not written to. A new file is written beside its place
under a name of its own and takes its name when it is whole and on the disk, so that an old one survives a full disk or
a run that is killed; what such a run left is cleared away by the next one that writes the same name.
"""

import contextlib
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Final

from ...errors import ReadError

NO_PLAIN_FILE: Final = "is no plain file"
STEERING: Final = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
LONGEST_NAME: Final = 150
"""Of the name that a new file has while it is written, where a system allows 255. [byte]"""


def open_plain(path: Path) -> IO[bytes]:
    """Open a plain file to be read; a pipe never blocks, and is refused."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        mode = os.fstat(handle).st_mode
        if not stat.S_ISREG(mode):
            raise ReadError(str(path), "Is a directory" if stat.S_ISDIR(mode) else NO_PLAIN_FILE)
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def content_of(path: Path, most: int, too_large: str) -> bytes:
    """Read a plain file of so many bytes at most.

    Raises `ReadError`: it cannot be read, is no plain file, or is too large, which is said in the words given.
    """
    try:
        with open_plain(path) as file:
            content = file.read(most + 1)
    except (OSError, ValueError) as error:
        raise ReadError(str(path)[:LONGEST_NAME], getattr(error, "strerror", None) or "cannot be read") from error
    if len(content) > most:
        raise ReadError(path.name, too_large)
    return content


def refuse_target(path: Path, over: bool) -> None:
    """Refuse a place where no file can be written, or where one is there already that is not to be written over."""
    try:
        if STEERING.search(path.name):
            raise ReadError(str(path), "has a sign in its name that cannot be seen")
        if not path.absolute().parent.is_dir():
            raise ReadError(str(path), "No such file or directory")
        if path.is_dir():
            raise ReadError(str(path), "Is a directory")
        if path.exists() and not path.is_file():
            raise ReadError(str(path), NO_PLAIN_FILE)
        if path.exists() and over and not os.access(path, os.W_OK):
            raise ReadError(str(path), "Permission denied")
        if path.exists() and not over:
            raise ReadError(str(path), "is there already; with --force it is written over")
    except (OSError, ValueError) as error:
        raise ReadError(str(path), getattr(error, "strerror", None) or "cannot be written") from error


def escaped(text: str) -> str:
    r"""Text that cannot steer a terminal: signs that cannot be seen, or that turn the line around, are written out."""
    return STEERING.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


@contextlib.contextmanager
def new_file(path: Path, over: bool = True) -> Iterator[IO[bytes]]:
    """A file that comes to stand at its place whole, at the end of the `with`, or not at all.

    Raises `ReadError`: it cannot be written, or is there already and is not to be written over.
    """
    refuse_target(path, over)
    place = Path(os.path.realpath(path))  # where a link leads, that the link stays one
    begin = os.fsencode(f".{place.name}")[:LONGEST_NAME].decode("utf-8", "ignore")
    part = place.with_name(f"{begin}.{os.urandom(4).hex()}.part")
    try:
        _clear(place.parent, begin)
        with part.open("xb") as file:
            _hold(file)
            if place.exists():
                part.chmod(stat.S_IMODE(place.stat().st_mode))
            yield file
            file.flush()
            os.fsync(file.fileno())
        if over:
            part.replace(place)
        else:
            _name_if_free(part, place)
        with contextlib.suppress(OSError):  # Windows opens no folder
            handle = os.open(place.parent, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be written") from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _name_if_free(part: Path, place: Path) -> None:
    """Take the name unless a file came to stand there meanwhile."""
    try:
        os.link(part, place)
    except FileExistsError:
        refuse_target(place, False)
        raise
    except OSError:  # a disk without second names
        refuse_target(place, False)
        part.replace(place)


def write_file(path: Path, content: bytes | str, over: bool = True) -> None:
    """Write a whole file at once; text in UTF-8.

    Raises `ReadError`: it cannot be written, or is there already and is not to be written over.
    """
    with new_file(path, over) as file:
        file.write(content.encode() if isinstance(content, str) else content)


def _hold(file: IO[bytes]) -> bool:
    """Take a file for this run alone; whether that was possible."""
    try:
        import fcntl
    except ImportError:  # Windows: a file that is open cannot be removed by another
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a disk that knows no such thing
        return True
    return True


def _clear(folder: Path, begin: str) -> None:
    """Clear away what runs that were killed left of a file of this name; what a run still writes is held by it."""
    form = re.compile(re.escape(begin) + r"\.[0-9a-f]{8}\.part")
    for left in folder.iterdir():
        if form.fullmatch(left.name) and not left.is_symlink():
            with contextlib.suppress(OSError, ReadError):
                with open_plain(left) as file:
                    alone = _hold(file)
                if alone:
                    left.unlink()
