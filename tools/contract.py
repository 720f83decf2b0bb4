"""Write docs/contract.schema.json anew from the records of ``plumbstar.contract``.

    python tools/contract.py

tests/pages/test_contract.py fails when the file is stale.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from pages.declarations import SCHEMA, schema_text

if __name__ == "__main__":
    SCHEMA.write_text(schema_text(), encoding="utf-8")
    print(f"{SCHEMA} written.")
