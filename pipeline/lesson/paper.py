"""The handout as a script describes it: which parts, in which order, on which paper."""

from typing import Annotated, Literal

from pydantic import Field

from pipeline.lesson.values import At, Keys, Name, NotEmpty, Percent, Range, Seconds, Words

Paper = Literal["a4", "letter"]


class WordsPart(Keys):
    """A paragraph of your own."""

    part: Literal["words"]
    """`words`"""
    title: Words | None = None
    """A heading over it."""
    text: Words
    """The words."""


class FragmentPart(Keys):
    """A passage written out."""

    part: Literal["fragment"]
    """`fragment`"""
    fragment: Name
    """The passage."""
    title: Words | None = None
    """A heading over it; by default the passage's name."""
    bars: Range | None = None
    """Only these bars."""
    staff: bool = True
    """Whether staff notation stands over the tab."""


class PositionsPart(Keys):
    """A diagram of the neck for every position of the hand in a passage."""

    part: Literal["positions"]
    """`positions`"""
    fragment: Name
    """The passage."""


class StillPart(Keys):
    """A picture out of a scene."""

    part: Literal["still"]
    """`still`"""
    scene: Name
    """The scene's id."""
    at: At | None = None
    """The moment of the fragment; by default the first note."""
    second: Seconds | None = None
    """The second of the scene, instead of `at`."""
    caption: Words | None = None
    """Words under it."""


class PracticePart(Keys):
    """A plan for practising a passage from slow to fast."""

    part: Literal["practice"]
    """`practice`"""
    fragment: Name
    """The passage."""
    speeds: tuple[Percent, ...] = ()
    """Percent of full speed, slowest first; by default six steps from 40 to 100."""
    minutes: int = Field(default=15, ge=1, le=60)
    """How long one sitting is, rests counted in. Every step is played 3 to 12 times, so it may take less or
    more: the page says how long."""


class ReasonsPart(Keys):
    """Why a passage is placed where it is."""

    part: Literal["reasons"]
    """`reasons`"""
    fragment: Name
    """The passage."""


class SignsPart(Keys):
    """The signs that the passages bear, each drawn with its name and what the hands do."""

    part: Literal["signs"]
    """`signs`"""
    fragment: Name | None = None
    """Only this passage's; by default those of all."""


class FixedPart(Keys):
    """A part that needs no more keys."""

    part: Literal["cautions", "credits"]
    """`cautions` or `credits`"""


Part = Annotated[
    WordsPart | FragmentPart | PositionsPart | StillPart | PracticePart | ReasonsPart | SignsPart | FixedPart,
    Field(discriminator="part"),
]


class HandoutKeys(Keys):
    """A printed page or more to go with the lesson."""

    title: Words | None = None
    """Its title; by default the lesson's."""
    paper: tuple[Paper, ...] = ("a4", "letter")
    """Paper sizes, one file each."""
    parts: Annotated[tuple[Part, ...], NotEmpty]
    """What goes in, in order."""


def papers_of(handout: HandoutKeys | None) -> tuple[Paper, ...]:
    """The paper sizes a lesson is printed on."""
    return handout.paper if handout else ("a4", "letter")
