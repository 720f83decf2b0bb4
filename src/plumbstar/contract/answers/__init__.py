"""What the commands answer with ``--json``: one record an answer, a file for each kind of question.

Keys are the records' fields, in their order; docs/commands.md tells of them. A number that does not
exist is null, and so is a moment that was not. Moments are ISO 8601 UTC.
"""
