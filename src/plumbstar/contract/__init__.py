"""What the pages and ``--json`` are given: frozen records and no logic.

One name for one fact, and the unit in the name (``_deg``, ``_arcmin``, ``_percent``, ``_utc``: a
moment as ISO 8601 in UTC). A chance is from 0 to 1; beside it, where a person reads it, stands the
same in words, made by ``text/words.py``. ``docs/contract.schema.json`` is made from these records
(``tools/contract.py``), and so are the declarations that the pages' scripts are checked against.
"""
