"""What goes wrong with finished sentences and with the time they tell."""

import numpy as np
import pandas as pd


def jump(seconds, share):
    """The receiver's time jumps by ``seconds`` once, for good."""

    def shift(time_s, since_start_s):
        return time_s + np.where(since_start_s > share * since_start_s[-1], np.round(seconds), 0)

    return shift


def same_day(time_s, since_start_s):
    """The date does not move on at midnight: the day is told twice."""
    return time_s % 86400 + time_s[0] // 86400 * 86400


def stamps(zone_s):
    """Stamp the lines in a local time ``zone_s`` ahead of UTC, with a thousandth of a second."""

    def stamp(time_s):
        local = pd.to_datetime(np.round((time_s + zone_s) * 1000).astype(np.int64), unit="ms")
        return local.strftime("%Y-%m-%d %H:%M:%S.%f").str[:-3].tolist()

    return stamp


def bad_characters(share):
    """In ``share`` of the lines one character arrives as another."""

    def garble(rng, sent_s, lines):
        lines = list(lines)
        for i in np.flatnonzero(rng.random(len(lines)) < share).tolist():
            line = lines[i]
            at = int(rng.integers(1, len(line)))
            lines[i] = line[:at] + chr(ord(line[at]) ^ int(rng.choice([1, 2, 4, 8]))) + line[at + 1 :]
        return sent_s, lines

    return garble


def missing(formatter, share):
    """``share`` of one sentence never arrives."""

    def garble(rng, sent_s, lines):
        named = np.array([line[3:6] == formatter for line in lines])
        kept = np.flatnonzero(~named | (rng.random(len(lines)) > share))
        return sent_s[kept], [lines[i] for i in kept.tolist()]

    return garble


def overloaded(chars_per_s):
    """A port that carries ``chars_per_s`` and keeps a second's worth waiting: what comes when it is full is lost.

    The sentence at the brim is torn.
    """

    def garble(rng, sent_s, lines):
        waiting, last, kept, out = 0.0, sent_s[0], [], []
        for i, (now, line) in enumerate(zip(sent_s.tolist(), lines, strict=True)):
            waiting = max(waiting - chars_per_s * (now - last), 0.0)
            last = now
            if waiting + len(line) + 2 <= chars_per_s:
                waiting += len(line) + 2
                kept.append(i)
                out.append(line)
            elif waiting < chars_per_s and rng.random() < 0.3:
                kept.append(i)
                out.append(line[: int(rng.integers(3, len(line)))])
                waiting = chars_per_s
        return sent_s[kept], out

    return garble
