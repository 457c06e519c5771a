"""The wiring: each run drawn from the amplifier outward, and every piece of it in a table."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.rig.connect.lines import Line, Piece
from fieldkit.rig.connect.outputs import Output
from fieldkit.rig.connect.uses import drive_text
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Cell, Column, Page, RunDrawing, Stop, Table, Words
from fieldkit.show.document import Box, Run, Step

LEGEND = (
    (
        "Each column under the numbers is one pin pair, 1 is the pins 1+ and 1-. A dot (O in plain text) is a box "
        "that uses the pair; a line that goes past a box goes on through its link socket. Cable ends carry "
        "their labels."
    ),
    "Plug in with the amplifiers switched off. Outputs over 50 V and all bridged outputs count as mains.",
)


def wiring_page(material: Material) -> Page:
    """Make the page."""
    drawings: tuple[Block, ...] = tuple(run_drawing(run, material) for run in material.show.runs)
    if not drawings:
        drawings = (Words(("no run is planned yet",)),)
    return Page("wiring", "Wiring", (Words(LEGEND), *drawings, _table(material)))


def run_drawing(run: Run, material: Material) -> RunDrawing:
    """Draw a run from the amplifier outward."""
    lines = material.lines_of_run.get(run.id, [])
    boxes = " ".join(step.box for step in run.path if step.box) or "no box"
    title = f"{run.id}: {run.start} to {boxes}" + (f" ({run.note})" if run.note else "")
    return RunDrawing(run.id, title, tuple(_stops(run, lines, material)))


def _stops(run: Run, lines: list[Line], material: Material) -> Iterator[Stop]:
    yield _start(run, lines, material)
    for number, step in enumerate(run.path, start=1):
        pieces = {line.pair: piece for line in lines for piece in line.pieces if piece.step == number}
        joins = tuple((piece.pair_in, piece.pair_out) for piece in pieces.values())
        lost = tuple((line.broken.pair, "") for line in lines if line.broken and line.broken.step == number)
        yield _piece(run, number, step, (*joins, *lost), material)
        if step.box:
            last = not any(later.cable or later.adaptor or later.panel for later in run.path[number:])
            yield _box(material.rig.show_index.boxes[step.box], pieces, last, material)


def _start(run: Run, lines: list[Line], material: Material) -> Stop:
    details = []
    for line in lines:
        output = line.output.id if line.output else "nothing"
        details.append(f"pair {line.pair} from {output}{_mode(line.output)}: {line.section or 'no box'}")
        if line.mismatch:
            details.append(f"  the socket carries {line.mismatch} there: not as planned")
    name, _, connector = run.start.partition(".")
    word = "socket" if name in material.rig.show_index.units else "panel"
    inside = next((piece for line in lines for piece in line.pieces if piece.kind == "wiring"), None)
    if inside is not None:
        details.append(f"prewired inside the rack ({inside.model})")
    return Stop("socket", f"{name} {word} {connector}", tuple(details), tuple((line.pair, line.pair) for line in lines))


def _mode(output: Output | None) -> str:
    return "" if output is None or output.mode == "single" else f" ({output.mode})"


def _piece(run: Run, number: int, step: Step, joins: tuple[tuple[str, str], ...], material: Material) -> Stop:
    if step.cable is not None:
        return _cable(run, number, step, joins, material)
    details = [f"pair {near} ends here" for near, far in joins if not far]
    crossed = ", ".join(f"pair {near} to pair {far}" for near, far in joins if far)
    model = material.model(step.adaptor or step.panel or "")
    if isinstance(model, Panel):
        details.insert(0, f"inlet {model.connector or '?'}, sockets {model.socket_connector or '?'}; {crossed}")
        shared = _shared_with(run, number, step, material)
        details += [shared] if shared else []
        return Stop("panel", f"{step.shared or model.id} socket {step.socket}", tuple(details), joins)
    connectors = " to ".join(model.connectors) if isinstance(model, Adaptor) and model.connectors else ""
    details.insert(0, ", ".join(part for part in (connectors, crossed) if part))
    return Stop("adaptor", f"adaptor {step.adaptor}", tuple(details), joins)


def _cable(run: Run, number: int, step: Step, joins: tuple[tuple[str, str], ...], material: Material) -> Stop:
    near, far = material.ends_of[run.id, number]
    model = material.model(step.cable or "")
    details = [f"{near.label} into {near.where}", f"{far.label} into {far.where}"]
    if isinstance(model, Cable):
        plugs = " to ".join(model.connectors) if model.connectors else "plugs not noted"
        details.append(f"{plugs}, {model.cores} cores of {model.area}")
    details += [f"pair {pair} to pair {other}" for pair, other in joins if other and other != pair]
    details += [f"pair {pair} ends here: no core carries it" for pair, other in joins if not other]
    shared = _shared_with(run, number, step, material)
    details += [shared] if shared else []
    name = f" ({step.shared})" if step.shared else ""
    return Stop("cable", f"{material.length(step.length)} {step.cable}{name}".strip(), tuple(details), joins)


def _shared_with(run: Run, number: int, step: Step, material: Material) -> str:
    """Say which other runs go through this piece."""
    if not step.shared:
        return ""
    if step.cable is not None:
        names = [name for name in material.ends_of[run.id, number][0].runs if name != run.id]
    else:
        others = (other for other in material.show.runs if other.id != run.id)
        names = [other.id for other in others if any(s.shared == step.shared and s.panel for s in other.path)]
    return f"shared with {' '.join(names)}" if names else ""


def _box(box: Box, pieces: dict[str, Piece], last: bool, material: Material) -> Stop:  # noqa: FBT001
    speaker = material.rig.show_index.speakers[box.id]
    drive = drive_text(box, speaker)
    loads = [(piece.pair_out, load) for piece in pieces.values() for load in piece.loads if load.box.id == box.id]
    details = [f"{load.section.section} on pair {pair}, preset {load.choice.id or 'none'}" for pair, load in loads]
    details = details or ["uses none of these pairs"]
    if len(speaker.drives()) > 1 and speaker.switch:
        details.append(f"switch on the box: {drive}")
    details.append(f"{box.zone} {box.side}".strip() + (", end of the run" if last else ", goes on at its link"))
    details += [f"note: {box.note}"] if box.note else []
    through = tuple((piece.pair_out, piece.pair_out) for piece in pieces.values())
    joins = tuple((pair, "") for pair, _ in through) if last else through
    model = box.model or "no data sheet (assumed)"
    return Stop("box", f"{box.id}  {model}", tuple(details), joins, tuple(pair for pair, _ in loads))


def _table(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("run", "step", "piece", "length", "near end", "near end into")),
        *(Column(title) for title in ("far end", "far end into", "pairs")),
    )
    rows = [_row(run, number, step, material) for run in material.show.runs for number, step in enumerate(run.path, 1)]
    return Table("wiring", "Every piece, run by run", columns, tuple(rows), keys=(0, 1), grouped=True)


def _row(run: Run, number: int, step: Step, material: Material) -> tuple[Cell, ...]:
    lines = material.lines_of_run.get(run.id, [])
    pieces = [piece for line in lines for piece in line.pieces if piece.step == number]
    pairs = " ".join(
        piece.pair_in if piece.pair_in == piece.pair_out else f"{piece.pair_in}>{piece.pair_out}" for piece in pieces
    )
    if step.cable is not None:
        near, far = material.ends_of[run.id, number]
        length = material.length(step.length)
        return run.id, number, step.cable, length, near.label, near.where, far.label, far.where, pairs
    what = f"{step.panel} {step.socket}" if step.panel else (step.adaptor or "")
    return run.id, number, what, "", "", step.shared, "", f"{step.box} input" if step.box else "", pairs
