"""The posterior against an independent engine for Bayesian networks (pyAgrum), where one is installed.

A check for development: `pip install --no-deps pyAgrum`. The fast tests work the same out in fractions by hand.
"""

import pytest
from test_triage_engine import case_of

from fieldkit.triage.belief.observations import Ear, Light, SwapSeen
from fieldkit.triage.belief.posterior import Belief
from fieldkit.triage.model.fault import NONE_OF_THESE
from fieldkit.triage.model.hearing import HEARD, LIGHTS

gum = pytest.importorskip(
    "pyagrum", reason="the independent engine is not installed: pip install --no-deps pyAgrum", exc_type=ImportError
)

SEEN = (
    [Ear("B2", "no-high")],
    [Ear("B2", "no-high"), Ear("B1", "normal"), Light("A.2", "signal")],
    [Ear("B1", "silent"), Light("A.1", "protect"), SwapSeen("output", moved=True)],
)


def rows_of(signature, item):
    """Give all answers of a test under a fault, and which of them was given."""
    if isinstance(item, Ear):
        return [signature.heard(item.box)[word] for word in HEARD], HEARD.index(item.word)
    if isinstance(item, Light):
        return [signature.lights(item.output)[word] for word in LIGHTS], LIGHTS.index(item.word)
    moved = signature.moved(item.what, "B1")
    return [moved, 1.0 - moved], 0 if item.moved else 1


@pytest.mark.parametrize("seen", SEEN)
def test_an_independent_engine_gives_the_same_posterior(seen):
    case = case_of(2)
    belief = Belief(case, seen)
    known = [index for index, fault in enumerate(case.faults) if fault.kind != NONE_OF_THESE]
    network = gum.BayesNet("faults")
    network.add(gum.LabelizedVariable("fault", "", len(known)))
    odds = [case.faults[index].odds for index in known]
    network.cpt("fault").fillWith([part / sum(odds) for part in odds])
    evidence = {}
    for number, item in enumerate(seen):
        rows = [rows_of(case.signatures[index], item) for index in known]
        name = f"answer{number}"
        network.add(gum.LabelizedVariable(name, "", len(rows[0][0])))
        network.addArc("fault", name)
        for place, (row, _) in enumerate(rows):
            network.cpt(name)[{"fault": place}] = [part / sum(row) for part in row]
        evidence[name] = rows[0][1]
    engine = gum.LazyPropagation(network)
    engine.setEvidence(evidence)
    engine.makeInference()
    whole = sum(belief.shares[index] for index in known)
    ours = [belief.shares[index] / whole for index in known]
    assert ours == pytest.approx(engine.posterior("fault").tolist(), abs=1e-9)
