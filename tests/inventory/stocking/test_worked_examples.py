import doctest
import importlib
import pkgutil

import pytest

import inventory.stocking

MODULES = [
    importlib.import_module(f"inventory.stocking.{found.name}")
    for found in pkgutil.iter_modules(inventory.stocking.__path__)
]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_the_worked_examples_run(module):
    assert doctest.testmod(module).failed == 0
