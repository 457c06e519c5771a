"""The same pages as HTML, text and tables: whatever somebody typed stays text, and the same show gives the same bytes."""

import base64
import csv
import hashlib
import io
import json
import os
import re
import subprocess
import sys

import pytest
from rigs import AMP, MODELS, box, run, show_of, step
from sheet_tools import Reader, files, sample, sample_files, sample_pages

from fieldkit import samples
from fieldkit.sheets.cell_text import heading
from fieldkit.sheets.collection import make_page, make_pages, page_keys
from fieldkit.sheets.diagram import diagram_lines, diagram_picture
from fieldkit.sheets.html import css_text, pages_html
from fieldkit.sheets.material import material_of
from fieldkit.sheets.page import (
    Bar,
    Column,
    Diagram,
    DrawnLine,
    Items,
    Lettering,
    Outline,
    Page,
    RackDrawing,
    RackSlot,
    RearSocket,
    Stickers,
    Table,
)
from fieldkit.sheets.phone import phone_html
from fieldkit.sheets.shapes import rack_pictures
from fieldkit.sheets.table_files import safe_cell, table_csv
from fieldkit.sheets.text import page_text
from fieldkit.text.widths import cells, wrapped

HOSTILE = (
    "<script>alert(1)</script>",
    "</style></script><b>bold",
    '=HYPERLINK("http://example.invalid","click")',
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    " =1+1",
    "＝1+1",
    "[/red] [bold]x",
    "{{ 7 * 7 }}{% raw %}",
    "\" onmouseover='x' & &amp; &#60;",
    "../../etc/passwd",
    "שלום עולם ⟵ مرحبا",
    "\u202egnp.exe",
    "👩\u200d🎤 ガイド",
    "a\nb\r\nc\td\x1b[31me\x07\x7f",
    "long " * 2000,
    "W" * 10_000,
    "%s %d {0} $(x) `x` \\x41 ;drop",
)
TOGETHER = 5
"""So many texts are written into one show."""


def hostile_show(texts):
    """Put each text wherever a show takes free text; a field that there is once has all of them, another one first."""
    quoted = ["".join(f"\\U{ord(mark):08x}" for mark in text) for text in texts]
    fields = ("name", "site", "contact", "note")
    about = "".join(
        f'{field} = "{" ".join((*quoted[turn % len(texts) :], *quoted[: turn % len(texts)]))}"\n'
        for turn, field in enumerate(fields)
    )
    show = ""
    for n, (text, typed) in enumerate(zip(texts, quoted, strict=True)):
        may_be_signal = "." not in text and not text.startswith("=")  # these marks join labels
        steps = (step("two", "5 m", f"B<{n}>"), step("two", "5 m", f"@B{n}"))
        show += (
            box(f"B<{n}>", more=f'side = "{typed}"\nnote = "{typed}"\n')
            + box(f"@B{n}", more=f'serial = "{typed}"\n')
            + AMP.replace('"A"', f'"A{n}"')
            + f'inputs = {{ 1 = "{typed if may_be_signal else "L"}" }}\nnote = "{typed}"\n'
            + run(f"-W&{n}", f"A{n}.A", *steps, more=f'note = "{typed}"\n')
            + f'[[stock]]\nmodel = "top"\nhired = 3\nhired_from = "{typed}"\nnote = "{typed}"\nout = 1\n'
            + f'[[readings]]\nline = "-W&{n}/1"\nvalue = "3 ohm"\nby = "{typed}"\n'
        )
    head, models = MODELS.split("[[", 1)
    return show_of(show, f"{head}[show]\n{about}[[{models}")


