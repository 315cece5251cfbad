"""A class at a lesson as a state machine: look, guess, see the odds, go on, be scored. It knows no widget."""

from typing import Literal

from stripdown.lesson import Lesson, Reveal, candidates, points
from stripdown.lesson.score import LEAST, MOST, Guess, Scored

Stage = Literal["guess", "odds", "answer"]


class ClassRoom:
    """Opens a lesson station by station. Nothing of a station's odds is given out before its guess is committed, and
    nothing of the answer before the last; what an action may not do it refuses, and says so in `refused`."""

    def __init__(self, lesson: Lesson) -> None:
        self.lesson = lesson
        self.guesses: dict[int, Guess] = {}
        self.refused: str | None = None
        self._reached = 1
        self.showing = 1
        """Number of the station on show; one more than there are = the answer."""

    @property
    def last(self) -> int:
        """The number of the answer."""
        return len(self.lesson.reveals) + 1

    @property
    def reveal(self) -> Reveal | None:
        """The station on show; None = the answer."""
        return None if self.showing == self.last else self.lesson.reveals[self.showing - 1]

    @property
    def stage(self) -> Stage:
        """What the station on show waits for: a guess, or to go on. Where nothing was looked at, nothing is asked."""
        reveal = self.reveal
        if reveal is None:
            return "answer"
        return "guess" if reveal.looked and self.showing not in self.guesses else "odds"

    def guess(self, candidate: str, confidence: float) -> None:
        """Commit the class at this station, once: no guess is changed after the odds are open."""
        self.refused = None
        if self.stage != "guess":
            self.refused = "the guess of this station stands"
        elif candidate not in candidates():
            self.refused = "choose what came first"
        elif not LEAST <= confidence <= MOST:
            self.refused = f"how sure: from {100 * LEAST:.0f} to {100 * MOST:.0f}"
        else:
            self.guesses[self.showing] = Guess(candidate, confidence)

    def forward(self) -> None:
        """The next station, or the answer after the last."""
        self.refused = None
        if self.stage == "guess":
            self.refused = "commit the guess first, then look on"
        elif self.showing < self.last:
            self.showing += 1
            self._reached = max(self._reached, self.showing)

    def back(self) -> None:
        """Look at the station before once more."""
        self.refused = None
        if self.showing > 1:
            self.showing -= 1

    @property
    def over(self) -> bool:
        """Whether the answer has been opened."""
        return self._reached == self.last

    def scores(self) -> tuple[Scored, ...]:
        """Every guess with its points, station by station; empty until the answer has been opened."""
        if not self.over:
            return ()
        return tuple(
            Scored(
                self.lesson.reveals[number - 1].station.title,
                g,
                points(g.confidence, right=g.candidate == self.lesson.answer),
            )
            for number, g in sorted(self.guesses.items())
        )
