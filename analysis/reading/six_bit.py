"""The six-bit characters of AIS payloads, read as columns of numbers and words (ITU-R M.1371-5, Annex 8)."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.passage import Bools, Ints

MOST_CHARACTERS = 71  # the 424 bits of the longest message read, ship and voyage data
_SIX_BIT_TEXT = np.frombuffer(b"@ABCDEFGHIJKLMNOPQRSTUVWXYZ[\\]^_ !\"#$%&'()*+,-./0123456789:;<=>?", np.uint8)
_NO_CODE = 255
_CODES = np.full(256, _NO_CODE, np.uint8)  # by character of the armour; none beyond a payload's end
_CODES[0], _CODES[48:88], _CODES[96:120] = 0, range(40), range(40, 64)


class Payloads:
    """Payloads of many messages beside each other; a field beyond a payload's end reads as zeros."""

    def __init__(self, codes: NDArray[np.uint8], bits: Ints) -> None:
        self._codes = codes
        self.bits = bits

    @classmethod
    def of(
        cls, payloads: Sequence[str], fill_bits: Ints, most: int = MOST_CHARACTERS
    ) -> tuple["Payloads", Bools]:
        """Take ``most`` characters of payloads apart; returns them and which hold only those of the armour."""
        characters = np.array(payloads, dtype=f"S{most}")
        raw = characters.view(np.uint8).reshape(len(payloads), most)
        codes = _CODES[raw]
        length = np.fromiter(map(len, payloads), np.int64, len(payloads))
        return cls(codes, 6 * length - np.clip(fill_bits, 0, 5)), codes.max(axis=1, initial=0) < _NO_CODE

    def where(self, rows: Bools | Ints) -> "Payloads":
        """Keep some of the messages."""
        return Payloads(self._codes[rows], self.bits[rows])

    def unsigned(self, start: int, width: int) -> Ints:
        """Read a field of ``width`` bits from bit ``start`` on as a whole number."""
        first, last = start // 6, (start + width - 1) // 6
        value = np.zeros(len(self._codes), np.int64)
        for place in range(first, last + 1):
            value = value << 6 | self._codes[:, place]
        read: Ints = value >> (6 * (last + 1) - start - width) & ((1 << width) - 1)
        return read

    def signed(self, start: int, width: int) -> Ints:
        """Read a field in two's complement."""
        value = self.unsigned(start, width)
        read: Ints = np.where(value >= 1 << (width - 1), value - (1 << width), value)
        return read

    def text(self, start: int, characters: int) -> list[str]:
        """Read words in six-bit characters, up to the first ``@``, blanks at either end left out."""
        codes = np.stack([self.unsigned(start + 6 * k, 6) for k in range(characters)], axis=1)
        codes[np.cumsum(codes == 0, axis=1) > 0] = 0
        words = np.where(codes == 0, 0, _SIX_BIT_TEXT[codes]).astype(np.uint8)
        joined = np.ascontiguousarray(words).view(f"S{characters}").ravel()
        return [one.decode("ascii").strip() for one in joined.tolist()]