@pytest.mark.parametrize("first", range(0, len(HOSTILE), TOGETHER))
def test_whatever_somebody_typed_stays_text(first):
    """One writing for several texts, since it takes a while; then all that can be said about it."""
    texts = HOSTILE[first : first + TOGETHER]
    one = material_of(hostile_show(texts))
    written = files(one)
    file_names_are_the_programs_own(written, page_keys(one))
    read = Reader(written["sheets.html"])
    for text in texts:
        html_holds_texts_as_texts(text, written["sheets.html"], read)
    styles_are_closed_to_texts(written["sheets.html"])
    the_page_for_a_phone_holds_texts_as_data(one)
    text_stays_in_its_columns(written)
    tables_are_safe_to_open_and_read_back(written)


def html_holds_texts_as_texts(text, page, read):
    assert set(read.elements).isdisjoint({"script", "b/", "iframe", "img", "link", "object", "base", "form"})
    assert read.elements.count("style") == 1
    assert not [name for _, name, _ in read.attributes if name.startswith("on") or name == "src"]
    assert all(value.startswith("#") for _, name, value in read.attributes if name == "href")
    whole = " ".join("".join(read.texts).split())
    shown = " ".join("".join(m if m.isprintable() or m in "\u200c\u200d" else " " for m in text).split())
    if text.isprintable() and len(text) < 5000:
        assert shown in whole
    assert "\x1b" not in page
    assert "\u202e" not in page


def the_page_for_a_phone_holds_texts_as_data(one):
    page = phone_html(one, ())
    read = Reader(page)
    assert read.elements.count("script") == 2
    assert not [name for _, name, _ in read.attributes if name.startswith("on") or name in {"src", "href"}]
    data, script = re.findall(r"(?s)<script[^>]*>(.*?)</script>", page)
    assert set("<>&\u2028\u2029").isdisjoint(data)
    assert {label["id"] for label in json.loads(data)["labels"]} >= {box.id for box in one.show.boxes}
    [policy] = [value for _, name, value in read.attributes if name == "content" and "script-src" in value]
    hashed = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{hashed}';" in policy
    assert "default-src 'none'" in policy
    assert "\x1b" not in page
    assert "\u202e" not in page


def styles_are_closed_to_texts(page):
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)[1]
    assert "<" not in style
    assert "url(" not in style
    assert "@import" not in style
    assert len(re.findall(r"(?<!\\)\"", style)) % 2 == 0


def text_stays_in_its_columns(written):
    for name, text in written.items():
        if name.endswith(".txt"):
            lines = text.split("\n")
            assert max(cells(line) for line in lines) <= 80, name
            assert all(line.isprintable() or set(line) & set("\u200c\u200d") for line in lines), name


def tables_are_safe_to_open_and_read_back(written):
    for name, text in written.items():
        if name.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(text, newline="")))
            assert len({len(row) for row in rows}) == 1, name
            for row in rows:
                for cell in row:
                    number = re.fullmatch(r"-?\d+(\.\d+)?(e-?\d+)?", cell)
                    assert number or not cell.lstrip().startswith(tuple("=+-@＝＋－＠")), (name, cell[:40])


def file_names_are_the_programs_own(written, keys):
    places = {f"{key}.txt" for key in keys if key.startswith(("rack-", "stage-"))}
    assert set(written) - places <= set(sample_files("open_air"))
    assert {f"{key}.txt" for key in keys} <= set(written)
    assert all(re.fullmatch(r"[a-z0-9-]+\.(html|txt|csv)", name) for name in written)


def test_a_cell_reads_back_as_it_was():
    odd = ("a,b", 'say "x"', "two\nlines", "'quoted", "", "ü λ 漢", "x" * 10_000)
    found = Table("t", "T", (Column("first"), Column("number", "V")), tuple((text, -1.25) for text in odd))
    [head, *rows] = csv.reader(io.StringIO(table_csv(found), newline=""))
    assert head == ["first", "number (V)"]
    assert [row[0] for row in rows] == list(odd)
    assert {float(row[1]) for row in rows} == {-1.25}


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\t1", "\r1", "  =1", "＝1"])
def test_a_formula_gets_an_apostrophe(text):
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["1-1", "a=b", "W1/1", "", "'x", "−3 dB"])
def test_other_cells_stay(text):
    assert safe_cell(text) == text


