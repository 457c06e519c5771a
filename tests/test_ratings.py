"""What watts of a sheet stand for: impedance, crest, peak, by the standard that they were rated by (from memory)."""

import pytest
from checked_shows import changed_in
from rigs import AMP, MODELS, box, rig_of, run, show_of, step
from test_checks import quiet, tripped

from fieldkit.reports.cards import card
from fieldkit.reports.objects import lines_object
from fieldkit.reports.text import lines_text
from fieldkit.text.style import Style

ONE = AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1"))


def rated(standard, more=""):
    """The box of 8 ohm and 350 W, rated by a standard, without its preset's limiter."""
    old = 'impedance = "8 ohm", continuous = "350 W", peak = "1400 W"'
    new = f'impedance = "8 ohm", continuous = "350 W", rating = "{standard}"{more}'
    return changed_in(MODELS, old, new).replace(', limiter = "350 W"', "")


def limiter(models):
    return rig_of(ONE, models).output("A.1").limiter


# Own, worked by hand, 3 dB of margin: through 8 ohm √2800 = 52.92 V, 37.46 V less the margin; through 6 ohm √2100 =
# 45.83 V, 32.44 V. Peaks: twice the rms for AES2, 1.8 times for IEC, the low end of 1.8 to 2.2 (both from memory).
@pytest.mark.parametrize(
    ("standard", "more", "ohm", "thermal_v", "noise_peak_v"),
    [
        ("aes2", ', minimum = "6 ohm"', 6, 32.44, 91.65),
        ("aes2", "", 8, 37.46, 105.83),
        ("aes2", ', minimum = "6 ohm", rated_at = "7 ohm"', 7, 35.04, 98.99),
        ("iec-60268-5", ', minimum = "6 ohm"', 8, 37.46, 95.25),
        ("maker", ', minimum = "6 ohm"', 8, 37.46, 105.83),
        ("unknown", ', minimum = "6 ohm"', 6, 32.44, 82.49),
        ("unknown", "", 8, 37.46, 95.25),
    ],
)
def test_volts_of_a_rating(standard, more, ohm, thermal_v, noise_peak_v):
    strong = rated(standard, more).replace('power = "500 W"', 'power = "899 W"')  # it clips at 119.9 V
    assert limiter(strong).thermal_v == pytest.approx(thermal_v, abs=6e-3)
    assert limiter(strong).peak_v == pytest.approx(noise_peak_v, abs=1e-2)
    # Peak watts are V_peak² / Z by every standard, through the impedance of the rating.
    assert limiter(rated(standard, more + ', peak = "800 W"')).peak_v == pytest.approx((800 * ohm) ** 0.5, abs=1e-2)


def test_iec_short_term_input_is_a_rating_of_its_own():
    # 400 W for a second, rated impedance 8 ohm, crest 1.8: 101.8 V of peak; the continuous rating stays what it is.
    models = rated("iec-60268-5", ', short_term = "400 W", long_term = "380 W"')
    strong = models.replace('power = "500 W"', 'power = "899 W"')
    assert limiter(strong).peak_v == pytest.approx(1.8 * (400 * 8) ** 0.5, abs=1e-2)
    assert limiter(strong).thermal_v == pytest.approx(37.46, abs=5e-3)
    assert show_of(ONE, strong).loudspeakers[0].sections[0].long_term == "380 W"


@pytest.mark.parametrize(
    ("standard", "words"),
    [
        ("aes2", "not checked"),
        ("iec-60268-5", "not checked against print"),
        ("unknown", "taken low"),
        ("maker", "the maker"),
    ],
)
def test_the_rating_is_said(standard, words):
    rig = rig_of(ONE, rated(standard))
    said = lines_object(rig)["lines"][0]["limiter"]["rating"]
    assert words in said
    assert f"B1 is {said}" in " ".join("\n".join(lines_text(rig, Style())).split())
    assert f"B1 is {said}" in " ".join(" ".join(card(rig, (), "output", "A.1", Style())).split())


def test_power_checks_go_by_the_rating():
    # 500 W into 8 ohm are 63.25 V: 667 W through the 6 ohm of an AES2 rating, and 500 W through 8.
    where = ("output", "A.1")
    item = tripped("limiter-to-set", ONE, rated("aes2", ', minimum = "6 ohm"'), where=where, severity="note")
    assert item.numbers["full_w"] == pytest.approx(63.2456**2 / 6, rel=1e-4)
    item = tripped("limiter-to-set", ONE, rated("unknown"), where=where, severity="note")
    assert item.numbers["full_w"] == pytest.approx(500, rel=1e-4)
    assert "by no named standard" in item.says


def test_a_peak_rating_that_is_a_programme_rating():
    # Own: 700 W beside 350 W is 1.41 times the rms volts, under the 1.8 of any test noise; 1400 W is twice.
    where = ("model", "top")
    item = tripped("peak-like-programme", ONE, rated("aes2", ', peak = "700 W"'), where=where, severity="note")
    assert item.numbers["peak_v"] == pytest.approx(74.83, abs=5e-3)
    quiet("peak-like-programme", ONE, rated("aes2", ', peak = "1400 W"'))
