"""What a played passage is made of: its scale, the scale positions it goes through, its cells, its shifts."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.music.fragment import Fragment
from pipeline.music.positions import Position, positions, stays
from pipeline.music.tapping import tapped
from pipeline.reasoning.agreement import agreement, fingerings, told
from pipeline.reasoning.cells import Cell, cells
from pipeline.reasoning.key import Key, keys_of
from pipeline.reasoning.moments import Times
from pipeline.reasoning.reading import Placement, Reading
from pipeline.reasoning.shifts import Shift, shifts

PENTATONIC_TONES = 5
"""Scales of up to this many tones lie two notes a string (boxes), larger ones three."""
MOST = 4
"""So many positions, cells or shifts are told, others counted."""
SHORTEST = 3
"""Notes that a stay in a position holds on the mean, so that positions say something of a passage."""


@dataclass(frozen=True)
class Held:
    """Notes `first` to `last` (from 0) that lie in one scale position, the `number`th of the neck (from 1).

    Between them may stand notes of no position: open, dead and tapped ones.
    """

    number: int
    position: Position
    first: int
    last: int

    @property
    def words(self) -> str:
        first, last = self.first + 1, self.last + 1
        notes = f"note {first}" if first == last else f"notes {first} to {last}"
        return f"{notes} at frets {self.position.lowest} to {self.position.highest}"


@dataclass(frozen=True)
class Outline:
    """What a passage is made of in one reading. `keys` are scales with all its notes, the likeliest first."""

    places: tuple[Placement, ...]
    keys: tuple[Key, ...]
    notes_a_string: int
    held: tuple[Held, ...]
    cells: tuple[Cell, ...]
    shifts: tuple[Shift, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """A sentence each for the scale, the positions, the cells and the shifts, notes counted from 1."""
        return (*self.shape, *self._shifts())

    @property
    def shape(self) -> tuple[str, ...]:
        """The same without the shifts."""
        return (*self._scale(), *self._positions(), *self._cells())

    def _scale(self) -> Iterator[str]:
        if not self.keys:
            return
        first, *others = [key.name for key in self.keys]
        also = f", and {' or '.join(others[:2])} as well" if others else ""
        yield f"Its notes fit {first}{also}."

    def _positions(self) -> Iterator[str]:
        if not self.held or len(self.held) * SHORTEST > self.held[-1].last + 1:
            return
        kind = "box" if self.notes_a_string == 2 else "position of three notes a string"
        kinds = "boxes" if self.notes_a_string == 2 else "positions of three notes a string"
        if len(self.held) == 1:
            yield f"One {kind} holds {self.held[0].words}."
        else:
            yield f"It goes through {len(self.held)} {kinds}: {_counted([one.words for one in self.held])}."

    def _cells(self) -> Iterator[str]:
        chosen = [cell for cell in self.cells if told(cell)]
        for cell in chosen[:MOST]:
            yield f"{cell.words}: {agreement(cell, self.places)}."
        if len(chosen) > MOST:
            yield f"{len(chosen) - MOST} more cells follow."

    def _shifts(self) -> Iterator[str]:
        moves = [f"at note {one.note + 1} {one.words}" for one in self.shifts]
        if moves:
            yield f"The hand shifts {_counted(moves)}."

    @property
    def view_line(self) -> str:
        """The line of a script that shows the scale, and the position if there is only one."""
        if not self.keys:
            return ""
        key = self.keys[0]
        position = f", position: {self.held[0].number}" if len({one.number for one in self.held}) == 1 else ""
        return f"{{show: scalemap, tonic: {key.tonic_name}, scale: {key.scale_name}{position}}}"

    def as_data(self) -> dict[str, Any]:
        """Plain data for JSON; notes count from 0, positions of the neck from 1."""
        return {
            "scales": [key.name for key in self.keys],
            "notes_a_string": self.notes_a_string,
            "positions": [
                {
                    "first": one.first,
                    "last": one.last,
                    "number": one.number,
                    "frets": [one.position.lowest, one.position.highest],
                }
                for one in self.held
            ],
            "cells": [
                {
                    "start": cell.start,
                    "size": cell.size,
                    "times": cell.times,
                    "step": cell.step,
                    "fingers": fingerings(cell, self.places),
                }
                for cell in self.cells
            ],
            "shifts": [{"note": one.note, "from": one.before, "to": one.after} for one in self.shifts],
        }


def outline(
    fragment: Fragment, reading: Reading, times: Times | None = None, key: Key | None = None
) -> Outline:
    """What a reading is made of. `key` is the scale; without it those that fit are found."""
    pitches = [note.pitch for note in fragment.notes if note.pitch is not None]
    keys = (key,) if key else keys_of(pitches)
    a_string = 2 if keys and len(keys[0].scale.steps) <= PENTATONIC_TONES else 3
    choices = positions(fragment.guitar, keys[0].scale, keys[0].tonic, a_string) if keys else ()
    whole = all(len(group) == 1 for group in fragment.chords) and len(pitches) == len(fragment.notes)
    found = cells(pitches, keys[0].scale.classes(keys[0].tonic) if keys else None) if whole else ()
    held = tuple(_held(reading.on(fragment), choices))
    return Outline(reading.places, keys, a_string, held, found, shifts(fragment, reading.places, times))


def _held(placed: Fragment, choices: Sequence[Position]) -> Iterator[Held]:
    """The stays in scale positions of what the fretting hand stops."""
    by_tap = tapped(placed.notes)
    stopped = [i for i, note in enumerate(placed.notes) if note.fret and not note.dead and not by_tap[i]]
    for stay in stays(placed.with_notes(placed.notes[i] for i in stopped), choices):
        yield Held(choices.index(stay.position) + 1, stay.position, stopped[stay.first], stopped[stay.last])


def _counted(cases: Sequence[str]) -> str:
    """The first few, and how many follow."""
    more = [f"and {len(cases) - MOST} more"] if len(cases) > MOST else []
    return ", ".join([*cases[:MOST], *more])
