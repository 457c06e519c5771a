"""The commands. The first word decides: a command, or a show to open. No arithmetic here."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldkit import __version__

if TYPE_CHECKING:
    from fieldkit.reports.text import Style
    from fieldkit.show.document import Show

USAGE = """\
fieldkit: plan, prove, set, check and rescue loudspeaker rigs

  fieldkit [SHOW]                          the application; without a terminal, the checked plan
  fieldkit check SHOW [--json]             what is wrong with it, why, and what would mend it
  fieldkit lines SHOW [--json] [--why]     every output and line solved; --why shows where each figure comes from
  fieldkit mains SHOW [--json]             supplies under load, phases, drop, leakage, heat, order to switch on
  fieldkit failover SHOW --lost ID ... [-o OUT] [--json]
                                           something died: the moves that bring back most
  fieldkit calc EXPRESSION [--to UNIT] [--json]      fieldkit calc --list
  fieldkit assign SHOW [-o OUT] [--json]   a plan for the boxes that nothing drives yet; -o writes the show with it
  fieldkit sheets SHOW -o FOLDER [--since OLDER] [--pages NAME,…] [--formats html,text,csv] [--units metric|imperial]
                                           the pages for the crew; --since adds what changed since an older show file
  fieldkit models [WORD ...] [--json]      the gear library: models that a show may name, one line each
  fieldkit readings SHOW [--json]          what each line should read, and the verdict on what was read
  fieldkit triage SHOW WHAT ... [--json]   suspects and the next test; observations, each as often as needed:
      --heard ML2=silent|quiet|no-low|no-high|distorted|crackle|hum|normal
      --lights SR-1.3=off|on|signal|limit|protect|mute      --polarity ML2=planned|reversed
      --reading POINT:PAIR=3.4ohm|open|short[:dc|:1khz]     --swapped cable|output|box=moved|stayed
      --looked amp|ML2=right|wrong      --worked-before      --running
  fieldkit schema                          the JSON Schema of the show file
  fieldkit new FILE [--sample NAME]        a show to start from, or a copy of a sample
  fieldkit --version

