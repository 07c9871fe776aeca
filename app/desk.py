"""The desk: the passages that are open, each with what the figures draw from, under a key of its own."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import PurePath
from threading import Lock, RLock

import pandas as pd

from analysis.asked import Asked
from analysis.review import Review, asked_again, reassessed, reconsidered

from .addresses import stretch_key, whole_of
from .figures.coastline import Ring
from .figures.scene import Scene, scene_of
from .figures.track import coast_near


@dataclass(frozen=True)
class Opened:
    """An open passage. ``review`` stands as corrected by hand; ``found`` is what the log alone says."""

    key: str
    found: Review
    review: Review
    scene: Scene
    coast: list[Ring]

    @cached_property
    def scene_as_shown(self) -> Scene:
        """What the figures draw from with no correction applied."""
        return scene_of(self.review.frame_as_shown, self.scene.dated)

    @property
    def name(self) -> str:
        """The name of the passage: its first file, and how many more."""
        names = [PurePath(file).name for file in self.review.passage.files]
        return (names[0] if names else "Passage") + (f" and {len(names) - 1} more" if len(names) > 1 else "")


class Desk:
    """Open passages by key. Every change puts a new Opened in the place of the old one.

    ``kept`` gives the review of a passage that was open at another time, if it still can.
    """

    def __init__(self, coastline: list[Ring], kept: Callable[[str], Review | None] | None = None) -> None:
        self._coastline = coastline
        self._kept = kept or (lambda _: None)
        self._opened: dict[str, Opened] = {}
        self._lock = Lock()
        self._reopening = RLock()

    def open(self, review: Review, key: str | None = None) -> Opened:
        """Lay a review on the desk; ``key`` names it, by default from its files and times."""
        scene = _scene(review)
        coast = coast_near(scene, self._coastline) if scene.plane is not None else []
        opened = Opened(key or _key(review), review, review, scene, coast)
        return self._put(opened)

    def find(self, key: str) -> Opened | None:
        """Return an open passage, or one that was open and can be again; None where there is none."""
        opened = self._opened.get(key)
        if opened is None and key:
            with self._reopening:
                opened = self._opened.get(key)
                whole, span = whole_of(key)
                if opened is None and span is not None:
                    return self._cut_again(whole, *span)
                review = self._kept(key) if opened is None else None
                opened = opened if review is None else self.open(review, key)
        return opened

    def close(self, key: str) -> None:
        """Take a passage from the desk."""
        with self._lock:
            self._opened.pop(key, None)

    def all(self) -> list[Opened]:
        """List the open passages, the last opened first."""
        return list(self._opened.values())[::-1]

    def correct(self, key: str, corrections: Mapping[str, float]) -> Opened:
        """Correct an open passage by hand; what is empty gives back what the log alone says.

        Raises SettingError for a correction that cannot be set.
        """
        was = self._opened[key]
        review = reconsidered(was.found, corrections) if corrections else was.found
        return self._put(replace(was, review=review, scene=_scene(review)))

    def ask(self, key: str, asked: Asked) -> Opened:
        """Ask other things of the parts beside the instruments of an open passage."""
        was = self._opened[key]
        found = asked_again(was.found, asked)
        by_hand = was.review is not was.found
        return self._put(
            replace(was, found=found, review=asked_again(was.review, asked) if by_hand else found)
        )

    def use_sources(self, key: str, sources: Mapping[str, tuple[str, str, str]]) -> Opened:
        """Take an open passage from other sources; corrections by hand are kept.

        Raises SettingError for a source the log does not have.
        """
        was = self._opened[key]
        found = reassessed(was.found, sources=sources)
        by_hand = was.review.settings.corrections
        review = reconsidered(found, by_hand) if by_hand else found
        return self._put(replace(was, found=found, review=review, scene=_scene(review)))

    def cut(self, key: str, start: pd.Timestamp, end: pd.Timestamp) -> Opened:
        """Open a stretch of an open passage as a passage of its own, under an address that lasts."""
        review = reassessed(self._opened[key].found, span=(start, end))
        return self.open(review, stretch_key(key, *(edge.timestamp() * 1000 for edge in (start, end))))

    def _cut_again(self, key: str, start_ms: int, end_ms: int) -> Opened | None:
        """Open a stretch by its address; None where its whole cannot be had, or has nothing there."""
        whole = self.find(key)
        if whole is None or not len(times := whole.scene.time_ms):
            return None
        if not (start_ms < end_ms and start_ms <= times[-1] and end_ms >= times[0]):
            return None
        return self.cut(key, *(pd.Timestamp(edge, unit="ms", tz="UTC") for edge in (start_ms, end_ms)))

    def _put(self, opened: Opened) -> Opened:
        with self._lock:
            self._opened.pop(opened.key, None)
            self._opened[opened.key] = opened
        return opened


def _scene(review: Review) -> Scene:
    dated = all(fact.id != "no-date" for fact in review.passage.facts)
    return scene_of(review.frame, dated)


def _key(review: Review) -> str:
    passage = review.passage
    text = f"{passage.files} {passage.counts} {passage.frame.index[:1]} {passage.frame.index[-1:]}"
    return hashlib.blake2b(text.encode(), digest_size=5).hexdigest()
