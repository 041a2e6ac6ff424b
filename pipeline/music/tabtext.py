r"""Fragments as aligned text: one row a string, columns in time, other rows around them.

    count    4/4 1         2                  3 &   4
    strokes      d u     d d u              d u d   u
    E4      |----5-8-p5----5-8-t12--p8--p5-------------|
    B3      |------------8------------------8-5--------|
    G3      |-----------------------------------7b9-5~-|
    fingers      1 4  1  4 1 4           1  4 1 3   1

This docstring is the manual of the notation.

**Systems.** Rows that stand together make a system; a blank line ends it and the next goes on in time. A
system ends with a bar line. Columns mean nothing but order: what stands in a column happens together.

**String rows** start with a label and `|`: the pitch of the open string without capo (`E4`), its number from
the top (`1`), or its letter alone when every string has a row. The highest string stands on top; strings
with nothing on them may be left out. `-` and spaces fill. A note stands in the column of the first sign of
its fret, whatever is written before it. Notes in one column, or one under a digit of another, sound together.

| sign | meaning | sign | meaning |
|------|---------|------|---------|
| `7` `12` | fret | `x` `x5` | dead note, on no fret or at one |
| `(7)` | ghost note | `=7` | tie: the note before goes on |
| `5h7` | hammer-on | `7p5` | pull-off |
| `t12` | tap | `g5h7` | grace note, here hammered on from |
| `5/7` `7\5` | slide, not picked again | `5//7` `7\\5` | slide and pick again |
| `[/7` `[\7` | slide in from below, above | `7/]` `7\]` | slide out up, down |
| `7b9` | bend until it sounds like fret 9 | `7b9r7` | bend and release |
| `7B9` | pre-bend, `7B9r7` with release | `7b9@1:4` | bend, reached at 1/4 of the note |
| `7~` `7~~` | vibrato, wide vibrato | `7*` | tremolo picking |
| `7!` | accent | `7'` | staccato |
| `7_` | palm mute | `7&` | let ring |
| `<12>` | natural harmonic at fret 12 | `<2.7:7>` | the same, partial named |
| `5<17>` | artificial: stopped 5, touched 17 | `7<p:3>` | pinch harmonic, third partial |

Signs that lead to a note (h p t / \ // \\) stand anywhere between it and the note before. Bends count in
frets, so `7b7.5` is a quarter tone; without `@` the moves of a bend share the note's length evenly.

**Time.** A note lasts until anything else begins: a note on any string, or a rest. `=` after it holds it
longer, until the first moment after the last `=`; it may be drawn over bar lines.

**count** pins columns to moments: `1 2 3` are the counts of the meter (eighths in 6/8), `&` the half between,
`e` and `a` its quarters, `2+1/3` any other place. What stands between two pins, or a pin and the bar's end,
shares the time evenly: four notes between 1 and 2 are sixteenths, six sextuplets, seven septuplets. A `.`
takes a share without a note of its own: the note before goes on. In brackets a mark is a rest: `(2)`, `(.)`.
A pin without a note holds the note before; it stands at least two columns from any note, so that a slip of
one column is told and not played. A mark over a grace note means the note that it leads to. Without any mark
the notes of a bar share it evenly.

A meter (`3/4`, with its groups `(2+2+3)/8`) stands in the count row first after a bar line, and holds until
the next. If the first mark of
the text is a later count than 1 and no note stands before it, the first bar is a pick-up. A mark over a bar
line ends that bar early, at that count.

**Bars.** `|` in the same column of each string; `|:` and `:|` repeat, with `x3` over the `:|` in a marks row
for three times. A repeat without a start begins after the last repeat, or at the first bar.

**strokes** `d` or `u` over a picked note. **fingers** `1` to `4`, `T` the thumb; on a chord one a note from
the highest string down, `.` for none. **hand** the fret under the index finger, from that note on; `-` ends
it. **marks** `PM---` palm mute and `LR---` let ring, over the notes they hold for. **clues** the signs of
`pipeline.music.clues`, several after one another if need be, each with a value if it has one (`@5`, or text
in braces), `?` if it is soft (`?3` if it weighs 3 tenths), `:5` to name the string in a chord.
"""

from pipeline.music.tabprint import print_tab
from pipeline.music.tabread import read_tab

__all__ = ["print_tab", "read_tab"]
