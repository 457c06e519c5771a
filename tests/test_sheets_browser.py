"""The HTML file in a real browser, where the system has one: on a phone, and printed on A4 and Letter."""

import html
import os
import re
import shutil
import subprocess

import pytest
from budget import drawn
from rigs import AMP, box, run, step
from sheet_tools import files, material, sample, sample_files

from fieldkit.sheets.collection import make_pages
from fieldkit.sheets.material import material_of
from fieldkit.sheets.phone import phone_html
from fieldkit.show.edits import changed, find, with_thing

BROWSER = next(
    (
        found
        for name in (os.environ.get("FIELDKIT_BROWSER", ""), "chromium", "chromium-browser", "chrome")
        if name and (found := shutil.which(name))
    ),
    None,
)
needs_browser = pytest.mark.skipif(
    BROWSER is None, reason="no chromium on this system (FIELDKIT_BROWSER may name another browser of that kind)"
)
needs_poppler = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="no pdftotext (poppler) on this system, to read what was printed"
)
PHONE = 390
MM = 72 / 25.4
SIZES = {"A4": (210 * MM, 297 * MM), "Letter": (8.5 * 72, 11 * 72)}  # ISO 216; ANSI/ASME Y14.1 size A

LONG_NAMES = (
    box("B" * 64, more=f'note = "{"w" * 3000}"\n')
    + box("C" * 64)
    + AMP
    + run("W" * 64, "A.A", step("two", "20 m", "B" * 64), step("two", "20 m", "C" * 64))
)


def browse(folder, *options):
    """Run the browser once, with a profile of its own."""
    assert BROWSER is not None
    done = subprocess.run(
        [
            *(BROWSER, "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run"),
            *("--disable-background-networking", f"--user-data-dir={folder / 'profile'}", *options),
        ],
        capture_output=True,
        text=True,
        timeout=90,
        check=True,
    )
    return done.stdout


MEASURE = """<script>
addEventListener('load', () => {
  const told = [];
  for (const frame of document.querySelectorAll('iframe')) {
    const page = frame.contentDocument.documentElement;
    told.push(page.clientWidth + ' ' + page.scrollWidth + ' ' + frame.contentDocument.images.length);
  }
  document.body.textContent = 'measured ' + told.join(', ') + ' end';
});
</script>"""


@needs_browser
def test_a_phone_shows_every_page_without_scrolling_sideways(tmp_path):
    names = drawn(("open_air", "mistakes", "school_musical"), 1)
    written = [sample_files(name)["sheets.html"] for name in names]
    written.append(files(material(LONG_NAMES))["sheets.html"])
    frames = "".join(
        f'<iframe style="width:{PHONE}px;height:800px;border:0" srcdoc="{html.escape(text)}"></iframe>'
        for text in written
    )
    page = tmp_path / "phone.html"
    page.write_text(f"<!DOCTYPE html><body>{frames}{MEASURE}</body>", encoding="utf-8")
    shown = browse(tmp_path, "--virtual-time-budget=10000", "--dump-dom", page.as_uri())
    measured = re.search(r"measured (.*?) end", shown)
    assert measured, shown[:500]
    for width in measured[1].split(", "):
        inner, needed, images = map(int, width.split())
        assert needed <= inner <= PHONE
        assert images == 0


ASK = """<script>
const told = [];
const wait = () => new Promise((done) => setTimeout(done, 30));
async function drive() {
  const page = document.querySelector('iframe').contentDocument, win = page.defaultView;
  const asked = page.getElementById('asked'), view = page.getElementById('view');
  const say = (what) => told.push(what + '=' + view.innerText.replace(/\\s+/g, ' '));
  const type = (text) => { asked.value = text; asked.dispatchEvent(new win.Event('input', {bubbles: true})); };
  const back = async () => { view.querySelector('button.back').click(); await wait(); await wait(); };
  told.push('colours=' + win.getComputedStyle(page.body).backgroundColor);
  type('w7-'); say('typed');
  type('w7-b');
  page.getElementById('ask').dispatchEvent(new win.Event('submit', {bubbles: true, cancelable: true}));
  await wait(); say('card');
  [...view.querySelectorAll('a')].find((link) => link.textContent === 'FL1').click();
  await wait(); say('followed');
  await back(); say('back');
  type(''); await wait();
  [...view.querySelectorAll('a')].find((link) => link.textContent.startsWith('Rig check: At the rack')).click();
  await wait(); say('table');
  await back(); say('start');
  type('<img'); say('hostile');
  told.push('wide=' + page.documentElement.scrollWidth + ' images=' + page.images.length);
  told.push('small=' + [...page.querySelectorAll('a.row, button, input')].filter((one) => one.offsetHeight < 44).length);
}
addEventListener('load', async () => {
  try { await drive(); } catch (error) { told.push('failed=' + error); }
  document.body.textContent = 'measured ' + told.join(' @@ ') + ' @@end';
});
</script>"""


