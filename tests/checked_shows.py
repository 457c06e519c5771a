"""What the tests of the checks have in common: look at a small rig, and pick findings out."""

import datetime as dt

from rigs import MODELS, rig_of

from fieldkit.checks.checking import check

TODAY = dt.date(2026, 6, 20)
BIAMP = 'drive = "bi-amp"'
DSP = '[[rack_units]]\nid = "D"\nmodel = "dsp"\n'
NO_HOST = MODELS.replace('hosts = { presets = ["top"], full_scale = "21 dBu" }\n', "")


def findings(text, models=MODELS):
    return check(rig_of(text, models), TODAY)


def of_rule(rule, text, models=MODELS):
    """List the findings of one rule."""
    return [item for item in findings(text, models) if item.rule == rule]


def only(rule, text, models=MODELS):
    """Give the one finding of a rule."""
    [item] = of_rule(rule, text, models)
    return item


def places(rule, text, models=MODELS):
    """Say where one rule found something, with its severity."""
    return {(item.severity, item.where.kind, item.where.id) for item in of_rule(rule, text, models)}


def loud(text, models=MODELS):
    """List the rules that found an error or a warning."""
    return sorted({item.rule for item in findings(text, models) if item.severity != "note"})


def changed_in(text, old, new):
    """Give a show's text with one edit, which must be possible."""
    assert text.count(old) == 1, (text.count(old), old)
    return text.replace(old, new)
