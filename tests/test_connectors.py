"""Connectors: which plug goes into which, as the planners both take it."""

import pytest

from fieldkit.rig.connect.connectors import socket_shape, takes_plug


@pytest.mark.parametrize(
    ("pairs", "known", "shape"),
    [("12", "", ""), ("123", "", "8-pole"), ("1234", "", "8-pole"), ("1", "4-pole", "4-pole"), ((), "", "")],
)
def test_a_connector_is_named_by_its_model_else_by_its_pins(pairs, known, shape):
    assert socket_shape(pairs, known) == shape


@pytest.mark.parametrize(
    ("socket", "plug", "larger", "goes"),
    [
        ("4-pole", "4-pole", True, True),
        ("8-pole", "4-pole", True, False),
        ("4-pole", "2-pole", False, False),
        ("", "4-pole", True, True),
        ("", "8-pole", True, False),
        ("", "2-pole", True, False),
        ("", "2-pole", False, True),
        ("8-pole", "", True, True),
    ],
)
def test_what_goes_into_what(socket, plug, larger, goes):
    assert takes_plug(socket, plug, larger=larger) is goes
