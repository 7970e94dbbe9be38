"""Claimlight: the public surface. Importing it loads the descriptors alone; the engine comes with run()."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from audit.figures import Axis, Figure, Mark, over_hours
from audit.hooks import hookimpl, hookspec
from audit.model import (
    Check,
    Document,
    Evidence,
    LimitRule,
    Quantity,
    Question,
    Reader,
    Refusal,
    Report,
    RequirementSet,
    Rule,
    Writer,
)
from audit.tables import Grid, Tables

if TYPE_CHECKING:
    from pathlib import Path

    from audit.derived import Computed, beside
    from audit.engine import Audit
    from audit.recorder import Recorder, place_text
    from audit.register import quantity_register

__version__ = "0.1.0"
__all__ = [
    "Axis",
    "Check",
    "Computed",
    "Document",
    "Evidence",
    "Figure",
    "Grid",
    "LimitRule",
    "Mark",
    "Quantity",
    "Question",
    "Reader",
    "Recorder",
    "Refusal",
    "Report",
    "RequirementSet",
    "Rule",
    "Tables",
    "Writer",
    "beside",
    "hookimpl",
    "hookspec",
    "over_hours",
    "place_text",
    "quantity_register",
    "run",
]

# Public names that cost an import of numpy or pandas: looked up when a plugin first uses them.
_LATER = {
    "Computed": "audit.derived",
    "beside": "audit.derived",
    "Recorder": "audit.recorder",
    "place_text": "audit.recorder",
    "quantity_register": "audit.register",
}


def __getattr__(name: str) -> Any:
    if name not in _LATER:
        raise AttributeError(f"module 'audit' has no attribute '{name}'")
    return getattr(import_module(_LATER[name]), name)


def run(
    folder: str | Path,
    *,
    rule: Rule | None = None,
    plugins: tuple[str | Path, ...] = (),
    against: tuple[str | Path, ...] = (),
    second_opinion: bool = False,
) -> Audit:
    """Audit the documents in `folder` and return the Audit: findings, observations, exit_status.

    `plugins`: paths of single-file plugins; `against`: requirement sets by name, or sheets by path;
    `second_opinion`: also the colour quantities of colour-science. Raises Refusal where the audit can't run at all.
    """
    from pathlib import Path

    from audit.engine import run_audit

    return run_audit(
        Path(folder), rule or Rule(), tuple(map(Path, plugins)), tuple(map(str, against)), second=second_opinion
    )
