"""Every fault of seven wired rigs, looked for through the command alone: prints, asserts nothing.

    python tests/bench/wired.py [-v] [seed ...] [word of a rig ...]     seeds 1 and 2 unless said

A world of other code than the search, and than ``faults.py``: rigs, faults, spreads and solver of its own. Ears are wrong
in one case of ten, meters read with 3 %, coils of some rigs are warm.
"""

import os
import random
import sys
import tempfile
from pathlib import Path
from statistics import mean

sys.path.insert(0, str(Path(__file__).parents[1]))

from wired_faults import all_faults, search
from wired_rig import Plan, Step, Wired, text_of

HOST = ("host", "common")
RIGS = {
    "passive pair": (Plan(
        {"PL": ("floor", "passive", "main", "left"), "PR": ("floor", "passive", "main", "right")},
        {"W1": ("A.A", [Step(12, box="PL", cores=2)]), "W2": ("A.B", [Step(12, box="PR", cores=2)])},
        amps={"A": HOST}), 0.0),
    "bi-amp pair": (Plan(
        {"BL": ("hall-top", "bi-amp", "main", "left"), "BR": ("hall-top", "bi-amp", "main", "right")},
        {"W1": ("A.A", [Step(20, box="BL")]), "W2": ("A.B", [Step(20, box="BR")])}, amps={"A": HOST}), 40.0),
    "long chain": (Plan(
        {f"C{n}": ("strip", "passive", "fill", "") for n in range(1, 7)},
        {"W1": ("A.A", [Step(10, box="C1", cores=2), *(Step(4, box=f"C{n}", cores=2) for n in range(2, 7))])},
        amps={"A": HOST}), 0.0),
    "subs, alternate polarity": (Plan(
        {"S1": ("pair-sub", "passive", "subs", "left"), "S2": ("pair-sub", "passive", "subs", "left"),
         "S3": ("pair-sub", "passive", "subs", "right")},
        {"W1": ("A.A", [Step(15, box="S1"), Step(3, box="S2")]), "W2": ("A.B", [Step(15, box="S3")])},
        amps={"A": ("alternating", "alternate")}), 30.0),
    "wedges behind adaptors": (Plan(
        {"M1": ("floor", "passive", "wedges", "one"), "M2": ("floor", "passive", "wedges", "one"),
         "M3": ("floor", "passive", "wedges", "two")},
        {"W1": ("A.A", [Step(15, cores=4), Step(adaptor="straight", box="M1"), Step(5, box="M2", cores=2)]),
         "W2": ("A.B", [Step(15, box="M3", cores=2)])},
        amps={"A": ("tied", "bridge-tied")}, reach={"M3": "ladder"}), 0.0),
    "bridged subs through a panel": (Plan(
        {"D1": ("pair-sub", "passive", "subs", "left"), "D2": ("pair-sub", "passive", "subs", "right")},
        {"W1": ("A.A", [Step(10), Step(panel="BREAK", socket="A"), Step(3, box="D1")]),
         "W2": ("A.B", [Step(10), Step(panel="BREAK", socket="A"), Step(3, box="D2")])},
        amps={"A": HOST}, bridged=("A",)), 0.0),
    "tops and subs on shared processor outputs": (Plan(
        {"T1": ("tall-top", "bi-amp", "tops", "left"), "T2": ("tall-top", "bi-amp", "tops", "right"),
         "F1": ("floor", "passive", "fills", "all")},
        {"W1": ("A.A", [Step(15, box="T1")]), "W2": ("A.B", [Step(15, box="T2")]), "W3": ("B.A", [Step(10, box="F1")])},
        amps={"A": ("plain", "common"), "B": ("plain", "common")},
        processor={"A.1": "DP.1", "A.2": "DP.2", "A.3": "DP.1", "A.4": "DP.2", "B.1": "DP.3"},
        signals={"DP.1": "Show", "DP.2": "Show", "DP.3": "Voice"}), 0.0),
}  # fmt: skip


def main():
    seeds = [int(word) for word in sys.argv[1:] if word.isdigit()] or [1, 2]
    verbose = "-v" in sys.argv
    named = [word for word in sys.argv[1:] if not word.isdigit() and word != "-v"]
    every = []
    for name, (plan, warm) in RIGS.items():
        if named and not any(word in name for word in named):
            continue
        results, unnoticed = [], 0
        with tempfile.TemporaryDirectory() as folder:
            os.environ["FIELDKIT_CONFIG"] = os.environ["FIELDKIT_STATE"] = folder
            path = Path(folder) / "show.toml"
            path.write_text(text_of(plan), encoding="utf-8")
            for seed in seeds:
                healthy = Wired(plan, seed, warm)
                for number, broken in enumerate(all_faults(healthy, random.Random(seed))):
                    found = search(path, broken, healthy, seed * 1000 + number)
                    if found is None:
                        unnoticed += 1
                        continue
                    results.append(found)
                    if verbose and (not found.right or found.harmful):
                        print(
                            f"    {found.name}: {found.first['kind']} {found.first['at']} ({found.first['fix']}) "
                            f"{found.first['odds']:.0%}{' HARM' if found.harmful else ''}\n      {' '.join(found.said)}"
                        )
        every += results
        report(f"{name} (and {unnoticed} that nobody notices)", results)
    report("all", every)
    print("  most tests:", [(item.name, item.steps) for item in sorted(every, key=lambda item: -item.steps)[:12]])


def report(name, results):
    wrong = [item for item in results if not item.best_right and item.share >= 0.9]
    print(f"{name}: {len(results)} faults, first fix right {mean(i.right for i in results):.1%}, "
          f"tests {mean(i.steps for i in results):.2f}, minutes {mean(i.minutes for i in results):.1f}, "
          f"confident and wrong {len(wrong) / len(results):.1%}, harmful {sum(i.harmful > 0 for i in results)}, "
          f"answers not offered {sum(i.missing for i in results)}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
