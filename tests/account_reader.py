"""A literal reader of written sheets: it knows words and numbers, and nothing of the program.

It reads pages as a person does (headings, bullets, wrapped lines) and notes every figure by the output or host that it
stands under, its label and its unit; and it obeys the settings page to the letter, as a hand at a host would.
"""

import csv
import io
import re
from collections import defaultdict

UNITS = "dBFS|dBu|dBV|dB|V rms|V peak|V|ms|samples at [0-9.]+ kHz|m"
FIGURE = re.compile(rf"([a-z][a-z ]*?) ([+-]?[0-9.]+) ({UNITS})((?: = [+-]?[0-9.]+ (?:{UNITS}))*)(?=[,;( :]|$)")
MORE = re.compile(rf" = ([+-]?[0-9.]+) ({UNITS})")
HEAD = re.compile(r"^([^\s:]+)(?: to ([^:]+))?: (.+)")
LABELS = ("limiter", "in all", "on top", "gain to the posts", "full output", "clips from", "fast attack",
          "fast release", "preset gain", "preset delay")  # fmt: skip


def items(text):
    """Give the bulleted items of a page: each a list of its lines, unwrapped."""
    found = []
    for line in text.splitlines():
        if line.startswith("* "):
            found.append([line[2:]])
        elif line.startswith("    - ") and found:
            found[-1].append(line[6:])
        elif line.startswith("  ") and found and line.strip():
            found[-1][-1] += " " + line.strip()
        elif not line.strip():
            continue
        else:
            found.append(["", line])  # a heading or a paragraph ends an item
    return [item for item in found if item[0]]


def figures(text):
    """Find figures with a label: ``gain in all -5.0 dB``; what stands in brackets is where it comes from."""
    text = re.sub(r"\([^()]*(?:\([^()]*\)[^()]*)*\)", "", text)
    for match in FIGURE.finditer(text):
        label = match[1].strip()
        yield label, float(match[2]), match[3]
        for more in MORE.finditer(match[4]):
            yield label, float(more[1]), more[2]


def said_of(lines, host, note):
    """Note the figures of one item: of its host, or of the outputs that a line names first."""
    for line in lines:
        names, what = [host], ""
        reads = re.match(r"^(?:(.+) )?reads? back: (.*)", line)
        if reads and reads[1]:
            names = reads[1].split()
        text = reads[2] if reads else line.removeprefix("set at the amplifier: ").removeprefix("set ")
        text = text.split(" brings: ")[-1]
        brings = " brings: " in line
        for limiter in re.finditer(r"(slow|fast) limiter (?=at the posts|in the host)", text):
            what = limiter[0]
        for label, value, unit in figures(text):
            full = f"{what}{label}" if label.startswith(("at the ", "in the ")) else label
            full = f"preset {full}" if brings else full
            if any(word in full for word in LABELS):
                for name in names:
                    note(name, full, value, unit)


def obey(lines):
    """Do what an item says at its host, and nothing else: load the preset, then what is to be set on top of it."""
    gain = delay = 0.0
    inverted = False
    for line in lines:
        if line.startswith("preset ") and " brings: " in line:
            brought = {
                label: value for label, value, unit in figures(line.split(" brings: ")[1]) if unit in ("dB", "ms")
            }
            gain, delay = brought.get("gain", 0.0), brought.get("delay", 0.0)
            inverted = "polarity inverted" in line
        elif line.startswith("set "):
            for label, value, unit in figures(line.removeprefix("set ")):
                if label.startswith("gain"):
                    gain += value
                elif label.startswith("delay") and unit == "ms":
                    delay += value
            inverted ^= "polarity turn over" in line
    return gain, delay, inverted


class Account:
    """Every figure that was read, by output or host, label and unit, with where it stood."""

    def __init__(self):
        self.read = defaultdict(list)
        self.done = {}

    def note(self, name, label, value, unit, where):
        """Note a figure."""
        self.read[name, label.strip(), unit].append((value, where))

    def settings_page(self, text):
        """Read the page of settings as text."""
        for item in items(text):
            head = HEAD.match(item[0])
            if head is None:
                continue
            host = head[1]
            said_of(item[1:], host, lambda *args: self.note(*args, "settings page"))
            if any("reads back: gain in all" in line for line in item):
                self.done[host] = obey(item[1:])

    def card(self, host, lines):
        """Read the settings on a card of one output."""
        where = f"card of {host}"
        said_of([line.strip() for line in lines], host, lambda *args: self.note(*args, where))

    def lines(self, text):
        """Read what the command ``lines`` prints."""
        for block in text.split("\n\n"):
            name, told = block.split(" ", 1)[0], re.sub(r"\n {4,}", " ", block)
            for line in told.splitlines():
                found = re.match(r"^ +(slow|fast) limiter (held by the preset|to set, [^:]*): (.*)", line)
                if found and "nothing here" not in found[2]:
                    what = f"{found[1]} limiter"
                    own = f"preset {what}" if found[2].startswith("held") else what
                    first, *acts = found[3].split("; ")
                    for label, rest in ((own, first), *((f"{what} {act}", "") for act in acts)):
                        for quantity, value, unit in figures(f"{label} {rest}".strip()):
                            self.note(name, quantity, value, unit, "lines")

    def table(self, name, text, key):
        """Read a table of a spreadsheet by its headings."""
        for row in csv.DictReader(io.StringIO(text)):
            for heading, value in row.items():
                found = re.match(rf"^(.*?) \(({UNITS})\)$", heading)
                if found and value not in ("", None):
                    label = found[1].removeprefix("set ")
                    self.note(row[key].removesuffix(" (assumed)"), label, float(value), found[2], name)

    def account(self, name, account):
        """Read the account of an output as an object of ``lines --json``."""
        for part in ("preset_brings", "you_set", "reads_back"):
            for entry in account[part]:
                for item in ({"value": entry["value"], "unit": entry["unit"]}, *entry["also"]):
                    if not isinstance(item["value"], str):
                        self.note(name, entry["quantity"], item["value"], item["unit"], "lines --json")

    def clashes(self, hosts):
        """List the labels that have two numbers; ``hosts`` says on which host an output is set."""
        merged = defaultdict(list)
        for (name, label, unit), values in self.read.items():
            merged[name, label, unit] += values
            for output, host in hosts.items():
                if host == name and output != name:
                    merged[output, label, unit] += values
        for (name, label, unit), values in merged.items():
            numbers = [value for value, _ in values]
            if max(numbers) - min(numbers) > tolerance(unit, max(map(abs, numbers))):
                yield name, label, unit, values


def tolerance(unit, size):
    """Half the last digit that is printed, twice: two figures may be rounded apart."""
    if unit.startswith("dB"):
        return 0.11
    if unit.startswith("samples"):
        return 1.01
    return 0.011 if unit in ("ms", "m") else 0.011 * size
