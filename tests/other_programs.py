"""General libraries that answers are compared with; where every test must run, none of them may be missing."""

import os
from importlib import import_module
from types import ModuleType

import pytest

IS_REQUIRED = any(os.environ.get(name, "").lower() == "true" for name in ("CI", "REQUIRE_EVERYTHING"))


def other_program(name: str) -> ModuleType:
    if IS_REQUIRED:
        return import_module(name)
    module: ModuleType = pytest.importorskip(name, reason=f"{name} is not installed")
    return module