@needs_browser
def test_a_phone_takes_a_label_and_answers(tmp_path):
    """At 390 px, from a file: type, answer, follow a label, go back, leaf through a table; nothing typed is markup."""
    show = sample("open_air").show
    noted = changed(find(show, "boxes", "FL1"), note="<img src=x onerror=alert(1)> </script>")
    one = material_of(with_thing(show, "boxes", noted))
    (tmp_path / "ask.html").write_text(phone_html(one, make_pages(one, ["rig-check"])), encoding="utf-8")
    page = tmp_path / "outer.html"
    frame = f'<iframe style="width:{PHONE}px;height:844px;border:0" src="ask.html"></iframe>'
    page.write_text(f"<!DOCTYPE html><body>{frame}{ASK}</body>", encoding="utf-8")
    options = ("--allow-file-access-from-files", "--virtual-time-budget=10000", "--dump-dom")
    shown = html.unescape(browse(tmp_path, *options, page.as_uri()))
    measured = re.search(r"measured (.*?) @@end", shown, re.DOTALL)
    assert measured, shown[:500]
    told = dict(part.split("=", 1) for part in measured[1].split(" @@ "))
    assert "failed" not in told, told
    assert told["colours"] == "rgb(0, 0, 0)"
    assert "W7-A" in told["typed"]
    assert "plugs into: FL1 input" in told["card"]
    assert "meter at the amplifier, plug pulled: 3.08 Ω DC" in told["card"]
    assert "note: <img src=x onerror=alert(1)> </script>" in told["followed"]
    assert "plugs into: FL1 input" in told["back"]
    assert "line W7/1" in told["table"]
    assert "All labels" in told["start"]
    width, images = re.fullmatch(r"(\d+) images=(\d+)", told["wide"]).groups()
    assert (int(width) <= PHONE, images, told["small"]) == (True, "0", "0")


def printed(folder, name):
    """Print the open-air sample, and read the words of each sheet of paper with their places in points."""
    page, pdf = folder / "sheets.html", folder / "sheets.pdf"
    text = sample_files("open_air")["sheets.html"]
    sized = text.replace("@page { margin", f"@page {{ size: {name}; margin", 1)
    sized = sized.replace("size: landscape", f"size: {name} landscape")  # a printer's dialogue says which paper
    assert sized != text
    page.write_text(sized, encoding="utf-8")
    browse(folder, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", page.as_uri())
    done = subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, text=True, timeout=60, check=True
    ).stdout
    sheets = []
    for sheet in re.findall(r"<page .*?</page>", done, re.DOTALL):
        size = tuple(map(float, re.search(r'<page width="([\d.]+)" height="([\d.]+)"', sheet).groups()))
        words = re.findall(
            r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>', sheet
        )
        sheets.append((size, [(*map(float, word[:4]), html.unescape(word[4])) for word in words]))
    return sheets


@needs_browser
@needs_poppler
@pytest.mark.parametrize("name", drawn(SIZES, 1))
def test_on_paper(name, tmp_path):
    """One printing a size of paper, since it takes seconds; then all that can be said about it."""
    sheets = printed(tmp_path, name)
    assert len(sheets) > 20
    nothing_is_cut(sheets, SIZES[name])
    pages_end_between_runs(sheets)
    every_sheet_says_its_revision_and_number(sheets)
    lids = sum("the lid, revision" in " ".join(word[4] for word in words) for _, words in sheets)
    assert lids == 1  # twenty outputs and fifteen runs still go inside one lid


def nothing_is_cut(sheets, paper):
    across = 0
    for size, words in sheets:
        across += size[0] > size[1]  # the settings of a rack
        assert sorted(size) == pytest.approx(sorted(paper), abs=1.0)
        for left, top, right, bottom, word in words:
            assert left >= 8 * MM, word
            assert right <= size[0] - 8 * MM, word
            assert top >= 8 * MM, word
            assert bottom <= size[1] - 3 * MM, word  # the line at the foot stands in the margin
    assert across


def pages_end_between_runs(sheets):
    """Each drawing begins with its run's label and ends with "end of the run": both are on the same sheet of paper."""
    seen = 0
    for _, words in sheets:
        texts = [word[4] for word in words]
        if "Stage:" in texts:  # at the foot of each sheet
            ended = " ".join(texts).count("end of the run")
            assert ended == sum(re.fullmatch(r"W\d+:", text) is not None for text in texts)
            seen += ended
    assert seen == len(sample("open_air").show.runs)


def every_sheet_says_its_revision_and_number(sheets):
    for number, (size, words) in enumerate(sheets, start=1):
        foot = " ".join(word[4] for word in words if word[1] > size[1] - 14 * MM)
        assert re.search(r"revision [0-9a-f]{8}", foot), foot
        assert f"{number} / {len(sheets)}" in foot
