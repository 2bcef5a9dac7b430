import doctest
import importlib
import pkgutil

import pytest

import drives.chain

MODULES = [found.name for found in pkgutil.iter_modules(drives.chain.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_the_docstrings_run(name):
    assert doctest.testmod(importlib.import_module(f"drives.chain.{name}")).failed == 0
