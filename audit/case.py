"""What a check's judge is handed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from audit.book import Book
from audit.claims import Claim
from audit.model import Evidence, Quantity, Rule


@dataclass(frozen=True)
class Case:
    """What a judge gets: the evidence, its book, the claims to judge, the rule, and what computed readings rest on."""

    evidence: Evidence
    book: Book
    claims: Sequence[Claim]
    rule: Rule
    known: Mapping[str, Quantity]
    assessors: Mapping[str, Callable[[Any, Any, float], Any]] = field(default_factory=dict)  # quantity -> Check.assess
    methods: Mapping[str, str] = field(default_factory=dict)  # quantity -> how it is computed, with sources