exit status: 0 done; 1 check found errors, a calculation or plan has no answer, or a fail-over leaves something silent;
2 the input cannot be used
"""

DONE, FOUND, UNUSABLE = 0, 1, 2

INTERRUPTED = 130
"""Stopped from the keyboard: 128 and the number of the signal, as shells have it."""


class UsageError(ValueError):
    """A command line that cannot be used."""


def run(arguments: Sequence[str]) -> int:
    """Run one command line and give the exit status. Errors become one line on standard error."""
    _prepare_output()
    try:
        status = _dispatch(list(arguments))
        sys.stdout.flush()
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
        _drop_output()
        print("fieldkit: the output cannot be written: no space is left there", file=sys.stderr)
        return UNUSABLE
    except KeyboardInterrupt:
        print("fieldkit: stopped", file=sys.stderr)
        return INTERRUPTED
    except ValueError as error:
        if not _is_ours(error):
            raise
        print(f"fieldkit: {_one_line(str(error))}", file=sys.stderr)
        return getattr(error, "exit_status", UNUSABLE)
    return status


def _is_ours(error: ValueError) -> bool:
    """Tell an error about the input from a fault of the program, which must be seen whole."""
    from fieldkit.show.errors import ShowError
    from fieldkit.units import UnitError

    return isinstance(error, (UsageError, ShowError, UnitError)) or hasattr(error, "exit_status")


def _dispatch(arguments: list[str]) -> int:
    if not arguments and _has_terminal():
        from fieldkit.app.application import start

        return start(None)
    if not arguments or arguments[0] in {"-h", "--help", "help"}:
        _print([USAGE.rstrip("\n")])
        return DONE
    word, rest = arguments[0], arguments[1:]
    if word == "--version":
        _print([f"fieldkit {__version__}"])
        return DONE
    if word in COMMANDS:
        if rest and rest[0] in {"-h", "--help"}:
            _print([USAGE.rstrip("\n")])
            return DONE
        return COMMANDS[word](rest)
    if word.startswith("-"):
        raise UsageError(f"unknown option '{word}'{_near(word, ['--version', '--help'])}")
    return _plan(arguments)


def _plan(arguments: list[str]) -> int:
    from fieldkit.checks.checking import check
    from fieldkit.reports.text import plan_text
    from fieldkit.rig.evaluation import evaluate

    name = arguments[0]
    from fieldkit import samples

    if not os.path.exists(name) and not name.endswith(".toml"):  # noqa: PTH110  (any text may stand here, NUL too)
        if name in samples.names():
            copy = f"'fieldkit new {name}.toml --sample {name}' copies it"
            raise UsageError(f"'{name}' is a sample and no file here; {copy}")
        known = list(COMMANDS)
        raise UsageError(f"'{name}' is neither a command nor a file{_near(name, known)}")
    _words(arguments, "SHOW", 1)
    if _has_terminal():
        from fieldkit.app.application import start

        return start(name)
    rig = evaluate(_load(name))
    _print(plan_text(rig, check(rig), _style()))
    return DONE


def _check(arguments: list[str]) -> int:
    from fieldkit.checks.checking import check
    from fieldkit.rig.evaluation import evaluate

    arguments, options = _options(arguments, flags=("--json",))
    (name,) = _words(arguments, "SHOW", 1)
    rig = evaluate(_load(name))
    findings = check(rig)
    if "--json" in options:
        from fieldkit.reports.objects import check_object

        _print_json(check_object(findings))
    else:
        from fieldkit.reports.text import findings_text

        _print(findings_text(findings, _style(), empty=not rig.show.boxes and not rig.lines and not rig.outputs))
    return FOUND if any(item.severity == "error" for item in findings) else DONE


def _lines(arguments: list[str]) -> int:
    from fieldkit.rig.evaluation import evaluate

    arguments, options = _options(arguments, flags=("--json", "--why"))
    (name,) = _words(arguments, "SHOW", 1)
    rig = evaluate(_load(name))
    why = "--why" in options
    if "--json" in options:
        from fieldkit.reports.objects import lines_object

        _print_json(lines_object(rig, why=why))
    else:
        from fieldkit.reports.text import lines_text

        _print(lines_text(rig, _style(), why=why))
    return DONE


def _mains(arguments: list[str]) -> int:
    from fieldkit.rig.evaluation import evaluate

    arguments, options = _options(arguments, flags=("--json",))
    (name,) = _words(arguments, "SHOW", 1)
    rig = evaluate(_load(name))
    if "--json" in options:
        from fieldkit.reports.mains import mains_object

        _print_json(mains_object(rig))
    else:
        from fieldkit.reports.mains import mains_text

        _print(mains_text(rig, _style()))
    return DONE


def _calc(arguments: list[str]) -> int:
    import msgspec

    from fieldkit import calculator

    arguments, options = _options(arguments, flags=("--json", "--list"), valued=("--to",), signs=True)
    if "--list" in options:
        _words(arguments, "", 0)
        style = _style()
        _print(style.plain(line) for line in calculator.listing_text())
        return DONE
    if not arguments:
        raise UsageError('calc: expected an expression such as "sqrt(500 W * 8 ohm)", or "82 ft" --to m')
    result = calculator.evaluate(" ".join(arguments), options.get("--to"), ascii_only=_style().ascii_only)
    if "--json" in options:
        _print_json(
            {
                "value": result.value,
                "unit": result.unit,
                "text": result.text,
                "formulas": [msgspec.to_builtins(used) for used in result.used],
            }
        )
    else:
        _print([result.text])
    return DONE


def _sheets(arguments: list[str]) -> int:
    from fieldkit.sheets.collection import PAGES, make_pages
    from fieldkit.sheets.folder import FORMATS, files_of, summary, write_files
    from fieldkit.sheets.material import UNITS, material_of

    options_known = ("-o", "--since", "--pages", "--formats", "--units")
    arguments, options = _options(arguments, valued=options_known)
    (name,) = _words(arguments, "SHOW", 1)
    if "-o" not in options:
        raise UsageError("sheets: expected -o FOLDER, where to write the pages")
    names = _chosen(options, "--pages", tuple(PAGES))
    formats = _chosen(options, "--formats", FORMATS)
    units = options.get("--units")
    if units is not None and units not in UNITS:
        raise UsageError(f"--units: unknown '{units}'{_near(units, UNITS)}; there are {', '.join(UNITS)}")
    material = material_of(_load(name), units)
    since = options.get("--since")
    older = material_of(_load(since), material.units) if since is not None else None
    pages = make_pages(material, names, older)
    written = write_files(Path(options["-o"]), files_of(pages, formats))
    _print(summary(pages, written, options["-o"], _style()))
    return DONE


def _chosen(options: dict[str, str], option: str, known: Sequence[str]) -> list[str]:
    """Read a list of names with commas between; all that are known where the option was not given."""
    if option not in options:
        return list(known)
    names = [part.strip() for part in options[option].split(",") if part.strip()]
    for word in names:
        if word not in known:
            raise UsageError(f"{option}: unknown '{word}'{_near(word, known)}; there are {', '.join(known)}")
    if not names:
        raise UsageError(f"{option}: expected names with commas between; there are {', '.join(known)}")
    return names


def _models(arguments: list[str]) -> int:
    from fieldkit.gear import library
    from fieldkit.reports import models

    words, options = _options(arguments, flags=("--json",))
    _note(library.trouble())
    every, unusable = library.every(), [str(error) for error in library.broken()]
    entries = models.found(every, words)
    for problem in unusable:
        _note(f"gear library: {problem}")
    if "--json" in options:
        _print_json(models.models_object(entries, unusable))
    else:
        _print(models.models_text(entries, _style()))
    if entries:
        return DONE
    names = [entry.model.id for entry in every]
    _note(f"models: none matches '{' '.join(words)}'{_near(' '.join(words), names)}")
    return FOUND


def _note(text: str) -> None:
    """Say something about the surroundings of the work, where there is something to say."""
    if text:
        print(f"fieldkit: {_one_line(text)}", file=sys.stderr)


def _readings(arguments: list[str]) -> int:
    from fieldkit.rig.evaluation import evaluate
    from fieldkit.triage.rig_check import entries
    from fieldkit.triage.table import table

    arguments, options = _options(arguments, flags=("--json",))
    (name,) = _words(arguments, "SHOW", 1)
    found = list(entries(evaluate(_load(name)), table()))
    if "--json" in options:
        from fieldkit.reports.triage_objects import readings_object

        _print_json(readings_object(found))
    else:
        from fieldkit.reports.triage_text import readings_text

        _print(readings_text(found, _style()))
    return DONE


OBSERVED = ("--heard", "--lights", "--reading", "--swapped", "--polarity", "--looked")


def _triage(arguments: list[str]) -> int:
    from fieldkit.rig.evaluation import evaluate
    from fieldkit.triage import observations
    from fieldkit.triage.advice import advise

    read: tuple[Callable[[str], observations.Observation], ...] = (
        observations.ear,
        observations.light,
        observations.metered,
        observations.swap,
        observations.polarity,
        observations.look,
    )
    arguments, observed = _repeated(arguments, OBSERVED)
    arguments, options = _options(arguments, flags=("--json", "--worked-before", "--running"), valued=OBSERVED)
    if len(arguments) < 2:
        raise UsageError("triage: expected SHOW and the label of a box, run, line, output or zone, such as ML2")
    seen: list[observations.Observation] = [
        reader(text) for name, reader in zip(OBSERVED, read, strict=True) for text in observed[name]
    ]
    advice = advise(
        evaluate(_load(arguments[0])),
        arguments[1:],
        seen,
        worked_before="--worked-before" in options,
        running="--running" in options,
    )
    if "--json" in options:
        from fieldkit.reports.triage_objects import triage_object

        _print_json(triage_object(advice))
    else:
        from fieldkit.reports.triage_text import triage_text

        _print(triage_text(advice, _style()))
    return DONE if advice.has_answer else FOUND


def _schema(arguments: list[str]) -> int:
    from fieldkit.show.decoding import schema

    _words(arguments, "", 0)
    _print_json(schema())
    return DONE


def _new(arguments: list[str]) -> int:
    from fieldkit import samples
    from fieldkit.show.storage import create

    arguments, options = _options(arguments, valued=("--sample",))
    (name,) = _words(arguments, "FILE", 1)
    source = Path(__file__).parent / "show" / "starter.toml"
    sample = options.get("--sample")
    if sample is not None:
        known = samples.names()
        if sample.removesuffix(".toml") not in known:
            others = _near(sample, known) or f"; there are {', '.join(known)}"
            raise UsageError(f"new: no sample '{sample}'{others}")
        source = samples.folder() / f"{sample.removesuffix('.toml')}.toml"
    if not name.strip():
        raise UsageError("new: expected the name of a new file, such as hall.toml")
    with _named_as_typed(name):
        create(Path(name), source.read_text(encoding="utf-8"))
    shown = _one_line(name)
    _print([f"{shown} is written; 'fieldkit check {shown}' looks it over"])
    return DONE


def _assign(arguments: list[str]) -> int:
    from fieldkit.planning.assign import assign
    from fieldkit.show.opening import open_show
    from fieldkit.show.storage import save

    arguments, options = _options(arguments, flags=("--json",), valued=("-o",))
    (name,) = _words(arguments, "SHOW", 1)
    opened = open_show(name)
    proposal = assign(opened.show)
    if "-o" in options:
        save(opened.stored, proposal.show, Path(options["-o"]))
    if "--json" in options:
        from fieldkit.reports.proposals import assign_object

        _print_json(assign_object(proposal))
    else:
        from fieldkit.reports.proposals import assign_text

        _print(assign_text(proposal, _style()))
    return DONE if proposal.holds else FOUND


def _failover(arguments: list[str]) -> int:
    from fieldkit.planning.fail_over import fail_over
    from fieldkit.show.opening import open_show

    rest, lost = _lost(arguments)
    words, options = _options(rest, flags=("--json",), valued=("-o",))
    (name,) = _words(words, "SHOW", 1)
    if not lost or not all(lost):
        raise UsageError("failover: expected the id of what died, such as --lost SR-2")
    opened = open_show(name)
    found = fail_over(opened.show, lost)
    if "-o" in options:
        from fieldkit.show.storage import save

        save(opened.stored, found.show, Path(options["-o"]))
    if "--json" in options:
        from fieldkit.reports.failing_over import failover_object

        _print_json(failover_object(found))
    else:
        from fieldkit.reports.failing_over import failover_text

        _print(failover_text(found, _style()))
    return FOUND if found.stays_silent else DONE


def _lost(arguments: list[str]) -> tuple[list[str], list[str]]:
    """Take the ids after each ``--lost`` out of a command line: one, or several up to the next option."""
    rest: list[str] = []
    lost: list[str] = []
    collecting = False
    for word in arguments:
        if word == "--lost":
            collecting = True
        elif word.startswith("--lost="):
            collecting = False
            lost.append(word.removeprefix("--lost="))
        elif collecting and not word.startswith("-"):
            lost.append(word)
        else:
            collecting = False
            rest.append(word)
    if lost and not any(not word.startswith("-") for word in rest) and lost[-1].endswith(".toml"):
        rest.append(lost.pop())  # the show may stand last as well
    return rest, lost


COMMANDS: dict[str, Callable[[list[str]], int]] = {
    "check": _check,
    "lines": _lines,
    "mains": _mains,
    "failover": _failover,
    "calc": _calc,
    "assign": _assign,
    "sheets": _sheets,
    "models": _models,
    "readings": _readings,
    "triage": _triage,
    "schema": _schema,
    "new": _new,
}


def _load(name: str) -> Show:
    """Read a show, with the models that it names and the gear library has. Raises ShowError."""
    from fieldkit.gear.library import trouble
    from fieldkit.show.opening import open_show

    _note(trouble())
    if not name:
        raise UsageError("expected SHOW, got an empty name; 'fieldkit --help' shows how")
    with _named_as_typed(name):
        return open_show(name).show


@contextmanager
def _named_as_typed(name: str) -> Iterator[None]:
    """Let an error name its file as it was typed, with its folder."""
    from fieldkit.show.errors import ShowError

    try:
        yield
    except ShowError as error:
        if error.file == (Path(name).name or name):
            error.file = name
        raise


def _options(
    arguments: list[str], *, flags: Sequence[str] = (), valued: Sequence[str] = (), signs: bool = False
) -> tuple[list[str], dict[str, str]]:
    """Take the options out of a command line; with ``signs``, what starts with a digit or dot is no option."""
    words: list[str] = []
    options: dict[str, str] = {}
    waiting = iter(arguments)
    for word in waiting:
        name, equals, value = word.partition("=")
        if word == "--":
            words.extend(waiting)
        elif word in flags:
            options[word] = ""
        elif name in valued:
            options[name] = value if equals else next(waiting, "")
            if not options[name].strip():
                raise UsageError(f"{name}: expected a value after it")
        elif word.startswith("--") or (word.startswith("-") and len(word) > 1 and not signs):
            raise UsageError(f"unknown option '{word}'{_near(word, [*flags, *valued])}")
        else:
            words.append(word)
    return words, options


def _repeated(arguments: list[str], names: Sequence[str]) -> tuple[list[str], dict[str, list[str]]]:
    """Take options that may stand several times out of a command line, with their values."""
    rest: list[str] = []
    found: dict[str, list[str]] = {name: [] for name in names}
    waiting = iter(arguments)
    for word in waiting:
        name, equals, value = word.partition("=")
        if word == "--":
            rest += [word, *waiting]
        elif name not in found:
            rest.append(word)
        else:
            said = value if equals else next(waiting, "")
            if not said.strip() or said.startswith("--"):
                raise UsageError(f"{name}: expected a value after it")
            found[name].append(said)
    return rest, found


def _words(words: list[str], what: str, count: int) -> list[str]:
    if len(words) < count:
        raise UsageError(f"expected {what}; 'fieldkit --help' shows how")
    if len(words) > count:
        raise UsageError(f"unexpected '{words[count]}'; 'fieldkit --help' shows how")
    return words


def _near(word: str, known: Iterable[str]) -> str:
    import difflib

    close = difflib.get_close_matches(word[:80].lower(), list(known), n=1)
    return f"; did you mean '{close[0]}'?" if close else ""


def _has_terminal() -> bool:
    """Tell whether somebody sits there: without a terminal the checked plan is printed."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "") != "dumb"


