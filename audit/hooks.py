"""The four hooks of the pipeline. They only register descriptors; the engine calls the functions in them."""

from __future__ import annotations

from collections.abc import Sequence

import pluggy

from audit.model import Check, Reader, RequirementSet, Writer

PROJECT = "claimlight"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def register_readers() -> Sequence[Reader]:
    """Return the readers of this plugin, one per kind of document."""
    return ()


@hookspec
def register_checks() -> Sequence[Check]:
    """Return the checks of this plugin, one per question."""
    return ()


@hookspec
def register_writers() -> Sequence[Writer]:
    """Return the writers of this plugin, one per form of report."""
    return ()


@hookspec
def register_requirements() -> Sequence[RequirementSet]:
    """Return requirement sets: tables of claims whose source is a law, a standard or a specification."""
    return ()
