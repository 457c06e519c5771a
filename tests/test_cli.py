"""The commands, to the letter of their contract: words, JSON, exit status, one line for what cannot be used."""

import json
import os
import re
import subprocess
import sys
from importlib import import_module

import pytest
from budget import thoroughly
from shows import FERRY, with_change

import fieldkit
from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.commands.command import read
from fieldkit.commands.faults import OBSERVED
from fieldkit.commands.table import COMMANDS
from fieldkit.gear import library
from fieldkit.gear.model_file import KINDS
from fieldkit.sheets.folder import FORMATS
from fieldkit.sheets.material import UNITS
from fieldkit.show.keep.storage import load
from fieldkit.triage.model.hearing import HEARD, LIGHTS


@pytest.fixture
def ferry(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    return str(path)


def command(*arguments, **options):
    """Run the program as a process."""
    environment = {**os.environ, **options.pop("env", {})}
    return subprocess.run(
        [sys.executable, "-m", "fieldkit", *arguments],
        capture_output=True,
        check=False,
        timeout=60,
        env=environment,
        **options,
    )


# ---- check -----------------------------------------------------------------------------------------------------------


def test_check_as_json(ferry, capsys):
    assert run(["check", ferry, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found) == {"findings", "counts", "checked", "not_checked"}
    assert set(found["counts"]) == {"errors", "warnings", "notes"}
    assert found["findings"]
    for item in found["findings"]:
        assert set(item) == {"severity", "rule", "where", "says", "why", "fix", "numbers"}
        assert item["severity"] in {"error", "warning", "note"}
        assert set(item["where"]) == {"kind", "id"}
        assert all(isinstance(number, float) for number in item["numbers"].values())
    for severity, name in (("error", "errors"), ("warning", "warnings"), ("note", "notes")):
        assert found["counts"][name] == sum(item["severity"] == severity for item in found["findings"])


def test_check_ends_with_1_when_there_are_errors(tmp_path, capsys):
    path = tmp_path / "show.toml"
    path.write_text(
        with_change('feeds = { 1 = "SR-1.1", 2 = "SR-1.2" }', 'feeds = { 1 = "SR-1.1", 2 = "SR-1.1" }'),
        encoding="utf-8",
    )
    assert run(["check", str(path)]) == 1
    assert "error: SR-1.1: " in capsys.readouterr().out


# ---- lines -----------------------------------------------------------------------------------------------------------


def test_lines_as_json(ferry, capsys):
    assert run(["lines", ferry, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    outputs = {item["id"]: item for item in found["outputs"]}
    assert list(outputs) == ["SR-1.1", "SR-1.2", "SR-1.3+4"]
    assert [item["mode"] for item in outputs.values()] == ["single", "single", "bridged"]
    assert outputs["SR-1.1"]["lines"] == ["W1/1"]
    low, high = found["lines"]
    assert (low["id"], low["output"], low["section"], low["preset"]) == ("W1/1", "SR-1.1", "low", "low-any")
    assert (high["id"], high["section"], high["preset"]) == ("W1/2", "high", "high-front")
    assert low["preset_why"]
    for line in (low, high):
        assert [box["box"] for box in line["boxes"]] == ["ML1", "ML2"]
        for box in line["boxes"]:
            assert {"box", "load_ohm", "full_v", "full_w", "limited_w", "loss_db", "damping_factor"} <= set(box)
        assert {"thermal_v", "peak_v", "thermal_dbu", "input_dbu", "input_dbfs"} <= set(line["limiter"])


# Own, worked by hand, at 18 °C: 7.98 mΩ/m × (1 − 0.00393·2) = 7.9173 mΩ/m; 20 m: 0.31669 Ω, 66 in (1.6764 m): 0.026545 Ω.
# Load: 0.31669 + 8 ∥ 8.026545 = 0.31669 + 4.006626 = 4.32332 Ω. The amplifier's points: 8 Ω 7.9057 A, 63.2456 V;
# 4 Ω 15 A, 60 V. On the line between them V = 66.8627 − 0.457548·I, and V = 4.32332·I: I = 13.98558 A, V = 60.4641 V.
# ML1: 60.4641 − 13.98558·0.31669 = 56.0350 V, 392.49 W; loss 20·log10(60.4641/56.0350) = 0.66077 dB; damping 8/0.31669.
# Limiter: √(350·8)/10^(3/20) = 37.4610 V; +33.690 dBu; −32 dB gain = +1.690 dBu; −21 dBu = −19.310 dBFS.
def test_lines_worked_by_hand(ferry, capsys):
    run(["lines", ferry, "--json"])
    found = json.loads(capsys.readouterr().out)
    output, line = found["outputs"][0], found["lines"][0]
    assert output["load_ohm"] == pytest.approx(4.32332, abs=5e-6)
    assert output["can_give_v"] == pytest.approx(60.4641, abs=5e-5)
    box, limiter = line["boxes"][0], line["limiter"]
    assert box["full_v"] == pytest.approx(56.0350, abs=5e-5)
    assert box["full_w"] == pytest.approx(392.49, abs=5e-3)
    assert box["loss_db"] == pytest.approx(0.66077, abs=5e-6)
    assert box["damping_factor"] == pytest.approx(8 / 0.31669, rel=1e-4)
    assert box["limited_w"] is None  # nothing limits yet
    assert box["clean_w"] == pytest.approx(392.49 / 2, abs=5e-3)
    assert box["threshold_w"] == pytest.approx((37.4610 * 56.0350 / 60.4641) ** 2 / 8, abs=5e-3)
    assert limiter["thermal_v"] == pytest.approx(37.4610, abs=5e-5)
    assert limiter["thermal_dbu"] == pytest.approx(33.690, abs=5e-4)
    assert limiter["input_dbu"] == pytest.approx(1.690, abs=5e-4)
    assert limiter["input_dbfs"] == pytest.approx(-19.310, abs=5e-4)


def test_every_figure_explains_itself_down_to_what_was_typed(ferry, capsys):
    run(["lines", ferry, "--json", "--why"])
    found = json.loads(capsys.readouterr().out)
    figures = found["lines"][0]["figures"]["ML2"]
    assert set(figures) == {"full_v", "full_w", "clean_w", "threshold_w", "loss_db", "damping_factor"}
    leaves = list(_leaves(figures["full_w"]))
    sources = {leaf["source"] for leaf in leaves}
    assert "run W1, step 1 '20 m'" in sources
    assert "run W1, step 2 '66 in'" in sources
    assert "model quad-900, powers" in sources
    assert "model four-core-2.5" in sources
    assert "show, temperature '18 °C'" in sources
    assert "a constant" not in sources
    plain = next(box for box in found["lines"][0]["boxes"] if box["box"] == "ML2")
    for name, figure in figures.items():
        assert figure["value"] == pytest.approx(plain[name], rel=1e-12)
        assert figure["formula"]
        assert figure["source"]
    assert "IEC 60228" in json.dumps(figures["full_v"])


def _leaves(figure):
    if "inputs" not in figure:
        yield figure
    for item in figure.get("inputs", {}).values():
        yield from _leaves(item)


def test_lines_as_text_stay_within_80_columns(capsys):
    for name in samples.names():
        for options in ([], ["--why"]):
            assert run(["lines", str(samples.folder() / f"{name}.toml"), *options]) == 0
            lines = capsys.readouterr().out.splitlines()
            assert max(map(len, lines)) <= 80


# ---- calc ------------------------------------------------------------------------------------------------------------


def test_calc(capsys):
    assert run(["calc", "sqrt(500 W * 8 ohm)", "--to", "V"]) == 0
    assert capsys.readouterr().out == "63.2456 V\n"
    assert run(["calc", "-10 dBV", "--to=V"]) == 0
    assert capsys.readouterr().out == "0.316228 V\n"
    assert run(["calc", "-10dBV", "--to", "V", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["unit"], found["text"]) == ("V", "0.316228 V")
    assert found["value"] == pytest.approx(10**-0.5)
    assert run(["calc", "82", "ft", "--to", "m"]) == 0
    assert capsys.readouterr().out == "24.9936 m\n"


@pytest.mark.parametrize(
    ("arguments", "status"), [(["1/0"], 1), (["1 +"], 2), (["3 m", "--to", "kg"], 2), ([], 2), (["--to", "V"], 2)]
)
def test_calc_that_fails(arguments, status, capsys):
    assert run(["calc", *arguments]) == status
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("fieldkit: ")
    assert printed.err.count("\n") == 1


def test_calc_lists_what_it_knows(capsys):
    assert run(["calc", "--list"]) == 0
    assert "cable_loss(length [m], area [mm²], load [ohm]) → dB" in capsys.readouterr().out


# ---- new, the plan, and the words ------------------------------------------------------------------------------------


def test_a_new_show_checks_clean(tmp_path, capsys):
    path = tmp_path / "mine.toml"
    assert run(["new", str(path)]) == 0
    assert run(["check", str(path)]) == 0
    before = path.read_bytes()
    assert run(["new", str(path)]) == 2
    assert path.read_bytes() == before
    assert "there is such a file already" in capsys.readouterr().err


def test_the_starter_works_when_its_examples_are_taken_in(tmp_path, capsys):
    path = tmp_path / "mine.toml"
    run(["new", str(path)])
    lines = path.read_text(encoding="utf-8").splitlines()
    start = lines.index("[show]")
    example = re.compile(r"# (\[\[|\]|    \{|[a-z_]+ = )")
    taken = [line[2:] if example.match(line) else line for line in lines[start:]]
    path.write_text("\n".join([*lines[:start], *taken]), encoding="utf-8")
    assert run([str(path)]) == 0
    printed = capsys.readouterr().out
    assert "TL LOAN" in printed
    assert "assumed" in printed


@pytest.mark.parametrize("name", samples.names())
def test_a_sample_is_copied_whole(name, tmp_path):
    path = tmp_path / "copy.toml"
    assert run(["new", str(path), "--sample", name]) == 0
    assert path.read_bytes() == (samples.folder() / f"{name}.toml").read_bytes()
    assert load(path).show == load(samples.folder() / f"{name}.toml").show


def test_without_a_terminal_the_checked_plan_is_printed(ferry):
    done = command(ferry, encoding="utf-8")
    assert done.returncode == 0
    assert "Ferry landing, Sunday" in done.stdout
    assert "W1/1  ML1 ML2" in done.stdout
    assert "warning: mains" in done.stdout
    assert "Caution" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["chek", "x.toml"], "'chek' is neither a command nor a file; did you mean 'check'?"),
        (["check"], "expected SHOW"),
        (["check", "a.toml", "b.toml"], "unexpected 'b.toml'"),
        (["check", "a.toml", "--jsn"], "unknown option '--jsn'; did you mean '--json'?"),
        (["new", "x.toml", "--sample"], "--sample: expected a value after it"),
        (["new", "x.toml", "--sample", "village_hal"], "no sample 'village_hal'; did you mean 'village_hall'?"),
        (["check", "a.toml", "--json=yes"], "--json: takes no value, got 'yes'"),
        (["guide", "zzz"], "no page 'zzz'; there are calculator, chart,"),
        (["guide", "papr"], "no page 'papr'; did you mean 'paper'?"),
        (["add", "x.toml"], "a line in quotes each, such as '2 two-way-12 mains left'"),
        (["help", "chek"], "no command 'chek'; did you mean 'check'?"),
        (["--jason"], "unknown option '--jason'"),
        (["-x"], "unknown option '-x'"),
        (["failover", "x.toml", "--lost", "A"], "'--lost' is called '--failed' now"),
        (["failover", "x.toml", "--lost=A"], "'--lost' is called '--failed' now"),
        (["check", "x.toml", "--lost"], "unknown option '--lost'; 'fieldkit check --help' shows how"),
        (["help", "mains"], "'mains' is called 'supply' now"),
        (["schema", "x"], "unexpected 'x'"),
        (["none.toml"], "none.toml: there is no such file"),
    ],
)
def test_a_command_line_that_cannot_be_used(arguments, says, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run(arguments) == 2
    printed = capsys.readouterr()
    assert says in printed.err
    assert (printed.out, printed.err.count("\n")) == ("", 1)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("CHECK", "'CHECK' is neither a command nor a file; did you mean 'check'?"),
        ("mains", "'mains' is called 'supply' now"),
        ("village_hall", "'village_hall' is a sample and no file here; 'fieldkit new village_hall.toml --sample vill"),
    ],
)
def test_a_first_word_that_is_nearly_something(word, says, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run([word]) == 2
    assert says in capsys.readouterr().err


def test_an_empty_plan_says_what_to_begin_with(tmp_path, capsys):
    path = str(tmp_path / "show.toml")
    assert run(["new", path]) == 0
    for arguments in (["check", path], ["lines", path], [path]):
        capsys.readouterr()
        assert run(arguments) == 0
        assert capsys.readouterr().out.endswith(
            "nothing is planned yet: begin with zones and boxes, then an amplifier and runs\n"
        )
    assert run(["check", path, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["findings"] == []


def test_models_are_listed_and_searched(capsys):
    assert run(["models"]) == 0
    every = capsys.readouterr().out.splitlines()
    assert len(every) == len(library.every())
    assert max(map(len, every)) <= 80
    assert run(["models", "LOUDspeaker", "sub"]) == 0
    subs = capsys.readouterr().out.splitlines()
    assert [line.split()[1] for line in subs] == ["sub-double-18-inch", "sub-single-15-inch", "sub-single-18-inch"]
    assert "8 ohm 680 W" in subs[2]
    assert run(["models", "no-such-thing"]) == 1
    assert capsys.readouterr() == ("", "fieldkit: models: none matches 'no-such-thing'\n")
    assert run(["models", "--jsn"]) == 2


def test_models_as_json(capsys):
    assert run(["models", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found) == {"models", "unusable"}
    by_id = {model["id"]: model for model in found["models"]}
    assert set(by_id) == {entry.model.id for entry in library.every()}
    assert {model["kind"] for model in found["models"]} == set(KINDS)
    # as the demonstration files have them
    assert by_id["two-channel-plain"]["channels"] == 2
    assert by_id["two-channel-plain"]["minimum_ohm"] == 4.0
    assert by_id["four-core-2.5"]["area_mm2"] == 2.5
    assert by_id["sub-single-18-inch"]["sections"][0]["continuous_w"] == 680.0
    assert "two-way-8-inch" in by_id["portable-four-hosting"]["hosts"]
    assert by_id["pair-crossing"]["pins"] == {"1": "2", "2": "1"}


def test_a_gear_folder_that_is_none_is_said_and_the_work_is_done(tmp_path, monkeypatch, capsys, ferry):
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "none"))
    assert run(["models", "four-core"]) == 0
    said = "FIELDKIT_GEAR names '{}', which is no folder; only the demonstration models are known"
    printed = capsys.readouterr()
    assert printed.err == f"fieldkit: {said.format(tmp_path / 'none')}\n"
    assert printed.out.count("\n") == 2
    monkeypatch.setenv("FIELDKIT_GEAR", str(ferry))
    assert run(["lines", str(ferry)]) == 0
    assert capsys.readouterr().err == f"fieldkit: {said.format(ferry)}\n"
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path))
    assert run(["lines", str(ferry)]) == 0
    assert capsys.readouterr().err == ""


def test_an_own_file_that_cannot_be_used_is_said_with_its_line(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path))
    (tmp_path / "mine.toml").write_text('[cable]\nid = "mine"\narea = 2.5\n', encoding="utf-8")
    (tmp_path / "good.toml").write_text('[cable]\nid = "good"\narea = "2.5 mm²"\n', encoding="utf-8")
    assert run(["models", "good"]) == 0
    printed = capsys.readouterr()
    assert "good (own)" in printed.out
    assert (
        printed.err == "fieldkit: gear library: mine.toml:3: area: expected an area in quotes with its unit, got 2.5\n"
    )


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ('[[boxes]]\nid = "B"\nmodel = "sub"\nzone = "z"\n', "one of sub-double-18-inch, sub-single-15-inch, sub-"),
        ('[[boxes]]\nid = "B"\nmodel = "core"\nzone = "z"\n', "expected one of fill-column, self-powered-10-inch"),
        ('[[rack_units]]\nid = "A"\nmodel = "large"\n', "did you mean two-channel-large?"),
        ('[[racks]]\nid = "R"\nas_built = "processor"\n', "did you mean 'rack-with-processor'?"),
    ],
)
def test_a_wrong_model_name_gets_candidates_of_its_kind(row, says, tmp_path, capsys):
    path = tmp_path / "show.toml"
    path.write_text(f'format = 2\n[[zones]]\nid = "z"\n{row}', encoding="utf-8")
    assert run(["check", str(path)]) == 2
    assert says in capsys.readouterr().err