def _prepare_output() -> None:
    """Let a character that the terminal cannot show be spelled, never be a traceback; without streams, be mute."""
    if sys.stdout is None:  # started with the stream closed (`>&-`)
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115  (it lives as long as the program)
    if sys.stderr is None:
        sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def _drop_output() -> None:
    """Give standard output to nobody, so that leaving is quiet."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _style() -> Style:
    from fieldkit.reports.text import Style

    return Style(ascii_only=_is_ascii_only())


def _is_ascii_only() -> bool:
    encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "")
    return not encoding.startswith("utf")


def _print(lines: Iterable[str]) -> None:
    """Print lines for as long as somebody reads them; the exit status is that of the work, whoever reads it."""
    try:
        for line in lines:
            print(line)
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()  # whoever reads has had enough (`| head`)


def _print_json(value: Any) -> None:
    import msgspec

    text = msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
    ascii_only = _is_ascii_only()
    _print(
        line
        if line.isprintable() and not (ascii_only and not line.isascii())
        else _json_line(line, ascii_only=ascii_only)
        for line in text.split("\n")
    )


def _json_line(line: str, *, ascii_only: bool) -> str:
    """Write what a terminal cannot show, or would obey, as JSON spells it, by its number."""
    import json

    return "".join(
        mark if mark.isprintable() and (mark.isascii() or not ascii_only) else json.dumps(mark)[1:-1] for mark in line
    )


def _one_line(text: str) -> str:
    from fieldkit.gear.wording import printable

    return printable(text, 500)
