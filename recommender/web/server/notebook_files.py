"""The notebook as files for a browser: a copy of it, and its folder of CSV files as an archive."""

import io
import tempfile
import zipfile
from pathlib import Path

from recommender.errors import BadTable
from recommender.evidence.intake import MOST_BYTES, MOST_INFLATED
from recommender.notebook import backup, csv_folder

MOST_FILES = 100
"""Files in an archive; a notebook has far fewer tables."""
BY_HAND = "End the program, and put the file in the place of the notebook by hand"
_BLOCK = 1 << 18


def copy_of(path: Path) -> bytes:
    """Return a checked copy of a notebook; raises `BadNotebook`."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.sqlite"
        backup.backup(path, copy)
        return copy.read_bytes()


def restore(path: Path, name: str, content: bytes) -> Path | None:
    """Put a copy in the place of a notebook; returns where the present one is now, None where there was none.

    Raises
    ------
    BadTable
        It is too large.
    BadNotebook
        It is damaged, newer or no notebook; nothing was changed then.
    """
    _check_size(name, content)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / (Path(name).name or "copy.sqlite")
        copy.write_bytes(content)
        return backup.restore(path, copy)


def archive_of(path: Path) -> bytes:
    """Return a notebook as an archive (ZIP) of CSV files, one a table; raises `BadNotebook`."""
    with tempfile.TemporaryDirectory() as folder:
        csv_folder.export(path, Path(folder) / "notebook")
        made = io.BytesIO()
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in sorted((Path(folder) / "notebook").iterdir()):
                archive.write(file, file.name)
        return made.getvalue()


def import_archive(path: Path, name: str, content: bytes) -> tuple[int, Path | None, list[str]]:
    """Read an archive of CSV files into a notebook, all of it or nothing.

    Returns how many rows it has, where the present notebook is now (None where it was empty), and notes.

    Raises
    ------
    BadTable
        It is too large, no archive, or a file in it cannot be read.
    BadNotebook
    """
    _check_size(name, content)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "notebook"
        folder.mkdir()
        _unpack(name, content, folder)
        counts, aside, notes = csv_folder.import_folder(path, folder, replace=True)
        return sum(counts.values()), aside, notes


def _check_size(name: str, content: bytes) -> None:
    if len(content) > MOST_BYTES:
        raise BadTable(name, f"it has more than {MOST_BYTES / 1e6:g} MB", remedy=BY_HAND)


def _unpack(name: str, content: bytes, folder: Path) -> None:
    """Write the CSV files of an archive into a folder, by their last names alone and up to a size."""
    left = MOST_INFLATED
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = [one for one in archive.infolist() if one.filename.endswith(".csv")]
            if len(members) > MOST_FILES:
                raise BadTable(name, f"more than {MOST_FILES} files", remedy="Take the archive as it was")
            for member in members:
                with archive.open(member) as source, (folder / Path(member.filename).name).open("wb") as file:
                    while block := source.read(_BLOCK):
                        left -= len(block)
                        if left < 0:
                            problem = f"its files have more than {MOST_INFLATED / 1e6:g} MB"
                            raise BadTable(name, problem, remedy="Take a copy of the notebook instead")
                        file.write(block)
    except BadTable:
        raise
    except Exception:  # a damaged archive makes the reader fail in many ways
        raise BadTable(
            name, "this is not a ZIP archive", remedy="Choose the one that was saved here"
        ) from None
