"""What somebody types to ask of a chart: boxes by their labels, a list of boxes, a lead, a use."""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.gear.cabling import Cable
from fieldkit.gear.loudspeaker import USES, Use
from fieldkit.gear.model_file import Model
from fieldkit.planning.chart.carrying import MOST_BOXES, MOST_KINDS, WantedBoxes
from fieldkit.planning.chart.question import Candidate, Library, Terms, candidate_of, candidates_of
from fieldkit.show.document import UnknownBox
from fieldkit.text.words import nearest
from fieldkit.units import Area, Impedance, Length, Power, UnitError

LABEL = re.compile(r"\s*(?P<ohm>[\d.,]+\s*(?:ohms?|Ω))\s*[/,: ]\s*(?P<watt>[\d.,]+\s*k?W)\s*", re.IGNORECASE)
"""A box without a data sheet, as its label has it: ``8ohm/300W``."""


def read_label(text: str) -> UnknownBox | None:
    """Read ohms and watts of a box without a data sheet; None where the text is none. Raises UnusableError."""
    match = LABEL.fullmatch(text)
    if match is None:
        return None
    label = UnknownBox(impedance=Impedance(match["ohm"]), continuous=Power(match["watt"]))
    if not (label.impedance.value > 0 and label.continuous.value > 0):
        raise UnusableError(f"expected ohms and watts above 0, as in 8ohm/300W, got '{text.strip()[:80]}'")
    return label


ITEM = re.compile(r"\s*(?:(?P<count>\d{1,3})\s*(?:x\s|×)?\s*)?(?P<what>.+?)\s*")


def read_wanted(text: str, asked: Library, terms: Terms) -> list[WantedBoxes]:
    """Read a list of boxes: ``4 two-way-12-inch bi-amp, 2 sub-double-18-inch``. Raises UnusableError.

    Where subs are among them, tops out front are meant with a sub unless the use is said.
    """
    pieces = [piece for piece in text.split(",") if piece.strip()]
    if not pieces:
        raise UnusableError("expected a list such as '4 two-way-12-inch bi-amp, 2 sub-double-18-inch'")
    every = candidates_of(asked, terms)
    counts: dict[str, int] = {}
    found: dict[str, Candidate] = {}
    for piece in pieces:
        count, candidate = _item(piece, every, terms)
        counts[candidate.title] = counts.get(candidate.title, 0) + count
        found[candidate.title] = candidate
    if terms.use is None and any(item.is_sub for item in found.values()):
        found = {title: _with_sub(item, terms) for title, item in found.items()}
    boxes = sum(counts.values())
    if len(counts) > MOST_KINDS or boxes > MOST_BOXES:
        raise UnusableError(
            f"expected at most {MOST_KINDS} kinds and {MOST_BOXES} boxes, got {len(counts)} and {boxes}; "
            "plan so many in a show, with 'fieldkit assign'"
        )
    return [WantedBoxes(found[title], count) for title, count in counts.items()]


def _with_sub(box: Candidate, terms: Terms) -> Candidate:
    """Choose the presets of a top beside a sub, out front or else on the stage; a sub is unchanged."""
    if box.is_sub or box.unknown is not None:
        return box
    uses: tuple[Use, ...] = ("with sub", "wedge with sub")
    others = (candidate_of(box.speaker, box.drive, msgspec.structs.replace(terms, use=use)) for use in uses)
    return next((other for other in others if other.has_all_presets), box)


def _item(piece: str, every: Sequence[Candidate], terms: Terms) -> tuple[int, Candidate]:
    """Read one kind of a list. Raises UnusableError."""
    match = ITEM.fullmatch(piece)
    count, what = (match["count"] or "1", match["what"]) if match else ("1", piece.strip())
    label = read_label(piece) or read_label(what)
    if label is not None:
        number = 1 if read_label(piece) else int(count)
        return _many(number, piece), candidates_of(Library((), (), (), (), (label,)), terms)[0]
    named = [item for item in every if what in (item.title, item.name, f"{item.name} {item.drive}")]
    if not named:
        wanted = what.casefold().split()
        named = [item for item in every if all(word in f"{item.name} {item.drive}".casefold() for word in wanted)]
    names = list(dict.fromkeys(item.name for item in named))
    if len(names) != 1:
        said = f"'{what[:60]}' may be {', '.join(names)}" if names else f"no box '{what[:60]}'"
        near = "" if names else nearest(what, [item.name for item in every])
        raise UnusableError(f"{said}{near}; expected a number and a box, as in '4 two-way-12-inch bi-amp'")
    if not named[0].is_usable:
        raise UnusableError(f"{named[0].title}: {'; '.join(named[0].gaps)}")
    # Of a box with several drives, passive is what is taken where nobody says.
    return _many(int(count), piece), named[0]


def _many(count: int, piece: str) -> int:
    if count < 1:
        raise UnusableError(f"expected one box or more, got '{piece.strip()[:60]}'")
    return count


def read_use(text: str) -> Use:
    """Read a use by its name. Raises UnusableError."""
    for use in USES:
        if text.strip().casefold() == use:
            return use
    raise UnusableError(f"expected one of {', '.join(USES)}, got '{text[:80]}'")


def read_cable(text: str, models: Sequence[Model]) -> tuple[Cable, float]:
    """Read a lead: a model of cable or the area of its cores, then its length. Raises UnusableError and UnitError."""
    wanted = "expected a cable and its length, as in 'four-core-2.5 20 m' or '2.5 mm² 20 m'"
    name, _, rest = text.strip().partition(" ")
    cables = {model.id: model for model in models if isinstance(model, Cable)}
    if name in cables:
        if not rest.strip():
            raise UnusableError(f"{wanted}, got '{text[:80]}'")
        return cables[name], Length(rest).value
    match = re.fullmatch(r"\s*([\d.,]+\s*(?:mm²|mm2|AWG))\s+(.+)", text, re.IGNORECASE)
    if match is None:
        raise UnusableError(f"{wanted}, got '{text[:80]}'{nearest(name, cables)}")
    try:
        area = Area(match[1])
    except UnitError as error:
        raise UnusableError(f"{error}") from error
    return Cable(id=str(area), cores=8, area=area), Length(match[2]).value
