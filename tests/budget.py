"""What a run of the suite may spend: cases that hypothesis draws, seeds of shows made at random, tests that are counted.

An everyday run tries few, and others each time; ``FIELDKIT_TESTS=thorough`` tries ten times as many. No case has a
deadline, since a machine may have other things to do.
"""

import os
import random

from hypothesis import HealthCheck, settings

TIMES = 10 if os.environ.get("FIELDKIT_TESTS") == "thorough" else 1


def tries(number, *more):
    """Say how many cases a property test draws; ``more`` are health checks that it goes without."""
    return settings(max_examples=number * TIMES, deadline=None, suppress_health_check=[HealthCheck.too_slow, *more])


def seeds(number):
    """Give the seeds of shows that are made at random."""
    return range(number * TIMES)


def thoroughly(*everyday, more):
    """List cases for every day, and those that only a thorough run tries, since each costs seconds."""
    return [*everyday, *(more if TIMES > 1 else ())]


def drawn(cases, number):
    """Draw cases by chance, others for each run, and the same ones in all workers of a run."""
    cases = list(cases)
    return random.Random(os.environ.get("PYTEST_XDIST_TESTRUNUID")).sample(cases, min(number * TIMES, len(cases)))


def asked_of_each(cases):
    """Make one test of a question that is asked of hundreds of cases; its failures name each case that fails.

    As a parameter each, they cost more to collect, three times where three workers do, than to answer.
    """

    def made(judge):
        def asked():
            failures = []
            for name, *arguments in cases:
                try:
                    judge(name, *arguments)
                except Exception as error:  # noqa: BLE001
                    error.add_note(f"asked of {name} {arguments or ''}")
                    failures.append(error)
            assert cases
            if failures:
                raise ExceptionGroup(judge.__name__, failures)

        asked.__name__, asked.__doc__, asked.__module__ = judge.__name__, judge.__doc__, judge.__module__
        return asked

    return made