def test_help_and_version(capsys):
    for arguments in ([], ["--help"], ["-h"], ["help"]):
        assert run(arguments) == 0
        usage = capsys.readouterr().out
        for command in COMMANDS.values():
            assert re.search(rf"{re.escape(command.short_form)}\s", usage)
            assert command.summary in usage
        assert max(map(len, usage.splitlines())) <= 80
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"fieldkit {fieldkit.__version__}\n"


@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)
def test_each_command_has_a_help_and_refuses_what_is_not_declared(command, capsys):
    for asked in (
        [command.name, "--help"],
        [command.name, "-h"],
        ["help", command.name],
        [command.name, "x", "--help"],
    ):
        assert run(asked) == 0
        shown = capsys.readouterr().out
        assert shown.startswith(f"fieldkit {command.name}")
        assert all(option.name in shown for option in command.options)
        assert max(map(len, shown.splitlines())) <= 80
    if command.words:
        minimum = command.count[0]
        assert run([command.name]) == (2 if minimum else 0)
        assert (f"expected {command.expected or command.words}" in capsys.readouterr().err) == bool(minimum)
    for option in command.options:
        near = f"{option.name[:-1]}q" if option.name.startswith("--") else "--none"
        assert run([command.name, "x", near]) == 2
        printed = capsys.readouterr()
        assert (printed.out, printed.err.count("\n")) == ("", 1)
        assert f"unknown option '{near}'" in printed.err
        assert near == "--none" or "did you mean '--" in printed.err
        if option.value:
            assert run([command.name, "x", option.name]) == 2
            assert capsys.readouterr().err == f"fieldkit: {option.name}: expected a value after it\n"
    assert run([command.name, *("x" for _ in range(9)), "--none"]) == 2
    assert callable(
        getattr(import_module(f"fieldkit.commands.{command.work.split('.')[0]}"), command.work.split(".")[1])
    )