def test_a_quoted_text_of_a_style_sheet():
    assert css_text('a"b\\</style>') == '"a\\000022b\\00005c\\00003c\\00002fstyle\\00003e"'


@pytest.mark.parametrize("name", samples.names())
def test_the_samples_as_tables_html_and_text(name):
    """One writing of a sample, and all that can be said about it."""
    pages, written = sample_pages(name), sample_files(name)
    every_table_on_a_page_is_in_its_file(pages, written)
    html_and_text_hold_all_that_is_on_a_page(pages, written)


def every_table_on_a_page_is_in_its_file(pages, written):
    for page in pages:
        for table in () if page.repeats else page.tables:
            [head, *rows] = csv.reader(io.StringIO(written[f"{table.name}.csv"], newline=""))
            assert head == [*(heading(column) for column in table.columns), *(["error"] if table.errors else [])]
            assert len(set(head)) == len(head)
            assert len(rows) == len(table.rows)


def html_and_text_hold_all_that_is_on_a_page(pages, written):
    read = Reader(written["sheets.html"])
    assert read.elements.count("section") == len(pages)
    assert "svg" in read.elements
    whole = " ".join(" ".join(read.texts).split())
    for page in pages:
        assert f"revision {page.mark}" in whole
        assert f"revision {page.mark}" in written[f"{page.key}.txt"]
        assert max(map(cells, written[f"{page.key}.txt"].split("\n"))) <= 80
        for block in page.printed:
            rows = block.rows if isinstance(block, Table) else block.items if isinstance(block, Items) else ()
            for row in rows:
                for cell in row:
                    assert not isinstance(cell, str) or " ".join(cell.split()) in whole


def test_the_same_show_gives_the_same_bytes_in_another_process():
    other_order = "1" if os.environ.get("PYTHONHASHSEED") != "1" else "2"
    script = (
        "import hashlib\nfrom fieldkit import samples\nfrom fieldkit.show.opening import open_show\n"
        "from fieldkit.sheets.material import material_of\nfrom fieldkit.sheets.collection import make_pages\n"
        "from fieldkit.sheets.folder import files_of\n"
        "files = files_of(make_pages(material_of(open_show(samples.folder() / 'open_air.toml').show)))\n"
        "print(hashlib.sha256(repr(files).encode()).hexdigest())"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONHASHSEED": other_order},
    )
    own = repr(dict(sample_files("open_air")))
    assert done.stdout.strip() == hashlib.sha256(own.encode()).hexdigest()


def test_the_mark_follows_from_the_content_alone():
    one, pages = sample("village_hall"), sample_pages("village_hall")
    assert [page.mark for page in make_pages(material_of(one.show))] == [page.mark for page in pages]
    assert len({page.mark for page in pages}) == len(page_keys(one))
    assert make_page(one, "cautions").mark == pages[page_keys(one).index("cautions")].mark


def test_all_that_a_slot_of_one_unit_says_is_drawn_and_written():
    sockets = tuple(RearSocket(str(n), "in", (f"L{n}.in{n}",)) for n in range(1, 9))
    slot = RackSlot(
        3, 1, "U1", ("a-model-with-a-long-name", "serial 12345"), (*sockets, RearSocket("A", "out", ("W1-A",)))
    )
    face = RackDrawing("R, rear", 4, (slot,))
    drawn = [shape.text for part in rack_pictures(face) for kind, shape in part.shapes if kind == "label"]
    text = page_text(Page("t", "T", (face,)))
    for said in ("a-model-with-a-long-name", "serial 12345", "L8.in8", "W1-A"):
        assert said in drawn
        assert said in text
    for part in rack_pictures(face):
        assert all(shape.y <= part.height for kind, shape in part.shapes if kind == "label")


