"""Faults drawn from the model, looked for by the engine and by checklists: prints, asserts nothing.

    python tests/bench/triage.py [faults a run type] [part ...]     300 unless said; parts as named in PARTS

Answers follow the fault's own chances (``worlds``). All odds, minutes and spreads are estimates, so the numbers are
an order of magnitude and no promise. A fix is right where it fixes the fault: a spare box fixes a wrong switch.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from functools import cache
from statistics import mean, median

import msgspec
from worlds import World, case_of, draws, line_of, search

from fieldkit.triage.advice.advice import advice_of
from fieldkit.triage.advice.answers import outcomes
from fieldkit.triage.advice.choosing import Chooser, information
from fieldkit.triage.advice.menu import menu
from fieldkit.triage.belief.observations import Ear, Tried
from fieldkit.triage.belief.posterior import Belief
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING
from fieldkit.triage.model.odds import table


def by_engine(belief):
    chosen = Chooser(belief).next()
    return chosen.test if chosen else None


def checklist(case):
    order = {"lights": 0, "look-amp": 1, "listen": 2, "meter-amp": 3, "look": 4, "meter": 5, "polarity": 6, "swap": 7}

    def place(test):
        at_amp = test.at == "amp"
        name = f"{test.kind}-amp" if at_amp and test.kind in {"look", "meter"} else test.kind
        return order[name], not test.dc

    return sorted(menu(case), key=place)


def by_checklist(belief, *, skipping):
    stop = belief.case.table.stop
    if belief.is_decided:
        return None
    chooser = Chooser(belief)
    open_tests = {test.key for _, _, test in chooser.ranked()}
    for test in checklist(belief.case):
        if test.key not in open_tests:
            continue
        if not skipping or information(chooser.joint(test)[1]) >= stop["minimum_bits"]:
            return test
    return None


def twins(case):
    """List the pairs of faults with different fixes that no test on the menu tells apart."""
    every = [number for number, fault in enumerate(case.faults) if fault.kind != NONE_OF_THESE]
    columns = [outcomes(test, case, case.focus, every)[1] for test in menu(case)]
    found = set()
    for first, one in enumerate(every):
        for second, other in enumerate(every):
            if case.faults[one].fix != case.faults[other].fix and all(
                sum(abs(a - b) for a, b in zip(rows[first], rows[second], strict=True)) / 2 < 0.3 for rows in columns
            ):
                found.add((one, other))
    return found


def report(name, results):
    tests, minutes = mean(item.tests for item in results), mean(item.minutes for item in results)
    right = mean(item.right for item in results)
    sure = [item for item in results if item.share >= 0.95]
    held = mean(item.right for item in sure) if sure else float("nan")
    print(f"  {name:<34} tests {tests:4.1f}  minutes {minutes:5.1f}  first fix right {right:5.1%}  "
          f"sure in {len(sure) / len(results):4.0%}, of these right {held:6.1%}", flush=True)  # fmt: skip


def calibration(results):
    """Print what came true of each tenth of what was claimed."""
    parts = {}
    for item in results:
        parts.setdefault(min(int(item.share * 20), 19) / 20, []).append(item)
    rows = (f"{low:.0%}: {mean(i.right for i in its):.0%} of {len(its)}" for low, its in sorted(parts.items()))
    print("    claimed at least, came true: " + ", ".join(rows))


def run_type(name, case, count):
    print(f"{name}: {len(case.faults)} faults, {len(menu(case))} tests")
    for label, choose in (
        ("information per minute", by_engine),
        ("checklist, useless tests skipped", lambda belief: by_checklist(belief, skipping=True)),
        ("fixed checklist", lambda belief: by_checklist(belief, skipping=False)),
    ):
        random.seed(7)
        results = [search(world, said, choose) for world, said in draws(case, count)]
        report(label, results)
        if choose is by_engine:
            calibration(results)
            case.focus = case.boxes[-1]
            alike = twins(case)
            apart = [item for item in results if not any(one == item.true for one, _ in alike)]
            print(f"    of the faults that the tests separate, {len(apart)}: first fix right "
                  f"{mean(item.right for item in apart):.1%}")  # fmt: skip
            wrong = Counter(item.taken for item in results if not item.right)
            print(f"    {dict(wrong.most_common(6))}")


def run_types(count):
    for name, boxes, biamp in (
        ("two passive boxes", 2, False),
        ("four passive boxes", 4, False),
        ("two bi-amp boxes", 2, True),
        ("four bi-amp boxes", 4, True),
    ):
        run_type(name, case_of(boxes, biamp=biamp), count)


def robustness(count):
    print("robustness, two bi-amp boxes, the engine")
    right = table()
    case = case_of(2, biamp=True)
    for label, how in (
        ("as modelled", {}),
        ("double noise", {"noise": 2.0}),
        ("warm coils, nobody says", {"warm": True}),
    ):
        random.seed(11)
        report(label, [search(world, said, by_engine) for world, said in draws(case, count, **how)])
    random.seed(11)
    wrong = msgspec.structs.replace(
        right, odds={name: value * random.choice([0.25, 0.5, 2, 4]) for name, value in right.odds.items()}
    )
    other = case_of(2, biamp=True, numbers=wrong)
    report("wrong odds", [search(world, said, by_engine, case=other) for world, said in draws(case, count)])


FEW = ("bad-contact", "switch-wrong", "one-driver-of-two", "minus-crossed", "driver-shorted", "reversed")


def without(kind, boxes, biamp):
    """Give the case of an engine whose table gives a kind of fault no chance."""
    right = table()
    less = {kind: 1e-12} | ({"high-driver-open": 1e-12} if kind == "driver-open" else {})
    return case_of(boxes, biamp=biamp, numbers=msgspec.structs.replace(right, odds=right.odds | less))


def blind(count):
    """Take each kind of fault out of the model in turn: the world has it, the engine gives it no chance."""
    for boxes, biamp in ((2, True), (2, False)):
        case = case_of(boxes, biamp=biamp)
        kinds = [k for k in dict.fromkeys(f.kind for f in case.faults) if k not in {NOTHING, NONE_OF_THESE}]
        cases = {kind: without(kind, boxes, biamp) for kind in kinds}
        random.seed(13)
        results = {}
        for kind in kinds:
            numbers = [n for n, fault in enumerate(case.faults) if fault.kind == kind]
            for _ in range(max(6, count // len(kinds))):
                for _ in range(50):  # most of them sound odd somewhere; a report of something else otherwise
                    world = World(case, random.choice(numbers))
                    complaint = world.complaint()
                    if complaint:
                        break
                complaint = complaint or Ear(random.choice(case.boxes), "quiet")
                results.setdefault(kind, []).append(search(world, complaint, by_engine, case=cases[kind]))
        print(f"one kind of fault taken out of the model, {boxes} {'bi-amp' if biamp else 'passive'} boxes")
        _blind_rows("all kinds", [item for its in results.values() for item in its])
        _blind_rows("six kinds", [item for kind in FEW for item in results.get(kind, [])])
        unknown = table().stop["unknown"]
        mixed = []
        for world, said in draws(case, count):
            other = cases[world.fault.kind] if random.random() < unknown else None
            mixed.append(search(world, said, by_engine, case=other))
        report(f"{unknown:.0%} of a kind taken out", mixed)
        calibration(mixed)


def _blind_rows(name, results):
    wrong = [item for item in results if item.share >= 0.95 and not item.right]
    still = 0
    for item in wrong:
        belief = item.belief
        after = Belief(belief.case, [*belief.seen, Tried(item.fix)])
        still += after.fixes[0][1] >= 0.95
    unknown = mean(sum(i.share for i in item.belief.ranked if i.fault.kind == NONE_OF_THESE) > 0.1 for item in results)
    report(name, results)
    print(f"    sure of a fix that does not fix in {len(wrong) / len(results):.1%}; when that did not help, "
          f"still sure of one in {still / len(results):.1%}; 'none of these' over 10 % in {unknown:.0%}")  # fmt: skip
    print(f"    {dict(Counter(item.taken for item in wrong).most_common(10))}")


def optimum(_):
    print("exact optimum, answers without noise, against the one-step rule")
    for boxes, biamp, words in ((1, False, WORDS), (1, True, WORDS), (2, False, ("silent", "no-high", "quiet"))):
        for word in words:
            _optimum(case_of(boxes, biamp=biamp), f"B{boxes}", word, biamp=biamp)


WORDS = ("silent", "no-high", "no-low", "quiet", "distorted")


def _optimum(case, box, heard, *, biamp):
    """Compare the one-step rule with the best plan of all."""
    case.focus = box
    likely = [n for n, fault in enumerate(case.faults) if fault.kind not in {NOTHING, NONE_OF_THESE}]
    likely = [n for n in likely if case.signatures[n].heard(box)[heard] > 0.3]
    tests = []
    for test in menu(case):
        names, rows = outcomes(test, case, box, likely)
        answer = {n: max(range(len(names)), key=row.__getitem__) for n, row in zip(likely, rows, strict=True)}
        if len(set(answer.values())) > 1 and test.kind != "listen":
            tests.append((test.minutes, answer))
    odds = {n: case.faults[n].odds for n in likely}
    fix = {n: case.faults[n].fix for n in likely}

    def parts(state, answer):
        split = {}
        for n in state:
            split.setdefault(answer[n], []).append(n)
        return [tuple(part) for part in split.values()]

    def useful(state):
        return (
            [(minutes, parts(state, answer)) for minutes, answer in tests if len(parts(state, answer)) > 1]
            if len({fix[n] for n in state}) > 1
            else []
        )

    def weight(state):
        return sum(odds[n] for n in state)

    def bits(state, split):
        fixes = list({fix[n] for n in state})
        return information([[sum(odds[n] for n in part if fix[n] == name) for part in split] for name in fixes])

    # Every plan must go on for as long as some test still tells something about the fix, as the one-step rule does.
    def telling(state):
        return [(minutes, split) for minutes, split in useful(state) if bits(state, split) > 1e-9]

    @cache
    def best(state):
        choices = telling(state)
        return min((m * weight(state) + sum(map(best, split)) for m, split in choices), default=0.0)

    @cache
    def greedy(state):
        choices = telling(state)
        if not choices:
            return 0.0
        minutes, split = max(choices, key=lambda item: bits(state, item[1]) / item[0])
        return minutes * weight(state) + sum(map(greedy, split))

    whole = tuple(likely)
    if len({fix[n] for n in whole}) < 2:
        return
    minimum, ours = best(whole) / weight(whole), greedy(whole) / weight(whole)
    print(f"  {len(case.boxes)} {'bi-amp' if biamp else 'passive'}, {box} {heard}: {len(likely)} faults, "
          f"{len(tests)} tests: {minimum:.3f} min, one-step {ours:.3f} min ({ours / minimum - 1:+.1%})", flush=True)  # fmt: skip


def speed(_):
    rig = line_of(8, biamp=True)
    case = FaultSearch(rig, ["W1"], table())  # the first looks at the lines of the show, which are then solved
    times, first = [], []
    for name, word in (("B8", "no-high"), ("B1", "silent"), ("B4", "distorted"), ("B8", "quiet"), ("B8", "no-low")):
        for _ in range(5):
            started = time.perf_counter()
            advice_of(Belief(FaultSearch(rig, ["W1"], table()), [Ear(name, word)]))
            first.append(time.perf_counter() - started)
    random.seed(3)
    for world, said in draws(case, 25):
        seen = [said]
        for _ in range(4):
            started = time.perf_counter()
            belief = Belief(case, seen)
            chosen = Chooser(belief).next()
            times.append(time.perf_counter() - started)
            if chosen is None:
                break
            seen.append(world.answer(chosen.test, belief.focus))
    ordered = sorted(times)
    print(f"eight bi-amp boxes, {len(case.faults)} faults, {len(menu(case))} tests: first advice, show already solved, "
          f"{median(first) * 1e3:.0f} ms; next advice {median(times) * 1e3:.0f} ms, nine of ten under "
          f"{ordered[int(len(ordered) * 0.9)] * 1e3:.0f} ms")  # fmt: skip


PARTS = {"speed": speed, "optimum": optimum, "types": run_types, "robustness": robustness, "blind": blind}


def main():
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    named = [word for word in sys.argv[1:] if word in PARTS]
    for name in named or PARTS:
        PARTS[name](numbers[0] if numbers else 300)


if __name__ == "__main__":
    main()
