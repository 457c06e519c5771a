"""All commands, declared: what each takes, its help, and the function that does the work.

From here come the dispatch, ``fieldkit --help``, the help of each command, and the errors about its words and options.
A new command is a function in a file here, and one entry.
"""

from __future__ import annotations

from fieldkit.commands.command import Command, Option

JSON = Option("--json", "one JSON object, units in the names of its keys")
FAILED = "the id of what failed, such as --failed SR-2"
OUT = Option("-o", "write the show with the plan to this file", value="OUT")

_DECLARED = (
    Command("check", "SHOW", "what is wrong, why, and the fix", "proof.check", (JSON,), "an error is found"),
    Command(
        "lines",
        "SHOW",
        "every output and line solved",
        "proof.lines",
        (JSON, Option("--why", "where each figure comes from: formula, inputs, source")),
    ),
    Command("supply", "SHOW", "supplies under load, order to switch on", "proof.supply", (JSON,)),
    Command(
        "assign",
        "SHOW",
        "a plan for boxes that nothing drives",
        "proposals.assign",
        (Option("--moves", "up to so many plugs of what stands there may move", value="NUMBER"), OUT, JSON),
        "no plan drives them all",
    ),
    Command(
        "add",
        "SHOW LINE ...",
        "add things by lines of words",
        "proposals.add",
        (OUT, JSON),
        expected="SHOW and what to add, a line in quotes each, such as '2 two-way-12 mains left'",
        notes="A line adds boxes, words in any order: '4 two-way-12 mains left bi-amp ML1-4'. Or it begins with amp, "
        "processor, rack, zone, supply or stock; or with run and goes along the way: 'run SR-1.A 15m ML1 5m ML2'. "
        "Pieces of a model's name will do where only one fits.",
    ),
    Command(
        "failover",
        "SHOW",
        "something failed: what to move",
        "proposals.failover",
        (
            Option("--failed", FAILED, value="ID", several=True),
            Option("--back", "the id of what works again: the moves that put everything back", value="ID"),
            Option("--take", "write the moves into SHOW itself, under [[failed]]; the file before is kept beside it"),
            OUT,
            JSON,
        ),
        "something stays silent",
    ),
    Command(
        "sheets",
        "SHOW",
        "the pages for the crew",
        "files.sheets",
        (
            Option("-o", "where to write the pages", value="FOLDER", needed=True),
            Option("--since", "add a page of what changed since an older show file", value="OLDER"),
            Option("--pages", "only these of the pages listed below, such as patch,labels", value="NAME,..."),
            Option("--formats", "only these of html,phone,text,csv", value="NAME,..."),
            Option("--units", "how lengths and weights are shown: typed, metric or imperial", value="UNITS"),
        ),
        choices="files.sheet_names",
    ),
    Command("readings", "SHOW", "what lines should read, and verdicts", "faults.readings", (JSON,)),
    Command(
        "triage",
        "SHOW [WHAT ...]",
        "suspects of a fault, and the next test",
        "faults.triage",
        (
            Option(
                "--heard",
                "what a box does: silent, quiet, no-low, no-high, distorted, crackle, hum or normal; no-mid, loud, "
                "rattle, late, louder-alone (its neighbour muted), other-signal, buzz, hiss, radio",
                value="BOX=WORD",
                repeats=True,
            ),
            Option(
                "--lights",
                "what an output shows: off, on, signal, limit, protect or mute",
                value="OUTPUT=WORD",
                repeats=True,
            ),
            Option(
                "--reading",
                "what the meter shows between the pins of a pair: 3.4ohm, open or short; :dc or :1khz behind it",
                value="POINT:PAIR=VALUE",
                repeats=True,
            ),
            Option(
                "--swapped",
                "a swap of the cable, adaptor, output or box, and whether the fault moved or stayed",
                value="WHAT=moved|stayed",
                repeats=True,
            ),
            Option(
                "--polarity",
                "what the polarity test says: planned, reversed or nothing",
                value="BOX=WORD",
                repeats=True,
            ),
            Option(
                "--looked",
                "what a look at a box, an output or amp found: right, wrong, or what was seen: plug-half, empty, "
                "label, switch, lead, model, extra, mute, level, preset, input, off, wet, burnt, loose",
                value="PLACE=WORD",
                repeats=True,
            ),
            Option(
                "--played",
                "the boxes that play with quiet noise on one output alone: ML2, ML1+ML2, or nothing",
                value="OUTPUT=BOX",
                repeats=True,
            ),
            Option(
                "--inverted",
                "two boxes alone, one of them inverted in its settings: fuller, thinner, same",
                value="BOX+BOX=WORD",
                repeats=True,
            ),
            Option(
                "--tried", "a fix that was made and did not help: 'replace the lead to ML2'", value="FIX", repeats=True
            ),
            Option("--without", "what there is not: meter, 1khz, tester, spares, help", value="WHAT,...", repeats=True),
            Option("--worked-before", "the rig worked as it is plugged"),
            Option("--running", "the show is on: nothing that interrupts it"),
            Option("--doors", "how long it is until the doors open: 20min, or 19:45", value="TIME"),
            JSON,
        ),
        "nothing fits, or there is nothing to find",
        expected="SHOW and the label of a box, run, line, output or zone, such as ML2",
        notes="WHAT is a box, run, line, output, zone or cable end; it may be left out where an observation names one.",
    ),
    Command("diff", "OLD NEW", "what changed between two versions", "versions.diff", (JSON,)),
    Command(
        "merge",
        "BASE MINE THEIRS",
        "two versions of a show made one",
        "versions.merge",
        (
            Option("-o", "write the merged show to this file; without it, print what each did", value="OUT"),
            Option(
                "--take",
                "decide what collides: mine or theirs for all, NUMBER=mine or NUMBER=theirs for one",
                value="SIDE",
                repeats=True,
            ),
        ),
        "something is still to be decided, and nothing is written",
        notes="Things and fields are merged, not lines. For git: driver = fieldkit merge %O %A %B -o %A",
    ),
    Command(
        "calc",
        "EXPRESSION ...",
        "a calculation with units",
        "reference.calc",
        (
            Option("--to", "the unit of the result", value="UNIT"),
            JSON,
            Option("--list", "all functions and formulas that an expression may use", instead=True),
        ),
        "no number answers it",
        expected='an expression such as "sqrt(500 W * 8 ohm)", or "82 ft" --to m',
        signs=True,
    ),
    Command(
        "models",
        "[WORD ...]",
        "the gear library, or one model's page",
        "reference.models",
        (JSON,),
        "no model matches",
        notes="Each WORD is looked for in the kind, id and description of a model.",
    ),
    Command(
        "chart",
        "[MODEL ...]",
        "what drives what, from the gear library",
        "chart.chart",
        (
            Option("--use", "what the boxes are for: full range, with sub, wedge, or wedge with sub", value="USE"),
            Option("--preferred", "the load not to go under without need, such as 4ohm", value="OHM"),
            Option("--cable", "the lead to each box, such as '2.5 mm² 20 m'", value='"CABLE LENGTH"'),
            Option("--with", "what carries these: '4 two-way-12-inch bi-amp, 2 sub-double-18-inch'", value='"LIST"'),
            Option("-o", "write the page 'chart' of these models into this folder", value="FOLDER"),
            Option("--keep-preferred", "no set and no answer with a load under the preferred one"),
            JSON,
        ),
        notes="How many boxes on an amplifier and on one output, watts, and what sets the number. MODEL picks "
        "amplifiers and boxes, single, bridged, passive or bi-amp a way; 8ohm/300W is a box without a data sheet.",
    ),
    Command("schema", "", "the JSON Schema of the show file", "reference.schema"),
    Command(
        "new",
        "FILE",
        "a new show, or a copy of a sample",
        "files.new",
        (Option("--sample", "the sample to copy", value="NAME"),),
    ),
    Command("guide", "[TOPIC]", "how to, a page a task", "reference.guide"),
)

COMMANDS = {command.name: command for command in _DECLARED}
"""The commands by name, in the order of the help."""
