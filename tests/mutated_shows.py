"""Shows with something missing, empty, extreme or hostile, made from TOML tables; apart from the product's own code.

``variants`` changes one thing of a document at a time, ``mangled`` its text; ``try_all`` runs the commands and cards on
what came out. Whatever loads, each must do or refuse in one line; what does not is given back as a ``Fault``.
"""

from __future__ import annotations

import contextlib
import copy
import io
import json
import random
import re
import tempfile
import tomllib
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from fieldkit import samples
from fieldkit.checks.checking import check
from fieldkit.commands import cli
from fieldkit.reports.cards import card, labels
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.sheets.collection import PAGES
from fieldkit.show.errors import ShowError
from fieldkit.show.opening import open_show
from fieldkit.text.style import Style

Document = dict[str, Any]
Path_ = tuple[Any, ...]

HOSTILE = ("", "[b]", "[/]", "🎚️🔊", "شو", "a\u202eb", "x" * 10_000, "=1+1", "../../etc", "SR-1.3+4", "a\tb")
NUMBERS = ("0", "1e6", "0.001", "-1", "1")
QUANTITY = re.compile(r"-?[0-9.]+(?= ?[^0-9.]*\Z)")

HAND = {
    "nothing": "",
    "an unknown box": """
zones = [{ id = "z" }]
boxes = [{ id = "B", zone = "z", unknown = { impedance = "8 ohm", continuous = "200 W" } }]
""",
    "self-powered only": """
loudspeakers = [{ id = "p", sections = [{ drive = "self-powered", section = "full", continuous = "400 W" }] }]
zones = [{ id = "z", signals = { left = "mix 1" } }]
boxes = [{ id = "B", model = "p", zone = "z" }, { id = "C", model = "p", zone = "z", supply = "S" }]
supplies = [{ id = "S", volts = "230 V", rating = "16 A", feeder = { length = "20 m", area = "2.5 mm²" } }]
""",
    "no runs": """
loudspeakers = [{ id = "t", sections = [{ drive = "passive", section = "full", impedance = "8 ohm", continuous = "200 W" }] }]
amplifiers = [{ id = "a", channels = 2, powers = [{ load = "8 ohm", power = "300 W" }] }]
zones = [{ id = "z" }]
boxes = [{ id = "B", model = "t", zone = "z" }]
rack_units = [{ id = "A", model = "a" }]
""",
    "a run plugged nowhere": """
amplifiers = [{ id = "a", channels = 2, powers = [{ load = "8 ohm", power = "300 W" }] }]
loudspeakers = [{ id = "t", sections = [{ drive = "passive", section = "full", impedance = "8 ohm", continuous = "200 W" }] }]
cables = [{ id = "c", cores = 2, area = "2.5 mm²" }]
zones = [{ id = "z" }]
boxes = [{ id = "B", model = "t", zone = "z" }, { id = "U", zone = "z", unknown = { impedance = "4 ohm", continuous = "100 W" } }]
rack_units = [{ id = "A", model = "a" }]
runs = [
    { id = "W", from = "", path = [{ cable = "c", length = "10 m", box = "B" }] },
    { id = "V", from = "A.1", feeds = { 1 = "A.1" }, path = [{ cable = "c", length = "0 m", box = "U" }] },
]
""",
    "a rack as built": """
amplifiers = [{ id = "a", channels = 2, powers = [{ load = "8 ohm", power = "300 W" }], connectors = { A = { 1 = "1", 2 = "2" } } }]
processors = [{ id = "d", inputs = 1, outputs = 2, hosts = { presets = ["any"] } }]
cables = [{ id = "c", cores = 2, area = "12 AWG" }]
loudspeakers = [{ id = "t", sections = [{ drive = "passive", section = "sub", impedance = "8 ohm", continuous = "300 W", vented = true }] }]
built_racks = [{ id = "r", units = 6, contents = [{ model = "a" }, { model = "d" }], panel = { X = { 1 = "1.1" } }, wiring = { length = "2 m", area = "2.5 mm²" } }]
zones = [{ id = "z" }]
boxes = [{ id = "B", model = "t", zone = "z" }]
racks = [{ id = "R", as_built = "r" }]
runs = [{ id = "W", from = "R.X", path = [{ cable = "c", length = "10 m", box = "B" }] }]
readings = [{ line = "W/1", value = "open" }]
log = [{ kind = "noise", at = "B" }]
""",
}


class Fault(NamedTuple):
    """What did not do and did not refuse in one line."""

    what: str
    error: str

    @property
    def cause(self) -> str:
        """The last line of the traceback and where it was raised, so that the same fault counts once."""
        places = re.findall(r'File ".*?/fieldkit/(.*?)", line (\d+)', self.error)
        where = ":".join(places[-1]) if places else ""
        last = self.error.strip().splitlines()[-1][:100]
        return f"{where} {re.sub(r'[0-9.]+', 'N', last)}"


def documents() -> dict[str, Document]:
    """Give the samples and the small shows made by hand, as tables."""
    found = {name: tomllib.loads(text) for name, text in HAND.items()}
    for path in sorted(samples.folder().glob("*.toml")):
        found[path.stem] = tomllib.loads(path.read_text(encoding="utf-8"))
    for document in found.values():
        document.setdefault("format", 1)
    return found


