"""The gear library: what travels with the program, what the user keeps, and what cannot be used."""

import re
import subprocess
import sys
from math import sqrt

import pytest
from budget import asked_of_each

from fieldkit.gear import library
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.library import LibraryError, broken, every, find, keep
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.model_file import KINDS, Model, ModelFileError, kind_of, parse, text_of
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.show.document import MODEL_TABLES, Show
from fieldkit.show.references import problems
from fieldkit.text.folders import GEAR, gear_folder

FILES = sorted(library.DEMONSTRATION.glob("*.toml"))
MODELS = [parse(path.read_text(encoding="utf-8")) for path in FILES]
SPEAKERS = [model for model in MODELS if isinstance(model, Loudspeaker)]
each_model = asked_of_each([(model,) for model in MODELS])
AMPLIFIERS = [model for model in MODELS if isinstance(model, Amplifier)]

LEAD = '[cable]\nid = "my-lead"\narea = "2.5 mm²"\n'


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch):
    folder = tmp_path / "gear"
    monkeypatch.setenv(GEAR, str(folder))
    return folder


@pytest.fixture
def write(own):
    own.mkdir()

    def _write(name, text):
        (own / name).write_text(text, encoding="utf-8")

    return _write


# --- the demonstration library ---


@asked_of_each([(path,) for path in FILES])
def test_every_demonstration_model_is_found_by_its_file_name_and_says_it_is_invented(path):
    model = find(path.stem)
    assert model is not None
    assert model.id == path.stem
    assert path.read_text(encoding="utf-8").startswith("# Invented data, for demonstration")


def test_the_demonstration_library_has_models_of_every_kind():
    assert {entry.kind for entry in every()} == set(KINDS)
    assert len(every()) == len(FILES)
    assert not any(entry.own for entry in every())


def test_the_kinds_are_the_model_tables_of_a_show():
    assert tuple(f"{kind}s" for kind in KINDS) == MODEL_TABLES


def test_the_demonstration_models_hold_together_as_a_show():
    tables = {}
    for model in MODELS:
        tables.setdefault(f"{kind_of(model)}s", []).append(model)
    assert list(problems(Show(**{name: tuple(models) for name, models in tables.items()}))) == []


def test_amplifiers_host_only_loudspeakers_that_there_are():
    names = {speaker.id for speaker in SPEAKERS}
    for model in MODELS:
        hosts = model.hosts if isinstance(model, (Amplifier, Processor)) else None
        assert hosts is None or set(hosts.presets) <= names | {"any"}, model.id


@each_model
def test_model_ids_are_plain_words_and_not_like_product_names(model):
    assert not re.search(r"[a-z]\d|\d[a-z]|[A-Z]", model.id)


@pytest.mark.parametrize("model", AMPLIFIERS, ids=lambda model: model.id)
def test_volts_of_an_amplifier_sag_as_the_load_falls(model):
    # V = √(P·Z), Ohm's law; a source with resistance gives fewer volts into a lower load, and more current.
    for bridged in (False, True):
        ratings = sorted(model.ratings(bridged=bridged), key=lambda rating: rating.load.value)
        volts = [sqrt(rating.power.value * rating.load.value) for rating in ratings]
        amps = [sqrt(rating.power.value / rating.load.value) for rating in ratings]
        assert volts == sorted(volts)
        assert amps == sorted(amps, reverse=True)


@pytest.mark.parametrize("model", AMPLIFIERS, ids=lambda model: model.id)
def test_bridged_volts_are_at_most_twice_those_of_one_channel_into_half_the_load(model):
    # By definition each channel sees half the load; 3 % is for the rounding of sheets.
    single = {
        round(rating.load.value, 3): sqrt(rating.power.value * rating.load.value)
        for rating in model.ratings(bridged=False)
    }
    for rating in model.ratings(bridged=True):
        one_v = single[round(rating.load.value / 2, 3)]
        assert sqrt(rating.power.value * rating.load.value) <= 2 * one_v * 1.03


@pytest.mark.parametrize("model", AMPLIFIERS, ids=lambda model: model.id)
def test_the_least_bridged_load_is_at_least_twice_the_least_single_load(model):
    # Each channel sees half of it, by definition.
    assert model.minimum_load_ohm(bridged=True) >= 2 * model.minimum_load_ohm(bridged=False) - 1e-9


@pytest.mark.parametrize("speaker", SPEAKERS, ids=lambda speaker: speaker.id)
def test_peak_ratings_are_6_to_12_db_over_continuous(speaker):
    # common practice, no source: peak is four times continuous or more on data sheets
    for section in speaker.sections:
        if section.continuous is not None and section.peak is not None:
            assert 4.0 <= section.peak.value / section.continuous.value <= 10**1.2


