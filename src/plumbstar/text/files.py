"""The one reader of text files, and the one writer: what may go wrong is said plainly.

Text is UTF-8, with or without a byte-order mark, or UTF-16 or UTF-32 with one (a spreadsheet's
"Unicode text"). ``-`` is standard input.
"""

from __future__ import annotations

import codecs
import errno
import os
import re
import shutil
import sys
import unicodedata
from contextlib import suppress
from pathlib import Path

from plumbstar.errors import UserError


def named(path: str | Path) -> str:
    """What to call a file in a sentence: "standard input" for ``-``."""
    return "standard input" if str(path) == "-" else str(path)


def read_text(path: str | Path, what: str = "the file", wanted: str = "a file of text") -> str:
    """The text of a file, or of standard input for ``-``. Raises :class:`UserError`.

    ``what`` names the file in the message ("the kit file"), ``wanted`` what it should have been.
    """
    text = decoded(read_bytes(path, what, wanted), named(path), wanted)
    tell_unshowable(text, named(path))
    return text


#: What may be one that cannot be shown; and how JSON writes any character.
_ODD = re.compile(r"[^\t\n\v\f\r -~]")
_ESCAPED = re.compile(r"(?<!\\)(?:\\\\)*\\u([0-9a-f]{4})", re.IGNORECASE)


def unshowable(text: str) -> str:
    """A sentence on what of a file's text no screen can show (control characters and their like),
    "" where there is nothing: names and words have a blank there, and that is not to go unsaid."""
    found = [(m.start(), ord(m[0])) for m in _ODD.finditer(text) if _hidden(m[0])]
    if text.lstrip().startswith("{"):
        escaped = [(m.start(), int(m[1], 16)) for m in _ESCAPED.finditer(text)]
        found += [(at, code) for at, code in escaped if _hidden(chr(code))]
    if not found:
        return ""
    at, code = min(found)
    one = len(found) == 1
    line = text.count("\n", 0, at) + 1
    return (
        f"{len(found)} character{'' if one else 's'} that cannot be shown "
        f"({'' if one else 'the first is '}U+{code:04X}{' (NUL)' * (code == 0)} in line {line}) "
        f"{'counts as a blank' if one else 'count as blanks'}"
    )


def _hidden(c: str) -> bool:
    # Not the halves of a pair by which JSON writes one beyond U+FFFF.
    return c not in "\t\n\v\f\r" and unicodedata.category(c) in ("Cc", "Cf", "Cn", "Co")


def tell_unshowable(text: str, source: str) -> None:
    """:func:`unshowable`, said on standard error of the file that somebody gave."""
    if said := unshowable(text):
        print(f"{source}: {said}.", file=sys.stderr)


def read_bytes(path: str | Path, what: str = "the file", wanted: str = "a file") -> bytes:
    """The bytes of a file, or of standard input for ``-``. Raises :class:`UserError`."""
    try:
        return sys.stdin.buffer.read() if str(path) == "-" else Path(path).read_bytes()
    except (OSError, ValueError) as e:
        # ValueError: a name with a NUL in it.
        raise UserError(f"{what} {named(path)} {_why(e)}", wanted, "Check the path") from None


#: What a byte-order mark says. The longer ones first: UTF-32's begins with UTF-16's.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def encoding_of(raw: bytes) -> str:
    """What a text is written in, by its byte-order mark; UTF-8 without one."""
    return next((name for mark, name in _MARKS if raw.startswith(mark)), "utf-8-sig")


def decoded(raw: bytes, source: str, wanted: str = "a file of text") -> str:
    """The text, without its byte-order mark. Raises :class:`UserError` naming ``source``."""
    encoding = encoding_of(raw)
    # Between the letters of UTF-16 without its mark stand NULs: as UTF-8 it would be a table of
    # columns that nobody named.
    if encoding == "utf-8-sig" and 4 * raw.count(0) > len(raw):
        came = f"{source} is no text, or UTF-16 text without its byte-order mark"
        raise UserError(came, wanted, _AS_UTF8)
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError:
        if encoding == "utf-8-sig":
            came = f"{source} is not UTF-8 text"
        else:
            came = f"{source} begins as {encoding.upper()} text and goes on as something else"
        raise UserError(came, wanted, _AS_UTF8) from None


