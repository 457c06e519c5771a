"""Mute first: while a suspect could put a band on a driver that it harms, that output is muted before anybody listens."""

import json

import msgspec
import pytest
from rigs import AMP, box, rig_of, run, step
from test_triage_circuit import METERED, biamp

from fieldkit.commands.cli import run as command
from fieldkit.triage.advice.advice import advise
from fieldkit.triage.advice.menu import menu
from fieldkit.triage.advice.muting import Mute, comes_first, muting_text
from fieldkit.triage.belief.observations import ear, light, look, polarity
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.odds import table

PLAYS = {"listen", "polarity", "swap"}


def advice(*seen, text=None, what="B2"):
    return advise(rig_of(text or biamp(2), METERED), [what], seen)


def test_crossed_pairs_are_muted_before_anybody_listens():
    found = advice(ear("B2=distorted"))
    assert {"A.1", "A.2"} == {mute.output for mute in found.first}
    assert found.next.test.kind not in PLAYS
    low = next(mute for mute in found.first if mute.output == "A.1")
    assert "low" in low.says
    assert "high driver of B" in low.says
    assert "rated 60 W" in low.says


def test_an_unlikely_harm_waits_until_somebody_listens_and_all_is_one_sentence():
    unlikely = [Mute("A.1", 0.02, "pairs are exchanged", "up to 9 W of low into the high driver of B1")]
    unlikely.append(Mute("A.2", 0.01, "a preset is another", "up to 5 W of another band into it"))
    assert [comes_first(unlikely, kind) for kind in ("look", "meter", "listen", "swap", "")] == [0, 0, 1, 1, 1]
    assert comes_first([msgspec.structs.replace(unlikely[0], share=0.05)], "look")
    assert not comes_first([], "listen")
    assert muting_text(unlikely) == (
        "mute A.1 (2%), A.2 (1%) and keep them muted: if pairs are exchanged, A.1 could put up to 9 W of low into the "
        "high driver of B1"
    )


def test_what_a_crossed_pair_puts_into_a_high_driver():
    """The most that the low output gives, less some volts in the lead, into 16 ohm: P = U²/Z, by hand."""
    case = FaultSearch(rig_of(biamp(1), METERED), ["B1"], table())
    crossed = next(one for one in case.signatures if one and one.fault.kind == "pairs-crossed")
    (harm,) = [one for one in crossed.harms if one.output == "A.1"]
    watts = float(harm.says.split()[2])
    assert watts == pytest.approx(case.bench.most_v("A.1") ** 2 / 16, rel=0.05)
    assert not [one for one in crossed.harms if one.output == "A.2"]  # highs into a low driver harm nothing


def test_the_mute_goes_once_no_suspect_could_harm():
    """A preset is seen at the amplifier: while nobody has looked, its output stays muted."""
    assert [mute.output for mute in advice(ear("B2=no-high")).first] == ["A.2"]
    looked = advice(ear("B2=no-high"), look("amp=right"))
    assert looked.first == ()
    assert "listen" in {
        test.kind for test in menu(FaultSearch(rig_of(biamp(2), METERED), ["B2"], table()), looked.means)
    }


def test_a_passive_line_is_listened_to():
    passive = AMP + box("B1") + box("B2") + run("W1", "A.A", step("four", "15 m", "B1"), step("four", "2 m", "B2"))
    assert advice(ear("B2=distorted"), text=passive).first == ()


@pytest.mark.parametrize("word", ["distorted", "no-high", "no-low", "quiet", "silent", "crackle", "hum", "normal"])
@pytest.mark.parametrize("more", [(), (polarity("B1=planned"),), (light("A.1=signal"), light("A.2=signal"))])
def test_nobody_listens_to_what_is_muted(word, more):
    found = advice(ear(f"B2={word}"), *more)
    if found.first and found.next:
        assert found.next.test.kind not in PLAYS


def test_by_command_the_mute_comes_first(capsys, tmp_path):
    path = tmp_path / "show.toml"
    path.write_text(METERED + biamp(2), encoding="utf-8")
    command(["triage", str(path), "--heard", "B2=distorted", "--json"])
    found = json.loads(capsys.readouterr().out)
    assert any(step.startswith("mute A.1") for step in found["first"])
    assert found["next"]["kind"] not in PLAYS
    command(["triage", str(path), "--heard", "B2=distorted"])
    text = capsys.readouterr().out
    assert text.index("first: mute A.1") < text.index("next,")
