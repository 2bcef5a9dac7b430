import doctest
import importlib
import inspect
import pkgutil

import pytest

import drives.reliability

MODULES = [
    importlib.import_module(f"drives.reliability.{found.name}")
    for found in pkgutil.iter_modules(drives.reliability.__path__)
]
SECTIONS = ["Parameters\n", "Returns\n", "Raises\n", "Source\n", "Examples\n"]
FUNCTIONS = [
    function
    for module in MODULES
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_the_worked_examples_run(module):
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.__name__)
def test_every_public_function_says_what_it_takes_gives_refuses_and_rests_on(function):
    text = inspect.getdoc(function) or ""
    assert [section for section in SECTIONS if section not in text] == []