@pytest.mark.parametrize("speaker", SPEAKERS, ids=lambda speaker: speaker.id)
def test_pins_are_as_the_trade_has_them(speaker):
    # common practice, no source: full range and subs on pair 1; bi-amp low on 1, high on 2
    for section in speaker.sections:
        if section.section in {"full", "sub"}:
            assert section.pair == 1
    if "bi-amp" in speaker.drives():
        pairs = {section.pair: section.section for section in speaker.sections_in("bi-amp")}
        assert pairs[1] == "low"
        assert pairs[2] == "high"


@pytest.mark.parametrize("speaker", SPEAKERS, ids=lambda speaker: speaker.id)
def test_presets_hold_a_section_within_its_rating_and_vented_subs_have_their_high_pass(speaker):
    for section in speaker.sections:
        for name in section.presets:
            preset = speaker.preset(name)
            assert preset.limiter.value <= section.continuous.value
            assert not section.vented or preset.high_pass is not None
            assert section.section != "high" or preset.high_pass.value >= 300  # a high section below that fails


@pytest.mark.parametrize("speaker", SPEAKERS, ids=lambda speaker: speaker.id)
def test_dc_resistance_lies_where_drivers_have_it(speaker):
    # common practice, no source: 0.7 to 0.85 of nominal, narrower drivers down to two thirds
    for section in speaker.sections:
        if section.dc_resistance is not None:
            assert 0.65 <= section.dc_resistance.value / section.impedance.value <= 0.85


def test_a_double_box_of_like_sections_has_them_on_pairs_of_their_own():
    large = find("three-way-large")
    assert isinstance(large, Loudspeaker)
    pairs = [section.pair for section in large.sections_in("bi-amp")]
    assert len(set(pairs)) == len(pairs) == 3


# --- the user's own ---


def test_keep_and_find_again(own):
    model = parse(LEAD)
    path = keep(model)
    assert path == own / "my-lead.toml"
    assert find("my-lead") == model
    assert [file.name for file in own.iterdir()] == ["my-lead.toml"]  # no part of a write is left
    assert broken() == ()
    assert next(entry for entry in every() if entry.model.id == "my-lead").own


def test_keep_does_not_overwrite_unless_told(own):
    keep(parse(LEAD))
    thick = parse(LEAD.replace("2.5", "4"))
    with pytest.raises(LibraryError, match=r"^my-lead.toml: there is such a model already; it was left as it is$"):
        keep(thick)
    assert find("my-lead") == parse(LEAD)
    keep(thick, replace=True)
    assert find("my-lead") == thick
    assert len(list(own.iterdir())) == 1


def test_keep_says_why_it_cannot_write(own):
    own.write_text("a file where the folder should be")
    with pytest.raises(LibraryError, match=r"^my-lead.toml: the file cannot be written: "):
        keep(parse(LEAD))


def test_own_models_come_before_the_demonstration():
    changed = parse((library.DEMONSTRATION / "two-core-2.5.toml").read_text(encoding="utf-8").replace("20 A", "16 A"))
    keep(changed)
    assert find("two-core-2.5") == changed
    [entry] = [entry for entry in every() if entry.model.id == "two-core-2.5"]
    assert entry.own
    assert entry.model == changed


def test_without_the_variable_the_platforms_data_folder_is_meant(monkeypatch):
    monkeypatch.delenv(GEAR)
    folder = gear_folder()
    assert folder.name == "gear"
    assert "fieldkit" in folder.parts


def test_what_the_library_does_not_have_is_none():
    assert find("no-such-model") is None
    assert broken() == ()


@each_model
def test_a_model_reads_back_as_it_was_written(model: Model):
    assert parse(text_of(model)) == model


# --- files that cannot be used ---

PROBLEMS = [
    ("[cable\n", r"not valid TOML at column 7: expected \] at the end of \[cable"),
    ("", r"expected one table named by its kind \(loudspeaker, .*\), got nothing"),
    (LEAD + '[adaptor]\nid = "a"\n', r"expected one table named by its kind .*, got 'cable', 'adaptor'"),
    (LEAD.replace("cable", "cabel"), r"unknown kind 'cabel'; did you mean 'cable'\?"),
    (LEAD.replace("[cable]", "[[cable]]"), r"expected \[cable\] as a table, got '\[\[…\]\]'"),
    ("cable = 3\n", r"expected \[cable\] as a table, got 3"),
    (LEAD + 'nota = "x"\n', r"unknown key 'nota'; did you mean 'note'\?"),
    (LEAD + "zzz = 1\n", r"unknown key 'zzz'; expected one of area, case, connectors, cores, .*"),
    ('[cable]\nid = "my-lead"\n', r"the key 'area' is missing"),
    (LEAD.replace("2.5 mm²", "66 kg"), r"area: expected .*, got '66 kg', which is a mass"),
    (LEAD.replace('"2.5 mm²"', "2.5"), r"area: expected an area in quotes with its unit, got 2.5"),
    (LEAD + 'cores = "four"\n', r"cores: expected a whole number, got text in quotes"),
    (LEAD.replace("my-lead", "my lead"), r"id: expected .*"),
    (LEAD.replace("my-lead", "her-lead"), r"expected the id 'my-lead', as the file is named, got 'her-lead'"),
]


