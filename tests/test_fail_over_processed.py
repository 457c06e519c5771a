"""Fail-over of rigs whose amplifiers are fed by outboard processors: every step of any plan is made and looked at."""

from budget import tries
from failing_rigs import losing_show, unit
from hypothesis import given
from hypothesis import strategies as st
from rigs import box
from test_fail_over import LEFT, sound, wire

from fieldkit.planning.failover.fail_over import fail_over

SIGNALS = {"mains": "L", "subs": "Sub", "fill": "L", "mon": "Mix"}
"""What each zone of these shows hears on its left side."""
STOCK = ["", '[[stock]]\nmodel = "dsp"\nowned = 3\n', '[[stock]]\nmodel = "plain"\nowned = 3\n']


def routes(ways):
    """Write the routes of a processor."""
    return "routes = { " + ", ".join(f'{number} = "{entry}"' for number, entry in ways.items()) + " }"


@st.composite
def processed_shows(draw):
    """Draw healthy shows: two processors, three amplifiers behind them, one that hosts; and what failed."""
    mains, subs, fill, _ = draw(st.permutations("1234"))
    mon = draw(st.sampled_from("1234"))
    outputs = {"mains": f"DP.{mains}", "subs": f"DP.{subs}", "fill": f"DP.{fill}", "mon": f"DQ.{mon}"}
    second = draw(st.sampled_from(["", ', 2 = "L"', ', 2 = "Sub"', ', 2 = "R"']))
    text = unit("DP", "dsp", '{ 1 = "L", 2 = "Sub" }', routes({mains: "1", subs: "2", fill: "1"}))
    text += unit("DQ", "dsp", f'{{ 1 = "Mix"{second} }}', routes({mon: "1"}))
    number = 0
    for name, model, channels in (("P1", "plain", 2), ("P2", "plain", 2), ("H1", "hot", 2), ("F1", "four", 4)):
        inputs = {}
        for channel, letter in enumerate("ABCD"[:channels], start=1):
            kind = draw(st.sampled_from(["none", "top", "sub", "two tops"]))
            if kind == "none":
                continue
            zone = "subs" if kind == "sub" else draw(st.sampled_from(["mains", "fill", "mon"]))
            number += 1
            boxes = [f"B{number}a", f"B{number}b"] if kind == "two tops" else [f"B{number}a"]
            text += "".join(box(one, zone, "sub" if kind == "sub" else "top", LEFT) for one in boxes)
            text += wire(f"W{number}", f"{name}.{letter}", *boxes)
            inputs[channel] = SIGNALS[zone] if model == "four" else outputs[zone]
        text += unit(name, model, "{ " + ", ".join(f'{key} = "{source}"' for key, source in inputs.items()) + " }")
    failed = draw(st.sampled_from(["DP", "DQ", *outputs.values(), "P1", "H1.1", "F1"]))
    return losing_show(text + draw(st.sampled_from(STOCK))), failed


@tries(6)
@given(processed_shows())
def test_any_rig_gets_over_the_loss_of_any_processor_safely(drawn):
    show, failed = drawn
    sound(show, fail_over(show, [failed]))
