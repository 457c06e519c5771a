"""What the tests of the sheets have in common: a material from text, tables by name, HTML read with a plain parser."""

from functools import cache
from html.parser import HTMLParser
from types import MappingProxyType

from rigs import show_of

from fieldkit import samples
from fieldkit.sheets.collection import make_page, make_pages
from fieldkit.sheets.folder import FORMATS, files_of
from fieldkit.sheets.material import material_of
from fieldkit.show.opening import open_show

VOID = {"meta", "line", "rect", "circle", "br", "hr", "img", "input", "link"}


@cache
def sample(name, units=None):
    """Give the material of a sample, the same to every test: pages only read it."""
    return material_of(open_show(samples.folder() / f"{name}.toml").show, units)


def material(text, units=None):
    return material_of(show_of(text), units)


def table(material, page, name):
    """Give the rows of a table as dicts by heading; headings that occur twice keep their last."""
    [found] = [table for table in make_page(material, page).tables if table.name == name]
    return [dict(zip((column.title for column in found.columns), row, strict=True)) for row in found.rows]


def files(material, names=None, older=None, formats=FORMATS):
    return files_of(make_pages(material, names, older), formats)


@cache
def sample_pages(name):
    """Make all pages of a sample, once for all tests, since what to do if a unit fails takes seconds."""
    return make_pages(sample(name))


@cache
def sample_files(name):
    """Write all pages of a sample, once for all tests."""
    return MappingProxyType(files_of(sample_pages(name)))


class Reader(HTMLParser):
    """Reads HTML strictly: each element is closed in its turn."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.stack, self.texts, self.attributes, self.elements = [], [], [], []
        self.feed(text)
        self.close()
        assert not self.stack, self.stack

    def handle_starttag(self, tag, attrs):
        self.elements.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag not in VOID:
            self.stack.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]

    def handle_endtag(self, tag):
        assert self.stack.pop() == tag, (tag, self.getpos())

    def handle_data(self, data):
        self.texts.append(data)
