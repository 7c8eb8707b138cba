"""What holds for every test: the same examples in every run, whatever ran before and however busy the machine is."""

import importlib
import pkgutil

from hypothesis import HealthCheck, settings

import etudegen

# Searching at random is for tests/long_check.py, which prints its seed. How long an example takes to draw says more of
# the machine than of the test.
settings.register_profile(
    "repeatable",
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)
settings.load_profile("repeatable")

# hypothesis also draws constants that it finds in the modules imported so far: with all of them imported, one test
# alone gets the examples that it gets in the whole run.
for module in pkgutil.walk_packages(etudegen.__path__, "etudegen."):
    importlib.import_module(module.name)
