"""The experiments in design/, as modules."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

DESIGN = Path(__file__).parent.parent / "design"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, DESIGN / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # where a dataclass looks for its own module
    if str(DESIGN) not in sys.path:
        sys.path.append(str(DESIGN))  # as when it is run: some import one another
    spec.loader.exec_module(module)
    return module