def test_the_small_text_of_a_sticker_is_set_smaller_where_there_is_much_of_it():
    few, many = ("into A socket A", "W1/1 A.1"), tuple(f"W{n}/{n} FX.{n}, a cable of some length" for n in range(9))
    written = pages_html((Page("t", "T", (Stickers("S", 63.0, 36.0, (("W1-A", few), ("W2-A", many))),)),))
    first, second = written.split("W2-A")
    assert "<span>into A socket A" in first
    small = float(re.search(r'<span style="font-size:([\d.]+)mm">W0/0', second)[1])
    # Own, worked by hand: 9 lines of 1.25 and a name of 9 mm · 1.1 in 32 mm leave 1.96 mm for a letter at the most.
    assert 1.4 <= small <= 1.97


def test_a_diagram_is_the_same_on_a_terminal_and_on_paper():
    marks = (Outline(0, 0, 12, 3), Lettering(2, 1, "漢 A"), Bar(20, 1, 10, 0.5), DrawnLine(((14, 0), (14, 2), (16, 2))))
    one = Diagram("D", 3, marks)
    # Own, worked by hand: half of the 8 cells within the bar's ends are filled; the wide letter takes two cells.
    assert list(diagram_lines(one)) == [
        "+----------+  |",
        "| 漢 A     |  |     [####....]",
        "+----------+  +--",
    ]
    shapes = diagram_picture(one).shapes
    full = next(shape for kind, shape in shapes if kind == "frame" and shape.style == "full")
    assert (full.x, full.width) == (pytest.approx(20 * 6.7), pytest.approx(5 * 6.7))
    assert [kind for kind, _ in shapes] == ["frame", "label", "frame", "frame", "stroke", "stroke"]


def test_words_are_broken_where_they_may_be():
    assert wrapped("one two three", 7) == ["one two", "three"]
    assert wrapped("three-way-large", 10) == ["three-way-", "large"]
    assert wrapped("", 5) == [""]
    assert wrapped("漢字漢字漢", 4) == ["漢字", "漢字", "漢"]
    assert [cells(line) for line in wrapped("x" * 25, 10)] == [10, 10, 5]


GOLDEN = """\
Golden
T                                                              revision 01234567
================================================================================

Two columns
-----------
  what  watts (W)
SR
  low         350
  high         60
DP
  sub          90
"""


def test_a_small_page_as_text():
    rows = (("SR", "low", 350), ("SR", "high", 60.0), ("DP", "sub", 90.04))
    columns = (Column("group"), Column("what"), Column("watts", "W"))
    table = Table("t", "Two columns", columns, rows, grouped=True)
    assert page_text(Page("t", "T", (table,), "Golden", "01234567")) == GOLDEN


WIRED = """\
W9: FX.C to DFS DFT
-------------------
 1  2
 +  +   [FX socket C]
 |  |     pair 1 from FX.3: sub
 |  |     pair 2 from FX.4: full
 |  |    15 m four-core-2.5
 |  |     W9-A into FX socket C
 |  |     W9-B into DFS input
 |  |     4-pole to 4-pole, 4 cores of 2.5 mm²
 O  |   [DFS sub-single-15-inch]
 |  |     sub on pair 1, preset sub-any
 |  |     drum-fill drums, goes on at its link
 x  x    adaptor pair-crossing
 |  |     4-pole to 4-pole, pair 1 to pair 2, pair 2 to pair 1
 |  |    2 m four-core-2.5
 |  |     W9-C into adaptor pair-crossing
 |  |     W9-D into DFT input
 |  |     4-pole to 4-pole, 4 cores of 2.5 mm²
 O  |   [DFT two-way-12-inch]
          full on pair 1, preset passive-with-sub
          switch on the box: passive
          drum-fill drums, end of the run
"""


def test_a_run_as_text():
    """Own, read off the show by hand: the adaptor lets the top behind the sub take pair 2 on its pair 1."""
    assert WIRED in page_text(make_page(sample("open_air"), "wiring"))
