"""A show resolved and solved: lines, outputs, presets, hosts, limits, expected readings."""
