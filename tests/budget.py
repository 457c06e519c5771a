"""How much chance a run of the suite may spend: cases that hypothesis draws, and seeds of shows made at random.

An everyday run tries few, and others each time; ``FIELDKIT_TESTS=thorough`` tries ten times as many. No case has a
deadline, since a machine may have other things to do.
"""

import os

from hypothesis import HealthCheck, settings

TIMES = 10 if os.environ.get("FIELDKIT_TESTS") == "thorough" else 1


def tries(number, *more):
    """Say how many cases a property test draws; ``more`` are health checks that it goes without."""
    return settings(max_examples=number * TIMES, deadline=None, suppress_health_check=[HealthCheck.too_slow, *more])


def seeds(number):
    """Give the seeds of shows that are made at random."""
    return range(number * TIMES)
