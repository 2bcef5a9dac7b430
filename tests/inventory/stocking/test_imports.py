import subprocess
import sys
from pathlib import Path
from pkgutil import iter_modules

import inventory.stocking

MODULES = [f"inventory.stocking.{module.name}" for module in iter_modules(inventory.stocking.__path__)]
HOUSE = Path(__file__).resolve().parents[3]


def test_scipy_stats_is_not_loaded():
    code = f"import sys, {', '.join(MODULES)}; print('scipy.stats' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], cwd=HOUSE, capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"