def test_the_help_of_a_command_names_the_words_that_it_takes():
    def said(command, option):
        return next(item.help for item in COMMANDS[command].options if item.name == option)

    assert all(word in said("triage", "--heard") for word in HEARD)
    assert all(word in said("triage", "--lights") for word in LIGHTS)
    assert all(name in {option.name for option in COMMANDS["triage"].options} for name in OBSERVED)
    assert all(word in said("sheets", "--formats") for word in FORMATS)
    assert all(word in said("sheets", "--units") for word in UNITS)


def test_what_is_behind_two_dashes_is_a_word():
    given = read(COMMANDS["check"], ["--json", "--", "--help"])
    assert (given.words, "--json" in given) == (("--help",), True)


@pytest.mark.parametrize(("sample", "status"), [("mistakes", 1), ("village_hall", 0)])
@pytest.mark.parametrize("options", [[], ["--json"]])
def test_the_status_does_not_depend_on_whoever_reads(sample, status, options):
    reading, writing = os.pipe()
    os.close(reading)  # nobody reads from the very beginning
    path = str(samples.folder() / f"{sample}.toml")
    try:
        done = subprocess.run(
            [sys.executable, "-m", "fieldkit", "check", path, *options],
            stdout=writing,
            stderr=subprocess.PIPE,
            check=False,
            timeout=60,
        )
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (status, b"")