@pytest.mark.parametrize(("text", "says"), PROBLEMS)
def test_a_broken_file_says_what_is_wrong_in_one_line(write, text, says):
    write("my-lead.toml", text)
    with pytest.raises(LibraryError, match=rf"\Amy-lead\.toml(?::\d)?: {says}\Z") as caught:
        find("my-lead")
    assert caught.value.file == "my-lead.toml"
    assert str(caught.value).isprintable()


def test_an_unknown_key_deep_inside_is_placed_and_compared_with_its_own_table(write):
    text = """[loudspeaker]
id = "mine"
sections = [
    { drive = "passive", section = "full", impedance = "8 ohm", continuous = "200 W" },
    { drive = "passive", section = "full", impedence = "8 ohm" },
]
"""
    write("mine.toml", text)
    with pytest.raises(LibraryError, match=r"sections\.2.*: unknown key 'impedence'; did you mean 'impedance'\?"):
        find("mine")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[cable\n", 1),
        (LEAD + 'nota = "x"\n', 4),
        (LEAD.replace("2.5 mm²", "66 kg"), 3),
        ("\n" + LEAD.replace("cable", "cabel"), 2),
        ("\ncable = 3\n", 2),
        ("", None),
    ],
)
def test_a_broken_file_says_on_which_line(write, text, line):
    write("my-lead.toml", text)
    with pytest.raises(LibraryError) as caught:
        find("my-lead")
    assert caught.value.line == line
    assert str(caught.value).startswith(f"my-lead.toml:{line}: " if line else "my-lead.toml: ")


def test_bytes_that_are_not_text_and_files_too_large_are_refused(own):
    own.mkdir()
    (own / "my-lead.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(LibraryError, match="the file is not UTF-8 text"):
        find("my-lead")
    (own / "my-lead.toml").write_bytes(b"#" * (library.LARGEST_BYTES + 1))
    with pytest.raises(LibraryError, match="the file is too large to be a model"):
        find("my-lead")


def test_a_file_nested_too_deeply_is_refused(write):
    write("my-lead.toml", "[cable]\nid = " + "[" * 50_000 + "]" * 50_000)
    with pytest.raises(LibraryError, match="nested too deeply to be a model"):
        find("my-lead")


def test_a_broken_file_harms_only_who_asks_for_it(write):
    write("my-lead.toml", "[cable\n")
    write("good-lead.toml", LEAD.replace("my-lead", "good-lead"))
    assert find("good-lead") is not None
    assert find("two-core-2.5") is not None
    assert {entry.model.id for entry in every() if entry.own} == {"good-lead"}
    assert [error.file for error in broken()] == ["my-lead.toml"]


HOSTILE = [
    "../secret",
    "..",
    ".",
    "/etc/passwd",
    "a/b",
    "a\\b",
    "C:evil",
    "nul",
    "CON.x",
    "",
    ".hidden",
    "dot.",
    "é" * 101,
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_id_is_never_a_path(own, name):
    own.mkdir()
    (own.parent / "secret.toml").write_text(LEAD.replace("my-lead", "../secret"), encoding="utf-8")
    assert find(name) is None
    with pytest.raises(LibraryError, match=r"expected letters, digits, .* in the id of a model that the library keeps"):
        keep(Cable(id=name, area=parse(LEAD).area))
    assert list(own.iterdir()) == []


def test_control_characters_of_a_file_never_reach_the_terminal(write):
    write("my-lead.toml", LEAD + '"\\u001b[31m" = 1\n')
    with pytest.raises(LibraryError, match=r"unknown key") as caught:
        find("my-lead")
    assert "\x1b" not in str(caught.value)


def test_parse_raises_an_error_of_its_own():
    with pytest.raises(ModelFileError, match="got nothing"):
        parse("# only a remark\n")


@pytest.mark.parametrize(
    ("kind", "made"),
    [("cable", Cable), ("adaptor", Adaptor), ("panel", Panel), ("built_rack", BuiltRack), ("processor", Processor)],
)
def test_kinds_name_their_types(kind, made):
    assert all(isinstance(entry.model, made) for entry in every() if entry.kind == kind)
    assert any(entry.kind == kind for entry in every())


def test_finding_a_model_brings_no_heavy_module():
    # `inspect` comes with msgspec itself
    code = (
        "import sys; from fieldkit.gear import library; assert library.find('two-core-2.5'); "
        "print([name for name in ('numpy', 'pint', 'argparse', 'dataclasses', 'textual', 'platformdirs', 'tomli_w') "
        "if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
