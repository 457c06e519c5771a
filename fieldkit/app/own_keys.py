"""The user's own keys, from a small file in the config folder."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

from fieldkit.show.errors import FileError
from fieldkit.show.keep.storage import read_text


def config_folder() -> Path:
    """Give the folder of the user's own choices: ``FIELDKIT_CONFIG``, else the platform's."""
    named = os.environ.get("FIELDKIT_CONFIG")
    if named:
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("fieldkit", appauthor=False)


def own_keys() -> dict[str, str]:
    """Read the user's own keys: ``keys.toml`` in the config folder, a table of action and key. Raises FileError.

    An action is named by screen and word: ``racks.why``.
    """
    file = config_folder() / "keys.toml"
    if not file.exists():
        return {}
    try:
        found = tomllib.loads(read_text(file))
    except tomllib.TOMLDecodeError as error:
        raise FileError(f"not valid TOML: {error}", file=file.name) from error
    if not all(isinstance(key, str) for key in found.values()):
        raise FileError('expected lines such as "racks.why" = "y"', file=file.name)
    return found