def test_a_reader_who_has_enough_is_no_error():
    path = str(samples.folder() / "open_air.toml")
    done = subprocess.run(  # noqa: S602
        f'"{sys.executable}" -m fieldkit lines "{path}" --why | head -n 1',
        shell=True,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.stderr == ""
    assert done.returncode == 0


@pytest.mark.parametrize(
    "env", [{"PYTHONIOENCODING": "ascii"}, {"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}]
)
def test_a_terminal_without_omega_gets_ohm(ferry, env):
    printed = {}
    for arguments in thoroughly(
        *(("lines", ferry, "--why"), ("calc", "8 ohm"), ("chart", "--help")),
        more=[("check", ferry), (ferry,), ("calc", "--list")],
    ):
        done = command(*arguments, env=env)
        assert done.returncode == 0, done.stderr
        printed[arguments] = done.stdout.decode("ascii")
        assert b"Traceback" not in done.stderr
    assert all(printed.values())
    assert "8.00000 ohm" in printed["calc", "8 ohm"]


def test_what_people_type_never_reaches_the_terminal_raw(tmp_path, capsys):
    path = tmp_path / "show.toml"
    text = with_change("Ferry landing, Sunday", "\\u001b[31mred\\u0007\\u202e [bold]x[/bold]")
    path.write_text(text.replace('signals = { left = "L"', 'signals = { left = "\\u001b[2J"'), encoding="utf-8")
    for arguments in (["check"], ["lines"], []):
        run([*arguments, str(path)])
        printed = capsys.readouterr().out
        assert not any(mark in printed for mark in "\x1b\x07\u202e")
    run([str(path)])
    assert "[bold]x[/bold]" in capsys.readouterr().out


def test_a_fault_of_the_program_is_not_hidden(ferry, monkeypatch):
    def broken(_rig, _today=None):
        raise ValueError("a fault")

    monkeypatch.setattr("fieldkit.checks.checking.check", broken)
    with pytest.raises(ValueError, match="a fault"):
        run(["check", ferry])
