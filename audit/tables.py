"""Tables of an audit as frames or lists of rows, and the spectra's numbers beside them."""

from __future__ import annotations

from collections import UserDict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from audit.model import CATEGORY, COLUMNS, TEXT

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

    from audit.figures import Figure


class Coded(NamedTuple):
    """A column of few words: the words, and for each row the index of its word (n,)."""

    words: Sequence[str]
    codes: np.ndarray


class Rows:
    """Rows of a table before it is a frame, in order: kept one by one as tuples, or as blocks of columns.

    A column of a block is one value for all of its rows, Coded, or a list or array with a value for each.
    """

    def __init__(self, table: str, rows: Iterable[tuple[Any, ...]] = ()):
        self.table = table
        self._blocks: list[tuple[int, list[Any]]] = []
        self._single = list(rows)  # those since the last block
        self._ahead = 0  # rows in blocks

    def __len__(self) -> int:
        return self._ahead + len(self._single)

    def add(self, row: tuple[Any, ...]) -> None:
        """Keep one row, its values in the order of COLUMNS."""
        self._single.append(row)

    def extend(self, count: int, columns: Sequence[Any]) -> None:
        """Keep a block of `count` rows, its columns in the order of COLUMNS."""
        self._close()
        self._blocks.append((count, list(columns)))
        self._ahead += count

    def take(self, table: list[tuple[Any, ...]] | Rows | pd.DataFrame) -> None:
        """Keep the rows of a table of any form. Raises TypeError for a frame with other columns."""
        if isinstance(table, list):
            self._single += table
        elif isinstance(table, Rows):
            for block in table._blocks:
                self.extend(*block)
            self._single += table._single
        else:
            columns = COLUMNS[self.table]
            if [(name, str(dtype)) for name, dtype in table.dtypes.items()] != list(columns.items()):
                wanted = ", ".join(f"{name} ({dtype})" for name, dtype in columns.items())
                raise TypeError(f"the columns of {self.table} are: {wanted}")
            cells = (table[name] for name in columns)
            self.extend(len(table), [each.tolist() if _is_text(str(each.dtype)) else each.to_numpy() for each in cells])

    def column(self, name: str) -> list[Any]:
        """Return the values of one column."""
        self._close()
        index = list(COLUMNS[self.table]).index(name)
        return [value for count, columns in self._blocks for value in _values(count, columns[index])]

    def __iter__(self) -> Iterator[tuple[Any, ...]]:
        return zip(*map(self.column, COLUMNS[self.table]), strict=True)

    def fill(self, name: str, value: Any) -> None:
        """Put a value where a column states none: "" or NaN."""
        self._close()
        index = list(COLUMNS[self.table]).index(name)
        for count, columns in self._blocks:
            columns[index] = [value if is_blank(each) else each for each in _values(count, columns[index])]

    def frame(self) -> pd.DataFrame:
        """Return the rows as a frame with the dtypes of the table. Raises TypeError or ValueError for a wrong value."""
        import pandas as pd

        self._close()
        # Arrays, not series: those would be aligned and copied, at four times the cost of a small document.
        data = {
            name: _array(dtype, [(count, columns[index]) for count, columns in self._blocks])
            for index, (name, dtype) in enumerate(COLUMNS[self.table].items())
        }
        return pd.DataFrame(data, copy=False)

    def _close(self) -> None:
        """Make a block of the rows that were kept one by one."""
        if not self._single:
            return
        width = len(COLUMNS[self.table])
        if wrong := {*map(len, self._single)} - {width}:
            raise ValueError(f"a row of {self.table} has {min(wrong)} values, not {width}")
        columns = [[row[index] for row in self._single] for index in range(width)]  # zip would make an iterator a row
        self._blocks.append((len(self._single), columns))
        self._ahead += len(self._single)
        self._single = []


def is_blank(value: Any) -> bool:
    """Whether a field of an operating point isn't stated."""
    return bool(value == "" or value != value)


def _is_text(dtype: str) -> bool:
    return dtype in (TEXT, CATEGORY)


