"""The one clock: the date that written files carry, so that the same documents give the same bytes."""

from __future__ import annotations

import os
from datetime import UTC, datetime

from audit.model import Refusal

VARIABLE = "SOURCE_DATE_EPOCH"
FIRST_DAY = datetime(1980, 1, 1, tzinfo=UTC)  # the earliest that a zip file can hold


def stamp() -> datetime:
    """Return the date of files written now, in UTC: SOURCE_DATE_EPOCH in seconds, or 1 January 1980 without it.

    Source: Reproducible Builds, SOURCE_DATE_EPOCH specification 1.1. Raises Refusal where it's no date from 1980 on.
    """
    text = os.environ.get(VARIABLE, "")
    if not text:
        return FIRST_DAY
    try:
        found = datetime.fromtimestamp(int(text), UTC)
    except (ValueError, OverflowError, OSError):
        found = None
    if found is None or found < FIRST_DAY:
        raise Refusal(
            f"{VARIABLE} is '{text}', which is no date from 1980 on",
            ask="unset it, or give it the seconds since 1 January 1970 (UTC)",
        )
    return found
