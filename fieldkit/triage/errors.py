"""What can go wrong with what is said of a fault."""

from __future__ import annotations

from fieldkit.errors import UnusableError


class ObservationError(UnusableError):
    """An observation that cannot be used; one line with what was expected."""