def _is_single(piece: Any) -> bool:
    """Whether a block's column is one value for all of its rows."""
    import numpy as np

    return not isinstance(piece, list | np.ndarray | Coded)


def _values(count: int, piece: Any) -> list[Any]:
    """Return the values of a block's column."""
    if isinstance(piece, Coded):
        return [piece.words[code] for code in piece.codes.tolist()]
    if _is_single(piece):
        return [piece] * count
    return piece if isinstance(piece, list) else piece.tolist()


def _array(dtype: str, pieces: Sequence[tuple[int, Any]]) -> Any:
    """Return one column of all blocks as an array of its dtype."""
    import numpy as np
    import pandas as pd

    if not _is_text(dtype):
        arrays = [
            np.full(count, piece, dtype) if _is_single(piece) else np.array(piece, dtype) for count, piece in pieces
        ]
        return np.concatenate(arrays) if arrays else np.empty(0, dtype)
    if pieces and not any(isinstance(piece, list | np.ndarray) for _, piece in pieces):
        known: dict[str, int] = {}
        codes = []
        for count, piece in pieces:
            words = piece.words if isinstance(piece, Coded) else (piece,)
            own = np.array([known.setdefault(word, len(known)) for word in words])
            codes.append(own[piece.codes] if isinstance(piece, Coded) else np.repeat(own, count))
        texts = pd.array(list(known), dtype=TEXT).take(np.concatenate(codes))
    else:
        texts = pd.array([value for each in pieces for value in _values(*each)], dtype=TEXT)
    return pd.Categorical(texts) if dtype == CATEGORY else texts


def frame(table: str, rows: Iterable[tuple[Any, ...]]) -> pd.DataFrame:
    """Return rows (in the order of COLUMNS[table]) as a frame with that table's dtypes, also when empty.

    Raises TypeError or ValueError where a value is none of its column's kind.
    """
    return Rows(table, rows).frame()


class Tables(UserDict[str, Any]):
    """Table name -> DataFrame: what read, derive and judge return.

    `grids` holds the spectra's numbers, `figures` what judge shows.

    A table may be handed in as Rows, or as a list of its rows, tuples in the order of COLUMNS: it becomes a frame when
    it's asked for. Most documents are too small to be worth frames of their own, so that gather takes the rows (`data`)
    of all.
    """

    def __init__(
        self,
        frames: Mapping[str, pd.DataFrame | Rows | list[tuple[Any, ...]]] | None = None,
        grids: Mapping[int, Grid] | None = None,
        figures: Sequence[Figure] = (),
    ):
        super().__init__(frames or {})
        self.grids: dict[int, Grid] = dict(grids or {})
        self.figures: list[Figure] = list(figures)

    def __getitem__(self, name: str) -> Any:
        table = self.data[name]
        if isinstance(table, list | Rows):
            table = self.data[name] = frame(name, table) if isinstance(table, list) else table.frame()
        return table

    def column(self, table: str, column: str) -> Iterable[Any]:
        """Return the values of one column, none where the table is missing, and make no frame for it."""
        kept = self.data.get(table, [])
        if isinstance(kept, list):
            kept = Rows(table, kept)
        return kept.column(column) if isinstance(kept, Rows) else list(kept[column])


@dataclass(frozen=True)
class Grid:
    """Spectra that share their wavelengths: wavelength_nm (m,) increasing, power (n, m), both finite."""

    wavelength_nm: np.ndarray
    power: np.ndarray

    def __post_init__(self) -> None:
        import numpy as np

        wavelength, power = self.wavelength_nm, self.power
        if wavelength.ndim != 1 or power.ndim != 2 or power.shape[1] != wavelength.size:
            raise ValueError(f"a grid needs wavelengths (m,) and power (n, m), got {wavelength.shape}, {power.shape}")
        if not np.isfinite(wavelength).all() or (np.diff(wavelength) <= 0).any():
            raise ValueError("wavelengths must be finite numbers, each larger than the one before")
        if not np.isfinite(power).all():
            raise ValueError("power must be finite numbers")
