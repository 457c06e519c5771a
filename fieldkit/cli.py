"""The command line: the first word decides, a command or a show to open."""

from __future__ import annotations

import errno
import sys
from collections.abc import Callable, Sequence

from fieldkit import __version__
from fieldkit.commands.chart import chart
from fieldkit.commands.files import new, sheets
from fieldkit.commands.options import UsageError, nearest
from fieldkit.commands.output import (
    DONE,
    INTERRUPTED,
    UNUSABLE,
    drop_output,
    has_terminal,
    note,
    prepare_output,
    print_lines,
)
from fieldkit.commands.proof import check, lines, mains, plan
from fieldkit.commands.proposals import assign
from fieldkit.commands.reference import calc, guide, models, schema
from fieldkit.commands.rescue import failover, readings, triage
from fieldkit.commands.versions import diff, merge
from fieldkit.errors import FieldkitError

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
  fieldkit chart [MODEL ...] [--use USE] [--preferred OHM] [--cable "CABLE LENGTH"] [--json]
                                           what drives what, from the gear library: how many, watts, what sets it;
                                           MODEL picks amplifiers and boxes, 8ohm/300W is a box without a data sheet
  fieldkit readings SHOW [--json]          what each line should read, and the verdict on what was read
  fieldkit triage SHOW [WHAT ...] [--json] suspects and the next test; observations, each as often as needed (WHAT may
                                           be left out where one names a box, an output or a cable end):
      --heard ML2=silent|quiet|no-low|no-high|distorted|crackle|hum|normal
      --lights SR-1.3=off|on|signal|limit|protect|mute      --polarity ML2=planned|reversed
      --reading POINT:PAIR=3.4ohm|open|short[:dc|:1khz]     --swapped cable|output|box=moved|stayed
      --looked amp|ML2=right|wrong      --worked-before     --running (the show is on)      --doors 20min|19:45
      --tried FIX                          a fix that was done and did not help: 'replace the lead to ML2'
  fieldkit diff OLD NEW [--json]           what changed between two versions of a show, and what follows
  fieldkit merge BASE MINE THEIRS [-o OUT] [--take mine|theirs|NUMBER=mine|NUMBER=theirs ...]
                                           two versions made one, by things and fields; without -o, what each did; what
                                           collides is numbered, and nothing is written until it is decided (--take).
                                           For git: driver = fieldkit merge %O %A %B -o %A
  fieldkit schema                          the JSON Schema of the show file
  fieldkit new FILE [--sample NAME]        a show to start from, or a copy of a sample
  fieldkit guide [TOPIC]                   how to: a page a task, offline; without a topic the list of pages
  fieldkit --version

exit status: 0 done; 1 check found errors, a calculation or plan has no answer, a fail-over leaves something silent, or
something in a merge is to be decided; 2 the input cannot be used; 70 the application stopped on a fault of its own;
128 + number it was ended by a signal
"""


def run(arguments: Sequence[str]) -> int:
    """Run one command line and give the exit status. Errors become one line on standard error."""
    prepare_output()
    try:
        status = _dispatch(list(arguments))
        sys.stdout.flush()
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
        drop_output()
        print("fieldkit: the output cannot be written: no space is left there", file=sys.stderr)
        return UNUSABLE
    except KeyboardInterrupt:
        print("fieldkit: stopped", file=sys.stderr)
        return INTERRUPTED
    except FieldkitError as error:
        note(str(error))
        return error.exit_status
    return status


def _dispatch(arguments: list[str]) -> int:
    if not arguments and has_terminal():
        from fieldkit.app.application import start

        return start(None)
    if not arguments or arguments[0] in {"-h", "--help", "help"}:
        print_lines([USAGE.rstrip("\n")])
        return DONE
    word, rest = arguments[0], arguments[1:]
    if word == "--version":
        print_lines([f"fieldkit {__version__}"])
        return DONE
    if word in COMMANDS:
        if rest and rest[0] in {"-h", "--help"}:
            print_lines([USAGE.rstrip("\n")])
            return DONE
        return COMMANDS[word](rest)
    if word.startswith("-"):
        raise UsageError(f"unknown option '{word}'{nearest(word, ['--version', '--help'])}")
    return plan(arguments, COMMANDS)


COMMANDS: dict[str, Callable[[list[str]], int]] = {
    "check": check,
    "lines": lines,
    "mains": mains,
    "failover": failover,
    "calc": calc,
    "assign": assign,
    "sheets": sheets,
    "models": models,
    "chart": chart,
    "readings": readings,
    "triage": triage,
    "diff": diff,
    "merge": merge,
    "schema": schema,
    "guide": guide,
    "new": new,
}