def to_toml(document: Document) -> str:
    """Write tables as TOML, everything but the top inline."""
    return "".join(f"{_key(name)} = {_value(value)}\n" for name, value in document.items())


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(name)} = {_value(item)}" for name, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=True).replace("\\ud83c\\udf9a\\ufe0f\\ud83d\\udd0a", "🎚️🔊")
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def places(value: Any, path: Path_ = ()) -> Iterator[Path_]:
    """Go to every key and row of a document."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in items:
        yield (*path, key)
        yield from places(item, (*path, key))


def changed(document: Document, path: Path_, change: str | None, new: Any = None) -> Document | None:
    """Give a document with one place removed, doubled or with another value; None where the place is gone."""
    result = copy.deepcopy(document)
    at: Any = result
    try:
        for key in path[:-1]:
            at = at[key]
        if change == "remove":
            del at[path[-1]]
        elif change == "double":
            at.append(copy.deepcopy(at[path[-1]]))
        else:
            at[path[-1]] = new
    except (KeyError, IndexError, TypeError, AttributeError):
        return None
    return result


def changes(document: Document) -> Iterator[tuple[Path_, str, Any]]:
    """List single changes of a document: each place removed, emptied, extreme, hostile."""
    for path in places(document):
        value: Any = document
        for key in path:
            value = value[key]
        yield path, "remove", None
        if isinstance(path[-1], int):
            yield path, "double", None
        if isinstance(value, (dict, list)):
            yield path, "empty", type(value)()
        elif isinstance(value, bool):
            yield path, "other", not value
        elif isinstance(value, int):
            for number in (0, 1, 2, 97, -1):
                yield path, "number", number
        elif isinstance(value, str):
            if QUANTITY.match(value):
                for number in NUMBERS:
                    yield path, "quantity", QUANTITY.sub(number, value, count=1)
            for text in HOSTILE:
                yield path, "text", text


def renamed(document: Document, old: str, new: str) -> Document:
    """Give a document in which a name is another one wherever it stands, also as a part: ``AMP.1``."""

    def walk(value: Any) -> Any:
        if isinstance(value, dict):
            return {walk(key): walk(item) for key, item in value.items()}
        if isinstance(value, list):
            return [walk(item) for item in value]
        if isinstance(value, str) and re.match(rf"{re.escape(old)}(?![A-Za-z0-9_])", value):
            return new + value[len(old) :]
        return value

    return walk(document)


def variants(document: Document, chance: random.Random, pairs: int) -> Iterator[tuple[str, Document]]:
    """Give a document with one change, for every change that it has; then with pairs of them at random."""
    singles = list(changes(document))
    chance.shuffle(singles)
    singles.sort(key=lambda single: single[1] != "remove")
    for path, how, new in singles:
        result = changed(document, path, how, new)
        if result is not None:
            yield f"{how} {_dotted(path)} {str(new)[:20]!r}", result
    for _ in range(pairs):
        first, second = chance.choice(singles), chance.choice(singles)
        one = changed(document, *first)
        both = one and changed(one, *second)
        if both is not None:
            yield f"{first[1]} {_dotted(first[0])} and {second[1]} {_dotted(second[0])}", both
    for thing in [item for table in document.values() if isinstance(table, list) for item in table]:
        if isinstance(thing.get("id"), str):
            new = chance.choice(HOSTILE)
            yield f"rename {thing['id']} to {new[:10]!r}", renamed(document, thing["id"], new)


def _dotted(path: Path_) -> str:
    return ".".join(map(str, path))


def mangled(text: str, chance: random.Random) -> str:
    """Give a text with a few characters or lines removed, doubled, exchanged or put in."""
    for _ in range(chance.randint(1, 3)):
        lines = text.splitlines(keepends=True)
        if not lines:
            return text
        place, other = chance.randrange(len(lines)), chance.randrange(len(lines))
        at = chance.randrange(len(text))
        how = chance.randrange(7)
        if how == 0:
            del lines[place]
            text = "".join(lines)
        elif how == 1:
            lines.insert(other, lines[place])
            text = "".join(lines)
        elif how == 2:
            lines[place], lines[other] = lines[other], lines[place]
            text = "".join(lines)
        elif how == 3:
            text = text[:at] + text[at + chance.randint(1, 8) :]
        elif how == 4:
            text = text[:at] + chance.choice("\"'[]{}=,.#\n\\0159-+eE /\0\u202e🎚\ufeff\r") + text[at:]
        elif how == 5:
            text = text[:at] + chance.choice('"[]{}=,.0159-+aZ \n') + text[at + 1 :]
        else:
            numbers = list(re.finditer(r"[0-9]+", text))
            if numbers:
                found = chance.choice(numbers)
                text = text[: found.start()] + chance.choice(("0", "1e6", "999", "00", "-1")) + text[found.end() :]
    return text


OBSERVED = (
    *(("--heard", f"{{box}}={word}") for word in ("silent", "quiet", "no-low", "no-high", "distorted", "crackle", "hum", "normal")),
    *(("--lights", f"{{output}}={word}") for word in ("off", "on", "signal", "limit", "protect", "mute")),
    *(("--polarity", f"{{box}}={word}") for word in ("planned", "reversed")),
    *(("--reading", f"{{box}}:1={word}") for word in ("3.4ohm", "open", "short", "8ohm:1khz")),
    *(("--looked", f"{{box}}={word}") for word in ("right", "wrong")),
    ("--looked", "amp=wrong"),
    ("--swapped", "cable=moved"), ("--swapped", "output=stayed"), ("--swapped", "box=moved"),
    ("--tried", "replace the lead to {box}"),
    ("--worked-before",), ("--running",), ("--doors", "20min"),
)  # fmt: skip


def command_lines(rig: Rig, file: str, folder: str, chance: random.Random, *, slow: bool) -> Iterator[list[str]]:
    """List the command lines to try on a show that loads."""
    for word in ("check", "lines", "mains", "readings"):
        yield [word, file]
        yield [word, file, "--json"]
    yield [file]
    yield ["lines", file, "--why"]
    yield ["lines", file, "--json", "--why"]
    sheets = ["sheets", file, "-o", f"{folder}/sheets", "--units", chance.choice(("metric", "imperial"))]
    quick = ",".join(name for name in PAGES if name != "if-it-fails")  # which plans a fail-over of every unit
    yield sheets if slow else [*sheets, "--pages", quick, "--formats", chance.choice(("html", "text", "csv"))]
    boxes = [box.id for box in rig.show.boxes]
    if boxes:
        box = chance.choice(boxes)
        output = chance.choice([item.output.id for item in rig.outputs] or ["none.1"])
        observed = OBSERVED if slow else (chance.choice(OBSERVED),)
        for words in observed:
            said = [word.replace("{box}", box).replace("{output}", output) for word in words]
            yield ["triage", file, box, *said, *(["--json"] if chance.random() < 0.5 else [])]
    if slow:
        yield ["assign", file]
        names = [unit.id for unit in rig.show.rack_units]
        failed = [
            *names,
            *(item.id for item in (*rig.show.supplies, *rig.show.boxes)),
            *(o.output.id for o in rig.outputs),
        ]
        for name in {*names[:4], *(chance.sample(failed, min(2, len(failed))))}:
            yield ["failover", file, "--failed", name]


class Tried(NamedTuple):
    """What came of trying: whether it loaded, and the faults."""

    loads: bool
    faults: list[Fault]


def try_all(text: str, chance: random.Random, *, slow: bool = False, screens: Any = None) -> Tried:
    """Load a text, and if it loads run every command and card on it."""
    faults: list[Fault] = []
    with tempfile.TemporaryDirectory() as folder:
        file = f"{folder}/show.toml"
        Path(file).write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            opened = open_show(file)
        except ShowError:
            faults += _ran(["check", file], refused=True)
            return Tried(loads=False, faults=faults)
        except Exception:  # noqa: BLE001
            return Tried(loads=False, faults=[Fault("open", traceback.format_exc())])
        try:
            rig = evaluate(opened.show)
        except Exception:  # noqa: BLE001
            return Tried(loads=True, faults=[Fault("evaluate", traceback.format_exc())])
        for words in command_lines(rig, file, folder, chance, slow=slow):
            faults += _ran(words)
        faults += _cards(rig)
        if screens is not None:
            try:
                screens(file)
            except BaseException:  # noqa: BLE001
                faults.append(Fault("screens", traceback.format_exc()))
    return Tried(loads=True, faults=faults)


def _ran(words: list[str], *, refused: bool = False) -> list[Fault]:
    out, err = io.StringIO(), io.StringIO()
    what = " ".join(words)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = cli.run(words)
    except BaseException:  # noqa: BLE001
        return [Fault(what, traceback.format_exc())]
    said = err.getvalue()
    if not out.getvalue() and (status == 0 or said.count("\n") != 1):
        return [Fault(what, f"status {status} with {said[:300]!r}")]
    if status not in {0, 1, 2} or (refused and status != 2):
        return [Fault(what, f"status {status}")]
    if "--json" in words and out.getvalue():
        try:
            json.loads(out.getvalue())
        except ValueError:
            return [Fault(what, f"no JSON: {out.getvalue()[:200]!r}")]
        if re.search(r"\b(NaN|Infinity)\b", out.getvalue()):
            return [Fault(what, "NaN or Infinity in JSON")]
    return []


def _cards(rig: Rig) -> list[Fault]:
    faults = []
    try:
        findings = check(rig)
        found = labels(rig)
    except Exception:  # noqa: BLE001
        return [Fault("labels", traceback.format_exc())]
    for label in found:
        try:
            card(rig, findings, label.kind, label.id, Style(ascii_only=False))
        except Exception:  # noqa: BLE001
            faults.append(Fault(f"card {label.key}", traceback.format_exc()))
    return faults


def tally(faults: list[Fault]) -> Counter[str]:
    """Count faults by their cause."""
    return Counter(fault.cause for fault in faults)
