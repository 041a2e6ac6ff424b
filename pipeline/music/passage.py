"""Parts of a fragment, and the fragment as it is performed with its repeats unfolded."""

from collections.abc import Iterable, Sequence
from fractions import Fraction

from pipeline.music.fragment import ClueMark, Fragment, Measure, Repeat
from pipeline.music.note import Note


def cut(fragment: Fragment, first: int, last: int) -> Fragment:
    """The notes `first` to `last` (from 0, both included), in their bars.

    Beat 0 becomes the onset of the first note. The bar that it stands in is left as a pick-up and the last
    bar is kept to its end, so that the counts stay those of the whole; repeats are left out. Raises
    ValueError beyond the notes.
    """
    if not 0 <= first <= last < len(fragment.notes):
        raise ValueError(f"notes {first} to {last} are not all in 0 to {len(fragment.notes) - 1}")
    start = fragment.notes[first].onset
    bars = range(fragment.measure_at(start), fragment.measure_at(fragment.notes[last].onset) + 1)
    part = _part(fragment, range(first, last + 1), bars, start)
    on = any(note.onset < fragment.measures[bars[-1]].end for note in fragment.notes[last + 1 :])
    return part.but(repeats=(), open_end=on)


def cut_bars(fragment: Fragment, first: int, last: int) -> Fragment:
    """The bars `first` to `last` (from 0, both included). Raises ValueError beyond the bars."""
    if not 0 <= first <= last < len(fragment.measures):
        raise ValueError(f"bars {first} to {last} are not all in 0 to {len(fragment.measures) - 1}")
    start, end = fragment.measures[first].start, fragment.measures[last].end
    notes = [index for index, note in enumerate(fragment.notes) if start <= note.onset < end]
    return _part(fragment, notes, range(first, last + 1), start)


def _part(fragment: Fragment, notes: Sequence[int], bars: range, start: Fraction) -> Fragment:
    measures = tuple(_measure_from(fragment.measures[bar], start) for bar in bars)
    end = measures[-1].end
    kept = tuple(
        _until(fragment.notes[index].but(onset=fragment.notes[index].onset - start), end) for index in notes
    )
    if kept and kept[0].attack == "tie":
        kept = (kept[0].but(attack="pick"), *kept[1:])
    numbers = {index: number for number, index in enumerate(notes)}
    clues = tuple(_moved(clue, numbers[clue.note]) for clue in fragment.clues if clue.note in numbers)
    inside = (repeat for repeat in fragment.repeats if bars[0] <= repeat.first and repeat.last <= bars[-1])
    repeats = tuple(Repeat(r.first - bars[0], r.last - bars[0], r.times) for r in inside)
    number = fragment.bar_number(bars[0])
    return fragment.but(notes=kept, measures=measures, clues=clues, repeats=repeats, first_bar=number)


def _measure_from(measure: Measure, start: Fraction) -> Measure:
    begin = max(measure.start, start)
    return Measure(begin - start, measure.end - begin, measure.beats, measure.unit, measure.groups)


def _until(note: Note, end: Fraction) -> Note:
    return note.but(duration=min(note.end, end) - note.onset)


def _moved(clue: ClueMark, note: int) -> ClueMark:
    return ClueMark(note, clue.kind, clue.value, clue.strength)


def bar_order(fragment: Fragment) -> tuple[int, ...]:
    """The bars in the order in which they are played."""
    order: list[int] = []
    done = 0
    for repeat in sorted(fragment.repeats, key=lambda repeat: repeat.first):
        order += range(done, repeat.first)
        order += list(range(repeat.first, repeat.last + 1)) * repeat.times
        done = repeat.last + 1
    return (*order, *range(done, len(fragment.measures)))


def note_order(fragment: Fragment) -> tuple[int, ...]:
    """For each note as performed, which note of the fragment it is."""
    by_bar = _notes_by_bar(fragment)
    return tuple(index for bar in bar_order(fragment) for index in by_bar[bar])


def _notes_by_bar(fragment: Fragment) -> list[list[int]]:
    found: list[list[int]] = [[] for _ in fragment.measures]
    for index, note in enumerate(fragment.notes):
        found[fragment.measure_at(note.onset)].append(index)
    return found


def performed(fragment: Fragment) -> Fragment:
    """The fragment with its repeats unfolded; a note that is held across a jump back ends there."""
    if not fragment.repeats:
        return fragment
    order, by_bar = bar_order(fragment), _notes_by_bar(fragment)
    measures: list[Measure] = []
    notes: list[Note] = []
    clues: list[ClueMark] = []
    start = Fraction(0)
    for place, bar in enumerate(order):
        measure = fragment.measures[bar]
        end = _jump_end(fragment, order, place)
        for index in by_bar[bar]:
            clues += [_moved(clue, len(notes)) for clue in fragment.clues if clue.note == index]
            note = _until(fragment.notes[index], end)
            notes.append(note.but(onset=note.onset - measure.start + start))
        measures.append(Measure(start, measure.length, measure.beats, measure.unit, measure.groups))
        start += measure.length
    return fragment.but(notes=tuple(notes), measures=tuple(measures), clues=tuple(clues), repeats=())


def _jump_end(fragment: Fragment, order: Iterable[int], place: int) -> Fraction:
    """The written beat up to which the bars from `place` on are played without a jump."""
    bars = tuple(order)
    while place + 1 < len(bars) and bars[place + 1] == bars[place] + 1:
        place += 1
    return fragment.measures[bars[place]].end
