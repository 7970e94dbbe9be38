"""The validated tables of an audit, one file per table; see audit.model.COLUMNS for the columns themselves.

Importing a schema imports pandera, so the engine does it only when an audit runs.
"""
