"""The screens and all that can be done, declared once: header, keys, key bar, menu, a user's own keys are made of this.

One letter has one meaning on all screens and in all windows; what has no letter is in the menu. In a window that asks,
the letters of the answers stand beside them. Free for what comes: y, z.
"""

from __future__ import annotations

from fieldkit.app.actions import Action, At

NAMES = {
    "overview": "Overview",
    "inventory": "Inventory",
    "zones": "Zones",
    "racks": "Racks",
    "supply": "Supply",
    "calculator": "Calculator",
    "triage": "Triage",
    "sheets": "Sheets",
}
"""File of a screen, and its name in the header: no more than ten, which is as many as have a key and fit in a line."""

FILTER = Action(
    "filter",
    "slash",
    "filter",
    "Show only the rows of this table that hold what you type; esc shows all",
    "search find only narrow rows table",
    at={"chart": At("Show only the rows of these amplifiers and boxes")},
    shown=False,
)
"""Tables have this key themselves, in windows too."""

TABLE: tuple[Action, ...] = (
    Action(
        "open",
        "enter",
        "open",
        words="change edit rename alter set modify look view details select",
        at={
            "overview": At(
                "Go to what this row is about: what is left to do, a finding with its fixes, a file, the show's data",
                rows=("stands", "finding", "kept", "file", "sample", "new", "tour", "numbers"),
            ),
            "inventory": At(
                "See all that is known of the model, and change it or one entry of its stock", words="hire hired stock"
            ),
            "zones": At("Change this zone or box; where boxes are marked, one field of all of them", label="change"),
            "racks": At(
                "Change the run of this line, its output's unit, or a box on it",
                label="change",
                words="cable lead length longer shorter plug connector rename",
            ),
            "supply": At("Change this supply, unit or box", label="change", rows=("supply", "draw")),
            "calculator": At("Type an expression; 'in V' at its end converts the result", label="type"),
            "triage": At(
                "Type the reading, or answer the test under the cursor by one letter; on a fix: it was done",
                label="answer",
                words="read meter reading measure ohms listen",
            ),
            "sheets": At("Look at this page as it will be written, or change this choice", label="look"),
        },
    ),
    Action(
        "card",
        "space",
        "card",
        words="show label info information data sheet pins what feeds it details",
        at={
            "overview": At("Show the card of the thing that this finding is about", rows=("finding",)),
            "inventory": At("Show all that is known of this model"),
            "zones": At("Show the card of this box or zone"),
            "racks": At("Show the card of this output or unit"),
            "supply": At("Show the card of this supply, unit or box", rows=("supply", "draw")),
            "triage": At("Show the card of the output or box of this row", rows=("read", "noise", "polarity")),
            "sheets": At("Show this page as it will be written", label="page", rows=("page",)),
        },
    ),
    Action(
        "why",
        "e",
        "why",
        words="explain where from reason source formula proof calculate number figure",
        at={
            "overview": At("Show this finding whole: what is so, why it matters, and the fixes", rows=("finding",)),
            "zones": At("Say why this preset; of a zone, why this use, and where its delay comes from"),
            "racks": At("Show where the numbers of this line come from", rows=("line",)),
            "supply": At("Show where the numbers of this row come from", rows=("supply", "draw")),
            "calculator": At("Show the formulas and sources behind this result"),
            "chart": At("Show where the figures of this row come from"),
        },
    ),
    Action(
        "next",
        "n",
        "next",
        words="forward onwards other",
        at={
            "triage": At(
                "Go on to the next pass of the rig check: meter, noise, polarity, bench; in a search, another test",
                words="pass noise polarity rig check other test",
            ),
            "pages": At("Go on to the next page"),
        },
    ),
    Action("before", "left", "before", at={"pages": At("Go back to the page before")}),
    Action("after", "right", "after", at={"pages": At("Go on to the next page", shown=False)}),
    Action(
        "outlet",
        "o",
        "outlet",
        words="plug socket unplug phase line move power mains connect",
        at={"supply": At("Plug this unit or box into another supply, or pull its plug", rows=("draw",))},
    ),
    Action(
        "add",
        "a",
        "add",
        words="new create insert make hire rent another one more build plus",
        at={
            "overview": At(
                "Add anything to the show; with no show open, make a new file",
                words="new show file begin start zone box amplifier run supply",
            ),
            "inventory": At(
                "Add a model from the gear library, a box without a data sheet, or a single item by its serial",
                words="model loudspeaker amplifier cable library unknown box serial number item",
            ),
            "zones": At(
                "Add one more box where others stand, with the load before and after; or a zone, or a loose box",
                words="wedge loudspeaker speaker monitor zone box link",
            ),
            "racks": At("Add a run, an amplifier or a rack", words="run cable lead amplifier processor rack"),
            "supply": At("Add a supply, an amplifier or a processor", words="generator circuit breaker mains feed"),
            "calculator": At("Fill in a formula and leave one field blank", label="formula", words="form formula"),
            "chart": At("Take this row along into the show: the amplifier full, or fewer boxes", label="take along"),
            "rows": At("Add a row like this one, behind it", label="add like this"),
            "form": At("Put what was found on the tape", label="to the tape"),
        },
    ),
    Action(
        "view",
        "v",
        "other view",
        words="show other page look list",
        at={
            "inventory": At(
                "What drives what: how many boxes on which amplifier, and what sets that",
                label="chart",
                words="chart drives compatible phone fits match how many boxes amplifier",
            ),
            "supply": At(
                "The page of the mains: loads, order to switch on, what to meter before the first plug",
                label="order",
                words="switch on order sequence electrician page generator",
            ),
            "triage": At(
                "Change between the rig check and the fault that is being looked for",
                words="rig check fault back search",
            ),
            "chart": At("The sets that fill the amplifier of this row", label="sets"),
        },
    ),
    Action(
        "stock",
        "s",
        "stock",
        words="how many count owned number quantity warehouse",
        at={"inventory": At("Say how many are owned")},
    ),
    Action(
        "mark",
        "m",
        "mark",
        words="pick choose select tick several many all of them",
        at={
            "zones": At(
                "Mark this box; enter then changes one field of all that are, c copies them, d removes them",
                rows=("boxes",),
            ),
            "sheets": At("Write this page, or leave it out", rows=("page", "format")),
        },
    ),
    Action(
        "write",
        "w",
        "write",
        words="print paper pages sheets export html csv pdf folder documents labels hand out",
        at={
            "sheets": At("Write the marked pages into a folder"),
            "pages": At("Write this page alone into a folder"),
        },
    ),
    Action(
        "failed",
        "x",
        "failed",
        words="broken defect smoke silent spare swap replace fail over emergency repair out of service",
        at={
            "overview": At("Something failed: what falls silent, and the moves that bring back most", shown=False),
            "inventory": At(
                "Take a single item out of service or back; of others, say how many are out", label="out of service"
            ),
            "zones": At("This box failed, or what feeds it: what falls silent, and what to do", rows=("boxes",)),
            "racks": At("Something here failed: what falls silent, and the moves that bring back most"),
            "supply": At(
                "This supply, unit or box failed: what falls silent, what to do; again: back", rows=("supply", "draw")
            ),
        },
    ),
    Action(
        "propose",
        "p",
        "propose",
        words="plan automatic assign assistant suggest optimise do it for me solve",
        at={
            "racks": At("Let the program plan outputs and runs: a preview first, then one undo step"),
            "supply": At(
                "Propose where to plug what, so that the phases are even: a preview first",
                words="balance phases even load distribute generator",
            ),
            "chart": At("Propose what carries a list of boxes", label="what carries"),
        },
    ),
    Action(
        "copy",
        "c",
        "copy",
        words="duplicate clone twin again like repeat same",
        at={
            "inventory": At("Make a model of your own like this one, under another name", label="copy"),
            "zones": At("Add another box like this one, on the other side; not on any run yet", rows=("boxes",)),
            "calculator": At("Type this expression again, to change it"),
        },
    ),
    Action(
        "remove",
        "d",
        "remove",
        words="delete erase drop take away out clear",
        at={
            "inventory": At("Remove the model, if nothing uses it, or the single item"),
            "zones": At("Remove it, after showing what goes with it"),
            "racks": At("Remove the run of this line or the unit of this free output, after showing what goes too"),
            "supply": At("Remove this supply or unit, after showing what goes with it", rows=("supply", "draw")),
            "calculator": At("Take this result off the tape"),
            "editor": At("Empty this field: back to what it is by itself", label="empty"),
            "rows": At("Take this row out"),
            "form": At("Leave this field blank", label="blank"),
        },
    ),
    Action(
        "bridge",
        "b",
        "bridge",
        "",
        "bridged mono couple pair btl parallel join channels",
        at={
            "racks": At("Bridge this channel with its neighbour, or take the pair apart", rows=("line", "output")),
        },
    ),
    Action(
        "instrument",
        "i",
        "instrument",
        words="meter reading kind dc impedance 1 khz tester reported load",
        at={
            "triage": At(
                "What is read: DC ohms, impedance at 1 kHz, or the load that the amplifier reports itself",
                rows=("read",),
            )
        },
    ),
    Action(
        "lead",
        "l",
        "lead",
        words="cable length loss",
        at={"chart": At("The lead to the first box that the chart is worked out for")},
    ),
    Action(
        "returns",
        "h",
        "home",
        words="came back return load-out count tick missing truck",
        at={"inventory": At("Tick off what came back at load-out: all, so many, one broken")},
    ),
    Action(
        "recover",
        "r",
        "unsaved work",
        words="restore lost crash journal battery back recover",
        at={"overview": At("See unsaved work of an earlier time, take it or drop it", rows=("kept",))},
    ),
    Action("mine", "left", "mine", at={"merge": At("Take this change as you have it")}),
    Action("theirs", "right", "theirs", at={"merge": At("Take this change as the others have it")}),
    Action("all_mine", "less_than_sign", "all open mine", at={"merge": At("Take all that is open as you have it")}),
    Action("all_theirs", "greater_than_sign", "all theirs", at={"merge": At("Take all that is open as they have it")}),
    # ---- in the menu only ------------------------------------------------------------------------------------
    Action(
        "edit_show",
        "",
        "data of the show",
        words="name temperature limits settings preferences venue date title fahrenheit celsius",
        at={"overview": At("Change what is true of the whole show: name, temperature, limits")},
    ),
    Action(
        "new",
        "",
        "new show",
        words="file create begin start empty",
        at={"overview": At("Make a new show file")},
    ),
    Action(
        "tour",
        "",
        "tour",
        words="learn begin start beginner help introduction first steps tutorial demonstration end",
        at={"overview": At("Begin the tour: ten steps build a small hall in a file of yours; again: end it")},
    ),
    Action(
        "keep",
        "",
        "to the gear library",
        words="save own library store model",
        at={"inventory": At("Keep this model in your own gear library, for every show")},
    ),
    Action(
        "weather",
        "",
        "weather",
        words="temperature cold hot warm air humidity evening delay rain wind climate",
        at={"zones": At("Today's air: what another temperature does to every delay, before it is taken")},
    ),
    Action(
        "mirror",
        "",
        "mirror this side",
        words="other side twin opposite symmetric copy left right flip",
        at={
            "zones": At(
                "Copy this side of the zone to the other: boxes, places, and runs whose amplifier has a twin",
                rows=("boxes",),
            )
        },
    ),
    Action(
        "all",
        "",
        "all pages or none",
        words="every mark unmark",
        at={"sheets": At("Mark all pages, or none")},
    ),
    Action(
        "since",
        "",
        "changes since",
        words="compare difference older version revision changed",
        at={"sheets": At("Add what changed since an older file of this show")},
    ),
    Action(
        "units",
        "",
        "units on paper",
        words="metric imperial feet metres pounds kilograms lb ft",
        at={"sheets": At("Lengths and weights as typed, metric or imperial")},
    ),
    Action(
        "noise",
        "",
        "one output alone",
        words="mute unmute solo noise pink alone one by one processor channel pass rig check",
        at={
            "triage": At("Quiet noise on one output at a time, all others muted: say whether it plays where it belongs")
        },
    ),
    Action(
        "warm",
        "",
        "cold or warm coils",
        words="temperature hot played",
        at={"triage": At("Say whether the coils have just played, for the readings that follow")},
    ),
    Action(
        "place",
        "",
        "meter elsewhere",
        words="other place box link alone point measure",
        at={"triage": At("Meter at another place: at a box, at its link, a box alone")},
    ),
    Action(
        "worked",
        "",
        "worked before",
        words="yesterday earlier was fine new old",
        at={"triage": At("Say whether it worked earlier")},
    ),
    Action(
        "running",
        "",
        "show is on",
        words="live running audience band playing tones",
        at={"triage": At("Say whether the show is on: no tones, nothing pulled")},
    ),
    Action(
        "doors",
        "",
        "how soon",
        words="time minutes doors clock until",
        at={"triage": At("Say how long it is until the doors: what takes longer waits")},
    ),
    Action(
        "note",
        "colon",
        "note",
        words="write down remark comment log text memo",
        at={"triage": At("Write a note on what is looked for, kept in the log with the time")},
        shown=False,
    ),
    Action(
        "without",
        "",
        "not there",
        words="missing meter tester spares help alone none",
        at={"triage": At("Say what there is not: meter, tester, spares, help")},
    ),
    Action(
        "useless",
        "",
        "did not help",
        words="still broken no use fix done",
        at={"triage": At("A fix was done and did not help")},
    ),
    Action(
        "fixed",
        "",
        "fixed",
        words="done repaired solved found works again close log tag",
        at={"triage": At("Fixed: say what it was; log, fault tag, out of service")},
    ),
    Action(
        "learned",
        "",
        "learned",
        words="odds history statistics experience forget",
        at={"triage": At("What closed cases counted in your own odds; take one back")},
    ),
    # ---- on every screen -------------------------------------------------------------------------------------
    Action(
        "go_to",
        "g",
        "go",
        "Find any label by a part of it or of what it is, in any script: its card, with what feeds it and is on it",
        "find search label jump locate where is box cable output line card look up",
    ),
    Action(
        "findings",
        "f",
        "problems",
        "List what is wrong with this plan, worst first",
        "findings errors warnings notes check wrong issues faults list",
    ),
    Action(
        "triage",
        "t",
        "trouble",
        "Look for a fault: at the thing of this row, or at any label",
        "fault triage silent no sound hum noise buzz distorted help problem broken quiet polarity wrong",
    ),
    FILTER,
    Action(
        "undo",
        "u,ctrl+z",
        "undo",
        "Take back the last change; in a search for a fault, the last answer",
        "back revert wrong mistake oops answer",
        at={"editor": At("Take back the last change"), "triage": At("Take back the last answer, or the last change")},
        shown=False,
    ),
    Action("redo", "ctrl+r,ctrl+y", "redo", "Do again what was taken back", "again repeat forward", shown=False),
    Action(
        "save",
        "ctrl+s",
        "save",
        "Write the show to its file",
        "write store keep disk file",
        shown=False,
        priority=True,
    ),
    Action(
        "take_over",
        "ctrl+t",
        "take over",
        "Edit a show that somebody else has open, or had",
        "lock claim read only other person shared",
        shown=False,
    ),
    Action(
        "background",
        "f12",
        "light or dark",
        "Change between a light and a dark background, and keep it",
        "theme colour color night sun bright contrast appearance",
        shown=False,
    ),
    Action(
        "bars",
        "",
        "bars and scales",
        "Draw bars and scales beside their numbers, or leave them out, and keep it",
        "screen reader aloud speech braille blind accessibility graphics lines without",
        shown=False,
    ),
    Action(
        "leave",
        "q,ctrl+q",
        "leave",
        "Leave the program; it asks when something is not saved",
        "quit exit close end stop bye",
        at={"chart": At("Leave the chart"), "pages": At("Leave the page")},
        shown=False,
    ),
    Action(
        "menu",
        "question_mark,ctrl+p",
        "all keys",
        "Find anything that can be done, here and on every other screen, by any word for it",
        "help commands palette actions keys shortcuts manual",
    ),
)

EVERYWHERE: tuple[Action, ...] = tuple(action for action in TABLE if action.help)
"""What works on every screen."""


def actions_at(place: str) -> tuple[Action, ...]:
    """List what can be done on one screen or in one window, beside what works everywhere."""
    return tuple(action.placed(place) for action in TABLE if place in action.at)