_AS_UTF8 = "Save it again as UTF-8 (in a spreadsheet: CSV UTF-8)"


def write(
    path: str | Path,
    data: bytes | str,
    what: str = "the file",
    *,
    replace: bool = True,
    force: str = "",
) -> None:
    """Write a file that was asked for, text as UTF-8. Raises :class:`UserError`.

    Without ``replace`` a file that exists is left as it is, and refused; ``force`` names the option
    that would replace it.
    """
    raw = data.encode("utf-8") if isinstance(data, str) else data
    place = Path(path)
    try:
        if replace:
            _put(place, raw)
        else:
            _begin(place, raw)
    except FileExistsError:
        more = f", or add {force}" if force else ""
        came = f"{what} {path} exists already. Nothing was changed"
        raise UserError(came, "", f"Choose another name{more}") from None
    except (OSError, ValueError) as e:
        missing = isinstance(e, FileNotFoundError)
        why = "lies in a folder that does not exist" if missing else _why(e)
        raise UserError(f"{what} {path} {why}. Nothing was written", "", _remedy(e)) from None


def _begin(place: Path, raw: bytes) -> None:
    """A new file, whole or not at all. Raises OSError, FileExistsError for one that is there."""
    f = place.open("xb")  # outside: what is there already is not to be taken away
    try:
        with f:
            f.write(raw)
    except BaseException:
        place.unlink()
        raise


def _put(place: Path, raw: bytes) -> None:
    """A file, new or in the place of one, which stays as it was if this fails. Raises OSError."""
    place = place.resolve()  # of a link what it leads to
    there = place.exists()
    # A device or a pipe is no file to be put in the place of; nor is one whose folder is closed.
    if there and not (place.is_file() and os.access(place.parent, os.W_OK)):
        with place.open("wb") as f:
            f.write(raw)
        return
    if there and not os.access(place, os.W_OK):  # a file put under lock on purpose
        raise PermissionError(errno.EACCES, "", str(place))
    part = place.with_name(f"{place.name}.{os.getpid()}.part")
    try:
        _begin(part, raw)
        if there:
            shutil.copymode(place, part)
        part.replace(place)
    finally:
        part.unlink(missing_ok=True)


def out_of_room(e: OSError) -> bool:
    """Whether it was for want of room that something could not be written."""
    return e.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def _remedy(e: OSError | ValueError) -> str:
    if isinstance(e, OSError) and out_of_room(e):
        return "Make room, or name another place"
    if isinstance(e, OSError) and e.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return "Name another place, or make this one writable"
    return "Check the path"


def replace_whole(path: Path, text: str, remedy: str) -> None:
    """Write all of it, through to the disk, or leave the file as it was. Raises UserError."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("w", encoding="utf-8", newline="") as handle:
            handle.write(text)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(path)
    except OSError as e:
        with suppress(OSError):
            part.unlink()
        raise UserError(f"the file {path} {_why(e)}. Nothing was saved", "", remedy) from None


def _why(e: OSError | ValueError) -> str:
    """What is wrong with a path, after its name."""
    match e:
        case FileNotFoundError():
            return "does not exist"
        case IsADirectoryError():
            return "is a folder"
        case NotADirectoryError():
            return "lies under a file, not in a folder"
        case PermissionError():
            return "is one that you are not allowed to use"
        case OSError(errno=errno.EROFS):
            return "is on a disk that can only be read"
        case OSError() if out_of_room(e):
            return "finds no room on the disk"
        case OSError():
            return f"failed ({e.strerror or e})"
        case _:
            return "cannot be the name of a file"
