"""The files of a set of pages, and how they get into a folder: all of them, or none, and nothing beside them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

import msgspec

from fieldkit.sheets.collection import CHANGES, PAGES
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Page
from fieldkit.sheets.places import PLACE_HEADS
from fieldkit.sheets.text import page_text
from fieldkit.show.errors import FileError
from fieldkit.text.files import OddFileError, PartFile
from fieldkit.text.style import Style

FORMATS = ("html", "phone", "text", "csv")
PHONE_FILE = "ask.html"

_NAME = re.compile(r"[a-z0-9-]{1,40}\.(?:html|txt|csv)")


class Written(msgspec.Struct, frozen=True):
    """What was done."""

    files: tuple[str, ...]
    stale: tuple[str, ...]
    """Pages of an earlier time that still stand in the folder and were not written now."""


def files_of(
    pages: Sequence[Page], formats: Iterable[str] = FORMATS, material: Material | None = None
) -> dict[str, str]:
    """Make the text of each file, by file name. The names do not depend on the name of the show.

    material: of the pages; the page for a phone is made of it too, and not without it
    """
    from fieldkit.sheets.html import pages_html
    from fieldkit.sheets.phone import phone_html
    from fieldkit.sheets.table_files import table_csv

    wanted = set(formats)
    files: dict[str, str] = {}
    if "html" in wanted:
        files["sheets.html"] = pages_html(pages)
    if "phone" in wanted and material is not None:
        files[PHONE_FILE] = phone_html(material, pages)
    for page in pages:
        if "text" in wanted:
            files[f"{page.key}.txt"] = page_text(page)
        if "csv" in wanted and not page.repeats:
            files |= {f"{table.name}.csv": table_csv(table) for table in page.tables}
    return files


def write_files(folder: Path, files: dict[str, str], tell: Callable[[str], None] = lambda _: None) -> Written:
    """Write files into a folder, which is made if need be; what else is in it stays.

    tell: called with the name of each file as it is written
    All are written under other names first and put in place at the end, so that a full disk leaves the old ones
    whole. A link in the place of a file is replaced and not followed. Raises FileError.
    """
    bad = [name for name in files if not _NAME.fullmatch(name)]
    if bad:
        raise ValueError(f"no name for a sheet: {bad[0]!r}")
    parts: list[PartFile] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            parts.append(PartFile(folder / name, text.encode(), follow=False))
            tell(name)
        for part in parts:
            part.put()
    except FileExistsError as error:
        raise FileError("this is a file; expected a folder to write the sheets in", file=str(folder)) from error
    except OddFileError as error:
        says = f"the sheets cannot be written: {Path(error.filename).name}: {error.strerror}"
        raise FileError(says, file=str(folder)) from error
    except OSError as error:
        raise FileError(f"the sheets cannot be written: {error.strerror}", file=str(folder)) from error
    except ValueError as error:  # a name that no folder can have, with a NUL in it
        raise FileError(f"the sheets cannot be written: {error}", file=str(folder)) from error
    finally:
        for part in parts:
            part.drop()
    stale = sorted(name for name in _text_names(folder) if name not in files and (folder / name).is_file())
    return Written(tuple(files), tuple(stale))


def count_text(written: Written) -> str:
    """Say how many files were written: ``37 files are``."""
    count = len(written.files)
    return f"{count} file{' is' if count == 1 else 's are'}"


def summary(pages: Sequence[Page], written: Written, folder: str, style: Style) -> Iterator[str]:
    """Say what was written: the pages with their marks, the files, and what is left of an earlier time."""
    for page in pages:
        yield style.plain(f"{page.mark}  {page.title}")
    texts = sum(name.endswith(".txt") for name in written.files)
    tables = sum(name.endswith(".csv") for name in written.files)
    parts = [name for name in ("sheets.html", PHONE_FILE) if name in written.files]
    parts += [f"{texts} page{'' if texts == 1 else 's'} as text"] if texts else []
    parts += [f"{tables} table{'' if tables == 1 else 's'}"] if tables else []
    yield style.plain(f"{count_text(written)} in {folder}: {', '.join(parts)}")
    if written.stale:
        yield style.plain(f"of an earlier time, and not written now: {', '.join(written.stale)}")


def _text_names(folder: Path) -> list[str]:
    """Name what pages may be called: those of every show, and in a folder those of places that a show had once."""
    places = [path for head in PLACE_HEADS for path in folder.glob(f"{head}-*.txt")]
    known = [path.name for path in places if path.is_file() and _is_page(path)]
    return ["sheets.html", PHONE_FILE, *(f"{key}.txt" for key in (CHANGES, *PAGES)), *known]


def _is_page(path: Path) -> bool:
    """Tell a page from another text of such a name: its second line ends in a revision."""
    try:
        with path.open("rb") as file:
            head = file.read(1000).decode(errors="replace")
    except OSError:
        return False
    return re.match(r".*\n.* revision [0-9a-f]{8}\n", head) is not None
