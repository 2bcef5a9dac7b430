import doctest
import importlib
import pkgutil

import pytest

import drives.reliability

MODULES = [found.name for found in pkgutil.iter_modules(drives.reliability.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_run(name):
    module = importlib.import_module(f"drives.reliability.{name}")
    assert doctest.testmod(module).failed == 0
