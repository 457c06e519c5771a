"""What is left for faults of a kind that the table does not have: by hand, and where a twin was taken out of the table."""

from fractions import Fraction

import msgspec
import pytest
from rigs import rig_of
from test_triage_circuit import METERED, biamp
from test_triage_engine import TABLE, case_of

from fieldkit.triage.advice.advice import advice_of
from fieldkit.triage.advice.choosing import Chooser
from fieldkit.triage.belief.doubt import chance_of_unknown
from fieldkit.triage.belief.observations import Ear, Light, SwapSeen, metered
from fieldkit.triage.belief.posterior import Belief
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.fault import NONE_OF_THESE


def test_a_place_counts_by_what_is_as_planned_there():
    case = case_of(2)
    belief = Belief(case, [Ear("B2", "no-high"), Ear("B1", "normal"), Light("A.2", "protect")])
    weights = []
    for fault, signature in zip(case.faults, case.signatures, strict=True):
        weight = Fraction(0 if fault.kind == NONE_OF_THESE else fault.odds)
        if signature:
            weight *= 1 - Fraction(signature.heard("B2")["normal"])
            weight *= Fraction(signature.heard("B1")["normal"])
            weight *= 1 - Fraction(signature.lights("A.2")["signal"])
        weights.append(weight)
    by_place = [weight / sum(weights) for weight in weights]
    assert belief.by_place == pytest.approx(list(map(float, by_place)), abs=1e-12)
    best = belief.by_table[0][2]
    elsewhere = 1 - sum(part for part, fault in zip(by_place, case.faults, strict=True) if fault.is_fixed_by(best))
    assert belief.doubt == pytest.approx(TABLE.stop["unknown"] * float(elsewhere))
    assert sum(item.share for item in belief.ranked) == pytest.approx(1.0)


def test_a_reading_is_as_planned_or_not_whatever_it_is():
    # Open, or twice the ohms: both are not as planned, and an unknown fault at a place is as likely with either.
    shares = [Belief(case_of(2), [metered(f"B2.alone:1={value}")]).by_place for value in ("open", "12", "40")]
    assert shares[1] == pytest.approx(shares[0])
    assert shares[2] == pytest.approx(shares[0])
    before, case = Belief(case_of(2), []).by_place, case_of(2)
    box = [fault.box == "B2" and fault.part == "box" for fault in case.faults]
    now, then = (sum(part for part, here in zip(every, box, strict=True) if here) for every in (shares[0], before))
    assert now > 3 * then


def test_a_fix_that_failed_speaks_for_the_unknown():
    # Own, worked by hand: all of the table's weight keeps 1/20, by place only half of it does:
    # 0.15 · 0.525 / (0.15 · 0.525 + 0.85 · 0.05) = 0.649. Shares after: the 0.5 that kept 1/20 are 0.025 of 0.525.
    by_place = [0.025 / 0.525, 0.5 / 0.525]
    assert chance_of_unknown(0.15, [1.0, 0.0], by_place, [0.05, 1.0]) == pytest.approx(0.649, abs=5e-4)
    assert chance_of_unknown(0.15, [1.0, 0.0], by_place, [1.0, 1.0]) == pytest.approx(0.15)


# 5.9 ohm and one of two drivers of the other box open, 11.8 ohm, on 15 m and 3 m of 2.5 mm²: a bad contact reads so too.
TWIN = [Ear("B2", "quiet"), Ear("B1", "normal"), metered("amp:1=4.17"), metered("B1.alone:1=5.9")]


def test_nothing_is_sure_where_a_twin_that_the_table_does_not_have_may_sit():
    less = msgspec.structs.replace(TABLE, odds=TABLE.odds | {"one-driver-of-two": 1e-12, "contact-inside": 1e-12})
    belief = Belief(FaultSearch(rig_of(biamp(2), METERED), ["W1"], less), TWIN)
    assert belief.by_table[0][0] == "replace the lead to B2"
    assert belief.is_decided
    assert not belief.is_sure
    advice = advice_of(belief)
    assert advice.suspects[0].share < 0.95
    assert "at B2, would show the same so far: 'replace the lead to B2' is the proof" in advice.cannot_tell[0]
    # A good lead in its place proves it.
    proved = Belief(belief.case, [Ear("B2", "quiet"), metered("B1.out:1=11.8"), SwapSeen("cable", moved=True)])
    assert proved.is_sure
    assert Chooser(proved).next() is None
    assert advice_of(proved).cannot_tell == ()


def test_a_test_that_only_confirms_takes_a_part_of_the_time_of_the_fix():
    less = msgspec.structs.replace(TABLE, odds=TABLE.odds | {"one-driver-of-two": 1e-12, "contact-inside": 1e-12})
    chosen = Chooser(Belief(FaultSearch(rig_of(biamp(2), METERED), ["W1"], less), TWIN)).next()
    assert chosen.test.minutes <= TABLE.stop["confirm_share"] * TABLE.repairs["replace-piece"]
    assert "confirms" in chosen.why


def test_what_replaces_a_part_fixes_whatever_is_wrong_with_it():
    faults = case_of(2).faults

    def cured_by(fix):
        done = next(fault for fault in faults if fault.fix == fix)
        return {(fault.kind, fault.at) for fault in faults if fault.is_fixed_by(done)}

    box, lead = cured_by("change the box B2 for a spare"), cured_by("replace the lead to B2")
    assert {("switch-wrong", "B2"), ("driver-open", "B2"), ("box-missing", "B2")} <= box
    assert {("not-home", "B2.in"), ("pairs-crossed", "lead to B2")} <= lead
    assert not {at for _, at in box | lead} & {"B1", "lead to B1", "A.1", "A.2"}
    assert not box & lead
    output = cured_by("use another output with the same preset and limiter for A.1")
    assert ("muted", "A.1") in output
    assert ("output-failed", "A.1") in output
    assert ("muted", "A.2") not in output
    assert {kind for kind, _ in cured_by("set the switch on B2 to bi-amp")} == {"switch-wrong"}
