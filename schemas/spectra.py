"""Spectra: which grid and row hold the numbers of a spectrum, and the operating point they belong to."""

import pandera.pandas as pa

from schemas.table import table_schema

SCHEMA = table_schema("spectra", {"row": pa.Check.ge(0)}, unique="spectrum_id")
