"""Files that are written whole or not at all."""

import os
import stat
from pathlib import Path
from tempfile import TemporaryDirectory

from filtration.base.errors import InputError


def refuse_taken(path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Refuse a place that is taken, before any work is done for it.

    Parameters
    ----------
    path : str or path
        Where to write.
    force : bool, optional
        Whether a file that is there may be replaced.

    Raises
    ------
    InputError
        If there is a file already, or something that is no file.
    """
    file = Path(path)
    try:
        if file.exists() and not (force and file.is_file()):
            other = "is a folder, not a file" if file.is_dir() else "is no ordinary file"
            reason = "there is a file already" if file.is_file() else other
            raise InputError(f"{file}: {reason}; nothing was written")
    except OSError as error:
        raise _unwritten(file, error) from None


def write_whole(
    path: str | os.PathLike[str], data: bytes, *, force: bool = False, instead_of: bytes | None = None
) -> None:
    """Write a file, whole or not at all.

    Parameters
    ----------
    path : str or path
        Where to.
    data : bytes
        All that stands in it.
    force : bool, optional
        Whether to replace a file that is there.
    instead_of : bytes, optional
        Replace the file that is there only if it still holds this; it keeps who may read it.

    Raises
    ------
    InputError
        If there is a file already, or another than is to be replaced, or it cannot be written; what was there is
        still there.
    """
    file = Path(path)
    refuse_taken(file, force=force or instead_of is not None)
    try:
        target = file.resolve()  # a link stays one
        with TemporaryDirectory(dir=target.parent, prefix=".export-") as beside:
            fresh = Path(beside) / "fresh"
            with fresh.open("xb") as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
            if instead_of is not None:
                if not target.exists():
                    raise InputError(f"{file}: is not there any more; nothing was written")
                fresh.chmod(stat.S_IMODE(target.stat().st_mode))
                if target.read_bytes() != instead_of:
                    raise InputError(f"{file}: was changed elsewhere meanwhile; nothing was written")
            if force or instead_of is not None:
                fresh.replace(target)
            else:
                put_new(fresh, target)
    except FileExistsError:  # another writer was quicker
        raise InputError(f"{file}: there is a file already; nothing was written") from None
    except OSError as error:
        raise _unwritten(file, error) from None


def put_new(fresh: Path, target: Path) -> None:
    """Give a file its name, whole and never over another.

    Parameters
    ----------
    fresh : path
        The file, on the same disk.
    target : path
        Its name to be.

    Raises
    ------
    FileExistsError
        If there is a file of that name.
    OSError
        If the disk refuses.

    Notes
    -----
    Some disks know no links: there an empty file keeps the name until the whole one stands in its place.
    """
    try:
        target.hardlink_to(fresh)
    except FileExistsError:
        raise
    except OSError:
        target.touch(exist_ok=False)
        try:
            fresh.replace(target)
        except OSError:
            target.unlink()
            raise


def _unwritten(file: Path, error: OSError) -> InputError:
    why = f"there is no folder {file.parent}" if isinstance(error, FileNotFoundError) else error.strerror
    return InputError(f"{file}: cannot be written ({why}); nothing was written")
